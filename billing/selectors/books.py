"""The books for an accountant: journal, tax by rate and period, payments, changes."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Sum
from django.utils import timezone

from billing import money
from billing.models import Allocation, Invoice, LedgerEntry
from billing.selectors.accounts import entry_words, settled
from billing.tables import Cell, Table
from practice.models import Change, Practice

NOTHING = Decimal(0)
CREDIT = Invoice.Kind.CREDIT_NOTE


@dataclass(frozen=True, slots=True)
class Period:
    """Days, both in."""

    first: date
    last: date


@dataclass(frozen=True, slots=True)
class RateSum:
    """What was sold at one rate."""

    category: str
    percent: Decimal | None
    basis: Decimal
    tax: Decimal


def _shown(amount: Decimal) -> Decimal:
    """Two decimals, or three where the currency has them."""
    return amount.quantize(Decimal("0.01")) if amount == round(amount, 2) else amount


def documents_of(period: Period) -> Any:
    """Issued documents of a period, by number of its kind."""
    rows = Invoice.objects.issued().filter(
        issue_day__gte=period.first, issue_day__lte=period.last
    )
    rows = rows.select_related("client", "corrects").defer("corrects__snapshot")
    return rows.order_by("issue_day", "number")


def _groups(document: Invoice) -> list[dict[str, Any]]:
    return list((document.snapshot or {}).get("tax_groups", []))


def journal(period: Period) -> Table:
    """The sales journal: a row a document and tax rate, credit notes below 0; the
    document's total stands in its first row."""
    rows: list[list[Cell]] = []
    for document in documents_of(period):
        sign = -1 if document.kind == CREDIT else 1
        for place, group in enumerate(_groups(document)):
            percent = group["percent"]
            is_first = place == 0
            rows.append(
                [
                    document.issue_day,
                    document.number,
                    document.kind,
                    document.corrects.number if document.corrects else "",
                    document.client.name,
                    document.snapshot["buyer"].get("country", ""),
                    group["category"],
                    None if percent is None else Decimal(percent),
                    sign * Decimal(group["basis"]),
                    sign * Decimal(group["tax"]),
                    sign * _shown(document.due) if is_first else None,
                    document.currency,
                ]
            )
    heading = (
        *("issue_day", "number", "kind", "credits", "client", "country"),
        *("tax_category", "tax_percent", "net", "tax", "document_total", "currency"),
    )
    return Table("sales_journal", heading, rows)


# ---- Tax -------------------------------------------------------------------------
def tax_by_issue(period: Period) -> list[RateSum]:
    """Tax by the day of issue: what accrual accounting owes for the period."""
    sums: dict[tuple[str, Decimal | None], list[Decimal]] = {}
    for document in documents_of(period):
        sign = -1 if document.kind == CREDIT else 1
        for group in _groups(document):
            _add(
                sums,
                group,
                sign * Decimal(group["basis"]),
                sign * Decimal(group["tax"]),
            )
    return _sorted(sums)


def tax_by_payment(period: Period) -> list[RateSum]:
    """Tax by the day on which money was allocated to an invoice: what cash accounting
    owes for the period. Each rate of an invoice, less what was credited of it, counts
    in the proportion in which the invoice is paid; reckoned as what had been reached
    by the last day less what had been reached before the first, so that periods add up
    to the invoice to the cent, whatever is paid when. Money that pays no invoice yet
    is not in it.
    """
    sums: dict[tuple[str, Decimal | None], list[Decimal]] = {}
    moved: set[Any] = set(
        Allocation.objects.filter(
            day__gte=period.first, day__lte=period.last
        ).values_list("invoice", flat=True)
    )
    moved |= set(
        Invoice.objects.issued()
        .filter(kind=CREDIT, issue_day__gte=period.first, issue_day__lte=period.last)
        .values_list("corrects", flat=True)
    )
    before = period.first - timedelta(days=1)
    documents = Invoice.objects.filter(pk__in=moved).prefetch_related("credit_notes")
    paid = {
        day: {
            row["invoice"]: row["sum"]
            for row in Allocation.objects.filter(invoice__in=moved, day__lte=day)
            .values("invoice")
            .annotate(sum=Sum("amount"))
            .order_by()
        }
        for day in (before, period.last)
    }
    for document in documents:
        for sign, day in ((1, period.last), (-1, before)):
            amount = settled(paid[day].get(document.pk), document.currency)
            for group, basis, tax in _reached(document, day, amount):
                _add(sums, group, sign * basis, sign * tax)
    return _sorted(sums)


def _reached(
    document: Invoice, day: date, paid: Decimal
) -> Iterable[tuple[dict[str, Any], Decimal, Decimal]]:
    """How much of each rate is paid by the end of a day."""
    notes = [
        note
        for note in document.credit_notes.all()
        if note.is_issued and note.issue_day is not None and note.issue_day <= day
    ]
    left: dict[tuple[str, str], list[Any]] = {}
    for sign, each in [(1, document), *((-1, note) for note in notes)]:
        for group in _groups(each):
            row = left.setdefault(
                (group["category"], str(group["percent"])), [group, NOTHING, NOTHING]
            )
            row[1] += sign * Decimal(group["basis"])
            row[2] += sign * Decimal(group["tax"])
    due = document.due - sum((note.due for note in notes), NOTHING)
    if due <= 0 or paid <= 0:
        return
    decimals = money.exponent(document.currency)
    for group, basis, tax in left.values():
        yield (
            group,
            money.rounded(basis * paid / due, decimals),
            money.rounded(tax * paid / due, decimals),
        )


def _add(
    sums: dict[tuple[str, Decimal | None], list[Decimal]],
    group: dict[str, Any],
    basis: Decimal,
    tax: Decimal,
) -> None:
    percent = group["percent"]
    rate = None if percent is None else Decimal(percent)
    row = sums.setdefault((group["category"], rate), [NOTHING, NOTHING])
    row[0] += basis
    row[1] += tax


def _sorted(sums: dict[tuple[str, Decimal | None], list[Decimal]]) -> list[RateSum]:
    return [
        RateSum(category, percent, *row)
        for (category, percent), row in sorted(
            sums.items(), key=lambda each: (each[0][0], each[0][1] or NOTHING)
        )
        if any(row)
    ]


def tax_table(period: Period, *, by_payment: bool) -> Table:
    """Tax by rate as a table."""
    rows = tax_by_payment(period) if by_payment else tax_by_issue(period)
    return Table(
        "tax_by_payment" if by_payment else "tax_by_issue",
        ("first_day", "last_day", "tax_category", "tax_percent", "net", "tax"),
        [
            [period.first, period.last, row.category, row.percent, row.basis, row.tax]
            for row in rows
        ],
    )


# ---- Movements -----------------------------------------------------------------------
def _entries(period: Period) -> Any:
    rows = LedgerEntry.objects.filter(day__gte=period.first, day__lte=period.last)
    return (
        rows.select_related("client", "invoice", "payment", "by")
        .defer("invoice__snapshot")
        .order_by("day", "pk")
    )


def payments(period: Period) -> Table:
    """Money in and out: payments, refunds, and what of them was taken back."""
    rows: list[list[Cell]] = [
        [
            entry.day,
            entry.client.name,
            entry_words(entry),
            entry.method or entry.payment.method,
            -_shown(entry.amount),
            entry.currency,
            entry.payment.reference,
            entry.reason,
            entry.by.name if entry.by else "",
        ]
        for entry in _entries(period).filter(payment__isnull=False)
    ]
    heading = (
        *("day", "client", "what", "method", "money_in", "currency"),
        *("reference", "reason", "by"),
    )
    return Table("payments", heading, rows)


def ledger_table(period: Period) -> Table:
    """Every entry of the ledger, as it was booked."""
    rows = [
        [
            entry.pk,
            entry.day,
            timezone.localtime(entry.created_at).replace(microsecond=0).isoformat(),
            entry.client_id,
            entry.client.name,
            entry.kind,
            _shown(entry.amount),
            entry.currency,
            entry.invoice.number if entry.invoice else "",
            str(entry.payment_id or ""),
            entry.reverses_id,
            entry.reason,
            entry.by.name if entry.by else "",
        ]
        for entry in _entries(period)
    ]
    heading = (
        *("entry", "day", "booked_at", "client_id", "client", "kind", "amount"),
        *("currency", "document", "payment", "reverses", "reason", "by"),
    )
    return Table("ledger", heading, rows)


def changes(period: Period, practice: Practice) -> Table:
    """The audit trail of money: who did what, when."""
    zone = practice.zone
    since = datetime.combine(period.first, time(), zone)
    until = datetime.combine(period.last + timedelta(days=1), time(), zone)
    rows = (
        Change.objects.filter(label__startswith="billing.", at__gte=since, at__lt=until)
        .select_related("by")
        .order_by("at", "pk")
    )
    return Table(
        "changes",
        ("at", "by", "what", "key", "action", "reason", "before", "after"),
        [
            [
                timezone.localtime(row.at, zone).replace(microsecond=0).isoformat(),
                row.by.name if row.by else "",
                row.label.removeprefix("billing."),
                row.object_id,
                row.action,
                row.reason,
                str(row.before or ""),
                str(row.after or ""),
            ]
            for row in rows
        ],
    )


TABLES: dict[str, Callable[[Period, Practice], Table]] = {
    "sales_journal": lambda period, _: journal(period),
    "tax_by_issue": lambda period, _: tax_table(period, by_payment=False),
    "tax_by_payment": lambda period, _: tax_table(period, by_payment=True),
    "payments": lambda period, _: payments(period),
    "ledger": lambda period, _: ledger_table(period),
    "changes": changes,
}
"""Each table by its name, in the order of an accountant's questions."""


def all_tables(period: Period, practice: Practice) -> list[Table]:
    """Everything."""
    return [make(period, practice) for make in TABLES.values()]
