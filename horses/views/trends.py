"""A horse's measures over time, for the practice."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from horses.hoof import FEET
from horses.models import Horse
from horses.selectors.trends import trends
from horses.trends import COVERAGE_SOURCE, SLIP_SOURCE, years_before
from practice import access
from practice.models import Practice

YEARS = 2


@require_GET
@access.door(access.STAFF)
def horse_trends(request: HttpRequest, pk: int) -> HttpResponse:
    """Charts of a horse's feet over two years, or all of them."""
    horse = access.get(Horse.objects.visible_to(request.user), pk=pk)
    return render(request, "horses/trends.html", trends_page(request, horse))


def trends_page(request: HttpRequest, horse: Horse) -> dict[str, Any]:
    """What ``trends.html`` and ``my_trends.html`` show. ``?foot=LF`` asks for one pair,
    ``?years=all`` for the whole history.
    """
    asked = request.GET.get("foot", "")
    feet = tuple(foot for foot in FEET if foot == asked) or FEET
    is_all = request.GET.get("years") == "all"
    today = timezone.localdate()
    found = trends(
        horse=horse,
        viewer=access.member(request),
        practice=Practice.objects.the_one(),
        feet=feet,
        since=None if is_all else years_before(today, YEARS),
    )
    return {
        "horse": horse,
        "trends": found,
        "foot": asked if len(feet) == 1 else "",
        "feet": FEET,
        "is_staff": access.member(request).is_of_practice,
        "is_all": is_all,
        "years": YEARS,
        "coverage": COVERAGE_SOURCE,
        "slips": SLIP_SOURCE,
    }
