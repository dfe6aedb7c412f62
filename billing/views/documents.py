"""The page of one document, which several views come back to."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from billing.forms.invoices import AddLineForm, NoteForm
from billing.forms.mending import CreditForm, ReasonForm, WriteOffForm
from billing.forms.prices import DiscountForm
from billing.models import ChargeItem, Invoice, InvoiceLine
from billing.selectors import (
    allocated_payments,
    document_lines,
    no_einvoice,
    one_document,
    state_of,
    tax_groups,
)
from billing.selectors.deposits import open_deposits
from billing.services.collecting import late_claim
from practice import access
from practice.pdf import LACKING, undrawn


def document_page(
    request: HttpRequest, document: Invoice, *, status: int = 200, **forms: Any
) -> HttpResponse:
    """The document as it stands, with the forms that its state allows."""
    document = one_document(document)
    state, word = state_of(document, timezone.localdate())
    page: dict[str, Any] = {
        "invoice": document,
        "lines": document_lines(document),
        "groups": tax_groups(document),
        "state": state,
        "state_word": word,
        "payments": allocated_payments(document),
        "allowances": document.allowances.order_by("position"),
    }
    page["no_xml"] = no_einvoice(document)
    page["has_xml"] = not page["no_xml"]
    if document.is_draft:
        page["undrawn"] = _undrawn(document, page["lines"])
        page["lacking"] = LACKING
        charges = ChargeItem.objects.visible_to(access.member(request)).active()
        page["add"] = AddLineForm(items=charges.filter(price__isnull=False))
        page["note"] = NoteForm(initial={"note": document.note})
        page["discount"] = DiscountForm()
        page["deposits"] = open_deposits(document)
    elif document.is_issued and document.kind != "381":
        page |= _mending(document, page["lines"], state)
    return render(request, "billing/invoice.html", {**page, **forms}, status=status)


def _mending(document: Any, lines: list[InvoiceLine], state: str) -> dict[str, Any]:
    """The forms of what can be done to an issued invoice now."""
    found: dict[str, Any] = {
        "write_offs": document.entries.filter(
            kind="write_off", amount__lt=0, reversed_by__isnull=True
        ),
        "disputed": document.disputes.filter(settled_on__isnull=True).first(),
    }
    if state not in {"credited", "written_off"}:
        found["credit"] = CreditForm(lines=lines)
    if document.open_amount > 0:
        found["give_up"] = WriteOffForm()
        found["object_to"] = ReasonForm()
        found["late"] = late_claim(document, today=timezone.localdate())
    return found


def _undrawn(document: Invoice, lines: list[InvoiceLine]) -> str:
    """Characters of a draft that its PDF could not show, set apart by blanks."""
    client = document.client
    texts = [client.name, client.street, client.town, document.note]
    texts += [text for line in lines for text in (line.name, line.note)]
    return " ".join(undrawn(" ".join(texts)))
