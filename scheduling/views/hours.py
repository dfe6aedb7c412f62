"""Usual days and hours of each farrier, days that are otherwise, the calendar."""

from datetime import date

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.models import User
from scheduling.forms.handling import LodgingForm
from scheduling.forms.hours import UsualDaysForm, WorkingDayForm, shown
from scheduling.models import CalendarFeed, Lodging, UsualDay, WorkingDay
from scheduling.services import hours as service
from scheduling.services.handling import drop_lodging, keep_lodging
from scheduling.services.hours import DayHours


def farrier_of(request: HttpRequest, pk: int) -> User:
    """The farrier whom the address names, for a member of the practice."""
    found = User.objects.visible_to(request.user).filter(role=User.Role.FARRIER)
    return access.get(found, pk=pk)


@require_safe
@access.door(access.STAFF)
def hours(request: HttpRequest) -> HttpResponse:
    """Every farrier with the days on which that farrier drives out or rides along."""
    farriers = list(User.objects.farriers())
    days: dict[int, list[UsualDay]] = {farrier.pk: [] for farrier in farriers}
    beside: dict[int | None, list[UsualDay]] = {one.pk: [] for one in farriers}
    for row in UsualDay.objects.filter(farrier__in=farriers).select_related(
        "area", "farrier", "rides_along"
    ):
        days[row.farrier_id].append(row)
        if row.rides_along_id in beside:
            beside[row.rides_along_id].append(row)
    ahead: dict[int, list[WorkingDay]] = {farrier.pk: [] for farrier in farriers}
    for special in WorkingDay.objects.filter(
        farrier__in=farriers, day__gte=timezone.localdate()
    ).select_related("rides_along"):
        ahead[special.farrier_id].append(special)
    page = {
        "rows": [(one, days[one.pk], ahead[one.pk], beside[one.pk]) for one in farriers]
    }
    return render(request, "scheduling/hours.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.BOOKS)
def usual_days(request: HttpRequest, pk: int) -> HttpResponse:
    """The week of one farrier, the days otherwise, and the calendar's address."""
    farrier = farrier_of(request, pk)
    rows = list(UsualDay.objects.filter(farrier=farrier))
    form = UsualDaysForm(request.POST or None, initial=shown(rows), farrier=farrier)
    if form.is_valid():
        days = [DayHours(**row) for row in form.days()]
        try:
            service.set_usual_days(
                farrier=farrier, days=days, by=access.member(request)
            )
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, f"The usual days of {farrier.name} are kept.")
            return redirect("scheduling:usual_days", pk=pk)
    other = WorkingDayForm(farrier=farrier, today=timezone.localdate())
    return _page(request, farrier, form, other, 422 if form.errors else 200)


@require_POST
@access.door(access.BOOKS)
def working_day(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps one day otherwise than usual."""
    farrier = farrier_of(request, pk)
    other = WorkingDayForm(request.POST, farrier=farrier, today=timezone.localdate())
    if other.is_valid():
        try:
            service.set_working_day(
                farrier=farrier, by=access.member(request), **other.said()
            )
        except Refused as refusal:
            say(other, refusal)
        else:
            messages.success(request, "The day is kept.")
            return redirect("scheduling:usual_days", pk=pk)
    rows = list(UsualDay.objects.filter(farrier=farrier))
    return _page(
        request,
        farrier,
        UsualDaysForm(initial=shown(rows), farrier=farrier),
        other,
        422,
    )


@require_POST
@access.door(access.BOOKS)
def as_usual(request: HttpRequest, pk: int, day: str) -> HttpResponse:
    """Makes a day as usual again."""
    farrier = farrier_of(request, pk)
    try:
        when = date.fromisoformat(day)
    except ValueError as error:
        raise Http404 from error
    service.clear_working_day(farrier=farrier, day=when, by=access.member(request))
    return redirect("scheduling:usual_days", pk=pk)


@require_POST
@access.door(access.BOOKS)
def night_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps where the farrier sleeps on a night."""
    farrier = farrier_of(request, pk)
    away = LodgingForm(request.POST, today=timezone.localdate(), prefix="away")
    if away.is_valid():
        keep_lodging(farrier=farrier, by=access.member(request), **away.cleaned_data)
        messages.success(request, "The night away is kept.")
        return redirect("scheduling:usual_days", pk=pk)
    rows = list(UsualDay.objects.filter(farrier=farrier))
    form = UsualDaysForm(initial=shown(rows), farrier=farrier)
    other = WorkingDayForm(farrier=farrier, today=timezone.localdate())
    return _page(request, farrier, form, other, 422, away=away)


@require_POST
@access.door(access.BOOKS)
def night_at_home(request: HttpRequest, pk: int, day: str) -> HttpResponse:
    """Takes a night away back."""
    farrier = farrier_of(request, pk)
    try:
        night = date.fromisoformat(day)
    except ValueError as error:
        raise Http404 from error
    drop_lodging(farrier=farrier, night=night, by=access.member(request))
    return redirect("scheduling:usual_days", pk=pk)


def _page(
    request: HttpRequest,
    farrier: User,
    form: UsualDaysForm,
    other: WorkingDayForm,
    status: int,
    *,
    away: LodgingForm | None = None,
) -> HttpResponse:
    viewer = access.member(request)
    special = WorkingDay.objects.filter(
        farrier=farrier, day__gte=timezone.localdate()
    ).select_related("area", "rides_along")
    beside = UsualDay.objects.filter(rides_along=farrier, farrier__is_active=True)
    feed = CalendarFeed.objects.visible_to(viewer).filter(farrier=farrier).first()
    page = {
        "farrier": farrier,
        "form": form,
        "other": other,
        "special": special,
        "beside": beside.select_related("farrier").order_by("weekday"),
        "away": away or LodgingForm(today=timezone.localdate(), prefix="away"),
        "nights": Lodging.objects.filter(
            farrier=farrier, night__gte=timezone.localdate()
        ),
        "may_keep_feed": may_keep_feed(viewer, farrier),
        "address": request.build_absolute_uri(f"/feeds/{feed.token}.ics")
        if feed
        else "",
    }
    return render(request, "scheduling/usual_days.html", page, status=status)


def may_keep_feed(viewer: User, farrier: User) -> bool:
    """The own calendar; any for who runs the practice and for the office."""
    return (
        viewer.pk == farrier.pk
        or viewer.runs_practice
        or viewer.role == User.Role.OFFICE
    )
