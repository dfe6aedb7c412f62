"""Forms of a document to take away: e-invoices, receipts, statements; the paper's
settings."""

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from billing import pdf
from billing.forms.paper import PaperForm, PeriodForm
from billing.models import Invoice, Payment, Rendition
from billing.selectors import (
    logo_bytes,
    paper_settings,
    receipt_data,
    statement_data,
)
from billing.services.paper import change_paper
from billing.services.renditions import download
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Client
from practice.pdf import PdfUnavailable

XML_KINDS = (Rendition.Kind.CII, Rendition.Kind.UBL)


def file_answer(name: str, content: bytes, kind: str) -> HttpResponse:
    """A private file; XML is saved rather than shown."""
    shown = "inline" if kind == "application/pdf" else "attachment"
    return HttpResponse(
        content,
        content_type=kind,
        headers={
            "Content-Disposition": f'{shown}; filename="{name}"',
            "Cache-Control": "private, no-store",
            "X-Content-Type-Options": "nosniff",
        },
    )


def xml_answer(document: Invoice, kind: str) -> HttpResponse:
    """An issued document as an e-invoice. 404 for a syntax that isn't one.

    Raises Refused for a draft, and where there can be none, with the reason.
    """
    if kind not in XML_KINDS:
        raise Http404
    return file_answer(*download(document, kind))


@require_safe
@access.door(access.BOOKS)
def invoice_xml(request: HttpRequest, pk: UUID, kind: str) -> HttpResponse:
    """An issued document as CII or UBL."""
    rows = Invoice.objects.visible_to(request.user)
    return xml_answer(access.get(rows, pk=pk), kind)


def receipt_answer(payment: Payment) -> HttpResponse:
    """The receipt of a payment, from the books as they stand.

    Raises Refused where PDFs can't be made, with what mends it.
    """
    data = receipt_data(payment)
    try:
        content = pdf.receipt_pdf(data, logo=logo_bytes(data["logo"]))
    except PdfUnavailable as fault:
        raise Refused(str(fault)) from fault
    return file_answer(f"receipt-{data['number']}.pdf", content, "application/pdf")


@require_safe
@access.door(access.BOOKS)
def receipt(request: HttpRequest, pk: UUID) -> HttpResponse:
    """A receipt for a payment."""
    rows = Payment.objects.visible_to(request.user).select_related("client")
    return receipt_answer(access.get(rows, pk=pk))


def statement_answer(request: HttpRequest, client: Client) -> HttpResponse:
    """The statement of the asked period; without one, the last year up to today.

    Raises Refused for days that aren't, and where PDFs can't be made.
    """
    form = PeriodForm(request.GET)
    if not form.is_valid():
        raise Refused("Give the days of a statement as 2026-11-25.", field="first")
    last: date = form.cleaned_data["last"] or timezone.localdate()
    first: date = form.cleaned_data["first"] or date(
        last.year - 1, last.month, min(last.day, 28)
    )
    if first > last:
        raise Refused("The first day of a statement is not after its last.", "first")
    data = statement_data(client, first=first, last=last)
    try:
        content = pdf.statement_pdf(data, logo=logo_bytes(data["logo"]))
    except PdfUnavailable as fault:
        raise Refused(str(fault)) from fault
    return file_answer(pdf.as_of(last), content, "application/pdf")


@require_safe
@access.door(access.BOOKS)
def statement(request: HttpRequest, client: int) -> HttpResponse:
    """A client's statement as PDF."""
    rows = Client.objects.visible_to(request.user)
    return statement_answer(request, access.get(rows, pk=client))


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def paper(request: HttpRequest) -> HttpResponse:
    """What the practice wants on its paper."""
    wishes = paper_settings()
    if request.method == "POST":
        form = PaperForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                change_paper(by=access.member(request), **form.cleaned_data)
            except Refused as refusal:
                say(form, refusal)
            else:
                messages.success(request, "Paper: saved. Issued documents keep theirs.")
                return redirect("billing:paper")
    else:
        names = ("size", "draws_feet", "pay_link")
        form = PaperForm(initial={name: getattr(wishes, name) for name in names})
    page = {"form": form, "wishes": wishes}
    status = 422 if form.is_bound else 200
    return render(request, "billing/paper.html", page, status=status)


@require_safe
@access.door(access.HEAD)
def logo(request: HttpRequest) -> HttpResponse:
    """The logo as it is printed."""
    content = logo_bytes(paper_settings().logo_id or "")
    if content is None:
        raise Http404
    return HttpResponse(
        content,
        content_type="image/jpeg",
        headers={"Cache-Control": "private, no-store"},
    )
