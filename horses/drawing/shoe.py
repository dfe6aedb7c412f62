"""The shoe on a foot, from the ground side. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, pi, sin

from horses.drawing import pen
from horses.drawing.outline import Shape


@dataclass(frozen=True, slots=True)
class ShoePicture:
    """What of a shoe is drawn. Words are the record's; unknown ones draw nothing."""

    profile: str = ""
    metal: str = "steel"
    style: str = ""
    toe_treatment: str = ""
    toe_place: str = "toe"
    clips: str = ""
    pad: str = ""
    nails_medial: int = 0
    nails_lateral: int = 0


def _toe_share(i: int, count: int, at: float) -> float:
    """1 at the toe place, nothing a quarter of the way round from it."""
    away = abs(i / (count - 1) - at)
    return max(0.0, 1 - away / 0.17)


def _toe_place(shoe: ShoePicture, wall: Sequence[pen.Point], shape: Shape) -> float:
    """Where along the wall's line (0 … 1, left heel to right heel) the toe is treated."""
    if shoe.toe_place not in ("medial_toe_quarter", "lateral_toe_quarter"):
        return 0.5
    medial_is_left = shape.side > 0
    left = (shoe.toe_place == "medial_toe_quarter") == medial_is_left
    return 0.38 if left else 0.62


def _heel(before: pen.Point, tip: pen.Point, end: pen.Point, other: pen.Point) -> str:
    """A rounded heel from one edge's ``end`` to the ``other``'s, past the buttress, the
    way the outer edge runs: from ``before`` to its ``tip``.
    """
    size = hypot(tip[0] - before[0], tip[1] - before[1])
    dx, dy = (tip[0] - before[0]) / size * 14, (tip[1] - before[1]) / size * 14
    return (
        f"C{pen.at((end[0] + dx, end[1] + dy))} "
        f"{pen.at((other[0] + dx, other[1] + dy))} {pen.at(other)}"
    )


def steel(shoe: ShoePicture, wall: Sequence[pen.Point], shape: Shape) -> str:
    """The shoe with bar, nails, clips and the mark of its toe."""
    count = len(wall)
    toe = _toe_place(shoe, wall, shape)
    under = 8.0 if shoe.toe_treatment == "set_under" else 0.0
    outer = pen.offset(wall, lambda i: 2.0 + under * _toe_share(i, count, toe))
    web = 23.0
    inner = pen.offset(
        wall, lambda i: 2.0 + web * (0.8 + 0.2 * _toe_share(i, count, 0.5))
    )
    body = (
        pen.smooth(outer)
        + _heel(outer[-2], outer[-1], outer[-1], inner[-1])
        + pen.joined(list(reversed(inner)))
        + _heel(outer[1], outer[0], inner[0], outer[0])
        + "Z"
    )
    alloy = shoe.metal == "aluminium"
    fill, edge = (pen.ALLOY, pen.ALLOY_EDGE) if alloy else (pen.STEEL, pen.STEEL_EDGE)
    return "".join(
        (
            _bar(shoe, inner, outer, shape, fill, edge),
            pen.path(
                body, fill=fill, stroke=edge, stroke_width=2.0, stroke_linejoin="round"
            ),
            _profile(shoe, wall, edge),
            _toe_mark(shoe, outer, inner, toe),
            _nails(shoe, wall, shape),
            _clips(shoe, wall, shape, fill, edge),
        )
    )


def _profile(shoe: ShoePicture, wall: Sequence[pen.Point], edge: str) -> str:
    """The ground face: a fuller's groove, a concave's slope, a half-round's ridge."""
    if shoe.profile == "fullered":
        line = pen.offset(wall, lambda i: 10.5)
        rear = len(line) - 3
        return "".join(
            pen.path(
                pen.smooth(branch),
                fill="none",
                stroke=pen.STEEL_DARK,
                stroke_width=5.0,
                stroke_linecap="round",
            )
            for branch in (
                line[2 : len(line) // 2],
                line[len(line) // 2 + 1 : rear + 1],
            )
        )
    if shoe.profile == "concave":
        line = pen.offset(wall, lambda i: 15.0)
        return pen.path(pen.smooth(line), fill="none", stroke=edge, stroke_width=1.6)
    if shoe.profile == "half_round":
        line = pen.offset(wall, lambda i: 12.0)
        return pen.path(
            pen.smooth(line),
            fill="none",
            stroke=pen.STEEL_LIGHT,
            stroke_width=4.0,
            stroke_linecap="round",
            opacity="0.8",
        )
    return ""


def _toe_mark(
    shoe: ShoePicture, outer: Sequence[pen.Point], inner: Sequence[pen.Point], at: float
) -> str:
    """A bright crescent where the toe is eased: half the web if rolled, all of it and
    ribbed if rockered; a set-under toe shows by the wall standing ahead of it.
    """
    if shoe.toe_treatment not in ("rolled", "rocker"):
        return ""
    middle = round(at * (len(outer) - 1))
    span = slice(max(middle - 3, 0), middle + 4)
    front, back = list(outer)[span], list(inner)[span]
    depth = 0.5 if shoe.toe_treatment == "rolled" else 0.9
    last = len(front) - 1
    rear = [
        (
            f[0] + (b[0] - f[0]) * depth * sin(pi * i / last),
            f[1] + (b[1] - f[1]) * depth * sin(pi * i / last),
        )
        for i, (f, b) in enumerate(zip(front, back, strict=True))
    ]
    crescent = pen.path(
        pen.smooth(front) + pen.joined(list(reversed(rear))) + "Z",
        fill="#e2e7ea",
        stroke=pen.STEEL_EDGE,
        stroke_width=1.2,
    )
    if shoe.toe_treatment == "rolled":
        return crescent
    ribs = "".join(
        f"M{pen.at(front[i])}L{pen.at(rear[i])}"
        for i in range(1, last)
        if i < len(front)
    )
    return crescent + pen.path(
        ribs, fill="none", stroke=pen.STEEL_EDGE, stroke_width=1.4
    )


def _nails(shoe: ShoePicture, wall: Sequence[pen.Point], shape: Shape) -> str:
    """Nail heads from the toe quarter to the widest part, by branch."""
    found = []
    for sign, wanted in ((-1, shoe.nails_medial), (1, shoe.nails_lateral)):
        count = min(max(wanted, 0), 8)
        first, last = (0.13, 0.52) if count < 5 else (0.1, 0.7)
        for i in range(count):
            along = first + (last - first) * (i / (count - 1) if count > 1 else 0.5)
            here = shape.at(sign * shape.half(along), along)
            next_ = shape.at(sign * shape.half(along + 0.02), along + 0.02)
            size = hypot(next_[0] - here[0], next_[1] - here[1])
            tx, ty = (next_[0] - here[0]) / size, (next_[1] - here[1]) / size
            nx, ny = (-ty, tx) if (pen.MIDDLE - here[0]) * -ty > 0 else (ty, -tx)
            x, y = here[0] + nx * 10.5, here[1] + ny * 10.5
            found.append(f"M{pen.at((x - tx * 3.4, y - ty * 3.4))}")
            found.append(f"L{pen.at((x + tx * 3.4, y + ty * 3.4))}")
    if not found:
        return ""
    line = "".join(found)
    return pen.path(
        line, stroke="#e9edf0", stroke_width=7.0, stroke_linecap="round"
    ) + pen.path(line, stroke=pen.NAIL, stroke_width=4.6, stroke_linecap="round")


def _clips(
    shoe: ShoePicture, wall: Sequence[pen.Point], shape: Shape, fill: str, edge: str
) -> str:
    """Clips drawn up over the wall: at the toe, at the quarters, or both."""
    places: list[float] = []
    if "toe" in shoe.clips:
        places.append(0.5)
    if "quarter" in shoe.clips:
        places += [0.3, 0.7]
    drawn = []
    for at in places:
        i = round(at * (len(wall) - 1))
        x, y = wall[i]
        cx, cy = pen.MIDDLE, pen.TOE_Y + pen.LENGTH * 0.5
        size = hypot(x - cx, y - cy)
        ux, uy = (x - cx) / size, (y - cy) / size
        tip = (x + ux * 15, y + uy * 15)
        left, right = (
            (x - ux * 5 + s * -uy * 12, y - uy * 5 + s * ux * 12) for s in (-1, 1)
        )
        drawn.append(
            pen.path(
                f"M{pen.at(left)}Q{pen.at(tip)} {pen.at(right)}Z",
                fill=fill,
                stroke=edge,
                stroke_width=1.6,
                stroke_linejoin="round",
            )
        )
    return "".join(drawn)


def _bar(
    shoe: ShoePicture,
    inner: Sequence[pen.Point],
    outer: Sequence[pen.Point],
    shape: Shape,
    fill: str,
    edge: str,
) -> str:
    """What joins the heels of a bar shoe: straight, egg or heart."""
    if "bar" not in shoe.style:
        return ""
    left, right = inner[0], inner[-1]
    low = left[1] + 8
    look: dict[str, str | float] = {
        "fill": fill,
        "stroke": edge,
        "stroke_width": 2.0,
        "stroke_linejoin": "round",
    }
    if "egg" in shoe.style:
        far = low + 42
        return pen.path(
            f"M{pen.at(outer[0])}C{pen.at((outer[0][0] + 6, far))} "
            f"{pen.at((outer[-1][0] - 6, far))} {pen.at(outer[-1])}L{pen.at(right)}"
            f"C{pen.at((right[0] - 4, far - 22))} {pen.at((left[0] + 4, far - 22))} "
            f"{pen.at(left)}Z",
            **look,
        )
    top = low - 16
    straight = (
        f"M{pen.at((outer[0][0] + 6, low))}L{pen.at((outer[-1][0] - 6, low))}"
        f"L{pen.at((right[0], top))}L{pen.at((left[0], top))}Z"
    )
    if "heart" not in shoe.style:
        return pen.path(straight, **look)
    tongue = (
        f"M{pen.at(shape.at(-0.34, 1.0))}Q{pen.at(shape.at(-0.2, 0.72))} "
        f"{pen.at(shape.at(0, 0.56))}Q{pen.at(shape.at(0.2, 0.72))} "
        f"{pen.at(shape.at(0.34, 1.0))}Z"
    )
    return pen.path(tongue, **look) + pen.path(straight, **look)
