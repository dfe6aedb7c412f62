"""Rounds: the week, one day, and changes to it."""

from datetime import date, timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from practice import access
from practice.errors import Refused
from practice.models import Practice
from scheduling.models import Round
from scheduling.selectors.rounds import cards, map_of, week, with_stops
from scheduling.selectors.sheets import SheetStop
from scheduling.selectors.underway import moved, slacks
from scheduling.services import rounds as service


def monday_of(text: str, today: date) -> date:
    """The Monday of the week that the address names ('2026-W13'), else of today's. A
    week without one before and one after it in the calendar is none."""
    try:
        year, number = text.split("-W")
        monday = date.fromisocalendar(int(year), int(number), 1)
        in_address(monday - timedelta(days=7))
        in_address(monday + timedelta(days=13))
    except (ValueError, OverflowError):
        return today - timedelta(days=today.weekday())
    return monday


def in_address(day: date) -> str:
    """A week as the address says it: '2026-W13'."""
    year, number, _ = day.isocalendar()
    return f"{year}-W{number:02}"


@require_safe
@access.door(access.STAFF)
def rounds(request: HttpRequest) -> HttpResponse:
    """A week of rounds, a column a farrier."""
    today = timezone.localdate()
    monday = monday_of(request.GET.get("week", ""), today)
    days = week(viewer=access.member(request), monday=monday, today=today)
    page = {
        "days": days,
        "farriers": [cell.farrier for cell in days[0].cells],
        "monday": monday,
        "sunday": monday + timedelta(days=6),
        "before": in_address(monday - timedelta(days=7)),
        "after": in_address(monday + timedelta(days=7)),
        "is_this_week": monday <= today <= monday + timedelta(days=6),
        "today": today,
    }
    return render(request, "scheduling/rounds.html", page)


@require_safe
@access.door(access.STAFF)
def round_page(request: HttpRequest, pk: UUID) -> HttpResponse:
    """The farrier's day: stops in order, the map beside."""
    found = with_stops(Round.objects.visible_to(request.user))
    round_ = access.get(found, pk=pk)
    stops = cards(round_)
    today = timezone.localdate()
    practice = Practice.objects.the_one()
    slack = slacks(round_, practice.zone)
    page = {
        "round": round_,
        "stops": [SheetStop(card, slack.get(str(card.booking.pk))) for card in stops],
        "moved": moved(round_) if round_.day == today else [],
        "map": map_of(stops, practice),
        "is_today": round_.day == today,
        "next": next((one.booking.pk for one in stops if one.booking.is_open), None),
        "can_start": round_.day <= today,
        "today": today,
    }
    return render(request, "scheduling/round.html", page)


@require_POST
@access.door(access.BOOKS)
def best_order(request: HttpRequest, pk: UUID) -> HttpResponse:
    """Puts the stops into the best order again."""
    round_ = access.get(Round.objects.visible_to(request.user), pk=pk)
    try:
        service.reorder_best(round_=round_, by=access.member(request))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "The stops are in their best order.")
    return redirect("scheduling:round", pk=pk)
