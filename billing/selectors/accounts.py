"""Reads over payments and clients' accounts; query counts are pinned in the tests."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Sum

from billing.models import Allocation, Invoice, Payment
from practice.models import Client, User

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement of a client's account; ``balance`` is what is owed after it."""

    day: date
    words: str
    amount: Decimal
    balance: Decimal
    invoice: Invoice | None = None
    payment: Payment | None = None


@dataclass(frozen=True, slots=True)
class Account:
    """What a client owes and has paid."""

    entries: Sequence[Entry]
    owed: Decimal
    overdue: Decimal
    credit: Decimal

    @property
    def balance(self) -> Decimal:
        """What is owed less what stands to the client's credit."""
        return self.owed - self.credit


def unapplied(client: Client) -> Decimal:
    """The client's money that pays no invoice yet."""
    paid = Payment.objects.filter(client=client).aggregate(sum=Sum("amount"))["sum"]
    used = Allocation.objects.filter(
        payment__client=client, released_at__isnull=True
    ).aggregate(sum=Sum("amount"))["sum"]
    return (paid or NOTHING) - (used or NOTHING)


def account(client: Client, *, today: date) -> Account:
    """The client's account, oldest movement first. Four queries."""
    documents = list(Invoice.objects.filter(client=client).issued().with_balance())
    payments = list(Payment.objects.filter(client=client))
    moves: list[tuple[date, int, str, Decimal, Invoice | None, Payment | None]] = []
    for document in documents:
        is_credit = document.kind == Invoice.Kind.CREDIT_NOTE
        amount = -document.due if is_credit else document.due
        word = document.get_kind_display().capitalize()
        assert document.issue_day is not None
        moves.append(
            (document.issue_day, 0, f"{word} {document.number}", amount, document, None)
        )
    moves += [
        (
            payment.day,
            1,
            f"Payment, {payment.get_method_display()}",
            -payment.amount,
            None,
            payment,
        )
        for payment in payments
    ]
    moves.sort(key=lambda move: (move[0], move[1], move[2]))
    balance, entries = NOTHING, []
    for day, _, words, amount, invoice, payment in moves:
        balance += amount
        entries.append(Entry(day, words, amount, balance, invoice, payment))
    open_ones: Any = [d for d in documents if d.open_amount > 0]  # type: ignore[attr-defined]  # annotated by with_balance
    owed = sum((d.open_amount for d in open_ones), NOTHING)
    late = sum((d.open_amount for d in open_ones if d.due_day < today), NOTHING)
    return Account(entries, owed, late, unapplied(client))


def allocated_payments(invoice: Invoice) -> list[Allocation]:
    """What paid an invoice, in order."""
    return list(
        Allocation.objects.filter(invoice=invoice, released_at__isnull=True)
        .select_related("payment")
        .order_by("payment__day", "pk")
    )


def payment_list(viewer: User | AnonymousUser) -> Any:
    """Payments, newest first."""
    rows = Payment.objects.visible_to(viewer).select_related("client", "taken_by")
    return rows.order_by("-day", "-pk")


def payment_parts(payment: Payment) -> tuple[list[Allocation], Decimal]:
    """What a payment paid, and what is left of it."""
    parts = list(
        payment.allocations.filter(released_at__isnull=True)
        .select_related("invoice")
        .order_by("pk")
    )
    return parts, payment.amount - sum((part.amount for part in parts), NOTHING)
