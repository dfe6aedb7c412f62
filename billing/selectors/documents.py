"""Reads over invoices and credit notes; query counts are pinned in the tests."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Count, Exists, F, OuterRef, Prefetch, Q, Subquery, Sum

from billing.models import Invoice, InvoiceLine
from horses.models import Horse, Visit, VisitRecord
from practice.models import User

NOTHING = Decimal(0)
DUE_STATES = ("open", "overdue", "draft", "paid", "credited")


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
    rows = rows.select_related("client", "visit", "visit__barn").defer("snapshot")
    if state == "draft":
        return rows.order_by("-pk")
    # A draft has no day; databases differ in where they put none.
    drafts_first = F("issue_day").desc(nulls_first=True)
    return rows.order_by(drafts_first, "-number", "-pk")


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
    if balance.open_amount <= 0:
        if balance.credited >= invoice.due > 0:
            return "credited", "credited"
        if balance.written_off:
            return "written_off", "written off"
        return "paid", "paid"
    if invoice.due_day and invoice.due_day < today:
        return "overdue", "overdue"
    if balance.allocated:
        return "part_paid", "part paid"
    return "issued", "open"


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
