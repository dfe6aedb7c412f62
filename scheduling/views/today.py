"""The home page of the practice: today's round, tomorrow, who is due."""

from datetime import timedelta

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from practice import access
from practice.models import User
from scheduling.models import Round
from scheduling.selectors.due import due_count
from scheduling.selectors.rounds import (
    cards,
    left_open,
    open_visits,
    summaries,
    with_stops,
)

MOST_OPEN = 12
DAYS_AHEAD = 7


@require_safe
@access.door(access.STAFF)
def today(request: HttpRequest) -> HttpResponse:
    """A farrier sees the own day; office and apprentice see everybody's."""
    viewer, day = access.member(request), timezone.localdate()
    now = with_stops(Round.objects.visible_to(viewer)).filter(day=day)
    ahead = summaries(viewer).filter(
        day__gt=day, day__lte=day + timedelta(days=DAYS_AHEAD)
    )
    visits = open_visits(viewer)
    page = {
        "day": day,
        "tomorrow": day + timedelta(days=1),
        "rounds": [(round_, cards(round_)) for round_ in _own_first(now, viewer)],
        "ahead": ahead.order_by("day", "farrier__name"),
        "counts": due_count(viewer=viewer, today=day),
        "left_open": left_open(viewer, today=day)[:MOST_OPEN],
        "visits": visits[:MOST_OPEN],
        "first_visit": viewer.treats,
    }
    return render(request, "scheduling/today.html", page)


def _own_first(rounds: QuerySet[Round], viewer: User) -> list[Round]:
    return sorted(rounds, key=lambda r: (r.farrier_id != viewer.pk, r.farrier.name))
