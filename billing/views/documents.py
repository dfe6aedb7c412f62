"""The page of one document, which several views come back to."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from billing.forms.invoices import AddLineForm, CreditForm, NoteForm
from billing.forms.prices import DiscountForm
from billing.models import ChargeItem, Invoice
from billing.selectors import (
    allocated_payments,
    document_lines,
    one_document,
    state_of,
    tax_groups,
)
from billing.selectors.deposits import open_deposits
from practice import access


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
    if document.is_draft:
        charges = ChargeItem.objects.visible_to(access.member(request)).active()
        page["add"] = AddLineForm(items=charges.filter(price__isnull=False))
        page["note"] = NoteForm(initial={"note": document.note})
        page["discount"] = DiscountForm()
        page["deposits"] = open_deposits(document)
    elif document.is_issued and state != "credited" and document.kind != "381":
        page["credit"] = CreditForm()
    return render(request, "billing/invoice.html", {**page, **forms}, status=status)
