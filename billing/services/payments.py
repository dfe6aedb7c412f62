"""Payments: recorded once, allocated to what they pay."""

import uuid
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F, Sum

from billing import money
from billing.models import Allocation, Invoice, Payment
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change

NOTHING = Decimal(0)


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
) -> Payment:
    """Records money from a client and allocates it: to the invoices named, in their
    order, else to the open ones, the longest due first. What is over stays the
    client's credit.

    Args:
        key: made by whoever takes the money; the same key again is the same payment.
        amount: above 0, in the practice's currency.
        invoices: the client's own; naming one that isn't open is harmless.

    Raises:
        Refused: an amount or method that can't be; another client's invoice; the key
            of a different payment.
    """
    # One client's money is moved by one at a time.
    client = Client.objects.select_for_update().get(pk=client.pk)
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
    keys = [invoice.pk for invoice in invoices]
    _allocate(payment, keys or _open_of(client))
    note_change(
        by=by,
        obj=payment,
        action="recorded",
        after={"amount": str(amount), "method": method, "day": str(day)},
    )
    return payment


@transaction.atomic
def apply_credit(*, client: Client, by: User | None) -> Decimal:
    """Allocates the client's unapplied money to the open invoices, the longest due
    first. Returns how much was applied; a second call applies nothing.
    """
    client = Client.objects.select_for_update().get(pk=client.pk)
    applied = NOTHING
    for payment in Payment.objects.filter(client=client).order_by("day", "pk"):
        used = _allocate(payment, _open_of(client))
        if used:
            note_change(
                by=by, obj=payment, action="applied", after={"amount": str(used)}
            )
        applied += used
    return applied


def _check(amount: Decimal, method: str, currency: str) -> None:
    decimals = money.exponent(currency)
    if amount <= 0:
        raise Refused("A payment is above 0.", field="amount")
    if money.rounded(amount, decimals) != amount or amount >= 10**8:
        raise Refused(f"{currency} has {decimals} decimals at the most.", "amount")
    if method not in Payment.Method.values:
        raise Refused(
            f"Choose one of {', '.join(Payment.Method.values)}.", field="method"
        )


def _open_of(client: Client) -> list[uuid.UUID]:
    rows = Invoice.objects.filter(client=client).open()
    return list(rows.order_by("due_day", "number").values_list("pk", flat=True))


def _allocate(payment: Payment, invoices: Iterable[uuid.UUID]) -> Decimal:
    """Gives what is left of a payment to these invoices, in order; never more than a
    payment has, nor than an invoice has open."""
    decimals = money.exponent(payment.currency)
    used = payment.allocations.filter(released_at__isnull=True)
    sum_used = used.aggregate(sum=Sum("amount"))["sum"] or NOTHING
    left = money.rounded(payment.amount - sum_used, decimals)
    given = NOTHING
    for key in invoices:
        if left <= 0:
            break
        # Locked, so that a credit note in the same moment waits or is seen.
        Invoice.objects.select_for_update().get(pk=key)
        row: Any = Invoice.objects.filter(pk=key).with_balance().get()
        open_amount = row.open_amount
        part = min(left, money.rounded(open_amount, decimals))
        if part <= 0:
            continue
        allocation, is_new = Allocation.objects.get_or_create(
            payment=payment,
            invoice_id=key,
            released_at=None,
            defaults={"amount": part},
        )
        if not is_new:
            allocation.amount = F("amount") + part
            allocation.save(update_fields=["amount", "changed_at"])
        left -= part
        given += part
    return given
