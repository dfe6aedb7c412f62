"""A foot plan from the ground side: wall, shoe, nails, wall on steel. Pure.

Toe up; a left foot has its medial side at the left, a right foot at the right, and
both sides carry their word. Colours of the wall on steel are safe for colour-blind
eyes (blue to orange, after Okabe and Ito), and each place has its per cent beside it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import hypot
from typing import Any

from horses.drawing import pen
from horses.hoof import FOOT_NAMES
from horses.shoe.plan import PLACE_NAMES, PLACES

WIDE, HIGH = 340.0, 330.0
TOP, ROOM = 34.0, 232.0
"""Where the toe lies, and the height that the foot and its heels may take."""

BOX = f"0 0 {WIDE:.0f} {HIGH:.0f}"
SMALL_BOX = "52 22 236 254"
"""The paper, and what of it is shown where there are no words."""

SCALE: tuple[tuple[float, str, str], ...] = (
    (95.0, "#0072b2", "all on steel"),
    (70.0, "#56b4e9", "most on steel"),
    (40.0, "#f0c419", "half on steel"),
    (0.0, "#d55e00", "little or none"),
)
"""From so many per cent: the colour and its word, best first."""

SOUND = "#7a1fa2"
FIRST_LABEL_AWAY = 17.0


@dataclass(frozen=True, slots=True)
class PlanPicture:
    """What is drawn: the document of a plan and what it came to (``reckon shoe``).

    ``before``: the answer of the plan it is held against, drawn as a dashed line.
    ``clips``: in the trade's words: ``toe``, ``quarter``, ``toe and quarter``.
    """

    document: Mapping[str, Any]
    answer: Mapping[str, Any]
    before: Mapping[str, Any] | None = None
    clips: str = ""


def shade(percent: float) -> tuple[str, str]:
    """Colour and word for so much wall on steel."""
    return next((colour, word) for least, colour, word in SCALE if percent >= least)


Points = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class _Paper:
    """From a foot's millimetres to the drawing's units; its lines cut at the toe."""

    scale: float
    turn: int
    halves: Mapping[tuple[str, str], Points]

    def point(self, x: float, y: float) -> pen.Point:
        return WIDE / 2 + self.turn * x * self.scale, TOP + y * self.scale

    def line(self, points: Sequence[Sequence[float]]) -> list[pen.Point]:
        return [self.point(x, y) for x, y in points]


def _paper(picture: PlanPicture) -> _Paper:
    outlines = picture.answer["outlines_mm"]
    points = [point for line in outlines.values() for point in line]
    wide = 2 * max(abs(x) for x, _ in points)
    high = max(y for _, y in points) - min(0.0, *(y for _, y in points))
    halves: dict[tuple[str, str], Points] = {}
    for name, line in outlines.items():
        halves[name, "medial"], halves[name, "lateral"] = _halves(line)
    turn = -1 if picture.document["foot"].startswith("R") else 1
    return _Paper(min(ROOM / high, (WIDE - 132) / wide), turn, halves)


def _halves(line: Sequence[Sequence[float]]) -> tuple[Points, Points]:
    """The medial and the lateral branch of a round line, each from the toe, where it
    crosses the midline."""
    points = [(float(x), float(y)) for x, y in line]
    middle = next((i for i, (x, _) in enumerate(points) if x == 0), len(points) // 2)
    return points[middle::-1], points[middle:]


def _d(points: Sequence[pen.Point]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _cut(
    line: Sequence[Sequence[float]], start: float, stop: float
) -> list[tuple[float, float]]:
    """The part of a branch's line between two distances from the toe."""
    found: list[tuple[float, float]] = []
    for (x0, y0), (x1, y1) in pairwise(line):
        low, high = max(y0, start), min(y1, stop)
        if y1 <= y0 or low > high:
            continue
        for y in (low, high):
            share = (y - y0) / (y1 - y0)
            point = (x0 + share * (x1 - x0), y)
            if not found or hypot(point[0] - found[-1][0], y - found[-1][1]) > 1e-6:
                found.append(point)
    return found


def _from_toe(document: Mapping[str, Any], place: str) -> float:
    hoof = document["hoof"]
    if place == "toe":
        return 0.0
    if place.endswith("toe_quarter"):
        return float(hoof["widest_from_toe_mm"]) / 2
    if place.endswith("quarter"):
        return float(hoof["widest_from_toe_mm"])
    return float(hoof["length_mm"])


def _zones(document: Mapping[str, Any], side: str) -> list[tuple[str, float, float]]:
    """Each place of a branch with the stretch that is coloured by it."""
    places = ("toe", f"{side}_toe_quarter", f"{side}_quarter", f"{side}_heel")
    at = [_from_toe(document, place) for place in places]
    ends = [0.0, *((a + b) / 2 for a, b in pairwise(at)), at[-1]]
    return list(zip(places, ends, ends[1:], strict=False))


def _inward(points: list[tuple[float, float]], by: float, side: str) -> list[pen.Point]:
    """A branch's line moved toward the middle of the foot, in mm."""
    sign = 1 if side == "lateral" else -1
    return pen.offset(points, lambda i: by * sign)


def _band(picture: PlanPicture, paper: _Paper) -> str:
    """The sound wall, coloured by how much of it lies over steel."""
    wall = float(picture.document["hoof"]["sound_wall_mm"])
    drawn = []
    for side in ("medial", "lateral"):
        line = paper.halves["sound", side]
        for place, start, stop in _zones(picture.document, side):
            part = _cut(line, start, stop)
            if len(part) < 2:
                continue
            colour, _ = shade(picture.answer["wall_on_steel_percent"][place])
            drawn.append(
                pen.path(
                    _d(paper.line(_inward(part, wall / 2, side))),
                    fill="none",
                    stroke=colour,
                    stroke_width=wall * paper.scale,
                    opacity="0.82",
                )
            )
    return "".join(drawn)


def _steel(picture: PlanPicture, paper: _Paper) -> str:
    outlines, shoe = picture.answer["outlines_mm"], picture.document["shoe"]
    alloy = shoe["metal"] == "aluminium"
    fill, edge = (pen.ALLOY, pen.ALLOY_EDGE) if alloy else (pen.STEEL, pen.STEEL_EDGE)
    ring = [*outlines["outer"], *reversed(outlines["inner"])]
    return pen.path(
        _d(paper.line(ring)) + "Z",
        fill=fill,
        stroke=edge,
        stroke_width=1.6,
        stroke_linejoin="round",
    )


def _fuller(picture: PlanPicture, paper: _Paper) -> str:
    shoe, drawn = picture.document["shoe"], []
    for side in ("medial", "lateral"):
        length = picture.answer["fuller_mm"][side]
        last = shoe["nails"]["last_nail_from_toe_mm"][side]
        line = paper.halves["outer", side]
        part = _long(_cut(line, 0.15 * last, 1e6), length)
        if length <= 0 or len(part) < 2:
            continue
        web = shoe["section"]["width_mm"]
        drawn.append(
            pen.path(
                _d(paper.line(_inward(part, 0.45 * web, side))),
                fill="none",
                stroke=pen.STEEL_DARK,
                stroke_width=max(0.2 * web * paper.scale, 2.0),
                stroke_linecap="round",
            )
        )
    return "".join(drawn)


def _long(points: list[tuple[float, float]], most: float) -> list[tuple[float, float]]:
    """As much of a line as is ``most`` mm long."""
    kept, gone = points[:1], 0.0
    for (x0, y0), (x1, y1) in pairwise(points):
        step = hypot(x1 - x0, y1 - y0)
        if gone + step >= most:
            share = (most - gone) / step
            return [*kept, (x0 + share * (x1 - x0), y0 + share * (y1 - y0))]
        kept.append((x1, y1))
        gone += step
    return kept


def _toe(picture: PlanPicture, paper: _Paper) -> str:
    """A bright crescent: over half the web if rolled, all of it and ribbed if rockered."""
    shoe = picture.document["shoe"]
    toe, web = shoe["toe"], float(shoe["section"]["width_mm"])
    if toe["treatment"] not in ("rolled", "rocker"):
        return ""
    depth = web * (0.45 if toe["treatment"] == "rolled" else 0.95)
    reach = _from_toe(picture.document, "medial_toe_quarter") * 0.6
    middle = _from_toe(picture.document, toe["at"])
    drawn = []
    for side in ("medial", "lateral"):
        if toe["at"] != "toe" and not toe["at"].startswith(side):
            continue
        line = paper.halves["outer", side]
        part = _cut(line, middle - reach, middle + reach)
        if len(part) < 2:
            continue
        drawn.append(
            pen.path(
                _d(paper.line(_inward(part, depth / 2, side))),
                fill="none",
                stroke="#e2e7ea",
                stroke_width=depth * paper.scale,
                opacity="0.75",
                **({} if toe["treatment"] == "rolled" else {"stroke_dasharray": "3 2"}),
            )
        )
    return "".join(drawn)


def _clips(picture: PlanPicture, paper: _Paper) -> str:
    """Clips drawn up over the wall: at the toe, at the quarters, or both."""
    places: list[tuple[str, float]] = []
    if "toe" in picture.clips:
        places.append(("medial", 0.0))
    if "quarter" in picture.clips:
        # Ahead of the quarters, where they are drawn without meeting the nails' heads.
        where = 0.75 * _from_toe(picture.document, "medial_quarter")
        places += [("medial", where), ("lateral", where)]
    shoe = picture.document["shoe"]
    alloy = shoe["metal"] == "aluminium"
    middle = paper.point(0, float(picture.document["hoof"]["length_mm"]) / 2)
    drawn = []
    for side, where in places:
        line = paper.halves["outer", side]
        part = _cut(line, where, where + 1) if where else []
        x, y = paper.point(*(part or line)[0])
        away = hypot(x - middle[0], y - middle[1]) or 1.0
        ux, uy = (x - middle[0]) / away, (y - middle[1]) / away
        left, right = ((x - s * uy * 9, y + s * ux * 9) for s in (-1, 1))
        drawn.append(
            pen.path(
                f"M{pen.at(left)}Q{pen.at((x + ux * 13, y + uy * 13))} {pen.at(right)}Z",
                fill=pen.ALLOY if alloy else pen.STEEL,
                stroke=pen.ALLOY_EDGE if alloy else pen.STEEL_EDGE,
                stroke_width=1.4,
            )
        )
    return "".join(drawn)


def _nails(picture: PlanPicture, paper: _Paper) -> str:
    spots = [
        paper.point(x, y)
        for nails in picture.answer["nails_at_mm"].values()
        for x, y in nails
    ]
    return "".join(
        pen.tag(
            "circle", cx=x, cy=y, r=3.6, fill=pen.NAIL, stroke="#fff", stroke_width=1.4
        )
        for x, y in spots
    )


def _ground(picture: PlanPicture, paper: _Paper) -> str:
    """The foot under the shoe: horn as it is, and the sole within."""
    outlines = picture.answer["outlines_mm"]
    wall = float(picture.document["hoof"]["sound_wall_mm"])
    horn = _d(paper.line(outlines["wall"])) + "Z"
    inside = [
        *_inward(paper.halves["sound", "medial"], wall, "medial")[::-1],
        *_inward(paper.halves["sound", "lateral"], wall, "lateral"),
    ]
    return pen.path(
        horn, fill=pen.HORN, stroke=pen.HORN_EDGE, stroke_width=1.6
    ) + pen.path(
        _d(paper.line(inside)) + "Z",
        fill=pen.SOLE,
        stroke=pen.SOLE_EDGE,
        stroke_width=1.0,
    )


def _frog(picture: PlanPicture, paper: _Paper) -> str:
    """A frog for the eye to hold on to; it is not measured."""
    hoof = picture.document["hoof"]
    wide, long = float(hoof["width_mm"]) * 0.2, float(hoof["length_mm"])
    one, two = paper.point(-wide, long * 0.97), paper.point(wide, long * 0.97)
    shape = (
        f"M{pen.at(paper.point(0, long * 0.42))}"
        f"Q{pen.at(paper.point(-wide * 0.7, long * 0.7))} {pen.at(one)}"
        f"Q{pen.at(paper.point(0, long * 1.04))} {pen.at(two)}"
        f"Q{pen.at(paper.point(wide * 0.7, long * 0.7))} "
        f"{pen.at(paper.point(0, long * 0.42))}Z"
    )
    return pen.path(shape, fill=pen.FROG, stroke=pen.FROG_EDGE, opacity="0.55")


def _lines(picture: PlanPicture, paper: _Paper) -> str:
    """The sound foot's line, the wall over the steel, and what went before."""
    outlines = picture.answer["outlines_mm"]
    drawn = [
        pen.path(
            _d(paper.line(outlines["wall"])),
            fill="none",
            stroke="#2b1c10",
            stroke_width=1.3,
        ),
        pen.path(
            _d(paper.line(outlines["sound"])),
            fill="none",
            stroke=SOUND,
            stroke_width=1.6,
            stroke_dasharray="5 3",
        ),
    ]
    if picture.before is not None:
        old = picture.before["outlines_mm"]
        drawn += [
            pen.path(
                _d(paper.line(old[name])),
                fill="none",
                stroke="#fff",
                stroke_width=width,
                stroke_dasharray=dash,
            )
            for name, width, dash in (("outer", 2.4, "2 3"), ("inner", 2.0, "2 3"))
        ]
    return "".join(drawn)


def _percents(picture: PlanPicture, paper: _Paper) -> str:
    """The per cent of wall on steel beside each place."""
    drawn = []
    ahead = min(half[0][1] for half in paper.halves.values())
    top = paper.point(0, ahead)[1]
    for place in PLACES:
        side = "medial" if place.startswith("medial") else "lateral"
        where = _from_toe(picture.document, place)
        outer = paper.halves["outer", side]
        x = max((abs(x) for x, y in outer if abs(y - where) < 12), default=0.0)
        sign = 0 if place == "toe" else (-1 if side == "medial" else 1)
        px, py = paper.point(sign * x, where)
        away = paper.turn * sign * FIRST_LABEL_AWAY
        drawn.append(
            pen.word(
                f"{picture.answer['wall_on_steel_percent'][place]:.0f} %",
                px + away * 0.5,
                py + 5 if sign else top - 8,
                text_anchor="middle" if not sign else ("start" if away > 0 else "end"),
                font_size="15",
                font_weight="600",
            )
        )
    return "".join(drawn)


def describe(picture: PlanPicture) -> str:
    """The plan in words, for those who don't see it."""
    on = picture.answer["wall_on_steel_percent"]
    parts = [f"{PLACE_NAMES[place]} {on[place]:.0f} %" for place in PLACES]
    over = [
        f"{PLACE_NAMES[place]} {value:.1f} mm"
        for place, value in picture.answer["overhang_mm"].items()
        if value
    ]
    nails = picture.document["shoe"]["nails"]
    clipped = picture.clips not in ("", "none")
    said = [
        f"Wall on steel: {', '.join(parts)}.",
        f"Steel outside the wall: {', '.join(over)}." if over else "",
        f"Nails: {nails['medial']} medial, {nails['lateral']} lateral.",
        f"Clips: {picture.clips}." if clipped else "",
    ]
    return " ".join(part for part in said if part)


def plan_view(picture: PlanPicture, *, small: bool = False) -> str:
    """The plan as SVG text with presentation attributes alone; ``small`` leaves the
    words out, for rows of many."""
    foot = picture.document["foot"]
    paper = _paper(picture)
    name = FOOT_NAMES[foot].capitalize()
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" '
            f'viewBox="{SMALL_BOX if small else BOX}" class="plan-ground" role="img" '
            f'data-foot="{foot}">'
        ),
        f"<title>{name} foot, plan from the ground side</title>",
        f"<desc>{escape(describe(picture))}</desc>",
        _ground(picture, paper),
        _frog(picture, paper),
        _steel(picture, paper),
        _toe(picture, paper),
        _fuller(picture, paper),
        _band(picture, paper),
        _lines(picture, paper),
        _clips(picture, paper),
        _nails(picture, paper),
    ]
    if not small:
        parts += [_percents(picture, paper), _words(foot, paper)]
    return "".join([*parts, "</svg>"])


def _words(foot: str, paper: _Paper) -> str:
    left, right = ("medial", "lateral") if paper.turn > 0 else ("lateral", "medial")
    low = HIGH - 10
    return "".join(
        (
            pen.word(left, 6.0, low, text_anchor="start"),
            pen.word(right, WIDE - 6, low, text_anchor="end"),
            pen.word(
                foot,
                WIDE / 2,
                low,
                font_size="24",
                font_weight="700",
                text_anchor="middle",
            ),
        )
    )
