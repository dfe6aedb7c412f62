"""Reads over payments and clients' accounts; query counts are pinned in the tests."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Sum

from billing import money
from billing.models import Allocation, Invoice, LedgerEntry, Payment
from practice.models import Client, User

NOTHING = Decimal(0)


def settled(amount: Decimal | None, currency: str) -> Decimal:
    """A sum that the database reckoned, with the currency's decimals: SQLite adds
    decimals as binary floats."""
    return money.rounded(amount or NOTHING, money.exponent(currency))


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement of a client's account; ``balance`` is what is owed after it."""

    day: date
    words: str
    amount: Decimal
    balance: Decimal
    invoice: Invoice | None = None
    payment: Payment | None = None
    reason: str = ""


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


def entry_words(entry: LedgerEntry) -> str:
    """What an entry is called on an account and a statement."""
    word = str(entry.get_kind_display())
    if entry.kind in {LedgerEntry.Kind.ISSUE, LedgerEntry.Kind.CREDIT}:
        assert entry.invoice is not None  # a constraint
        word = f"{entry.invoice.get_kind_display()} {entry.invoice.number}"
    elif entry.kind == LedgerEntry.Kind.WRITE_OFF:
        assert entry.invoice is not None
        word = f"{word}, {entry.invoice.number}"
    else:
        assert entry.payment is not None
        method = (
            entry.get_method_display()
            if entry.method
            else entry.payment.get_method_display()
        )
        word = f"{word}, {method}"
    if entry.reverses_id is not None:
        word = f"{word}: taken back"
    return word[:1].upper() + word[1:]


def running(entries: Iterable[LedgerEntry], *, opening: Decimal) -> list[Entry]:
    """Entries with the balance after each."""
    balance, found = opening, []
    for row in entries:
        amount = settled(row.amount, row.currency)
        balance += amount
        found.append(
            Entry(
                day=row.day,
                words=entry_words(row),
                amount=amount,
                balance=balance,
                invoice=row.invoice,
                payment=row.payment,
                reason=row.reason,
            )
        )
    return found


def entries_of(client: Client) -> Any:
    """The client's entries, oldest first."""
    rows = LedgerEntry.objects.filter(client=client)
    rows = rows.select_related("invoice", "payment").defer("invoice__snapshot")
    return rows.order_by("day", "pk")


def unapplied(client: Client, as_of: date | None = None) -> Decimal:
    """The client's money that pays no invoice yet."""
    entries = LedgerEntry.objects.filter(client=client, payment__isnull=False)
    parts = Allocation.objects.filter(payment__client=client)
    if as_of is not None:
        entries, parts = entries.filter(day__lte=as_of), parts.filter(day__lte=as_of)
    paid = entries.aggregate(sum=Sum("amount"))["sum"] or NOTHING
    used = parts.aggregate(sum=Sum("amount"))["sum"] or NOTHING
    # More decimals than any currency has: what is left is binary noise.
    return money.rounded(-paid - used, 3)


def account(client: Client, *, today: date) -> Account:
    """The client's account, oldest movement first. Four queries."""
    rows: Any = Invoice.objects.filter(client=client).open().order_by()
    owed = late = NOTHING
    for amount, currency, due_day in rows.values_list(
        "open_amount", "currency", "due_day"
    ):
        open_amount = settled(amount, currency)
        owed += open_amount
        late += open_amount if due_day < today else NOTHING
    entries = running(entries_of(client), opening=NOTHING)
    return Account(entries, owed, late, unapplied(client))


@dataclass(frozen=True, slots=True)
class Statement:
    """A client's account over a period: what was owed before, each movement, what is
    owed at its end. Below 0: to the client's credit."""

    client: Client
    first: date
    last: date
    opening: Decimal
    entries: Sequence[Entry]
    closing: Decimal
    owed: Decimal
    credit: Decimal


def statement(client: Client, *, first: date, last: date) -> Statement:
    """The statement of a period, both days in. Five queries."""
    before = entries_of(client).filter(day__lt=first)
    opening = money.rounded(
        before.order_by().aggregate(sum=Sum("amount"))["sum"] or NOTHING, 3
    )
    within = running(
        entries_of(client).filter(day__gte=first, day__lte=last), opening=opening
    )
    documents: Any = Invoice.objects.issued().filter(client=client).order_by()
    balances = documents.with_balance(as_of=last).values_list("open_amount", "currency")
    owed = sum((settled(*balance) for balance in balances), NOTHING)
    return Statement(
        client=client,
        first=first,
        last=last,
        opening=opening,
        entries=within,
        closing=within[-1].balance if within else opening,
        owed=owed,
        credit=unapplied(client, as_of=last),
    )


def open_documents(client: Client) -> list[tuple[str, str]]:
    """The client's open invoices as choices of a form, the longest due first."""
    rows: Any = Invoice.objects.filter(client=client).open()
    return [
        (
            str(row.pk),
            f"{row.number}: {money.written(settled(row.open_amount, row.currency), row.currency)}",
        )
        for row in rows.order_by("due_day", "number")
    ]


# ---- Payments -----------------------------------------------------------------------
def allocated_payments(invoice: Invoice) -> list[Allocation]:
    """What paid an invoice, in order."""
    return list(
        Allocation.objects.standing()
        .filter(invoice=invoice)
        .select_related("payment")
        .order_by("payment__day", "pk")
    )


def payment_list(viewer: User | AnonymousUser) -> Any:
    """Payments, newest first."""
    rows = Payment.objects.visible_to(viewer).select_related("client", "taken_by")
    return rows.order_by("-day", "-pk")


def payment_parts(payment: Payment) -> tuple[list[Allocation], Decimal]:
    """What a payment pays now, and what is left of it."""
    parts = list(
        payment.allocations.standing().select_related("invoice").order_by("pk")
    )
    booked = payment.entries.aggregate(sum=Sum("amount"))["sum"] or NOTHING
    used = sum((part.amount for part in parts), NOTHING)
    return parts, settled(-booked - used, payment.currency)


def payment_entries(payment: Payment) -> list[LedgerEntry]:
    """What was paid back of a payment, or that it was taken out of the books."""
    rows = payment.entries.exclude(kind=LedgerEntry.Kind.PAYMENT, reverses__isnull=True)
    return list(rows.select_related("by").order_by("pk"))
