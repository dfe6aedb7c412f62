"""Deposits: what was invoiced and taxed before the work is taken off its invoice."""

from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max

from billing import money
from billing.models import Invoice, InvoiceLine
from billing.selectors.deposits import left_of
from billing.services.lines import locked_draft
from billing.services.totals import put_nets, refresh_totals
from billing.split import split
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change

RULE = "deposit"


@transaction.atomic
def deduct_prepayment(
    *,
    invoice: Invoice,
    prepayment: Invoice,
    by: User | None,
    amount: Decimal | None = None,
) -> list[InvoiceLine]:
    """Takes a prepayment invoice off a draft, as one line of negative quantity for
    each of its tax rates, told with tax: the amount due falls by exactly what was
    prepaid, and the tax that the deposit bore is not owed again (Directive
    2006/112/EC art. 65 taxes a deposit when it is received; UStG § 14 (5) has the
    final invoice take it off with its tax). Asking again takes off what is left.

    Args:
        amount: with tax; as much as is left and due, if not said.

    Raises:
        Refused: not an issued prepayment of this client and currency, nothing left of
            it, or more than is left or due.
    """
    invoice = locked_draft(invoice)
    prepayment = Invoice.objects.select_for_update().get(pk=prepayment.pk)
    _check(invoice, prepayment)
    left = min(left_of(prepayment), invoice.due)
    wanted = left if amount is None else amount
    if not 0 < wanted <= left:
        raise Refused("There is not so much left of it, or not so much due.", "amount")
    groups: dict[str, Any] = {
        f"{number:04}": group
        for number, group in enumerate((prepayment.snapshot or {})["tax_groups"])
    }
    shares = split(
        wanted,
        {key: Decimal(g["basis"]) + Decimal(g["tax"]) for key, g in groups.items()},
        decimals=money.exponent(invoice.currency),
    )
    last = invoice.lines.aggregate(last=Max("position"))["last"] or 0
    lines = [
        _line(invoice, prepayment, groups[key], share, last + number)
        for number, (key, share) in enumerate(shares.items(), 1)
        if share
    ]
    made = InvoiceLine.objects.bulk_create(put_nets(invoice, lines))
    refresh_totals(invoice=invoice)
    note_change(
        by=by,
        obj=invoice,
        action="deposit taken off",
        after={"prepayment": prepayment.number, "amount": f"{wanted:f}"},
    )
    return made


def _check(invoice: Invoice, prepayment: Invoice) -> None:
    if prepayment.kind != Invoice.Kind.PREPAYMENT or not prepayment.is_issued:
        raise Refused("Only an issued prepayment invoice can be taken off.")
    if prepayment.client_id != invoice.client_id:
        raise Refused("That prepayment is another client's.")
    if prepayment.currency != invoice.currency:
        raise Refused("That prepayment is in another currency.")
    if invoice.kind != Invoice.Kind.INVOICE:
        raise Refused("A deposit is taken off an invoice.")


def _line(
    invoice: Invoice,
    prepayment: Invoice,
    group: dict[str, Any],
    amount: Decimal,
    position: int,
) -> InvoiceLine:
    of = prepayment.lines.filter(tax_category=group["category"]).order_by("position")
    percent = group["percent"]
    if percent is not None:
        of = of.filter(tax_percent=Decimal(percent))
    taxed = of[0]
    return InvoiceLine(
        invoice=invoice,
        position=position,
        prepayment=prepayment,
        name=f"Less deposit {prepayment.number} of {prepayment.issue_day:%-d %B %Y}",
        rule=RULE,
        service_day=prepayment.issue_day,
        quantity=Decimal(-1),
        unit_price=amount,
        includes_tax=None if invoice.prices_include_tax else True,
        tax_code=taxed.tax_code,
        tax_category=taxed.tax_category,
        tax_percent=taxed.tax_percent,
        tax_reason_code=taxed.tax_reason_code,
        tax_reason=taxed.tax_reason,
    )
