"""Visits: the list, starting one at a barn, its page with the horses."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from horses.forms.visits import AddHorseForm, NoteForm, StartForm, shown_distance
from horses.models import Horse, Visit
from horses.selectors.visits import (
    horses_at,
    horses_to_add,
    is_due,
    records_of,
    visits_of,
)
from horses.services.visits import add_horse, note_visit, open_visit, take_horse_off
from practice import access
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Barn, Practice
from practice.units import System

A_PAGE = 40


def _visit(request: HttpRequest, pk: UUID) -> Visit:
    rows = Visit.objects.visible_to(request.user).select_related("barn", "farrier")
    return access.get(rows, pk=pk)


def _system() -> System:
    return "imperial" if Practice.objects.the_one().road_unit == "mi" else "metric"


@require_GET
@access.door(access.STAFF)
def visits(request: HttpRequest) -> HttpResponse:
    """Open visits first, then those behind us; and the barns to start one at."""
    rows = visits_of(access.member(request))
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    barns = list(Barn.objects.visible_to(request.user).active())
    return render(request, "horses/visits.html", {"page": page, "barns": barns})


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.TREATS)
def visit_start(request: HttpRequest, barn: int) -> HttpResponse:
    """Starts a visit at a barn: its horses as chips, those due ticked."""
    place = access.get(Barn.objects.visible_to(request.user), pk=barn)
    today = timezone.localdate()
    horses = horses_at(place, today=today)
    given = {
        "key": uuid7(),
        "day": today,
        "horses": [horse.pk for horse in horses if is_due(horse, today)],
    }
    form = StartForm(request.POST or None, initial=given, horses=horses)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        by = access.member(request)
        try:
            row = open_visit(
                key=said["key"],
                barn=place,
                farrier=by,
                day=said["day"],
                horses=[horse for horse in horses if horse.pk in said["horses"]],
                by=by,
            )
            return redirect("horses:visit", pk=row.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    page = {"form": form, "barn": place, "horses": horses}
    return render(
        request, "horses/visit_start.html", page, status=422 if form.is_bound else 200
    )


@require_GET
@access.door(access.STAFF)
def visit(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The visit: its horses, each with its state; note; the way to close it."""
    return _page(request, _visit(request, pk))


def _page(
    request: HttpRequest,
    row: Visit,
    *,
    note_form: NoteForm | None = None,
    horse_form: AddHorseForm | None = None,
    status: int = 200,
) -> HttpResponse:
    records = records_of(row)
    system = _system()
    given = {
        "note": row.note,
        "travel_minutes": row.travel_minutes,
        "travel": shown_distance(row.travel_metres, system),
        "start_time": row.start_time,
    }
    page: dict[str, Any] = {
        "visit": row,
        "records": records,
        "waiting": [record for record in records if not record.is_recorded],
        "note_form": note_form
        or NoteForm(initial=given, system=system, metres=row.travel_metres),
        "horse_form": horse_form or AddHorseForm(horses=list(horses_to_add(row))),
    }
    return render(request, "horses/visit.html", page, status=status)


@require_POST
@access.door(access.TREATS)
def visit_note(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Keeps the visit's note and the road to it."""
    row = _visit(request, pk)
    form = NoteForm(request.POST, system=_system(), metres=row.travel_metres)
    if form.is_valid():
        said = form.cleaned_data
        try:
            note_visit(
                visit=row,
                note=said["note"].replace("\r\n", "\n"),
                travel_minutes=said["travel_minutes"],
                travel_metres=said["travel"],
                start_time=said["start_time"],
                by=access.member(request),
            )
            messages.success(request, "Kept.")
            return redirect("horses:visit", pk=row.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    return _page(request, row, note_form=form, status=422)


@require_POST
@access.door(access.TREATS)
def visit_add_horse(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Puts one more horse on the visit."""
    row = _visit(request, pk)
    form = AddHorseForm(request.POST, horses=list(horses_to_add(row)))
    if form.is_valid():
        horse = access.get(
            Horse.objects.visible_to(request.user), pk=form.cleaned_data["horse"]
        )
        try:
            add_horse(visit=row, horse=horse, by=access.member(request))
            return redirect("horses:visit", pk=row.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    elif row.records.filter(horse=_number(request.POST.get("horse"))).exists():
        return redirect("horses:visit", pk=row.pk)  # a second tap: it is there
    return _page(request, row, horse_form=form, status=422)


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() else None


@require_POST
@access.door(access.TREATS)
def visit_take_off(request: HttpRequest, pk: UUID, horse: int) -> HttpResponse:
    """Takes a horse that was not treated off the visit."""
    row = _visit(request, pk)
    animal = access.get(Horse.objects.visible_to(request.user), pk=horse)
    try:
        take_horse_off(visit=row, horse=animal, by=access.member(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("horses:visit", pk=row.pk)
