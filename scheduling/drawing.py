"""The map of a round as SVG: barns with numbers, home, the way in order. Pure.

A plain drawing, north up, to scale, without roads: enough to see whether a day hangs
together. Presentation attributes and classes only, so that it stands under a strict
content-security policy; the page's style sheet recolours it by class.

The plane: longitude shrunk by the cosine of the middle latitude. Over the hundred
kilometres of a round the error is far below a pin's width.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import Final

from practice.geo import METRES_PER_DEGREE, Position

UNIT_METRES: Final = {"km": 1000.0, "mi": 1609.344}
PIN_RADIUS: Final = 12.0
DOT_RADIUS: Final = 4.5
MARGIN: Final = 40.0
FONT_SIZE: Final = 14.0
LABEL_LETTERS: Final = 22
"""Longer names are cut with an ellipsis: the list beside the map has them whole."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A barn on the map.

    Args:
        key: becomes data-mark, for the page's script.
        at: where.
        number: one or two signs inside the pin (the stop's number, the horses due).
        label: its name beside the pin.
        tone: class of the pin, such as 'overdue' or 'attended'.
        href: where a tap leads, if anywhere (an element of the page).
    """

    key: str
    at: Position
    number: str
    label: str
    tone: str = "plain"
    href: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """Another round's way, thin, beneath: `key` becomes data-line."""

    key: str
    points: tuple[Position, ...]


@dataclass(frozen=True, slots=True)
class Dot:
    """A barn as a dot at its true place: its name a title, beside it too if `named`
    and where there is room."""

    key: str
    at: Position
    label: str
    tone: str = "planned"
    named: bool = False


@dataclass(frozen=True, slots=True)
class Region:
    """An area's outline, beneath everything: `key` becomes data-region."""

    key: str
    corners: tuple[Position, ...]
    label: str
    tone: str = "plain"


@dataclass(frozen=True, slots=True)
class _Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "_Box") -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def within(self, other: "_Box") -> bool:
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.top >= other.top
            and self.bottom <= other.bottom
        )


_Point = tuple[float, float]


class _Plane:
    """From positions to picture units: fitted into the frame, same scale both ways."""

    def __init__(self, places: Sequence[Position], width: float, height: float) -> None:
        lats = [place.lat for place in places]
        lons = [place.lon for place in places]
        self.lat0 = (min(lats) + max(lats)) / 2
        self.lon0 = (min(lons) + max(lons)) / 2
        self.shrink = max(0.05, math.cos(math.radians(self.lat0)))
        # A single barn still gets a neighbourhood: at least two kilometres across.
        across = max(2000.0, (max(lons) - min(lons)) * METRES_PER_DEGREE * self.shrink)
        along = max(2000.0, (max(lats) - min(lats)) * METRES_PER_DEGREE)
        self.units_per_metre = min(
            (width - 2 * MARGIN) / across, (height - 2 * MARGIN - 30) / along
        )
        self.middle = (width / 2, (height - 30) / 2)

    def measures(self) -> str:
        """Attributes: the picture's point, and picture units a degree each way."""
        north = METRES_PER_DEGREE * self.units_per_metre
        return (
            f' data-lat="{self.lat0:.7f}" data-lon="{self.lon0:.7f}" '
            f'data-x="{self.middle[0]:g}" data-y="{self.middle[1]:g}" '
            f'data-north="{north:.4f}" data-east="{north * self.shrink:.4f}"'
        )

    def point(self, at: Position) -> _Point:
        east = (at.lon - self.lon0) * METRES_PER_DEGREE * self.shrink
        north = (at.lat - self.lat0) * METRES_PER_DEGREE
        x = self.middle[0] + east * self.units_per_metre
        return x, self.middle[1] - north * self.units_per_metre


def draw_map(
    marks: Sequence[Mark],
    *,
    home: Position | None = None,
    route: Sequence[Position] = (),
    lines: Sequence[Line] = (),
    dots: Sequence[Dot] = (),
    regions: Sequence[Region] = (),
    measured: bool = False,
    holds: Sequence[Position] = (),
    unit: str = "km",
    title: str = "Map of the round",
    width: int = 480,
    height: int = 420,
) -> str:
    """The SVG of the marks, home and the route; empty when there is nothing to show.

    `route`: the places in the order of driving, home at either end if it has a place.
    `lines`, `dots`: other rounds and their barns, drawn small beneath it.
    `regions`: areas' outlines; they may reach out of the picture.
    `measured`: the plane's figures become data-… for a script that turns points of the
    picture into positions.
    `holds`: what the picture is fitted to, instead of all that is on it.
    `unit`: 'km' or 'mi', for the scale bar.
    """
    places = [*(mark.at for mark in marks), *route, *([home] if home else [])]
    places += [*(dot.at for dot in dots), *(at for line in lines for at in line.points)]
    if not (holds or places):
        return ""
    plane = _Plane(holds or places, width, height)
    true = [plane.point(mark.at) for mark in marks]
    pins = _apart(true, [plane.point(home)] if home else [], width, height)
    ground = f'width="{width}" height="{height}" rx="8" fill="#f3efe6"'
    named = [dot for dot in dots if dot.named]
    parts = [
        f'<rect class="map-ground" {ground}/>',
        *(_region(one, [plane.point(at) for at in one.corners]) for one in regions),
        *(_line(line, [plane.point(at) for at in line.points]) for line in lines),
        *(_dot(dot, plane.point(dot.at)) for dot in dots),
        *_route([plane.point(at) for at in route]),
        *_scale_bar(plane.units_per_metre, unit, width, height),
        *_north(width),
    ]
    parts += [
        f'<path class="map-leader" d="M{_xy(spot)}L{_xy(pin)}" stroke="#6b5d4d"/>'
        for spot, pin in zip(true, pins, strict=True)
        if math.dist(spot, pin) > 1
    ]
    if home:
        parts += _home(plane.point(home))
    fixed = [_Spot("", plane.point(home), 14)] if home else []
    spots = [
        *(_Spot(m.label, at, PIN_RADIUS) for m, at in zip(marks, pins, strict=True)),
        *(_Spot(dot.label, plane.point(dot.at), 1.5 * DOT_RADIUS) for dot in named),
    ]
    labels = _labels(spots, fixed, width, height)
    parts += [
        _label(dot.label, label)
        for dot, label in zip(named, labels[len(marks) :], strict=True)
        if label
    ]
    parts += [
        _pin(mark, pin, label)
        for mark, pin, label in zip(marks, pins, labels[: len(marks)], strict=True)
    ]
    measures = plane.measures() if measured else ""
    return (
        f'<svg class="road-map" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="{escape(title)}" xmlns="http://www.w3.org/2000/svg" '
        f'font-family="sans-serif" font-size="{FONT_SIZE:g}"{measures}>'
        f"<title>{escape(title)}</title>{''.join(parts)}</svg>"
    )


def scale_length(units_per_metre: float, unit: str, room: float) -> tuple[float, str]:
    """The longest of 1, 2, 5 × 10ⁿ in `unit` that fits `room` picture units:
    its length in picture units and its words ('5 km')."""
    one = UNIT_METRES[unit] * units_per_metre
    power = math.floor(math.log10(room / one))
    steps = [m * 10.0**n for n in (power - 1, power) for m in (1, 2, 5)]
    length = max(step for step in steps if step * one <= room)
    return length * one, f"{length:g} {unit}"


def _xy(point: _Point) -> str:
    return f"{point[0]:.1f} {point[1]:.1f}"


def _line(line: Line, points: Sequence[_Point]) -> str:
    way = "L".join(_xy(point) for point in points)
    return (
        f'<path class="map-line" data-line="{escape(line.key)}" d="M{way}" fill="none" '
        'stroke="#8a8172" stroke-width="1.2" stroke-linejoin="round"/>'
    )


def _region(region: Region, points: Sequence[_Point]) -> str:
    way = "L".join(_xy(point) for point in points)
    return (
        f'<path class="map-region {escape(region.tone)}" '
        f'data-region="{escape(region.key)}" d="M{way}Z" fill="#2d5670" '
        'fill-opacity="0.12" fill-rule="evenodd" stroke="#2d5670" stroke-width="1.5" '
        f'stroke-linejoin="round"><title>{escape(region.label)}</title></path>'
    )


def _dot(dot: Dot, at: _Point) -> str:
    return (
        f'<circle class="map-dot {escape(dot.tone)}" data-dot="{escape(dot.key)}" '
        f'cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{DOT_RADIUS:g}" fill="#2d5670" '
        'stroke="#fff">'
        f"<title>{escape(dot.label)}</title></circle>"
    )


def _route(points: Sequence[_Point]) -> Iterator[str]:
    if len(points) < 2:
        return
    line = "L".join(_xy(point) for point in points)
    yield (
        f'<path class="map-route" d="M{line}" fill="none" stroke="#8a5a2b" '
        'stroke-width="3" stroke-linejoin="round"/>'
    )
    for a, b in pairwise(points):
        if math.dist(a, b) < 4 * PIN_RADIUS:
            continue
        turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        yield (
            f'<path class="map-arrow" d="M-5 -5L6 0L-5 5Z" fill="#8a5a2b" '
            f'transform="translate({_xy(middle)}) rotate({turn:.0f})"/>'
        )


def _scale_bar(
    units_per_metre: float, unit: str, width: int, height: int
) -> Iterator[str]:
    length, words = scale_length(units_per_metre, unit, width / 3)
    left, base = 14.0, height - 14.0
    yield (
        f'<path class="map-scale" d="M{left:g} {base - 6:g}v6h{length:.1f}v-6" '
        'fill="none" stroke="#3b3127" stroke-width="2"/>'
    )
    yield (
        f'<text class="map-words" x="{left + length + 8:.1f}" y="{base:g}" '
        f'fill="#3b3127">{words}</text>'
    )


def _north(width: int) -> Iterator[str]:
    x = width - 22
    yield (
        f'<g class="map-north" fill="#3b3127"><path d="M{x} 10l7 18l-7 -4l-7 4Z"/>'
        f'<text x="{x}" y="43" text-anchor="middle">N</text></g>'
    )


def _home(at: _Point) -> Iterator[str]:
    yield (
        f'<g class="map-home" transform="translate({_xy(at)})">'
        '<path d="M-13 1L0 -12L13 1H9V12H-9V1Z" fill="#3b3127" stroke="#fff" '
        'stroke-width="1.5"/><title>Home</title></g>'
    )


def _pin(mark: Mark, at: _Point, label: tuple[_Point, str] | None) -> str:
    inner = (
        f"<title>{escape(mark.label)}</title>"
        f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{PIN_RADIUS:g}" fill="#1f5c4a" '
        'stroke="#fff" stroke-width="2"/>'
        f'<text class="map-number" x="{at[0]:.1f}" y="{at[1] + 5:.1f}" fill="#fff" '
        f'text-anchor="middle" font-weight="bold">{escape(mark.number)}</text>'
    )
    if label:
        inner += _label(mark.label, label)
    named = f'class="map-pin {escape(mark.tone)}" data-mark="{escape(mark.key)}"'
    if mark.href:
        return f'<a href="{escape(mark.href)}" {named}>{inner}</a>'
    return f"<g {named}>{inner}</g>"


def _label(text: str, label: tuple[_Point, str]) -> str:
    (x, y), anchor = label
    return (
        f'<text class="map-label" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" '
        f'fill="#3b3127" stroke="#f3efe6" stroke-width="4" paint-order="stroke">'
        f"{escape(_short(text))}</text>"
    )


def _short(label: str) -> str:
    if len(label) <= LABEL_LETTERS:
        return label
    return label[: LABEL_LETTERS - 1].rstrip() + "…"


def _apart(
    spots: Sequence[_Point], fixed: Sequence[_Point], width: float, height: float
) -> list[_Point]:
    """The pins pushed apart until none covers another or home (a leader line then
    leads to the true spot)."""
    pins = list(spots)
    least = 2 * PIN_RADIUS + 2
    for _ in range(200):
        moved = False
        for i in range(len(pins)):
            for other in [*fixed, *pins[:i]]:
                gap = math.dist(pins[i], other)
                if gap < least - 1e-6:
                    pins[i] = _pushed(pins[i], other, least - gap, turn=i)
                    moved = True
            x, y = pins[i]
            edge = PIN_RADIUS + 3
            pins[i] = min(max(x, edge), width - edge), min(max(y, edge), height - edge)
        if not moved:
            break
    return pins


def _pushed(pin: _Point, other: _Point, by: float, *, turn: int) -> _Point:
    dx, dy = pin[0] - other[0], pin[1] - other[1]
    gap = math.hypot(dx, dy)
    if gap < 1e-9:  # one spot: leave it in a direction of one's own
        angle = turn * 2.4
        dx, dy, gap = math.cos(angle), math.sin(angle), 1.0
    return pin[0] + dx / gap * by, pin[1] + dy / gap * by


@dataclass(frozen=True, slots=True)
class _Spot:
    """What a name stands beside, and keeps off: so many units about a point."""

    text: str
    at: _Point
    radius: float


def _labels(
    spots: Sequence[_Spot], fixed: Sequence[_Spot], width: int, height: int
) -> list[tuple[_Point, str] | None]:
    """A place for each spot's name where it meets no spot and no other name; else
    None."""
    frame = _Box(4, 4, width - 4, height - 30)
    taken = [_around(one.at, one.radius + 1) for one in spots]
    taken.append(_Box(width - 36, 4, width, 48))  # the north arrow
    taken += [_around(one.at, one.radius) for one in fixed]
    found: list[tuple[_Point, str] | None] = []
    for one in spots:
        for anchor, at, box in _candidates(_short(one.text), one.at, one.radius):
            if box.within(frame) and not any(box.meets(other) for other in taken):
                taken.append(box)
                found.append((at, anchor))
                break
        else:
            found.append(None)
    return found


def _around(point: _Point, reach: float) -> _Box:
    x, y = point
    return _Box(x - reach, y - reach, x + reach, y + reach)


def _candidates(
    text: str, pin: _Point, radius: float
) -> Iterator[tuple[str, _Point, _Box]]:
    """Right, left, below, above, then the corners: (anchor, base point, its box)."""
    # Estimated: no font is measured here, and sans-serif letters average about half
    # of their size; a little more keeps names apart.
    long = len(text) * FONT_SIZE * 0.58
    x, y = pin
    beside, drop = radius + 4, FONT_SIZE * 0.36
    below, above = radius + FONT_SIZE, -radius - 5
    spots = (
        ("start", beside, drop),
        ("end", -beside, drop),
        ("middle", 0.0, below),
        ("middle", 0.0, above),
        ("start", radius * 0.7, below - 3),
        ("end", -radius * 0.7, below - 3),
        ("start", radius * 0.7, above + 3),
        ("end", -radius * 0.7, above + 3),
    )
    for anchor, dx, dy in spots:
        at = (x + dx, y + dy)
        left = at[0] - {"start": 0.0, "middle": long / 2, "end": long}[anchor]
        box = _Box(left, at[1] - FONT_SIZE * 0.8, left + long, at[1] + 3)
        yield anchor, at, box
