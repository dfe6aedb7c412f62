"""Discounts and surcharges on a whole draft, each with its reason."""

from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction

from billing.models import Invoice, InvoiceLine
from billing.services.lines import checked_price, locked_draft
from billing.services.totals import Wish, fit_allowances, refresh_totals
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change


@transaction.atomic
def set_discount(*, invoice: Invoice, by: User | None, wish: Wish) -> None:
    """Takes a discount off a draft, or puts a surcharge on it, with its reason; the
    same reason again replaces it.

    Raises Refused without a reason, for nothing or less, and for more than there is.
    """
    invoice = locked_draft(invoice)
    lines = list(invoice.lines.order_by("position"))
    _check_wish(wish, invoice, lines)
    rows = fit_allowances(invoice, lines, adding=wish)
    if not any(row.reason == wish.reason for row in rows):
        raise Refused("There is nothing on it yet to take it from.", field="amount")
    refresh_totals(invoice=invoice)
    note_change(
        by=by,
        obj=invoice,
        action="charged more" if wish.is_charge else "discounted",
        after={
            "reason": wish.reason,
            "percent": None if wish.percent is None else f"{wish.percent:f}",
            "amount": None if wish.amount is None else f"{wish.amount:f}",
        },
    )


def _check_wish(wish: Wish, invoice: Invoice, lines: Sequence[InvoiceLine]) -> None:
    if not wish.reason.strip():
        raise Refused("Say why: the invoice shows it.", field="reason")
    if (wish.percent is None) == (wish.amount is None):
        raise Refused("Give a percentage or an amount, one of the two.", "amount")
    if wish.percent is not None and not 0 < wish.percent <= 100:
        raise Refused("A percentage lies above 0 and at most at 100.", "percent")
    if wish.amount is not None:
        if wish.amount <= 0:
            raise Refused("An amount lies above 0.", field="amount")
        checked_price(wish.amount, invoice.currency, field="amount")
        whole = sum((line.amount for line in lines if line.amount > 0), Decimal(0))
        if wish.amount > whole and not wish.is_charge:
            raise Refused("That is more than the lines come to.", field="amount")


@transaction.atomic
def remove_discount(*, invoice: Invoice, by: User | None, reason: str) -> None:
    """Takes the discount or surcharge of this reason off a draft. Safe to repeat."""
    invoice = locked_draft(invoice)
    gone, _ = invoice.allowances.filter(reason=reason).delete()
    refresh_totals(invoice=invoice)
    if gone:
        note_change(
            by=by, obj=invoice, action="discount removed", before={"reason": reason}
        )
