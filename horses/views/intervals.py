"""How the next visit's day is found: for a horse, for each use, for all."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from horses.forms.intervals import (
    HorseIntervalForm,
    IntervalSettingsForm,
    LimitsForm,
    horse_interval_shown,
    limits_shown,
    settings_shown,
)
from horses.models import Horse, HorseInterval, IntervalLimits, IntervalSettings
from horses.selectors.intervals import for_use, table
from horses.services.intervals import (
    change_horse_interval,
    change_interval_settings,
    change_limits,
)
from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import Practice

PRACTICE = "practice"
"""In an address: the limits of the practice rather than of a use."""


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.FARRIER)
def horse_interval(request: HttpRequest, pk: int) -> HttpResponse:
    """One horse's own policy: set weeks or growth, a vet's weeks, limits."""
    row = access.get(Horse.objects.visible_to(request.user), pk=pk)
    practice = Practice.objects.the_one()
    own = HorseInterval.objects.filter(horse=row).first()
    form = HorseIntervalForm(
        request.POST or None,
        practice=practice,
        initial=horse_interval_shown(row, own, practice),
    )
    if request.method == "POST" and form.is_valid():
        try:
            change_horse_interval(
                horse=row,
                by=access.member(request),
                today=timezone.localdate(),
                **form.said(),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"{row.name}: saved, and its window moved.")
            return redirect("horses:horse", pk=row.pk)
    page = {
        "form": form,
        "horse": row,
        "held": for_use(row.use, practice=practice),
        "settings": IntervalSettings.objects.the_one(),
    }
    status = 422 if form.is_bound else 200
    return render(request, "horses/horse_interval.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def intervals(request: HttpRequest) -> HttpResponse:
    """What holds for all horses, and the limits of each use."""
    settings = IntervalSettings.objects.the_one()
    form = IntervalSettingsForm(request.POST or None, initial=settings_shown(settings))
    if request.method == "POST" and form.is_valid():
        try:
            change_interval_settings(
                by=access.member(request),
                today=timezone.localdate(),
                **form.cleaned_data,
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Saved, and all windows moved.")
            return redirect("horses:intervals")
    page = {"form": form, "settings": settings, **table(Practice.objects.the_one())}
    status = 422 if form.is_bound else 200
    return render(request, "horses/intervals.html", page, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def interval_limits(request: HttpRequest, use: str) -> HttpResponse:
    """The limits of a use, or of the practice."""
    if use != PRACTICE and use not in Horse.Use.values:
        raise Http404
    practice = Practice.objects.the_one()
    key = "" if use == PRACTICE else use
    row = IntervalLimits.objects.filter(use=key).first()
    form = LimitsForm(
        request.POST or None, practice=practice, initial=limits_shown(row, practice)
    )
    if request.method == "POST" and form.is_valid():
        try:
            change_limits(
                use=key,
                by=access.member(request),
                today=timezone.localdate(),
                **form.limits(),
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Saved, and the windows moved.")
            return redirect("horses:intervals")
    page = {
        "form": form,
        "name": Horse.Use(key).label if key else "the practice",
        "is_use": bool(key),
        "held": for_use(key, practice=practice, own=False),
    }
    status = 422 if form.is_bound else 200
    return render(request, "horses/interval_limits.html", page, status=status)
