"""A draft's lines."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from billing.forms.invoices import AddLineForm, LineForm
from billing.models import ChargeItem, Invoice, InvoiceLine
from billing.selectors import tax_choices
from billing.services.lines import LineWish, NewLine, add_line, change_line, remove_line
from billing.views.documents import document_page
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice


def _line(request: HttpRequest, pk: UUID, line: int) -> InvoiceLine:
    visible = Invoice.objects.visible_to(request.user)
    rows = InvoiceLine.objects.filter(invoice__in=visible, invoice=pk)
    return access.get(rows.select_related("invoice", "horse"), pk=line)


@require_POST
@access.door(access.BOOKS)
def add(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Adds a line to a draft."""
    draft = access.get(Invoice.objects.visible_to(request.user), pk=pk)
    charges = ChargeItem.objects.visible_to(request.user).active()
    form = AddLineForm(request.POST, items=charges.filter(price__isnull=False))
    if form.is_valid():
        try:
            told = dict(form.cleaned_data)
            line = add_line(
                invoice=draft,
                by=access.member(request),
                key=told.pop("key"),
                line=NewLine(**told),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{line.name}: added.")
            return redirect("billing:invoice", pk)
    return document_page(request, draft, add=form, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def change(request: HttpRequest, pk: UUID, line: int) -> HttpResponse:
    """Name, quantity, price and tax of one line."""
    row = _line(request, pk, line)
    form = LineForm(
        request.POST or None,
        initial={
            "name": row.name,
            "quantity": row.quantity,
            "unit_price": None if row.needs_price else row.unit_price,
            "tax_code": row.tax_code,
        },
        tax_codes=tax_choices(Practice.objects.the_one(), timezone.localdate()),
    )
    if form.is_bound and form.is_valid():
        try:
            change_line(
                line=row, by=access.member(request), wish=LineWish(**form.cleaned_data)
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            return redirect("billing:invoice", pk)
    page = {"form": form, "line": row, "invoice": row.invoice}
    status = 422 if form.is_bound else 200
    return render(request, "billing/line.html", page, status=status)


@require_POST
@access.door(access.BOOKS)
def remove(request: HttpRequest, pk: UUID, line: int) -> HttpResponse:
    """Takes a line off a draft."""
    row = _line(request, pk, line)
    remove_line(line=row, by=access.member(request))
    messages.success(request, f"{row.name}: removed.")
    return redirect("billing:invoice", pk)
