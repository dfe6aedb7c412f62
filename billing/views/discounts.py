"""What is taken off a draft as a whole: discounts and deposits."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from billing.forms.prices import DiscountForm
from billing.models import Invoice
from billing.services.deposits import deduct_prepayment
from billing.services.discounts import remove_discount, set_discount
from billing.services.totals import Wish
from billing.views.documents import document_page
from practice import access
from practice.errors import Refused
from practice.forms.answers import say


def _draft(request: HttpRequest, pk: UUID) -> Invoice:
    return access.get(Invoice.objects.visible_to(request.user), pk=pk)


@require_POST
@access.door(access.BOOKS)
def discount(request: HttpRequest, pk: UUID) -> HttpResponse:
    """A discount or surcharge with its reason."""
    draft = _draft(request, pk)
    form = DiscountForm(request.POST)
    if form.is_valid():
        try:
            set_discount(
                invoice=draft,
                by=access.member(request),
                wish=Wish(**form.cleaned_data),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{form.cleaned_data['reason']}: on the draft.")
            return redirect("billing:invoice", pk)
    return document_page(request, draft, discount=form, status=422)


@require_POST
@access.door(access.BOOKS)
def discount_remove(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Takes the discount of a reason away."""
    draft = _draft(request, pk)
    remove_discount(
        invoice=draft,
        by=access.member(request),
        reason=request.POST.get("reason", "")[:200],
    )
    messages.success(request, "Removed.")
    return redirect("billing:invoice", pk)


@require_POST
@access.door(access.BOOKS)
def deposit(request: HttpRequest, pk: UUID, of: UUID) -> HttpResponse:
    """Takes what is left of a prepayment off a draft."""
    draft, prepayment = _draft(request, pk), _draft(request, of)
    deduct_prepayment(invoice=draft, prepayment=prepayment, by=access.member(request))
    messages.success(request, f"{prepayment.number}: taken off.")
    return redirect("billing:invoice", pk)
