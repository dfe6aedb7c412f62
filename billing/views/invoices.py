"""The list of invoices, and one document: draft, issued, credited."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from billing.forms.invoices import STATES, FilterForm, NoteForm
from billing.forms.mending import CreditForm
from billing.models import Invoice
from billing.selectors import (
    document_lines,
    invoice_list,
    state_of,
    totals_open,
    unbilled_visits,
)
from billing.services.credit import credit_amount, credit_in_full, credit_lines
from billing.services.invoices import issue_invoice
from billing.services.lines import discard_draft, set_note
from billing.services.renditions import attachment
from billing.views.documents import document_page
from billing.views.paper import file_answer
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Client, User
from practice.pdf import PdfUnavailable


@require_safe
@access.door(access.BOOKS)
def invoices(request: HttpRequest) -> HttpResponse:
    """Documents by state and client, with what is open in all, and what is unbilled."""
    viewer, today = access.member(request), timezone.localdate()
    form = FilterForm(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    state, client = wanted.get("state") or "", wanted.get("client")
    rows = invoice_list(viewer, state=state, client=client, today=today)
    page = Paginator(rows, 40).get_page(request.GET.get("page"))
    return render(
        request,
        "billing/invoices.html",
        {
            "page": page,
            "rows": [(invoice, *state_of(invoice, today)) for invoice in page],
            "states": STATES,
            "state": state,
            "client": Client.objects.visible_to(viewer).filter(pk=client).first()
            if client
            else None,
            "sums": totals_open(viewer, today),
            "unbilled": unbilled_visits()[:20] if not state else [],
        },
    )


def _one(request: HttpRequest, pk: UUID) -> Invoice:
    return access.get(Invoice.objects.visible_to(request.user), pk=pk)


@require_safe
@access.door(access.BOOKS)
def invoice(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One document, with what can be done to it now."""
    return document_page(request, _one(request, pk))


@require_POST
@access.door(access.BOOKS)
def issue(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Issues a draft."""
    draft = _one(request, pk)
    try:
        done = issue_invoice(
            invoice=draft, by=access.member(request), today=timezone.localdate()
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return document_page(request, draft, status=422)
    messages.success(request, f"{done.number} is issued{_mailed(done)}.")
    return redirect("billing:invoice", pk)


def _mailed(invoice: Invoice) -> str:
    address = invoice.client.email
    return f" and goes to {address}" if address else "; the client has no e-mail"


@require_POST
@access.door(access.BOOKS)
def discard(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Puts a draft aside."""
    draft = _one(request, pk)
    discard_draft(invoice=draft, by=access.member(request))
    messages.success(request, "The draft is discarded.")
    if draft.visit_id:
        return redirect("billing:closing", draft.visit_id)
    return redirect("billing:invoices")


@require_POST
@access.door(access.BOOKS)
def note(request: HttpRequest, pk: UUID) -> HttpResponse:
    """What a draft says below its lines."""
    draft = _one(request, pk)
    form = NoteForm(request.POST)
    if form.is_valid():
        set_note(
            invoice=draft, by=access.member(request), note=form.cleaned_data["note"]
        )
        return redirect("billing:invoice", pk)
    return document_page(request, draft, note=form, status=422)


@require_POST
@access.door(access.BOOKS)
def credit(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Credits an invoice: lines of it, an amount, or all that is left."""
    document = _one(request, pk)
    form = CreditForm(request.POST, lines=document_lines(document))
    if form.is_valid():
        try:
            made = _credited(document, access.member(request), form.cleaned_data)
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{made.number} credits {document.number}.")
            return redirect("billing:invoice", made.pk)
    return document_page(request, document, credit=form, status=422)


def _credited(document: Invoice, by: User, said: dict[str, Any]) -> Invoice:
    told: dict[str, Any] = {
        "invoice": document,
        "by": by,
        "today": timezone.localdate(),
        "reason": said["reason"],
    }
    if said["positions"]:
        return credit_lines(positions=said["positions"], key=said["key"], **told)
    if said["amount"] is not None:
        return credit_amount(amount=said["amount"], key=said["key"], **told)
    return credit_in_full(**told)


@require_safe
@access.door(access.BOOKS)
def invoice_pdf(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The issued bytes."""
    return pdf_answer(_one(request, pk))


def pdf_answer(document: Invoice) -> HttpResponse:
    """The PDF as a private download; made now if the worker hasn't yet.

    Raises Refused where it can't be, with what mends it.
    """
    try:
        name, content, kind = attachment(str(document.pk))
    except PdfUnavailable as fault:
        raise Refused(str(fault)) from fault
    return file_answer(name, content, kind)
