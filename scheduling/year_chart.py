"""A year of an area as a chart: horses by month, and below it the drive a horse. Pure.

Both panels have the scale that they are given, so that areas can be held against each
other. Colours are the page's own by class, with plain ones behind them.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Final

from horses.drawing import pen
from horses.drawing.charts import MONTHS

WIDTH: Final = 360.0
LEFT: Final = 30.0
RIGHT: Final = 356.0
"""In units; a phone shows 360 of them over some 325 px."""
HEIGHT: Final = 258

BAR_COLOUR: Final = "#2d5670"
DRIVE_COLOUR: Final = "#74472a"


@dataclass(frozen=True, slots=True)
class _Panel:
    """One of the two: its words, top and bottom, how many lines it may have."""

    word: str
    top: float
    bottom: float
    most_lines: int

    def y(self, value: float, most: float) -> float:
        step, count = steps(most, self.most_lines)
        return self.bottom - (self.bottom - self.top) * value / (step * count)


HORSES: Final = _Panel("Horses", 34.0, 124.0, 4)
DRIVE: Final = _Panel("Drive a horse, min", 168.0, 222.0, 2)


@dataclass(frozen=True, slots=True)
class Month:
    """A month: its first day, horses attended, minutes of driving a horse (None where
    none was attended)."""

    first: date
    horses: int
    drive: float | None


@dataclass(frozen=True, slots=True)
class Scale:
    """What the panels reach to at least: horses, minutes a horse."""

    horses: float
    drive: float


def year_chart(title: str, months: Sequence[Month], scale: Scale) -> str:
    """The chart as SVG; of its last month only a part may have passed, so that it is
    paler. Give at least one month."""
    room = (RIGHT - LEFT) / len(months)
    xs = [LEFT + room * (i + 0.5) for i in range(len(months))]
    body = [
        *_lines(HORSES, scale.horses),
        *_bars(months, xs, room, scale.horses),
        *_lines(DRIVE, scale.drive),
        *_drives(months, xs, scale.drive),
        *_names(months, xs),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT}" '
        f'class="area-chart" role="img"><title>{escape(title)}</title>'
        f"<desc>{escape(told(months))}</desc>{''.join(body)}</svg>"
    )


def told(months: Sequence[Month]) -> str:
    """The figures in words, for those who don't see the chart."""
    return " ".join(
        f"{_name(one)} {one.first.year}: {one.horses} horse{'' if one.horses == 1 else 's'}"
        + (f", {one.drive:.0f} min driving each." if one.drive is not None else ".")
        for one in months
    )


def steps(most: float, lines: int) -> tuple[float, int]:
    """A round step, and how many of it reach the most: 1, 2, 5 × 10ⁿ, no more than so
    many."""
    power = 10.0 ** math.floor(math.log10(max(most, 1.0) / lines))
    step = next(power * k for k in (1, 2, 5, 10) if most / (power * k) <= lines)
    step = max(step, 1.0)
    return step, max(1, math.ceil(most / step - 1e-9))


def _lines(panel: _Panel, most: float) -> Iterator[str]:
    step, count = steps(most, panel.most_lines)
    yield _small(panel.word, 0, panel.top - 20, "start", font_weight="bold")
    for i in range(count + 1):
        y = panel.y(i * step, most)
        yield pen.path(
            f"M{pen.n(LEFT)} {pen.n(y)}H{pen.n(RIGHT)}",
            stroke="currentColor",
            stroke_width=1.0,
            opacity="0.5" if i == 0 else "0.15",
        )
        yield _small(f"{i * step:g}", LEFT - 5, y + 4, "end")


def _bars(
    months: Sequence[Month], xs: Sequence[float], room: float, most: float
) -> Iterator[str]:
    for one, x in zip(months, xs, strict=True):
        if not one.horses:
            continue
        wide, top = 0.68 * room, HORSES.y(one.horses, most)
        yield pen.tag(
            "rect",
            x=x - wide / 2,
            y=top,
            width=wide,
            height=HORSES.bottom - top,
            class_=_class("area-bar", one, months),
            fill=BAR_COLOUR,
        )
        yield _small(f"{one.horses}", x, top - 4, "middle")


def _drives(months: Sequence[Month], xs: Sequence[float], most: float) -> Iterator[str]:
    way, pen_down = [], False
    for one, x in zip(months, xs, strict=True):
        if one.drive is not None:
            at = DRIVE.y(one.drive, most)
            way.append(f"{'L' if pen_down else 'M'}{pen.n(x)} {pen.n(at)}")
        pen_down = one.drive is not None
    if way:
        yield pen.path(
            "".join(way),
            class_="area-drive",
            fill="none",
            stroke=DRIVE_COLOUR,
            stroke_width=1.6,
        )
    for one, x in zip(months, xs, strict=True):
        if one.drive is None:
            continue
        at = DRIVE.y(one.drive, most)
        look = {"class_": _class("area-dot", one, months), "fill": DRIVE_COLOUR}
        yield pen.tag("circle", cx=x, cy=at, r=3.6, **look)
        yield _small(f"{one.drive:.0f}", x, at - 7, "middle")


def _names(months: Sequence[Month], xs: Sequence[float]) -> Iterator[str]:
    for i, (one, x) in enumerate(zip(months, xs, strict=True)):
        yield _small(_name(one), x, DRIVE.bottom + 17, "middle")
        if i == 0 or one.first.month == 1:
            yield _small(str(one.first.year), x, DRIVE.bottom + 32, "middle")


def _class(word: str, one: Month, months: Sequence[Month]) -> str:
    return f"{word} is-last" if one is months[-1] else word


def _name(one: Month) -> str:
    return MONTHS[one.first.month - 1]


def _small(text: str, x: float, y: float, anchor: str, **more: str | float) -> str:
    look: dict[str, str | float] = {"font_size": "12", "text_anchor": anchor}
    return pen.word(text, x, y, **(look | more))
