"""One foot's growth from visit to visit, and what is expected until the next. Pure.

Each visit begins anew at nothing gained. What was measured is a full line; what is
expected a dashed one with the middle 80 % as a band. The limit is a dotted line, the
due window a wash, the target a full line through it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape
from math import ceil
from typing import TYPE_CHECKING

from horses.drawing import pen
from horses.drawing.charts import MONTHS, step_of
from horses.hoof import FOOT_NAMES, Foot
from horses.trends import number, said
from practice.days import full, span
from practice.units import LengthUnit

if TYPE_CHECKING:
    from horses.growth.terms import Band

WIDTH, HEIGHT = 360.0, 220.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 350.0, 40.0, 178.0
"""Of the plot, in units; a phone shows 360 of them over some 340 px."""

GROWTH_COLOUR, LIMIT_COLOUR, SLIP_COLOUR = "#2d5670", "#7d5700", "#a3231b"
WINDOW_COLOUR, TARGET_COLOUR = "#3c6428", "#3c6428"


@dataclass(frozen=True, slots=True)
class Gained:
    """What the foot gained between two visits; None where it wasn't measured."""

    start: date
    end: date
    gain_mm: float | None
    is_questionable: bool = False


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is expected by a day since the last visit."""

    day: date
    gain_mm: Band


@dataclass(frozen=True, slots=True)
class DueChart:
    """What is drawn. ``limit_mm``: the growth at which the first limit is reached; None
    where there is none. ``ahead`` begins on the day of the last visit.
    """

    foot: Foot
    past: tuple[Gained, ...]
    ahead: tuple[Ahead, ...]
    limit_mm: float | None
    earliest: date
    target: date
    latest: date
    today: date
    length_unit: LengthUnit = "mm"


@dataclass(frozen=True, slots=True)
class _Scale:
    first: date
    days: int
    high: float
    step: float

    def x(self, day: date) -> float:
        share = (day - self.first).days / self.days
        return LEFT + (RIGHT - LEFT) * min(max(share, 0.0), 1.0)

    def y(self, value: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * min(max(value / self.high, 0.0), 1.0)


def _scale(chart: DueChart) -> _Scale:
    begins = [one.start for one in chart.past] or [chart.ahead[0].day]
    first = min(begins) - timedelta(days=3)
    last = max(chart.ahead[-1].day, chart.latest, chart.today) + timedelta(days=3)
    sound = [
        one.gain_mm for one in chart.past if one.gain_mm and not one.is_questionable
    ]
    high = max(
        *sound,
        *(one.gain_mm.high80 for one in chart.ahead),
        chart.limit_mm or 0.0,
        6.0,
    )
    step = step_of(high, "mm", chart.length_unit)
    top = ceil(round(1.05 * high / step, 6)) * step
    return _Scale(first, max((last - first).days, 1), top, step)


def _small(text: str, x: float, y: float, anchor: str, **more: str | float) -> str:
    look: dict[str, str | float] = {"font_size": "12.5", "text_anchor": anchor}
    return pen.word(text, x, y, **(look | more))


def _line(x1: float, y1: float, x2: float, y2: float, **more: str | float) -> str:
    return pen.path(f"M{pen.n(x1)} {pen.n(y1)}L{pen.n(x2)} {pen.n(y2)}", **more)


def _axes(chart: DueChart, scale: _Scale) -> Iterable[str]:
    value = 0.0
    while value <= scale.high + 1e-6:
        y = scale.y(value)
        opacity = "0.5" if value == 0 else "0.15"
        yield _line(
            LEFT, y, RIGHT, y, stroke="currentColor", stroke_width=1.0, opacity=opacity
        )
        yield _small(number(value, "mm", chart.length_unit), LEFT - 5, y + 4.5, "end")
        value += scale.step
    yield _small(chart.length_unit, LEFT - 5, TOP - 12, "end")
    last = scale.first + timedelta(days=scale.days)
    months = [
        date(year, month, 1)
        for year in range(scale.first.year, last.year + 1)
        for month in range(1, 13)
        if scale.first <= date(year, month, 1) <= last
    ]
    every = max(1, ceil(len(months) / 8))
    for at, day in enumerate(months):
        x = scale.x(day)
        yield _line(
            x,
            TOP,
            x,
            BOTTOM + 4,
            stroke="currentColor",
            stroke_width=1.0,
            opacity="0.15",
        )
        if at % every == 0:
            yield _small(MONTHS[day.month - 1], x, BOTTOM + 18, "middle")
            if at == 0 or day.month == 1:
                yield _small(str(day.year), x, BOTTOM + 33, "middle", font_weight="700")


def _window(chart: DueChart, scale: _Scale) -> Iterable[str]:
    x1, x2 = scale.x(chart.earliest), scale.x(chart.latest)
    yield pen.tag(
        "rect",
        x=x1,
        y=TOP,
        width=max(x2 - x1, 1.5),
        height=BOTTOM - TOP,
        class_="due-window",
        fill=WINDOW_COLOUR,
        opacity="0.14",
    )
    x = scale.x(chart.target)
    look = {"class_": "due-target", "stroke": TARGET_COLOUR}
    yield _line(x, TOP, x, BOTTOM, stroke_width=2.0, **look)
    words = span(chart.earliest, chart.latest)
    at = min(max(x, LEFT + 42), RIGHT - 42)
    yield _small(
        words, at, TOP - 5, "middle", class_="due-target-word", font_weight="700"
    )


def _today(chart: DueChart, scale: _Scale) -> Iterable[str]:
    x = scale.x(chart.today)
    yield _line(
        x,
        TOP,
        x,
        BOTTOM,
        class_="due-today",
        stroke="currentColor",
        stroke_width=1.2,
        stroke_dasharray="2 3",
    )
    before = x > LEFT + 60
    yield _small(
        "today", x - 4 if before else x + 4, TOP + 13, "end" if before else "start"
    )


def _limit(chart: DueChart, scale: _Scale) -> Iterable[str]:
    if chart.limit_mm is None:
        return
    y = scale.y(chart.limit_mm)
    yield _line(
        LEFT,
        y,
        RIGHT,
        y,
        class_="trend-limit",
        stroke=LIMIT_COLOUR,
        stroke_width=1.6,
        stroke_dasharray="1 4",
        stroke_linecap="round",
    )
    word = f"limit {said(chart.limit_mm, 'mm', chart.length_unit)}"
    yield _small(
        word, LEFT + 4, y - 5, "start", class_="trend-limit-word", fill=LIMIT_COLOUR
    )


def _past(chart: DueChart, scale: _Scale) -> Iterable[str]:
    for one in chart.past:
        x1, x2 = scale.x(one.start), scale.x(one.end)
        if one.gain_mm is None:
            continue
        y = scale.y(one.gain_mm)
        if one.is_questionable:
            yield pen.path(
                f"M{pen.n(x2)} {pen.n(y - 6)}l6 6l-6 6l-6 -6z",
                class_="trend-slip",
                fill="none",
                stroke=SLIP_COLOUR,
                stroke_width=1.8,
            )
            yield _small(
                "?", x2 - 9, y + 4, "end", class_="trend-slip-word", fill=SLIP_COLOUR
            )
            continue
        yield _line(
            x1,
            BOTTOM,
            x2,
            y,
            class_="trend-left trend-line",
            stroke=GROWTH_COLOUR,
            stroke_width=2.2,
        )
        yield pen.tag(
            "circle",
            cx=x2,
            cy=y,
            r=3.4,
            class_="trend-left trend-dot",
            fill=GROWTH_COLOUR,
        )
    visits = {one.start for one in chart.past} | {one.end for one in chart.past}
    visits.add(chart.ahead[0].day)
    marks = "".join(
        f"M{pen.n(scale.x(day))} {pen.n(BOTTOM)}l-3 6h6z" for day in sorted(visits)
    )
    yield pen.path(marks, class_="trend-visits", fill="currentColor")


def _expected(chart: DueChart, scale: _Scale) -> Iterable[str]:
    at = [(scale.x(one.day), one.gain_mm) for one in chart.ahead]
    upper = [(x, scale.y(band.high80)) for x, band in at]
    lower = [(x, scale.y(band.low80)) for x, band in reversed(at)]
    band = "M" + "L".join(pen.at(point) for point in (*upper, *lower)) + "Z"
    yield pen.path(
        band,
        class_="trend-left trend-band",
        fill=GROWTH_COLOUR,
        opacity="0.2",
        stroke="none",
    )
    middle = "M" + "L".join(pen.at((x, scale.y(one.value))) for x, one in at)
    yield pen.path(
        middle,
        class_="trend-left trend-line",
        fill="none",
        stroke=GROWTH_COLOUR,
        stroke_width=2.2,
        stroke_dasharray="6 4",
    )


def told(chart: DueChart) -> str:
    """What the chart shows, in sentences, for those who don't see it."""
    unit = chart.length_unit
    measured = [one for one in chart.past if one.gain_mm is not None]
    sentences = [
        f"{FOOT_NAMES[chart.foot].capitalize()}: gained "
        f"{said(one.gain_mm or 0.0, 'mm', unit)} from {full(one.start, year=True)} to "
        f"{full(one.end, year=True)}{', questionable' if one.is_questionable else ''}."
        for one in measured
    ]
    last = next(
        (one for one in chart.ahead if one.day >= chart.target), chart.ahead[-1]
    )
    band = last.gain_mm
    sentences.append(
        f"Expected by {full(last.day, year=True)}: {said(band.value, 'mm', unit)}, "
        f"between {said(band.low80, 'mm', unit)} and {said(band.high80, 'mm', unit)}."
    )
    if chart.limit_mm is not None:
        sentences.append(f"The limit is {said(chart.limit_mm, 'mm', unit)}.")
    sentences.append(
        f"Due {span(chart.earliest, chart.latest)}, best {full(chart.target, year=True)}."
    )
    return " ".join(sentences)


def due_chart(chart: DueChart) -> str:
    """The chart as SVG. ``ahead`` has at least two days."""
    scale = _scale(chart)
    parts = (_axes, _window, _limit, _expected, _past, _today)
    body = "".join(text for part in parts for text in part(chart, scale))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'class="trend due-chart" role="img">'
        f"<title>Gained at the toe since each visit, {escape(FOOT_NAMES[chart.foot])}"
        f"</title><desc>{escape(told(chart))}</desc>{body}</svg>"
    )
