"""A few bars or dots side by side, with their intervals. Pure.

Colours are the page's own by class, with plain ones behind them for where no sheet is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import ceil
from typing import Literal

from horses.drawing import pen
from horses.drawing.charts import LEFT_COLOUR, LIMIT_COLOUR, step_of

WIDTH = 360.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 354.0, 22.0, 168.0
BAR_COLOUR = LEFT_COLOUR


@dataclass(frozen=True, slots=True)
class Bar:
    """One column: its words (one or two lines), its value, an interval if it has one,
    and a mark to hold it against.
    """

    label: str
    value: float
    said: str
    low: float | None = None
    high: float | None = None
    mark: float | None = None


@dataclass(frozen=True, slots=True)
class Bars:
    """The chart. ``kind``: bars from nought, or dots with whiskers."""

    title: str
    unit: str
    bars: tuple[Bar, ...]
    kind: Literal["bars", "dots"] = "bars"


def _small(text: str, x: float, y: float, anchor: str, **more: str | float) -> str:
    look: dict[str, str | float] = {"font_size": "12.5", "text_anchor": anchor}
    return pen.word(text, x, y, **(look | more))


def _top(chart: Bars) -> float:
    ends = [v for b in chart.bars for v in (b.value, b.high, b.mark) if v is not None]
    return max([*ends, 1e-6])


def _axis(top: float, step: float, unit: str) -> str:
    parts = []
    for i in range(ceil(top / step - 1e-9) + 1):
        y = BOTTOM - (BOTTOM - TOP) * i * step / (ceil(top / step - 1e-9) * step)
        parts.append(
            pen.path(
                f"M{pen.n(LEFT)} {pen.n(y)}H{pen.n(RIGHT)}",
                stroke="currentColor",
                stroke_width=1.0,
                opacity="0.5" if i == 0 else "0.15",
            )
        )
        parts.append(_small(f"{i * step:g}", LEFT - 5, y + 4.5, "end"))
    parts.append(_small(unit, 2.0, 13.0, "start"))
    return "".join(parts)


def _column(bar: Bar, x: float, wide: float, scale: float, *, is_dot: bool) -> str:
    y = BOTTOM - scale * bar.value
    parts = []
    if is_dot:
        parts.append(
            pen.tag("circle", cx=x, cy=y, r=4.5, class_="bar-fill", fill=BAR_COLOUR)
        )
    else:
        parts.append(
            pen.tag(
                "rect",
                x=x - wide / 2,
                y=y,
                width=wide,
                height=max(BOTTOM - y, 0.0),
                class_="bar-fill",
                fill=BAR_COLOUR,
            )
        )
    if bar.low is not None and bar.high is not None:
        low, high = (BOTTOM - scale * end for end in (bar.low, bar.high))
        parts.append(
            pen.path(
                f"M{pen.n(x)} {pen.n(low)}V{pen.n(high)}"
                f"M{pen.n(x - 5)} {pen.n(low)}h10M{pen.n(x - 5)} {pen.n(high)}h10",
                class_="bar-whisker",
                stroke=BAR_COLOUR,
                stroke_width=2.0,
                fill="none",
            )
        )
    if bar.mark is not None:
        at = BOTTOM - scale * bar.mark
        parts.append(
            pen.path(
                f"M{pen.n(x - wide / 2 - 2)} {pen.n(at)}h{pen.n(wide + 4)}",
                class_="bar-mark",
                stroke=LIMIT_COLOUR,
                stroke_width=2.4,
            )
        )
    return "".join(parts)


def _words(bar: Bar, x: float) -> str:
    return "".join(
        _small(line, x, BOTTOM + 16 + 15 * number, "middle")
        for number, line in enumerate(bar.label.split("|"))
    )


def told(chart: Bars) -> str:
    """The figures in words, for those who don't see the chart."""
    return " ".join(f"{bar.label.replace('|', ' ')}: {bar.said}." for bar in chart.bars)


def bar_chart(chart: Bars) -> str:
    """The chart as SVG. A ``|`` in a label breaks its line. Give at least one bar."""
    top = _top(chart)
    step = step_of(top, "", "mm")
    whole = ceil(top / step - 1e-9) * step
    scale = (BOTTOM - TOP) / whole
    room = (RIGHT - LEFT) / len(chart.bars)
    lines = 1 + max(bar.label.count("|") for bar in chart.bars)
    height = BOTTOM + 8 + 15 * lines
    wide = min(0.62 * room, 46.0)
    body = [_axis(top, step, chart.unit)]
    for number, bar in enumerate(chart.bars):
        x = LEFT + room * (number + 0.5)
        body.append(_column(bar, x, wide, scale, is_dot=chart.kind == "dots"))
        body.append(_words(bar, x))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" '
        f'class="bars" role="img"><title>{escape(chart.title)}</title>'
        f"<desc>{escape(told(chart))}</desc>{''.join(body)}</svg>"
    )


def bars(
    title: str,
    unit: str,
    columns: Sequence[Bar],
    kind: Literal["bars", "dots"] = "bars",
) -> Bars | None:
    """The chart, or None where there is nothing to draw."""
    return Bars(title, unit, tuple(columns), kind) if columns else None
