"""The owner's invoices: the own ones, never those of anyone else."""

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from billing.models import Invoice, Payment
from billing.selectors import (
    account,
    allocated_payments,
    document_lines,
    invoice_list,
    no_einvoice,
    one_document,
    state_of,
    tax_groups,
    ways_of,
)
from billing.views.invoices import pdf_answer
from billing.views.paper import receipt_answer, statement_answer, xml_answer
from billing.views.pieces import is_piece
from practice import access


@require_safe
@access.door(access.OWNER)
def my_invoices(request: HttpRequest) -> HttpResponse:
    """The owner's documents, newest first, and what is open."""
    viewer, today = access.member(request), timezone.localdate()
    rows = invoice_list(viewer, state="", client=None, today=today)
    page = Paginator(rows, 40).get_page(request.GET.get("page"))
    assert viewer.client is not None  # a constraint: an owner points to a client
    return render(
        request,
        "billing/my_invoices.html",
        {
            "page": page,
            "rows": [(document, *state_of(document, today)) for document in page],
            "account": account(viewer.client, today=today),
        },
    )


@require_safe
@access.door(access.OWNER)
def my_account(request: HttpRequest) -> HttpResponse:
    """What the owner owes: a piece of the first page; by itself, the invoices."""
    viewer = access.member(request)
    if not is_piece(request):
        return redirect("billing:my_invoices")
    assert viewer.client is not None  # as above
    page = {"account": account(viewer.client, today=timezone.localdate())}
    return render(request, "billing/_my_account.html", page)


@require_safe
@access.door(access.OWNER)
def my_invoice(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One of the owner's documents, with how to pay it."""
    found = access.get(Invoice.objects.visible_to(request.user), pk=pk)
    document = one_document(found)
    state, word = state_of(document, timezone.localdate())
    return render(
        request,
        "billing/my_invoice.html",
        {
            "invoice": document,
            "lines": document_lines(document),
            "groups": tax_groups(document),
            "state": state,
            "state_word": word,
            "payments": allocated_payments(document),
            "has_xml": not no_einvoice(document),
            "pay": ways_of(document, document.open_amount),  # type: ignore[attr-defined]  # annotated by one_document
        },
    )


@require_safe
@access.door(access.OWNER)
def my_invoice_pdf(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The issued bytes of one of the owner's documents."""
    return pdf_answer(access.get(Invoice.objects.visible_to(request.user), pk=pk))


@require_safe
@access.door(access.OWNER)
def my_invoice_xml(request: HttpRequest, pk: UUID, kind: str) -> HttpResponse:
    """One of the owner's documents as CII or UBL."""
    rows = Invoice.objects.visible_to(request.user)
    return xml_answer(access.get(rows, pk=pk), kind)


@require_safe
@access.door(access.OWNER)
def my_receipt(request: HttpRequest, pk: UUID) -> HttpResponse:
    """A receipt for one of the owner's payments."""
    rows = Payment.objects.visible_to(request.user).select_related("client")
    return receipt_answer(access.get(rows, pk=pk))


@require_safe
@access.door(access.OWNER)
def my_statement(request: HttpRequest) -> HttpResponse:
    """The owner's own statement."""
    viewer = access.member(request)
    assert viewer.client is not None  # as above
    return statement_answer(request, viewer.client)
