"""Payments: recorded once, allocated to what they pay, paid back or reversed."""

import uuid
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from billing import money
from billing.models import BankLine, Invoice, LedgerEntry, Payment
from billing.references import body_of, numbers_in, rf_bodies
from billing.services.ledger import (
    allocate,
    book_payment,
    exact,
    lock_client,
    release,
    reverse,
    standing,
    unapplied_of,
)
from billing.services.receipts import call_receipt_back, send_receipt
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change

NOTHING = Decimal(0)
MOST = 10**8


@transaction.atomic
def record_payment(
    *,
    key: uuid.UUID,
    client: Client,
    amount: Decimal,
    method: str,
    day: date,
    by: User | None,
    invoices: Sequence[Invoice] = (),
    reference: str = "",
    note: str = "",
    receipt: bool = False,
) -> Payment:
    """Records money from a client and allocates it: to the invoices named, in their
    order, else to those that its reference names, else to the open ones, the longest
    due first. What is over stays the client's credit.

    Args:
        key: made by whoever takes the money; the same key again is the same payment.
        amount: above 0, in the practice's currency.
        invoices: the client's own; naming one that isn't open is harmless.
        receipt: mail the receipt.

    Raises:
        Refused: an amount or method that can't be; another client's invoice; the key
            of a different payment; no address to mail the receipt to.
    """
    client = lock_client(client.pk)
    currency = Practice.objects.the_one().currency
    there = Payment.objects.filter(pk=key).first()
    if there is not None:
        if (there.client_id, there.amount, there.day) != (client.pk, amount, day):
            raise Refused("Another payment was recorded from this form: start anew.")
        return there
    _check(amount, method, currency)
    for invoice in invoices:
        if invoice.client_id != client.pk:
            raise Refused(f"{invoice} is not {client.name}'s.", field="invoices")
    payment = Payment.objects.create(
        pk=key,
        client=client,
        day=day,
        currency=currency,
        amount=amount,
        method=method,
        reference=reference.strip()[:80],
        note=note.strip()[:200],
        taken_by=by,
    )
    book_payment(payment=payment, by=by)
    keys = [invoice.pk for invoice in invoices]
    allocate(payment, keys or _wanted_by(payment), day=day)
    note_change(
        by=by,
        obj=payment,
        action="recorded",
        after={"amount": str(amount), "method": method, "day": str(day)},
    )
    if receipt:
        send_receipt(payment=payment)
    return payment


@transaction.atomic
def apply_credit(*, client: Client, by: User | None, today: date) -> Decimal:
    """Allocates the client's unapplied money to the open invoices: to those that a
    payment's reference names, else the longest due first. Returns how much was
    applied; a second call applies nothing.
    """
    client = lock_client(client.pk)
    applied = NOTHING
    for payment in Payment.objects.filter(client=client).order_by("day", "pk"):
        if unapplied_of(payment) <= 0:
            continue
        used = allocate(payment, _wanted_by(payment), day=today)
        if used:
            note_change(
                by=by, obj=payment, action="applied", after={"amount": str(used)}
            )
        applied += used
    return applied


@transaction.atomic
def pay_back(
    *,
    payment: Payment,
    amount: Decimal,
    method: str,
    day: date,
    by: User | None,
    reason: str,
    key: uuid.UUID | None = None,
) -> LedgerEntry:
    """Books money that the practice paid back of what a payment has left.

    Args:
        key: made with the form; the same one again is the same refund.

    Raises Refused for more than is left of the payment, or without a reason.
    """
    lock_client(payment.client_id)
    if key is not None:
        there = LedgerEntry.objects.filter(key=key).first()
        if there is not None:
            return there
    _check(amount, method, payment.currency)
    if not reason.strip():
        raise Refused("Say why: the books keep it.", field="reason")
    left = unapplied_of(payment)
    if amount > left:
        raise Refused(
            f"{money.written(left, payment.currency)} {payment.currency} of it is left. "
            "What pays an invoice is freed by crediting the invoice.",
            field="amount",
        )
    entry = LedgerEntry.objects.create(
        client_id=payment.client_id,
        kind=LedgerEntry.Kind.REFUND,
        day=max(day, payment.day),
        currency=payment.currency,
        amount=amount,
        payment=payment,
        key=key,
        method=method,
        reason=reason.strip()[:300],
        by=by,
    )
    note_change(
        by=by,
        obj=payment,
        action="paid back",
        after={"amount": str(amount), "method": method, "day": str(day)},
        reason=reason.strip()[:300],
    )
    return entry


@transaction.atomic
def reverse_payment(
    *, payment: Payment, by: User | None, today: date, reason: str
) -> LedgerEntry:
    """Takes a payment out of the books: a cheque that bounced, an import undone. What
    it paid is open again, and the bank's line that it came from waits to be looked at
    again. Safe to repeat.

    Raises Refused if a part of it was paid back, or without a reason.
    """
    lock_client(payment.client_id)
    entry = payment.entries.get(kind=LedgerEntry.Kind.PAYMENT, amount__lt=0)
    there = LedgerEntry.objects.filter(reverses=entry).first()
    if there is not None:
        return there
    if not reason.strip():
        raise Refused("Say why: the books keep it.", field="reason")
    allocations = standing(payment=payment)
    used = sum((each.amount for each in allocations), NOTHING)
    if exact(unapplied_of(payment) + used, payment.currency) != payment.amount:
        raise Refused(
            "A part of this payment was paid back, so it can't be taken out of the "
            "books any more."
        )
    # By key, as all do who lock several documents of a client.
    keys = sorted({each.invoice_id for each in allocations})
    list(Invoice.objects.select_for_update(of=("self",)).filter(pk__in=keys))
    for each in allocations:
        release(each, today=today)
    made = reverse(entry=entry, by=by, today=today, reason=reason.strip())
    call_receipt_back(payment)
    BankLine.objects.filter(payment=payment, state=BankLine.State.POSTED).update(
        state=BankLine.State.WAITING,
        payment=None,
        why="its payment was taken out of the books",
        changed_at=timezone.now(),
    )
    note_change(by=by, obj=payment, action="reversed", reason=reason.strip()[:300])
    return made


def _check(amount: Decimal, method: str, currency: str) -> None:
    decimals = money.exponent(currency)
    if amount <= 0:
        raise Refused("A payment is above 0.", field="amount")
    if money.rounded(amount, decimals) != amount:
        raise Refused(f"{currency} has {decimals} decimals at the most.", "amount")
    if amount >= MOST:
        raise Refused("That is more than a payment can be.", field="amount")
    if method not in Payment.Method.values:
        raise Refused(
            f"Choose one of {', '.join(Payment.Method.values)}.", field="method"
        )


def _wanted_by(payment: Payment) -> list[uuid.UUID]:
    """The client's open invoices: first those that the payment's reference names, then
    by due day."""
    rows = Invoice.objects.filter(client_id=payment.client_id).open()
    told = rows.order_by("due_day", "number").values_list("pk", "number")
    numbers = {str(number): key for key, number in told}
    named = numbers_in(payment.reference, numbers)
    bodies = set(rf_bodies(payment.reference))
    named += [number for number in numbers if body_of(number) in bodies]
    return [numbers[number] for number in dict.fromkeys([*named, *numbers])]
