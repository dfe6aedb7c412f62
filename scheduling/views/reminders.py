"""Reminders to owners: what goes out next, whom to call, what went; and their settings."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Client
from scheduling.forms.reminders import (
    ClientRemindersForm,
    ReminderSettingsForm,
    client_shown,
    hours_said,
    settings_shown,
)
from scheduling.models import ClientReminders, ReminderSettings
from scheduling.selectors.reminders import call_list, reach_of, to_come, went
from scheduling.services import reminders as service

AHEAD_DAYS = 14


@require_safe
@access.door(access.BOOKS)
def reminders(request: HttpRequest) -> HttpResponse:
    """What goes out in two weeks if nothing is booked, the call list, what went."""
    viewer, today = access.member(request), timezone.localdate()
    settings = ReminderSettings.objects.the_one()
    page = {
        "settings": settings,
        "hours": hours_said(settings.quiet_from, settings.quiet_until),
        "to_come": to_come(today=today, days=AHEAD_DAYS),
        "calls": call_list(viewer=viewer, today=today),
        "went": went(viewer=viewer, today=today),
        "ahead_days": AHEAD_DAYS,
        "today": today,
    }
    return render(request, "scheduling/reminders.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def reminder_settings(request: HttpRequest) -> HttpResponse:
    """Whether, when and with which words owners are reminded."""
    row = ReminderSettings.objects.the_one()
    form = ReminderSettingsForm(request.POST or None, initial=settings_shown(row))
    if request.method == "POST" and form.is_valid():
        try:
            service.change_reminder_settings(
                by=access.member(request), **form.cleaned_data
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Reminders: saved.")
            return redirect("scheduling:reminders")
    status = 422 if form.is_bound else 200
    page = {"form": form, "is_on": row.is_on}
    return render(request, "scheduling/reminder_settings.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def client_reminders(request: HttpRequest, pk: int) -> HttpResponse:
    """How one client is reminded."""
    client = access.get(Client.objects.visible_to(request.user), pk=pk)
    own = ClientReminders.objects.filter(client=client).first()
    form = ClientRemindersForm(request.POST or None, initial=client_shown(own))
    if request.method == "POST" and form.is_valid():
        try:
            service.change_client_reminders(
                client=client, by=access.member(request), **form.cleaned_data
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{client.name}: saved.")
            return redirect("practice:client", pk=client.pk)
    settings = ReminderSettings.objects.the_one()
    page = {
        "form": form,
        "client": client,
        "own": own,
        "reach": reach_of(client, own, settings),
        "hours": hours_said(settings.quiet_from, settings.quiet_until),
    }
    status = 422 if form.is_bound else 200
    return render(request, "scheduling/client_reminders.html", page, status=status)


@require_POST
@access.door(access.BOOKS)
def reminder_called(request: HttpRequest, pk: int) -> HttpResponse:
    """A client on the call list was called."""
    client = access.get(Client.objects.visible_to(request.user), pk=pk)
    service.note_call(
        client=client,
        by=access.member(request),
        today=timezone.localdate(),
        note=request.POST.get("note", ""),
    )
    messages.success(request, f"{client.name} was called.")
    return redirect("scheduling:reminders")


@never_cache
@csrf_exempt  # a mail program posts without a cookie (RFC 8058); the link is the secret
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.PUBLIC)
def stop_reminders(request: HttpRequest, token: str) -> HttpResponse:
    """No more reminders, by the link of a mail: opening it changes nothing, since mail
    programs open links by themselves; the button does, the page's or theirs."""
    client = service.client_of(token)
    if client is None:
        raise Http404
    if request.method == "POST":
        service.stop_reminders(token=token, stop=request.POST.get("what") != "again")
        # A mail program does not follow: RFC 8058 forbids to send it elsewhere.
        if request.POST.get("List-Unsubscribe") != "One-Click":
            return redirect("scheduling:stop_reminders", token=token)
    page = {"is_stopped": service.is_stopped(client)}
    return render(request, "scheduling/stop_reminders.html", page)
