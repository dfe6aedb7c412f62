"""Reads over charges, invoices and payments; query counts are pinned in the tests."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Count, Exists, OuterRef, Prefetch, Q, Subquery, Sum

from billing import regimes
from billing.models import (
    Allocation,
    ChargeItem,
    Invoice,
    InvoiceLine,
    Payment,
    TaxRate,
)
from billing.regimes import Rate, Regime
from horses.models import Horse, Ownership, Payer, Visit, VisitRecord, Work
from practice.models import Client, Practice, User

NOTHING = Decimal(0)
DUE_STATES = ("open", "overdue", "draft", "paid", "credited")


# ---- Tax ------------------------------------------------------------------------
def regime_of(practice: Practice) -> Regime:
    """The practice's tax regime."""
    return regimes.regime(practice.tax_regime)


def tax_on(practice: Practice, code: str, day: date) -> Rate:
    """The tax of a code on a day. A practice that isn't registered charges none; a
    code without a rate on that day comes back as taxed with ``percent`` None, which
    nobody may issue.
    """
    regime = regime_of(practice)
    if not practice.tax_registered:
        return regime.small
    rows = TaxRate.objects.filter(regime=regime.code, code=code).on(day)
    row = rows.order_by("-starts").first()
    if row is None:
        known = regimes.rate_on(regime.rates, code, day)
        return known or Rate(code, code, "S", None)
    return Rate(
        code=row.code,
        name=row.name,
        category=row.category,
        percent=row.percent,
        reason_code=row.reason_code,
        reason=row.reason,
    )


def tax_choices(practice: Practice, day: date) -> list[tuple[str, str]]:
    """Codes that a charge can have, with the rate of the day: for a form."""
    regime = regime_of(practice)
    if not practice.tax_registered:
        return [(regime.work_code, regime.small.name)]
    found: dict[str, str] = {}
    for rate in TaxRate.objects.filter(regime=regime.code).on(day):
        found.setdefault(rate.code, str(rate) if rate.percent else rate.name)
    for known in regime.rates:
        found.setdefault(known.code, known.name)
    return list(found.items())


def taxed_codes(practice: Practice) -> list[tuple[str, str]]:
    """Codes with a figure that the practice sets; none where it isn't registered."""
    if not practice.tax_registered:
        return []
    rates = regime_of(practice).rates
    return list(
        {rate.code: rate.name for rate in rates if rate.category == "S"}.items()
    )


# ---- The charge list --------------------------------------------------------------
def charge_list() -> list[ChargeItem]:
    """Active charges: the call-out, then work in its own order, then extras."""
    order = {
        ChargeItem.Kind.CALL_OUT: 0,
        ChargeItem.Kind.WORK: 1,
        ChargeItem.Kind.EXTRA: 2,
    }
    rows = ChargeItem.objects.active().select_related("work")
    return sorted(
        rows,
        key=lambda item: (
            order[ChargeItem.Kind(item.kind)],
            item.work.position if item.work else item.position,
            item.name,
        ),
    )


def is_proposed(practice: Practice) -> bool:
    """Whether rates, call-out and an item for each kind of work are there."""
    has_item = Exists(ChargeItem.objects.filter(work=OuterRef("pk")))
    return (
        TaxRate.objects.filter(regime=regime_of(practice).code).exists()
        and ChargeItem.objects.filter(kind=ChargeItem.Kind.CALL_OUT).exists()
        and not Work.objects.filter(~has_item).exists()
    )


def payers_on(horses: Iterable[Horse], day: date) -> dict[int, dict[int, Fraction]]:
    """Who pays for each horse on a day: client → part of the whole (sums to 1).

    The payer of the horse and day, else the owners by share; a horse with neither has
    no entry. Two queries, however many horses.
    """
    keys = [horse.pk for horse in horses]
    found: dict[int, dict[int, Fraction]] = {}
    for own in Ownership.objects.filter(horse__in=keys).on(day):
        found.setdefault(own.horse_id, {})[own.client_id] = Fraction(own.share)
    for payer in Payer.objects.filter(horse__in=keys).on(day):
        found[payer.horse_id] = {payer.client_id: Fraction(1)}
    return {
        horse: {client: part / sum(parts.values()) for client, part in parts.items()}
        for horse, parts in found.items()
    }


# ---- Invoices ---------------------------------------------------------------------
def lines_first() -> "Prefetch[Any]":
    """Lines with what an invoice page shows of them."""
    return Prefetch(
        "lines", InvoiceLine.objects.select_related("horse").order_by("position")
    )


def invoice_list(viewer: User, *, state: str, client: int | None, today: date) -> Any:
    """The documents of a filter, newest first, drafts above all."""
    rows = Invoice.objects.visible_to(viewer)
    if state == "overdue":
        rows = rows.overdue(today)
    elif state == "open":
        rows = rows.open()
    elif state == "draft":
        rows = rows.drafts().with_balance()
    else:
        rows = rows.exclude(state=Invoice.State.DISCARDED).with_balance()
    if client is not None:
        rows = rows.filter(client=client)
    return (
        rows.select_related("client", "visit", "visit__barn").order_by("number", "-pk")
        if state == "draft"
        else rows.select_related("client", "visit", "visit__barn").order_by(
            "-issue_day", "-number", "-pk"
        )
    )


def document_rows(viewer: User | AnonymousUser) -> Any:
    """The viewer's documents with balance and lines."""
    rows = Invoice.objects.visible_to(viewer).with_balance().select_related("client")
    return rows.prefetch_related(lines_first())


def invoices_of_visit(visit: Visit) -> list[Invoice]:
    """What was drafted or issued for a visit, by payer's name, lines included."""
    return list(
        Invoice.objects.filter(visit=visit)
        .exclude(state=Invoice.State.DISCARDED)
        .with_balance()
        .select_related("client", "corrects")
        .prefetch_related(lines_first())
        .order_by("client__name", "kind", "pk")
    )


def unbilled_visits() -> Any:
    """Closed visits that nothing was drafted for, oldest first. Those before the first
    visit that was billed here, and those from an imported sheet, were billed elsewhere.
    """
    has_invoice = Invoice.objects.filter(visit=OuterRef("pk"))
    billed = Visit.objects.filter(pk__in=Invoice.objects.values("visit"))
    first = billed.order_by("day").values("day")[:1]
    return (
        Visit.objects.filter(
            ~Exists(has_invoice), state=Visit.State.CLOSED, day__gte=Subquery(first)
        )
        .exclude(kind=Visit.Kind.BROUGHT_IN)
        .annotate(horses=Count("records"))
        .filter(horses__gt=0)
        .select_related("barn", "farrier")
        .order_by("day", "pk")
    )


def state_of(invoice: Invoice, today: date) -> tuple[str, str]:
    """State for ``data-state`` and its words; needs ``with_balance``."""
    if not invoice.is_issued:
        return invoice.state, invoice.get_state_display()
    if invoice.kind == Invoice.Kind.CREDIT_NOTE:
        return "issued", "issued"
    balance: Any = invoice
    if balance.credited:
        return "credited", "credited"
    if balance.open_amount <= 0:
        return "paid", "paid"
    if invoice.due_day and invoice.due_day < today:
        return "overdue", "overdue"
    if balance.allocated:
        return "part_paid", "part paid"
    return "issued", "open"


# ---- Accounts ---------------------------------------------------------------------
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


def totals_open(viewer: User, today: date) -> dict[str, Decimal]:
    """What all clients owe together, and how much of it is overdue."""
    rows: Any = Invoice.objects.visible_to(viewer).open()
    found = rows.aggregate(
        open=Sum("open_amount"), overdue=Sum("open_amount", filter=Q(due_day__lt=today))
    )
    return {name: value or NOTHING for name, value in found.items()}


# ---- Pages ------------------------------------------------------------------------
def one_document(document: Invoice) -> Invoice:
    """The document with its balance and all that its page names."""
    rows = Invoice.objects.with_balance().select_related(
        "client", "visit", "visit__barn", "corrects", "issued_by"
    )
    return rows.prefetch_related("credit_notes").get(pk=document.pk)


def document_lines(document: Invoice) -> list[InvoiceLine]:
    """Its lines in order."""
    return list(document.lines.select_related("horse").order_by("position"))


def tax_groups(document: Invoice) -> list[dict[str, Any]]:
    """An issued document's tax groups, as issued: percent, basis, tax, reason."""
    groups = (document.snapshot or {}).get("tax_groups", [])
    return [
        {
            **group,
            "percent": group["percent"] and Decimal(group["percent"]),
            "basis": Decimal(group["basis"]),
            "tax": Decimal(group["tax"]),
        }
        for group in groups
    ]


def visit_records(visit: Visit) -> list[VisitRecord]:
    """The horses of a visit, by name, with their work."""
    return list(visit.records.select_related("horse", "work").order_by("horse__name"))


def sums_of(documents: Sequence[Invoice]) -> dict[str, Any]:
    """How many drafts there are and what all documents of a visit come to."""
    counted = [d for d in documents if d.kind != Invoice.Kind.CREDIT_NOTE]
    balances: Any = counted
    return {
        "payers": len({document.client_id for document in documents}),
        "drafts": sum(1 for document in documents if document.is_draft),
        "due": sum((document.due for document in counted), NOTHING),
        "open": sum((document.open_amount for document in balances), NOTHING),
    }


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


# ---- Pieces of other pages --------------------------------------------------------
def waiting(viewer: User, today: date) -> dict[str, Any]:
    """What the books have to do: counts of drafts and unbilled visits, sums open."""
    return {
        "drafts": Invoice.objects.visible_to(viewer).drafts().count(),
        "unbilled": unbilled_visits().count(),
        **totals_open(viewer, today),
    }


def horse_rows(viewer: User, horse: Horse, limit: int = 6) -> Any:
    """The last documents that the horse is on, newest first."""
    on_it = InvoiceLine.objects.filter(horse=horse).values("invoice")
    rows = Invoice.objects.visible_to(viewer).exclude(state=Invoice.State.DISCARDED)
    return (
        rows.filter(pk__in=on_it)
        .with_balance()
        .select_related("client", "visit", "visit__barn")
        .order_by("-issue_day", "-pk")[:limit]
    )
