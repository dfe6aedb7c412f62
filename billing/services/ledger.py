"""The ledger's only writer: entries booked and reversed, write-offs.

Locks are taken in one order everywhere: the client, then the client's invoices by key,
then the series of numbers. The client's row is locked without its key, so that rows
that only name the client need not wait.
"""

import uuid
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Sum

from billing import money
from billing.models import Allocation, Invoice, LedgerEntry, Payment
from practice.errors import Refused
from practice.models import Client, User
from practice.services.changes import note_change

NOTHING = Decimal(0)
Kind = LedgerEntry.Kind


def lock_client(key: int) -> Client:
    """The client's row, locked: one client's money is moved by one at a time."""
    return Client.objects.select_for_update(no_key=True).get(pk=key)


def lock_clients(keys: Iterable[int]) -> None:
    """Several, in the order of their keys."""
    rows = Client.objects.select_for_update(no_key=True).filter(pk__in=set(keys))
    list(rows.order_by("pk").values_list("pk", flat=True))


def lock_invoice(key: uuid.UUID) -> Invoice:
    """The client's row, then the document's, locked."""
    client = Invoice.objects.values_list("client", flat=True).get(pk=key)
    lock_client(client)
    return Invoice.objects.select_for_update(of=("self",)).get(pk=key)


def balance_of(key: uuid.UUID) -> Any:
    """The document with its balance as it stands now."""
    return Invoice.objects.with_balance().get(pk=key)


def exact(amount: Decimal | None, currency: str) -> Decimal:
    """A sum that the database reckoned, with the currency's decimals."""
    return money.rounded(amount or NOTHING, money.exponent(currency))


def unapplied_of(payment: Payment) -> Decimal:
    """What a payment has left: neither allocated, nor paid back, nor reversed."""
    booked = payment.entries.aggregate(sum=Sum("amount"))["sum"]
    used = payment.allocations.aggregate(sum=Sum("amount"))["sum"]
    return exact(-(booked or NOTHING) - (used or NOTHING), payment.currency)


# ---- Booking ----------------------------------------------------------------------
def book_document(*, invoice: Invoice, by: User | None) -> LedgerEntry:
    """The entry of a document that is being issued, in the caller's transaction."""
    is_credit = invoice.kind == Invoice.Kind.CREDIT_NOTE
    assert invoice.issue_day is not None
    return LedgerEntry.objects.create(
        client_id=invoice.client_id,
        kind=Kind.CREDIT if is_credit else Kind.ISSUE,
        day=invoice.issue_day,
        currency=invoice.currency,
        amount=-invoice.due if is_credit else invoice.due,
        invoice=invoice,
        by=by,
    )


def book_payment(*, payment: Payment, by: User | None) -> LedgerEntry:
    """The entry of a payment that is being recorded, in the caller's transaction."""
    return LedgerEntry.objects.create(
        client_id=payment.client_id,
        kind=Kind.PAYMENT,
        day=payment.day,
        currency=payment.currency,
        amount=-payment.amount,
        payment=payment,
        by=by,
    )


def reverse(
    *, entry: LedgerEntry, by: User | None, today: date, reason: str
) -> LedgerEntry:
    """An entry that undoes another, in the caller's transaction; the caller has looked
    whether that may be. An entry that was reversed comes back with its reversal."""
    there = LedgerEntry.objects.filter(reverses=entry).first()
    if there is not None:
        return there
    return LedgerEntry.objects.create(
        client_id=entry.client_id,
        kind=entry.kind,
        day=max(today, entry.day),
        currency=entry.currency,
        amount=-entry.amount,
        invoice_id=entry.invoice_id,
        payment_id=entry.payment_id,
        reverses=entry,
        method=entry.method,
        reason=reason[:300],
        by=by,
    )


# ---- Write-offs ---------------------------------------------------------------------
@transaction.atomic
def write_off(
    *,
    invoice: Invoice,
    by: User | None,
    today: date,
    reason: str,
    amount: Decimal | None = None,
    key: uuid.UUID | None = None,
) -> LedgerEntry:
    """Gives up what is open of an invoice, or a part of it. The document stays as it
    is, and so does its tax: what becomes of the tax is for the tax adviser.

    Args:
        amount: above 0 and not above what is open; None for all of it.
        key: made with the form; the same one again is the same write-off.

    Raises Refused for a draft or credit note, without a reason, or for an amount that
    is not open.
    """
    row = lock_invoice(invoice.pk)
    if key is not None:
        there = LedgerEntry.objects.filter(key=key).first()
        if there is not None:
            return there
    if not row.is_issued or row.kind == Invoice.Kind.CREDIT_NOTE:
        raise Refused("Only an issued invoice can be written off.")
    if not reason.strip():
        raise Refused("Say why: the books keep it.", field="reason")
    still_open = exact(balance_of(row.pk).open_amount, row.currency)
    if amount is None:
        amount = still_open
    if amount <= 0 or amount > still_open or exact(amount, row.currency) != amount:
        raise Refused(
            f"{money.written(still_open, row.currency)} {row.currency} is open: write "
            "off that or less.",
            field="amount",
        )
    entry = LedgerEntry.objects.create(
        client_id=row.client_id,
        kind=Kind.WRITE_OFF,
        day=today,
        currency=row.currency,
        amount=-amount,
        invoice=row,
        key=key,
        reason=reason.strip()[:300],
        by=by,
    )
    note_change(
        by=by,
        obj=row,
        action="written off",
        after={"amount": str(amount)},
        reason=reason.strip()[:300],
    )
    return entry


@transaction.atomic
def undo_write_off(
    *, entry: LedgerEntry, by: User | None, today: date, reason: str
) -> LedgerEntry:
    """Makes what was written off open again. Safe to repeat."""
    if entry.kind != Kind.WRITE_OFF or entry.reverses_id is not None:
        raise Refused("Only a write-off can be taken back like this.")
    assert entry.invoice_id is not None  # a constraint
    row = lock_invoice(entry.invoice_id)
    if not reason.strip():
        raise Refused("Say why: the books keep it.", field="reason")
    is_new = not LedgerEntry.objects.filter(reverses=entry).exists()
    made = reverse(entry=entry, by=by, today=today, reason=reason.strip())
    if is_new:
        note_change(
            by=by,
            obj=row,
            action="write-off undone",
            after={"amount": str(made.amount)},
            reason=reason.strip()[:300],
        )
    return made


# ---- Allocations ----------------------------------------------------------------------
def allocate(payment: Payment, invoices: Iterable[uuid.UUID], *, day: date) -> Decimal:
    """Gives what is left of a payment to these invoices, in order; never more than a
    payment has, nor than an invoice has open, nor across currencies. The caller holds
    the client's lock.

    Returns how much was given.
    """
    left = unapplied_of(payment)
    given = NOTHING
    for key in invoices:
        if left <= 0:
            break
        # Locked, so that a change of the document in the same moment waits or is seen.
        Invoice.objects.select_for_update(of=("self",)).get(pk=key)
        row = balance_of(key)
        part = min(left, exact(row.open_amount, payment.currency))
        if part <= 0 or row.currency != payment.currency:
            continue
        Allocation.objects.create(
            payment=payment,
            invoice_id=key,
            amount=part,
            day=max(day, payment.day, row.issue_day),
        )
        left -= part
        given += part
    return given


def standing(**by: Any) -> list[Allocation]:
    """Allocations of a payment or an invoice that are not reversed, newest first."""
    rows = Allocation.objects.standing().filter(**by)
    return list(rows.select_related("payment").order_by("-pk"))


def release(allocation: Allocation, *, today: date) -> Allocation:
    """Undoes an allocation by a row that reverses it."""
    return Allocation.objects.create(
        payment_id=allocation.payment_id,
        invoice_id=allocation.invoice_id,
        amount=-allocation.amount,
        day=max(today, allocation.day),
        reverses=allocation,
    )


def make_room(*, invoice: Invoice, amount: Decimal, today: date) -> None:
    """Releases so much of what has paid an invoice that ``amount`` of it is open, the
    newest first; the rest of a payment that was released too far goes back to it."""
    row = balance_of(invoice.pk)
    short = amount - exact(row.open_amount, invoice.currency)
    for allocation in standing(invoice=invoice):
        if short <= 0:
            return
        release(allocation, today=today)
        over = exact(allocation.amount - short, invoice.currency)
        if over > 0:
            Allocation.objects.create(
                payment_id=allocation.payment_id,
                invoice=invoice,
                amount=over,
                day=max(today, allocation.day),
            )
        short -= allocation.amount
