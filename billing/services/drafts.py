"""Drafting: one invoice per payer of a closed visit, from the charge list and the
rules that the practice switched on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from billing import money
from billing.models import ClientTerms, Invoice, InvoiceAllowance, InvoiceLine
from billing.pricing import PIECE, Charge, charges_of
from billing.regimes import Rate
from billing.selectors import is_proposed, tax_on, terms_of
from billing.selectors.facts import done_in_words, facts_of, priced_items, rules_of
from billing.services.charges import propose_charge_list
from billing.services.totals import (
    DISCOUNT,
    lacks_rate,
    put_nets,
    put_tax,
    refresh_totals,
)
from horses.models import Visit, VisitRecord
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change


@dataclass(frozen=True, slots=True)
class Bill:
    """All that the drafts of one visit are made from."""

    visit: Visit
    practice: Practice
    charges: Sequence[Charge]
    records: dict[str, VisitRecord]
    rates: dict[str, Rate]


@transaction.atomic
def draft_invoices(*, visit: Visit, by: User | None) -> list[Invoice]:
    """One draft per payer of a closed visit, from the charge list of today.

    The agreed price of a horse wins over the charge list, where the most specific of
    an item's prices wins; a co-owned horse is billed by the shares of the visit's day;
    a payer of the horse and day wins over the barn's, and that over the owners; what
    all payers share is split as the practice or the barn says. Safe to repeat: a payer
    who has a document for this visit, even a discarded one, gets no second one.

    Returns:
        all documents of the visit that stand, new or not.

    Raises:
        Refused: the visit is still open, or a horse has neither owner nor payer.
    """
    visit = Visit.objects.select_for_update().get(pk=visit.pk)
    if not visit.is_closed:
        raise Refused("Close the visit first: an open one may still change.")
    if visit.kind != Visit.Kind.BROUGHT_IN:
        practice = Practice.objects.the_one()
        if not is_proposed(practice):
            propose_charge_list(practice=practice)
        bill = _bill(visit, practice)
        payers = sorted({payer for charge in bill.charges for payer in charge.parts})
        for client in Client.objects.filter(pk__in=payers):
            _draft_for(client, bill, by)
    return list(
        Invoice.objects.filter(visit=visit).exclude(state=Invoice.State.DISCARDED)
    )


def _bill(visit: Visit, practice: Practice) -> Bill:
    records = list(
        visit.records.select_related("horse", "work")
        .prefetch_related("feet")
        .order_by("horse__name", "pk")
    )
    items = priced_items(practice)
    facts = facts_of(visit, records, items)
    for record, job in zip(records, facts.jobs, strict=True):
        if not job.parts:
            raise Refused(
                f"{record.horse.name} had no owner and no payer on "
                f"{visit.day:%-d %B %Y}: add one on the horse's page, then try again."
            )
    charges = charges_of(facts, rules_of(visit, practice, items)) if records else ()
    codes = {charge.tax_code for charge in charges}
    rates = {code: tax_on(practice, code, visit.day) for code in codes}
    return Bill(visit, practice, charges, {str(r.pk): r for r in records}, rates)


def _draft_for(client: Client, bill: Bill, by: User | None) -> None:
    invoice, is_new = Invoice.objects.get_or_create(
        draft_key=f"{bill.visit.pk}:{client.pk}",
        defaults={
            "client": client,
            "visit": bill.visit,
            "currency": bill.practice.currency,
            "prices_include_tax": bill.practice.prices_include_tax,
        },
    )
    if not is_new:
        return
    terms = terms_of(client)
    lines = [
        _line(charge, client, bill, terms)
        for charge in bill.charges
        if client.pk in charge.parts
    ]
    for position, line in enumerate(lines, 1):
        line.invoice, line.position = invoice, position
    InvoiceLine.objects.bulk_create(put_nets(invoice, lines))
    _put_standing_discount(invoice, terms, lines)
    refresh_totals(invoice=invoice)
    note_change(
        by=by, obj=invoice, action="drafted", after={"visit": str(bill.visit.pk)}
    )


def _put_standing_discount(
    invoice: Invoice, terms: ClientTerms, lines: Sequence[InvoiceLine]
) -> None:
    """The discount agreed with the client, as a row that ``refresh_totals`` fits to
    the taxes of the document."""
    if terms.discount_percent is None or not lines:
        return
    first = lines[0]
    InvoiceAllowance.objects.create(
        invoice=invoice,
        position=1,
        amount=0,
        net=0,
        percent=terms.discount_percent,
        reason=terms.discount_reason,
        reason_code=DISCOUNT,
        tax_code=first.tax_code,
        tax_category=first.tax_category,
        tax_percent=first.tax_percent,
    )


def _line(
    charge: Charge, client: Client, bill: Bill, terms: ClientTerms
) -> InvoiceLine:
    decimals = money.exponent(bill.practice.currency)
    record = bill.records.get(charge.job or "")
    line = InvoiceLine(
        charge_item_id=charge.item,
        visit=bill.visit,
        record=record,
        horse=record.horse if record else None,
        name=charge.name[:200],
        service_day=bill.visit.day,
        rule=charge.rule,
        work_words=(done_in_words(record) or None) if record else None,
        includes_tax=charge.includes_tax
        if charge.includes_tax != bill.practice.prices_include_tax
        else None,
    )
    _put_amount(line, charge, client, decimals)
    rate = bill.rates[charge.tax_code]
    put_tax(line, bill.practice, charge.tax_code, terms=terms, rate=rate)
    line.needs_price = charge.prices[client.pk] is None or lacks_rate(line)
    return line


def _put_amount(
    line: InvoiceLine, charge: Charge, client: Client, decimals: int
) -> None:
    """The whole as quantity and price; of what is shared the payer's own part, with
    its share beside it."""
    whole = charge.whole(client.pk, decimals)
    own = charge.share(client.pk, decimals)
    if charge.is_shared:
        part = charge.parts[client.pk]
        percent = round(Decimal(part.numerator * 100) / part.denominator, 4)
        line.quantity, line.unit, line.unit_price = Decimal(1), PIECE, own
        line.share, line.whole = percent, whole
        line.note = charge.note.format(part=_percent(percent))[:200]
    else:
        price = money.rounded(charge.prices[client.pk] or Decimal(0), decimals)
        line.quantity, line.unit, line.unit_price = charge.quantity, charge.unit, price
    if charge.free and own:
        line.allowance, line.allowance_reason = own, charge.free


def _percent(percent: Decimal) -> str:
    is_whole = percent == percent // 1
    return f"{percent.normalize():f} %" if is_whole else f"{percent:.2f} %"
