"""Payments and a client's account."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from billing.forms.mending import PayBackForm, ReasonForm
from billing.forms.payments import PaymentForm
from billing.models import Invoice, Payment
from billing.selectors import account as account_of
from billing.selectors import payment_list, payment_parts
from billing.selectors.accounts import open_documents, payment_entries
from billing.services.collecting import collecting
from billing.services.payments import apply_credit, record_payment
from billing.services.receipts import receipt_key, send_receipt
from billing.views.pieces import is_piece
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.keys import uuid7
from practice.models import Client, Message


def _client(request: HttpRequest, pk: int) -> Client:
    return access.get(Client.objects.visible_to(request.user), pk=pk)


@require_safe
@access.door(access.BOOKS)
def payments(request: HttpRequest) -> HttpResponse:
    """What came in, newest first."""
    rows = payment_list(access.member(request))
    page = Paginator(rows, 40).get_page(request.GET.get("page"))
    return render(request, "billing/payments.html", {"page": page})


@require_safe
@access.door(access.BOOKS)
def payment(request: HttpRequest, pk: UUID) -> HttpResponse:
    """One payment and what it paid."""
    rows = Payment.objects.visible_to(request.user)
    row = access.get(rows.select_related("client", "taken_by"), pk=pk)
    return payment_page(request, row)


def payment_page(
    request: HttpRequest, row: Payment, *, status: int = 200, **forms: Any
) -> HttpResponse:
    """A payment with what it pays, and the forms of what can be done to it."""
    parts, left = payment_parts(row)
    entries = payment_entries(row)
    is_out = any(e.kind == "payment" and e.reverses_id for e in entries)
    page: dict[str, Any] = {
        "payment": row,
        "parts": parts,
        "left": left,
        "entries": entries,
        "is_out": is_out,
        "receipt": Message.objects.filter(key=receipt_key(row)).first(),
    }
    if left > 0:
        page["pay_back"] = PayBackForm(initial={"amount": left, "method": row.method})
    if not is_out:
        page["bounced"] = ReasonForm()
    return render(request, "billing/payment.html", {**page, **forms}, status=status)


@require_POST
@access.door(access.BOOKS)
def mail_receipt(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Mails a payment's receipt: once, however often the button is pressed."""
    rows = Payment.objects.visible_to(request.user)
    row = access.get(rows.select_related("client"), pk=pk)
    try:
        made = send_receipt(payment=row)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"The receipt goes to {made.to}.")
    return redirect("billing:payment", pk)


def _wanted(request: HttpRequest, client: Client, key: Any) -> Invoice | None:
    """The invoice that the form was opened for, if it is this client's."""
    if not key:
        return None
    rows = Invoice.objects.visible_to(request.user).filter(client=client)
    return access.get(rows.with_balance(), pk=key)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def record(request: HttpRequest, client: int) -> HttpResponse:
    """Records a payment of a client, for one invoice or for what is due longest."""
    payer = _client(request, client)
    today = timezone.localdate()
    account = account_of(payer, today=today)
    asked: Any = {
        "today": today,
        "open_ones": open_documents(payer),
        "email": payer.email,
    }
    if request.method == "POST":
        form = PaymentForm(request.POST, **asked)
        if form.is_valid():
            answer = _recorded(request, payer, form)
            if answer is not None:
                return answer
    else:
        invoice = _wanted(request, payer, request.GET.get("invoice"))
        owed: Any = invoice.open_amount if invoice else account.owed  # type: ignore[attr-defined]  # annotated by with_balance
        started = {
            "amount": owed or None,
            "invoice": invoice and invoice.pk,
            "visit": request.GET.get("visit"),
            "receipt": collecting().receipts_on,
        }
        form = PaymentForm(initial=started, **asked)
    page = {"form": form, "client": payer, "account": account}
    status = 422 if form.is_bound else 200
    return render(request, "billing/payment_form.html", page, status=status)


def _recorded(
    request: HttpRequest, payer: Client, form: PaymentForm
) -> HttpResponse | None:
    """Records what the form says; None if it was refused, and the form tells why."""
    told = dict(form.cleaned_data)
    visit = told.pop("visit")
    invoice = _wanted(request, payer, told.pop("invoice"))
    chosen = told.pop("chosen")
    rows = Invoice.objects.visible_to(request.user).filter(client=payer)
    several = list(rows.filter(pk__in=chosen).order_by("due_day", "number"))
    try:
        made = record_payment(
            client=payer,
            by=access.member(request),
            invoices=[invoice] if invoice else several,
            **told,
        )
    except Refused as refusal:
        say(form, refusal)
        return None
    _, left = payment_parts(made)
    messages.success(
        request,
        f"Payment of {payer.name} recorded."
        + (" What is over stands to their credit." if left else "")
        + (f" The receipt goes to {payer.email}." if told.get("receipt") else ""),
    )
    if visit:
        return redirect("billing:closing", visit)
    if invoice:
        return redirect("billing:invoice", invoice.pk)
    return redirect("billing:account", payer.pk)


@require_safe
@access.door(access.BOOKS)
def account(request: HttpRequest, client: int) -> HttpResponse:
    """What a client owes and has paid: a page, or the piece of it for another page."""
    payer = _client(request, client)
    page = {
        "client": payer,
        "account": account_of(payer, today=timezone.localdate()),
        "is_piece": is_piece(request),
        "key": uuid7(),
    }
    name = "billing/_account.html" if is_piece(request) else "billing/account.html"
    return render(request, name, page)


@require_POST
@access.door(access.BOOKS)
def use_credit(request: HttpRequest, client: int) -> HttpResponse:
    """Pays open invoices from what stands to the client's credit."""
    payer = _client(request, client)
    applied = apply_credit(
        client=payer, by=access.member(request), today=timezone.localdate()
    )
    word = "Open invoices are paid from the credit." if applied else "Nothing to apply."
    messages.success(request, word)
    return redirect("billing:account", payer.pk)
