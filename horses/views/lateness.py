"""A season of lateness, for those who plan the rounds."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from horses.drawing.bars import Bar, Bars, bars
from horses.drawing.charts import MONTHS
from horses.lateness import (
    DRIFT_SOURCE,
    INTERVAL_SOURCE,
    LONGEST_DAYS,
    ON_TIME_DAYS,
    Rate,
)
from horses.selectors.lateness import Lateness, lateness
from horses.trends import unit_word, years_before
from practice import access
from practice.models import Practice

YEARS = (1, 2, 3)


@require_GET
@access.door(access.BOOKS)
def season(request: HttpRequest) -> HttpResponse:
    """The report over one year; ``?years=2`` or ``3`` over more."""
    asked = request.GET.get("years", "")
    years = int(asked) if asked in map(str, YEARS) else YEARS[0]
    today = timezone.localdate()
    practice = Practice.objects.the_one()
    found = lateness(
        viewer=access.member(request), since=years_before(today, years), until=today
    )
    page: dict[str, Any] = {
        "found": found,
        "years": years,
        "choices": YEARS,
        "kept_chart": _kept_chart(found),
        "months_chart": _months_chart(found, practice),
        "weeks_chart": _weeks_chart(found.by_weeks_on),
        "drift_source": DRIFT_SOURCE,
        "interval_source": INTERVAL_SOURCE,
        "longest_weeks": LONGEST_DAYS // 7,
        "on_time_days": ON_TIME_DAYS,
        "month_names": MONTHS,
    }
    return render(request, "horses/lateness.html", page)


def _kept_chart(found: Lateness) -> Bars | None:
    columns = [
        Bar(
            {
                "over a week early": "over a|week early",
                "on time": "on time",
                "1 to 2 weeks late": "1 to 2|weeks late",
                "over 2 weeks late": "over 2|weeks late",
            }[one.label],
            one.percent,
            f"{one.count}, {one.percent:.0f} %",
        )
        for one in found.shares
    ]
    return bars("Intervals against what was wanted", "%", columns)


def _months_chart(found: Lateness, practice: Practice) -> Bars | None:
    unit: Any = practice.length_unit
    word = unit_word("mm", unit)
    per = 25.4 if unit == "in" else 10.0 if unit == "cm" else 1.0
    columns = [
        Bar(
            MONTHS[one.month - 1][0 if len(found.months) > 9 else slice(None)],
            one.rate_mm_per_week / per,
            f"{one.rate_mm_per_week / per:.{1 if word == 'mm' else 2}f} {word} a week",
            mark=one.expected / per,
        )
        for one in found.months
    ]
    return bars("Growth by month", f"{word} a week", columns)


def _weeks_chart(rates: tuple[Rate, ...]) -> Bars | None:
    columns = [
        Bar(
            {
                "first 4 weeks": "first|4 weeks",
                "5th and 6th week": "5th, 6th|week",
                "7th and 8th week": "7th, 8th|week",
                "after 8 weeks": "after|8 weeks",
            }[one.label],
            one.per_100,
            f"{one.per_100:.2f}, between {one.low:.2f} and {one.high:.2f}",
            one.low,
            one.high,
        )
        for one in rates
    ]
    return bars(
        "Lost shoes by how long they were on", "in 100 horse-weeks", columns, "dots"
    )
