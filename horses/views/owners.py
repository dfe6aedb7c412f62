"""Owners with shares and periods, and who pays."""

from datetime import timedelta

from django.contrib import messages
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from horses.forms.owners import SPARE_LINES, OwnersForm, PayerForm
from horses.models import Horse
from horses.selectors.ownership import owners_on, payer_on
from horses.services.ownership import end_payer, set_owners, set_payer
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Client


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def horse_owners(request: HttpRequest, pk: int) -> HttpResponse:
    """Who owns the horse from a day on; who owned it before, does so until then."""
    row = access.get(Horse.objects.visible_to(request.user), pk=pk)
    today = timezone.localdate()
    now = [(held.client, held.share) for held in owners_on(row, today)]
    form = OwnersForm(
        request.POST or None,
        initial=OwnersForm.first_seen(now, today),
        clients=list(_clients(request, [client.pk for client, _ in now])),
        lines=_lines(request, len(now)),
    )
    if request.method == "POST" and "more" not in request.POST and form.is_valid():
        try:
            set_owners(
                horse=row,
                shares=form.shares,
                starts=form.cleaned_data["starts"],
                by=access.member(request),
                replace_later=form.cleaned_data["replace_later"],
            )
            messages.success(request, f"{row.name}: owners saved.")
            return redirect("horses:horse", pk=row.pk)
        except Refused as refusal:
            say(form, refusal)
    wants_more = "more" in request.POST
    page = {"form": form, "horse": row, "wants_more": wants_more}
    status = 422 if form.is_bound and not wants_more else 200
    return render(request, "horses/horse_owners.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def horse_payer(request: HttpRequest, pk: int) -> HttpResponse:
    """Who is billed from a day on: a client, or again the owners by share."""
    row = access.get(Horse.objects.visible_to(request.user), pk=pk)
    today = timezone.localdate()
    now = payer_on(row, today)
    form = PayerForm(
        request.POST or None,
        initial={"starts": today, "client": now.client_id if now else None},
        clients=_clients(request, [now.client_id] if now else []),
    )
    if request.method == "POST" and form.is_valid():
        try:
            _take_payer(request, row, form)
            messages.success(request, f"{row.name}: who pays is saved.")
            return redirect("horses:horse", pk=row.pk)
        except Refused as refusal:
            say(form, refusal)
    page = {"form": form, "horse": row, "payer_now": now}
    status = 422 if form.is_bound else 200
    return render(request, "horses/horse_payer.html", page, status=status)


def _take_payer(request: HttpRequest, row: Horse, form: PayerForm) -> None:
    starts = form.cleaned_data["starts"]
    client = form.cleaned_data["client"]
    by = access.member(request)
    replace = form.cleaned_data["replace_later"]
    if client is None:
        last = starts - timedelta(days=1)
        end_payer(horse=row, last_day=last, by=by, replace_later=replace)
    else:
        set_payer(horse=row, client=client, starts=starts, by=by, replace_later=replace)


def _clients(request: HttpRequest, held: list[int]) -> QuerySet[Client]:
    """Those in use, and those who stand on the horse anyway."""
    rows = Client.objects.visible_to(request.user)
    return rows.filter(Q(is_active=True) | Q(pk__in=held))


def _lines(request: HttpRequest, owners: int) -> int:
    """How many lines: those sent, two more where asked for, else the owners' and two."""
    sent = [name for name in request.POST if name.startswith("share_")]
    if not sent:
        return owners + SPARE_LINES
    return len(sent) + (SPARE_LINES if "more" in request.POST else 0)
