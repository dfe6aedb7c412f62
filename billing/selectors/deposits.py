"""What is left of deposits: prepayment invoices that no invoice has used up."""

from decimal import Decimal

from django.db.models import Sum

from billing.models import Invoice, InvoiceLine, LedgerEntry
from billing.selectors.accounts import settled

_NOTHING = Decimal(0)


def left_of(prepayment: Invoice) -> Decimal:
    """What of a prepayment invoice (with tax) was neither credited nor written off nor
    taken off an invoice that stands; what a credit note gave back counts again."""
    lines = InvoiceLine.objects.filter(prepayment=prepayment).exclude(
        invoice__state=Invoice.State.DISCARDED
    )
    credit = Invoice.Kind.CREDIT_NOTE
    used = lines.exclude(invoice__kind=credit).aggregate(sum=Sum("amount"))["sum"]
    back = lines.filter(invoice__kind=credit).aggregate(sum=Sum("amount"))["sum"]
    credited = prepayment.credit_notes.issued().aggregate(sum=Sum("due"))["sum"]
    given_up = prepayment.entries.filter(kind=LedgerEntry.Kind.WRITE_OFF).aggregate(
        sum=Sum("amount")
    )["sum"]
    # The amounts of lines that take off are negative, and so are those of write-offs.
    parts: tuple[Decimal, ...] = (
        prepayment.due,
        used or _NOTHING,
        given_up or _NOTHING,
        -(back or _NOTHING),
        -(credited or _NOTHING),
    )
    return settled(sum(parts, _NOTHING), prepayment.currency)


def open_deposits(invoice: Invoice) -> list[tuple[Invoice, Decimal]]:
    """The issued prepayments of a draft's client with something left, oldest first."""
    if not invoice.is_draft or invoice.kind != Invoice.Kind.INVOICE:
        return []
    rows = Invoice.objects.issued().filter(
        kind=Invoice.Kind.PREPAYMENT,
        client=invoice.client_id,
        currency=invoice.currency,
    )
    found = [(row, left_of(row)) for row in rows.order_by("issue_day", "pk")]
    return [(row, left) for row, left in found if left > 0]
