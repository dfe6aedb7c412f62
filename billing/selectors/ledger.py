"""The books as a whole: the control equation, and what is owed by age."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Q, Sum

from billing import money
from billing.models import Allocation, Invoice, LedgerEntry, Payment
from billing.selectors.accounts import settled
from practice.models import Client

NOTHING = Decimal(0)
AGES = ("current", "1–30", "31–60", "61–90", "over 90")
"""Days past due."""


# ---- The control equation ------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Control:
    """One client's books, from both sides. ``entries`` comes from the ledger alone,
    ``open`` from documents, credit notes and allocations, ``unapplied`` from payments
    and allocations (a write-off, a refund and a reversal have the ledger only)."""

    client: int
    entries: Decimal
    open: Decimal
    unapplied: Decimal
    faults: tuple[str, ...]

    @property
    def holds(self) -> bool:
        return self.entries == self.open - self.unapplied and not self.faults


def control(clients: Sequence[int] | None = None) -> list[Control]:
    """The control equation, client by client: Σ entries = Σ open − Σ unapplied, each
    document open within 0 and its total, no payment given out twice. Four queries.
    """
    by_client = {} if clients is None else {"client__in": clients}
    sums: dict[int, dict[str, Decimal]] = {}
    faults: dict[int, list[str]] = {}

    def add(client: int, name: str, amount: Decimal) -> None:
        row = sums.setdefault(
            client, dict.fromkeys(("entries", "open", "left"), NOTHING)
        )
        row[name] += amount

    entries = LedgerEntry.objects.filter(**by_client).values("client")
    for found in entries.annotate(sum=Sum("amount")).order_by():
        add(found["client"], "entries", money.rounded(found["sum"], 3))
    documents: Any = Invoice.objects.filter(**by_client).issued().with_balance()
    documents = documents.exclude(kind=Invoice.Kind.CREDIT_NOTE).order_by()
    for client, number, due, currency, open_amount in documents.values_list(
        "client", "number", "due", "currency", "open_amount"
    ):
        amount = settled(open_amount, currency)
        add(client, "open", amount)
        if not 0 <= amount <= max(due, NOTHING):
            faults.setdefault(client, []).append(f"{number}: {amount} of {due} is open")
    payments: Any = Payment.objects.filter(**by_client)
    booked = _sums(LedgerEntry.objects.filter(~_recorded(), payment__isnull=False))
    used = _sums(Allocation.objects.all())
    for payment in payments.only("pk", "client", "amount", "currency"):
        left = settled(
            payment.amount
            - booked.get(payment.pk, NOTHING)
            - used.get(payment.pk, NOTHING),
            payment.currency,
        )
        add(payment.client_id, "left", left)
        if not 0 <= left <= payment.amount:
            faults.setdefault(payment.client_id, []).append(
                f"payment of {payment.amount}: {left} is left of it"
            )
    return [
        Control(
            client=client,
            entries=money.rounded(row["entries"], 3),
            open=money.rounded(row["open"], 3),
            unapplied=money.rounded(row["left"], 3),
            faults=tuple(faults.get(client, ())),
        )
        for client, row in sorted(sums.items())
    ]


def _recorded() -> Q:
    return Q(kind=LedgerEntry.Kind.PAYMENT, reverses__isnull=True)


def _sums(rows: Any) -> dict[Any, Decimal]:
    return {
        found["payment"]: found["sum"]
        for found in rows.values("payment").annotate(sum=Sum("amount")).order_by()
    }


def doctor_says() -> Iterator[tuple[str, str]]:
    """For ``manage.py doctor``: whether the books balance. Reads alone."""
    found = control()
    faulty = [one for one in found if not one.holds]
    if not found:
        yield "ok", "nothing in the books yet"
    elif not faulty:
        said = f"the books balance: for each of {len(found)} clients, what was booked "
        yield "ok", f"{said}is what is open less what is unapplied"
    for one in faulty:
        sums = f"booked {one.entries}, open {one.open}, unapplied {one.unapplied}"
        said = "; ".join([sums, *one.faults])
        mend = "Restore the last backup beside this one and compare"
        yield (
            "wrong",
            f"the books of client {one.client} do not balance: {said}. {mend}",
        )


# ---- What is owed, by age ------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class AgedRow:
    """What one client owed at the end of a day, by days past due."""

    client: Client
    ages: tuple[Decimal, ...]
    credit: Decimal

    @property
    def owed(self) -> Decimal:
        return sum(self.ages, NOTHING)


@dataclass(frozen=True, slots=True)
class Aged:
    """Receivables on a day: the same day asked again gives the same, unless something
    was booked for that day or before it meanwhile."""

    as_of: date
    rows: Sequence[AgedRow]

    @property
    def totals(self) -> tuple[Decimal, ...]:
        return tuple(
            sum((row.ages[at] for row in self.rows), NOTHING) for at in range(len(AGES))
        )

    @property
    def owed(self) -> Decimal:
        return sum(self.totals, NOTHING)

    @property
    def credit(self) -> Decimal:
        return sum((row.credit for row in self.rows), NOTHING)


def age_of(due_day: date, as_of: date) -> int:
    """Place in ``AGES``: what is due today is current, from tomorrow on it is late."""
    late = (as_of - due_day).days
    if late <= 0:
        return 0
    return 1 + min((late - 1) // 30, 3)


def aged(as_of: date) -> Aged:
    """What all clients owed at the end of ``as_of``, by age, and what stood to their
    credit. Four queries."""
    ages: dict[int, list[Decimal]] = {}
    documents: Any = Invoice.objects.issued().filter(issue_day__lte=as_of).order_by()
    for owner, due_day, currency, open_amount in (
        documents.with_balance(as_of=as_of)
        .filter(open_amount__gt=0)
        .values_list("client", "due_day", "currency", "open_amount")
    ):
        row = ages.setdefault(owner, [NOTHING] * len(AGES))
        row[age_of(due_day, as_of)] += settled(open_amount, currency)
    credit: dict[int, Decimal] = {}
    entries = LedgerEntry.objects.filter(payment__isnull=False, day__lte=as_of)
    for found in entries.values("client").annotate(sum=Sum("amount")).order_by():
        credit[found["client"]] = -found["sum"]
    used = Allocation.objects.filter(day__lte=as_of).values("payment__client")
    for found in used.annotate(sum=Sum("amount")).order_by():
        client = found["payment__client"]
        credit[client] = credit.get(client, NOTHING) - found["sum"]
    credit = {client: money.rounded(amount, 3) for client, amount in credit.items()}
    wanted = {*ages, *(client for client, amount in credit.items() if amount)}
    clients = Client.objects.filter(pk__in=wanted).order_by("name", "pk")
    return Aged(
        as_of,
        [
            AgedRow(
                client,
                tuple(ages.get(client.pk, [NOTHING] * len(AGES))),
                credit.get(client.pk, NOTHING),
            )
            for client in clients
        ],
    )


def last_booked(as_of: date) -> datetime | None:
    """When something was last booked for a day up to ``as_of``: what a printed list
    of that day is compared by."""
    rows = LedgerEntry.objects.filter(day__lte=as_of).order_by("-created_at")
    return rows.values_list("created_at", flat=True).first()
