"""Bank statements: brought in, looked at line by line, taken back."""

import base64
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core import signing
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from billing.bank import sheet
from billing.bank.lines import BadStatement
from billing.forms.bank import ColumnsForm, PostLineForm, StatementForm
from billing.models import BankImport, BankLine, Invoice
from billing.services.bank import (
    ColumnsWanted,
    bring_in,
    explain_columns,
    post_line,
    set_aside,
    take_back,
)
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Client

_SALT = "billing.bank.file"
_MOST_HELD = 2_000_000
"""Bytes of a CSV that a page carries while its columns are explained."""
_MOST_WAITING = 30
"""Lines to look at on one page, each with all clients to choose from; the next move
up."""


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def bank(request: HttpRequest) -> HttpResponse:
    """Files brought in, and bringing in another."""
    form = StatementForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        answer: HttpResponse | None = _bring(request, form, file.name, file.read())
        if answer is not None:
            return answer
    rows = BankImport.objects.visible_to(request.user)
    waiting = BankLine.objects.visible_to(request.user).filter(state="waiting")
    page = {
        "form": form,
        "page": Paginator(rows, 20).get_page(request.GET.get("page")),
        "waiting": waiting.count(),
    }
    status = 422 if form.is_bound else 200
    return render(request, "billing/bank.html", page, status=status)


def _bring(
    request: HttpRequest, form: Any, name: str, data: bytes
) -> HttpResponse | None:
    try:
        done = bring_in(name=name, data=data, by=access.member(request))
    except Refused as refusal:
        say(form, refusal)
        return None
    except ColumnsWanted as wanted:
        if len(data) > _MOST_HELD:
            form.add_error(
                "file", "A CSV of an unknown bank may have 2 MB: send less days first."
            )
            return None
        return _columns_page(request, wanted.found, name, data)
    told = f"{done.new} new movements, {done.posted} posted"
    if done.known:
        told += f", {done.known} were known"
    messages.success(request, f"{told}.")
    for fault in done.faults[:5]:
        messages.warning(request, f"Line {fault.line}: {fault.sentence}")
    return redirect("billing:bank_import", done.made.pk)


def _columns_page(
    request: HttpRequest,
    found: sheet.Sheet,
    name: str,
    data: bytes,
    form: ColumnsForm | None = None,
) -> HttpResponse:
    form = form or ColumnsForm(
        heading=found.heading, proposed=sheet.propose(found.heading)
    )
    held = signing.dumps(
        [name, base64.b85encode(data).decode()], salt=_SALT, compress=True
    )
    rows = [
        [row.cells[n] if n < len(row.cells) else "" for n in range(len(found.heading))]
        for row in found.rows[:4]
    ]
    page = {"form": form, "heading": found.heading, "rows": rows, "held": held}
    return render(request, "billing/bank_columns.html", page, status=422)


@require_POST
@access.door(access.BOOKS)
def columns(request: HttpRequest) -> HttpResponse:
    """What the columns of a CSV mean; then it is brought in."""
    try:
        name, packed = signing.loads(
            request.POST.get("held", ""), salt=_SALT, max_age=86_400
        )
        data = base64.b85decode(packed)
        found = sheet.open_sheet(data)
    except (signing.BadSignature, ValueError, BadStatement) as fault:
        raise Refused("Choose the file again: the page was open too long.") from fault
    form = ColumnsForm(
        request.POST, heading=found.heading, proposed=sheet.propose(found.heading)
    )
    if form.is_valid():
        try:
            explain_columns(
                found=found,
                columns=form.columns(),
                account=form.cleaned_data["account"],
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            upload = StatementForm()
            upload.cleaned_data = {}
            answer = _bring(request, upload, name, data)
            if answer is not None:
                return answer
            for sentence in upload.errors.get("file", []):
                form.add_error(None, sentence)
    return _columns_page(request, found, name, data, form)


def _import(request: HttpRequest, pk: UUID) -> BankImport:
    return access.get(BankImport.objects.visible_to(request.user), pk=pk)


@require_safe
@access.door(access.BOOKS)
def bank_import(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The lines of one file: what is to be looked at first."""
    made = _import(request, pk)
    rows = made.lines.select_related("client", "payment")
    clients = Client.objects.visible_to(request.user).active()
    choices = [("", "---------"), *((each.pk, str(each)) for each in clients)]
    waiting = rows.filter(state="waiting")
    others = rows.exclude(state="waiting").order_by("state", "-day", "pk")
    page = {
        "made": made,
        "waiting": [
            (
                line,
                PostLineForm(
                    clients=clients,
                    choices=choices,
                    initial={"client": line.client_id},
                ),
            )
            for line in waiting[:_MOST_WAITING]
        ],
        "waiting_count": waiting.count(),
        "shown": _MOST_WAITING,
        "others": Paginator(others, 100).get_page(request.GET.get("page")),
    }
    return render(request, "billing/bank_import.html", page)


@require_POST
@access.door(access.BOOKS)
def undo(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Takes an import back."""
    made = _import(request, pk)
    count = take_back(made=made, by=access.member(request))
    messages.success(request, f"Taken back: {count} payments are reversed.")
    return redirect("billing:bank_import", pk)


def _line(request: HttpRequest, pk: int) -> BankLine:
    return access.get(BankLine.objects.visible_to(request.user), pk=pk)


@require_POST
@access.door(access.BOOKS)
def post(request: HttpRequest, pk: int) -> HttpResponse:
    """Posts a line as a client's payment."""
    line = _line(request, pk)
    clients = Client.objects.visible_to(request.user).active()
    form = PostLineForm(request.POST, clients=clients)
    if not form.is_valid():
        messages.error(request, "Choose whose money it is.")
        return redirect("billing:bank_import", line.brought_by_id)
    client = form.cleaned_data["client"]
    named = Invoice.objects.visible_to(request.user).filter(
        number__in=line.numbers, client=client
    )
    payment = post_line(
        line=line, client=client, by=access.member(request), invoices=list(named)
    )
    messages.success(
        request, f"Posted as {client.name}'s payment of {payment.amount:.2f}."
    )
    return redirect("billing:bank_import", line.brought_by_id)


@require_POST
@access.door(access.BOOKS)
def leave_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Leaves a line out."""
    line = _line(request, pk)
    set_aside(line=line, by=access.member(request))
    return redirect("billing:bank_import", line.brought_by_id)
