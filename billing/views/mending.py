"""What is done to an issued document or a payment: written off, disputed, paid back."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from billing.forms.mending import PayBackForm, ReasonForm, WriteOffForm
from billing.models import Invoice, LedgerEntry, Payment
from billing.services.begin import begin_draft
from billing.services.collecting import dispute, draft_late_claim, settle
from billing.services.ledger import undo_write_off, write_off
from billing.services.payments import pay_back, reverse_payment
from billing.views.documents import document_page
from billing.views.payments import payment_page
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.keys import uuid7
from practice.models import Client


def _document(request: HttpRequest, pk: UUID) -> Invoice:
    return access.get(Invoice.objects.visible_to(request.user), pk=pk)


@require_POST
@access.door(access.BOOKS)
def give_up(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Writes off what is open of an invoice, or a part."""
    document = _document(request, pk)
    form = WriteOffForm(request.POST)
    if form.is_valid():
        try:
            made = write_off(
                invoice=document,
                by=access.member(request),
                today=timezone.localdate(),
                **form.cleaned_data,
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{-made.amount:.2f} is written off.")
            return redirect("billing:invoice", pk)
    return document_page(request, document, give_up=form, status=422)


@require_POST
@access.door(access.BOOKS)
def hope_again(request: HttpRequest, pk: UUID, entry: int) -> HttpResponse:
    """Takes a write-off back."""
    document = _document(request, pk)
    rows = LedgerEntry.objects.visible_to(request.user).filter(invoice=document)
    row = access.get(rows, pk=entry)
    undo_write_off(
        entry=row,
        by=access.member(request),
        today=timezone.localdate(),
        reason=request.POST.get("reason", "") or "taken back on the invoice's page",
    )
    messages.success(request, "It is open again.")
    return redirect("billing:invoice", pk)


@require_POST
@access.door(access.BOOKS)
def object_to(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Notes what the client objects to; nudges stop."""
    document = _document(request, pk)
    form = ReasonForm(request.POST)
    if form.is_valid():
        try:
            dispute(
                invoice=document,
                by=access.member(request),
                today=timezone.localdate(),
                reason=form.cleaned_data["reason"],
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Noted: no nudges until it is settled.")
            return redirect("billing:invoice", pk)
    return document_page(request, document, object_to=form, status=422)


@require_POST
@access.door(access.BOOKS)
def settled(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The objection is settled."""
    settle(
        invoice=_document(request, pk),
        by=access.member(request),
        today=timezone.localdate(),
    )
    messages.success(request, "Settled.")
    return redirect("billing:invoice", pk)


@require_POST
@access.door(access.BOOKS)
def charge_lateness(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Drafts an invoice over interest and fixed sum."""
    document = _document(request, pk)
    draft = draft_late_claim(
        invoice=document, by=access.member(request), today=timezone.localdate()
    )
    return redirect("billing:invoice", draft.pk)


def _payment(request: HttpRequest, pk: UUID) -> Payment:
    rows = Payment.objects.visible_to(request.user)
    return access.get(rows.select_related("client", "taken_by"), pk=pk)


@require_POST
@access.door(access.BOOKS)
def back(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Books what was paid back of a payment."""
    row = _payment(request, pk)
    form = PayBackForm(request.POST)
    if form.is_valid():
        try:
            pay_back(
                payment=row,
                by=access.member(request),
                day=timezone.localdate(),
                **form.cleaned_data,
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "What was paid back is booked.")
            return redirect("billing:payment", pk)
    return payment_page(request, row, pay_back=form, status=422)


@require_POST
@access.door(access.BOOKS)
def bounced(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Takes a payment out of the books."""
    row = _payment(request, pk)
    form = ReasonForm(request.POST)
    if form.is_valid():
        try:
            reverse_payment(
                payment=row,
                by=access.member(request),
                today=timezone.localdate(),
                reason=form.cleaned_data["reason"],
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "The payment is taken out of the books.")
            return redirect("billing:payment", pk)
    return payment_page(request, row, bounced=form, status=422)


@require_POST
@access.door(access.BOOKS)
def begin(request: HttpRequest, client: int) -> HttpResponse:
    """Begins an empty invoice or deposit."""
    payer = access.get(Client.objects.visible_to(request.user), pk=client)
    draft = begin_draft(
        key=_key(request.POST.get("key")),
        client=payer,
        kind=request.POST.get("kind", ""),
        by=access.member(request),
    )
    return redirect("billing:invoice", draft.pk)


def _key(text: Any) -> UUID:
    try:
        return UUID(str(text))
    except ValueError:
        return uuid7()
