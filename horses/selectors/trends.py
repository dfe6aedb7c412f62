"""A horse's measurements over time, as one viewer may see them."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from horses.drawing.charts import Chart
from horses.entries import MEASURES, FootEntry
from horses.hoof import FOOT_NAMES, RULES, Foot, Rule
from horses.models import FootRecord, Horse, Visit, VisitRecord
from horses.trends import (
    FOLLOWED,
    Change,
    Measure,
    MeasuredVisit,
    Point,
    Series,
    follow,
    limits_of,
    over_a_year,
    since_last,
)
from practice.models import Practice, User
from practice.units import LengthUnit

PAIRS: tuple[tuple[Foot, Foot], ...] = (("LF", "RF"), ("LH", "RH"))
FAR_BACK = 400
"""Visits at most; more than any horse lives to see."""


@dataclass(frozen=True, slots=True)
class FootTrend:
    """What one foot's series comes to."""

    name: str
    series: Series
    last: Point | None
    since_last: Change | None
    over_a_year: Change | None


@dataclass(frozen=True, slots=True)
class Row:
    """One visit in the table behind a chart: a point a foot, or None."""

    key: str
    day: date
    points: tuple[Point | None, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """One measure of one pair: its chart, what it comes to, its table."""

    measure: Measure
    chart: Chart
    feet: tuple[FootTrend, ...]
    rows: tuple[Row, ...]
    limits: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """One pair's charts, by family of measures in the order of the page."""

    name: str
    feet: tuple[Foot, Foot]
    families: tuple[tuple[str, tuple[Drawn, ...]], ...]


@dataclass(frozen=True, slots=True)
class Trends:
    """All that the page shows; ``rules`` are those of its charts."""

    pairs: tuple[Pair, ...]
    visits: tuple[date, ...]
    rules: tuple[Rule, ...]
    slips: int

    @property
    def visit_count(self) -> int:
        """How many visits are shown."""
        return len(self.visits)

    @property
    def is_empty(self) -> bool:
        """Nothing was measured."""
        return not any(pair.families for pair in self.pairs)


def measured_visits(
    *,
    horse: Horse,
    viewer: User,
    since: date | None = None,
    until: date | None = None,
) -> list[MeasuredVisit]:
    """The horse's visits that this viewer may see, oldest first, with what was measured
    at each. Two queries, however many.
    """
    records = VisitRecord.objects.visible_to(viewer).filter(
        horse=horse,
        visit__kind__in=[Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN],
        is_recorded=True,
    )
    if since is not None:
        records = records.filter(visit__day__gte=since)
    if until is not None:
        records = records.filter(visit__day__lte=until)
    latest = records.order_by("-visit__day", "-visit_id").values_list(
        "pk", "visit__day"
    )
    days = dict(latest[:FAR_BACK])
    feet = (
        FootRecord.objects.filter(record__in=list(days))
        .order_by("record", "pk")
        .values("record", "foot", *MEASURES)
    )
    by_record: dict[Any, tuple[FootEntry, ...]] = {
        key: tuple(
            FootEntry(**{k: v for k, v in row.items() if k != "record"}) for row in rows
        )
        for key, rows in groupby(feet, key=lambda row: row["record"])
    }
    return [
        MeasuredVisit(str(key), day, by_record.get(key, ()))
        for key, day in sorted(days.items(), key=lambda one: (one[1], one[0]))
    ]


def trends(
    *,
    horse: Horse,
    viewer: User,
    practice: Practice,
    feet: tuple[Foot, ...],
    since: date | None = None,
) -> Trends:
    """Charts of every measure of the pairs to which ``feet`` belong; changes are told of
    ``feet`` alone. Two queries.
    """
    visits = measured_visits(horse=horse, viewer=viewer, since=since)
    series = follow(
        visits,
        length_sd_mm=float(practice.length_sd_mm),
        angle_sd_deg=float(practice.angle_sd_deg),
    )
    days = tuple(visit.day for visit in visits)
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # of three choices
    pairs = tuple(
        _pair(pair, series, days, unit, told=feet)
        for pair in PAIRS
        if set(pair) & set(feet)
    )
    drawn = [one for pair in pairs for _, family in pair.families for one in family]
    shown = {rule.code for one in drawn for rule in one.limits}
    slips = {
        (foot.series.foot, point.key, foot.series.measure.key)
        for one in drawn
        for foot in one.feet
        for point in foot.series.points
        if point.is_questionable and foot.series.measure.key in MEASURES
    }
    return Trends(
        pairs, days, tuple(rule for rule in RULES if rule.code in shown), len(slips)
    )


def _pair(
    pair: tuple[Foot, Foot],
    series: dict[tuple[Foot, str], Series],
    days: tuple[date, ...],
    unit: LengthUnit,
    *,
    told: tuple[Foot, ...],
) -> Pair:
    found = []
    for measure in FOLLOWED:
        mine = tuple(
            series[foot, measure.key] for foot in pair if (foot, measure.key) in series
        )
        if mine:
            found.append(_drawn(measure, mine, days, unit, told=told))
    families = tuple(
        (name, tuple(group))
        for name, group in groupby(found, lambda d: d.measure.family)
    )
    return Pair("Fore feet" if pair[0] == "LF" else "Hind feet", pair, families)


def _drawn(
    measure: Measure,
    series: tuple[Series, ...],
    days: tuple[date, ...],
    unit: LengthUnit,
    *,
    told: tuple[Foot, ...],
) -> Drawn:
    by_visit: dict[str, dict[Foot, Point]] = {}
    when: dict[str, date] = {}
    for one in series:
        for point in one.points:
            by_visit.setdefault(point.key, {})[one.foot] = point
            when[point.key] = point.day
    newest = sorted(when, key=lambda key: (when[key], key), reverse=True)
    return Drawn(
        measure=measure,
        chart=Chart(measure, series, days, days[0], days[-1], unit),
        feet=tuple(_foot(one) for one in series if one.foot in told or measure.is_pair),
        rows=tuple(
            Row(key, when[key], tuple(by_visit[key].get(one.foot) for one in series))
            for key in newest
        ),
        limits=tuple(dict.fromkeys(rule for _, rule in limits_of(measure))),
    )


def _foot(series: Series) -> FootTrend:
    sound = series.sound
    return FootTrend(
        "left less right" if series.measure.is_pair else FOOT_NAMES[series.foot],
        series,
        sound[-1] if sound else None,
        since_last(series),
        over_a_year(series),
    )
