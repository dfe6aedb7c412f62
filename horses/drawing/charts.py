"""One measure of a pair of feet over time, as a chart. Pure.

Left is a full line with filled dots, right a dashed one with open squares, so that the
pair is told apart without colour. The band is one standard deviation either way. What
looks like a slip of the keys is an open diamond with a question mark, off the line.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape
from math import ceil, floor, log10

from horses.drawing import pen
from horses.hoof import FOOT_NAMES, MATE
from horses.trends import (
    Measure,
    Point,
    Series,
    Unit,
    limits_of,
    number,
    said,
    unit_word,
)
from practice.units import MM_PER_INCH, LengthUnit

WIDTH, HEIGHT = 360.0, 214.0
LEFT, RIGHT, TOP, BOTTOM = 50.0, 350.0, 34.0, 164.0
"""Of the plot, in units; a phone shows 360 of them over some 340 px."""

GAP_DAYS = 200
"""Further apart than that, two visits are not joined by a line (ours)."""
LEAST_SDS = 6.0
"""The scale spans so many standard deviations at least, lest noise look like news."""

LEFT_COLOUR, RIGHT_COLOUR = "#2d5670", "#9a4a12"
LIMIT_COLOUR, SLIP_COLOUR = "#7d5700", "#a3231b"
MONTHS = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn: one measure of one or two feet, over days ``first`` to ``last``.

    ``visits``: every day on which the horse was attended, measured or not.
    """

    measure: Measure
    series: tuple[Series, ...]
    visits: tuple[date, ...]
    first: date
    last: date
    length_unit: LengthUnit = "mm"


@dataclass(frozen=True, slots=True)
class _Scale:
    """Days and figures to units of the drawing."""

    first: date
    days: int
    low: float
    high: float

    def x(self, day: date) -> float:
        return LEFT + (RIGHT - LEFT) * (day - self.first).days / self.days

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return BOTTOM - (BOTTOM - TOP) * min(max(share, 0.0), 1.0)

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


# ---- Scales ------------------------------------------------------------------------
def step_of(span: float, unit: Unit, length_unit: LengthUnit) -> float:
    """A round step that puts three to six lines over the span; inches go by halves
    of halves.
    """
    if unit == "mm" and length_unit == "in":
        inch = float(MM_PER_INCH)
        steps = [inch * 2.0**power for power in range(-4, 6)]
        return next((step for step in steps if span / step <= 5), steps[-1])
    power = 10.0 ** floor(log10(span / 5))
    return next(power * k for k in (1, 2, 5, 10) if span / (power * k) <= 5)


def _scale(chart: Chart) -> tuple[_Scale, float]:
    """The scale, whose ends are whole steps, and the step."""
    points = [p for one in chart.series for p in one.sound] or [
        p for one in chart.series for p in one.points
    ]
    ends = [p.value + way * p.sd for p in points for way in (-1, 1)]
    ends += [value for value, _ in limits_of(chart.measure)]
    low, high = min(ends), max(ends)
    least = max(LEAST_SDS * max(p.sd for p in points), 0.02 * abs(high), 1e-6)
    if high - low < least:
        middle = (low + high) / 2
        low, high = middle - least / 2, middle + least / 2
    step = step_of(high - low, chart.measure.unit, chart.length_unit)
    first, last = _days(chart)
    scale = _Scale(
        first, (last - first).days, floor(low / step) * step, ceil(high / step) * step
    )
    return scale, step


def _days(chart: Chart) -> tuple[date, date]:
    """The days at the edges: never less than a season, a little air at either end."""
    span = max((chart.last - chart.first).days, 90)
    middle = chart.first + (chart.last - chart.first) / 2
    half = timedelta(days=round(span * 0.53) + 1)
    return middle - half, middle + half


# ---- Axes --------------------------------------------------------------------------
def _months(first: date, last: date) -> Iterable[date]:
    """First days of months between, as far apart as leaves room for their words."""
    months = (last.year - first.year) * 12 + last.month - first.month
    step = next((s for s in (1, 3, 6, 12, 24) if months / s <= 9), 60)
    for month in range(first.year * 12, (last.year + 1) * 12, step):
        day = date(month // 12, month % 12 + 1, 1)
        if first <= day <= last:
            yield day


def _days_axis(chart: Chart, scale: _Scale) -> str:
    first, last = _days(chart)
    parts, told = [], None
    for day in _months(first, last):
        x = scale.x(day)
        is_year = day.month == 1
        parts.append(
            pen.path(
                f"M{pen.n(x)} {pen.n(TOP)}V{pen.n(BOTTOM + 5)}",
                stroke="currentColor",
                stroke_width=1.0,
                opacity="0.45" if is_year else "0.15",
            )
        )
        parts.append(_small(MONTHS[day.month - 1], x, BOTTOM + 21, "middle"))
        if day.year != told:
            told = day.year
            parts.append(
                _small(str(day.year), x, BOTTOM + 37, "middle", font_weight="700")
            )
    marks = "".join(
        f"M{pen.n(scale.x(day))} {pen.n(BOTTOM)}l-3 6h6z"
        for day in sorted(set(chart.visits))
        if first <= day <= last
    )
    if marks:
        parts.append(pen.path(marks, class_="trend-visits", fill="currentColor"))
    return "".join(parts)


def _figures_axis(chart: Chart, scale: _Scale, step: float) -> str:
    sign = chart.measure.unit if chart.measure.unit in ("°", "%") else ""
    parts = []
    for i in range(round((scale.high - scale.low) / step) + 1):
        value = scale.low + i * step
        y = scale.y(value)
        parts.append(
            pen.path(
                f"M{pen.n(LEFT)} {pen.n(y)}H{pen.n(RIGHT)}",
                stroke="currentColor",
                stroke_width=1.0,
                opacity="0.5" if i == 0 else "0.15",
            )
        )
        word = number(value, chart.measure.unit, chart.length_unit)
        parts.append(_small(f"{word}{sign}", LEFT - 5, y + 4.5, "end"))
    word = unit_word(chart.measure.unit, chart.length_unit)
    if word and not sign:
        parts.append(_small(word, LEFT - 5, TOP - 13, "end"))
    return "".join(parts)


def _limits(chart: Chart, scale: _Scale) -> str:
    parts, named = [], set()
    for value, rule in limits_of(chart.measure):
        y = scale.y(value)
        parts.append(
            pen.path(
                f"M{pen.n(LEFT)} {pen.n(y)}H{pen.n(RIGHT)}",
                class_="trend-limit",
                stroke=LIMIT_COLOUR,
                stroke_width=1.6,
                stroke_dasharray="1 4",
                stroke_linecap="round",
            )
        )
        if rule.code in named:
            continue
        named.add(rule.code)
        above = y - 5 if y > TOP + 14 else y + 14
        parts.append(
            _small(
                rule.label,
                RIGHT,
                above,
                "end",
                class_="trend-limit-word",
                fill=LIMIT_COLOUR,
            )
        )
    return "".join(parts)


def _small(text: str, x: float, y: float, anchor: str, **more: str | float) -> str:
    look: dict[str, str | float] = {"font_size": "12.5", "text_anchor": anchor}
    return pen.word(text, x, y, **(look | more))


# ---- Lines -------------------------------------------------------------------------
def _is_left(series: Series) -> bool:
    return series.foot.startswith("L")


def _look(series: Series) -> tuple[str, str]:
    """Class and colour."""
    if _is_left(series):
        return "trend-left", LEFT_COLOUR
    return "trend-right", RIGHT_COLOUR


def _runs(points: Sequence[Point]) -> list[list[Point]]:
    """The points, parted where the gap is too long for a line to be honest."""
    runs: list[list[Point]] = []
    for point in points:
        if runs and (point.day - runs[-1][-1].day).days <= GAP_DAYS:
            runs[-1].append(point)
        else:
            runs.append([point])
    return runs


def _band(run: Sequence[Point], scale: _Scale) -> str:
    """One standard deviation either way; a lone point's is a bar."""
    if len(run) == 1:
        x, p = scale.x(run[0].day), run[0]
        return (
            f"M{pen.n(x - 3)} {pen.n(scale.y(p.value + p.sd))}h6"
            f"V{pen.n(scale.y(p.value - p.sd))}h-6z"
        )
    upper = [(scale.x(p.day), scale.y(p.value + p.sd)) for p in run]
    lower = [(scale.x(p.day), scale.y(p.value - p.sd)) for p in reversed(run)]
    return "M" + "L".join(pen.at(point) for point in (*upper, *lower)) + "Z"


def _bands(series: Series, scale: _Scale) -> str:
    name, colour = _look(series)
    drawn = "".join(_band(run, scale) for run in _runs(series.sound))
    if not drawn:
        return ""
    return pen.path(
        drawn, class_=f"{name} trend-band", fill=colour, opacity="0.16", stroke="none"
    )


def _line(series: Series, scale: _Scale) -> str:
    name, colour = _look(series)
    runs = [run for run in _runs(series.sound) if len(run) > 1]
    if not runs:
        return ""
    d = "".join(
        "M" + "L".join(pen.at((scale.x(p.day), scale.y(p.value))) for p in run)
        for run in runs
    )
    dash: dict[str, str | float] = (
        {} if _is_left(series) else {"stroke_dasharray": "6 4"}
    )
    return pen.path(
        d,
        class_=f"{name} trend-line",
        fill="none",
        stroke=colour,
        stroke_width=2.2,
        stroke_linejoin="round",
        **dash,
    )


def _mark(x: float, y: float, series: Series, size: float = 3.4) -> str:
    """A filled dot for the left foot, an open square for the right."""
    name, colour = _look(series)
    if _is_left(series):
        return pen.tag(
            "circle", cx=x, cy=y, r=size, class_=f"{name} trend-dot", fill=colour
        )
    return pen.tag(
        "rect",
        x=x - size,
        y=y - size,
        width=2 * size,
        height=2 * size,
        class_=f"{name} trend-square",
        fill="#fff",
        stroke=colour,
        stroke_width=1.8,
    )


def _slip(point: Point, chart: Chart, scale: _Scale) -> str:
    """Drawn where it lies, or at the edge with its figure where it lies beyond."""
    x, y = scale.x(point.day), scale.y(point.value)
    diamond = pen.path(
        f"M{pen.n(x)} {pen.n(y - 6)}l6 6l-6 6l-6 -6z",
        class_="trend-slip",
        fill="none",
        stroke=SLIP_COLOUR,
        stroke_width=1.8,
    )
    far = not scale.holds(point.value)
    figure = said(point.value, chart.measure.unit, chart.length_unit)
    ends = x > RIGHT - 60
    return diamond + _small(
        f"{figure}?" if far else "?",
        x - 9 if ends else x + 9,
        y + (12 if y < TOP + 12 else 4),
        "end" if ends else "start",
        class_="trend-slip-word",
        fill=SLIP_COLOUR,
        font_weight="700",
    )


def _key(chart: Chart, scale: _Scale) -> str:
    parts, x = [], LEFT
    for one in chart.series:
        if chart.measure.is_pair:
            word = " less ".join(
                FOOT_NAMES[foot] for foot in (one.foot, MATE[one.foot])
            )
        else:
            word = FOOT_NAMES[one.foot]
        parts += [_mark(x + 4, 11.5, one, 4.2), _small(word, x + 14, 16, "start")]
        x += 110
    return "".join(parts)


# ---- The chart ---------------------------------------------------------------------
def told(chart: Chart) -> str:
    """What the chart shows, in sentences, for those who don't see it."""
    sentences = []
    for one in chart.series:
        values = [p.value for p in one.sound] or [p.value for p in one.points]
        unit, bare = chart.measure.unit, chart.length_unit
        count = len(one.points)
        sentence = (
            f"{FOOT_NAMES[one.foot].capitalize()}: {count} reading{'s' * (count != 1)}, "
            f"{one.points[0].day.isoformat()} to {one.points[-1].day.isoformat()}, "
            f"from {said(min(values), unit, bare)} to {said(max(values), unit, bare)}, "
            f"last {said(values[-1], unit, bare)}"
        )
        slips = count - len(one.sound)
        if slips:
            sentence += f"; {slips} questionable"
        sentences.append(sentence + ".")
    return " ".join(sentences)


def trend_chart(chart: Chart) -> str:
    """The chart as SVG. Give at least one series; none of them may be empty."""
    scale, step = _scale(chart)
    feet = " and ".join(FOOT_NAMES[one.foot] for one in chart.series)
    body = [_figures_axis(chart, scale, step), _days_axis(chart, scale)]
    body += [_bands(one, scale) for one in chart.series]
    body.append(_limits(chart, scale))
    body += [_line(one, scale) for one in chart.series]
    for one in chart.series:
        body += [_mark(scale.x(p.day), scale.y(p.value), one) for p in one.sound]
        body += [_slip(p, chart, scale) for p in one.points if p.is_questionable]
    body.append(_key(chart, scale))
    label = chart.measure.label
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'class="trend" role="img" data-measure="{escape(chart.measure.key)}">'
        f"<title>{escape(label.capitalize())}, {escape(feet)}</title>"
        f"<desc>{escape(told(chart))}</desc>{''.join(body)}</svg>"
    )
