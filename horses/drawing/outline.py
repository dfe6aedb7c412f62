"""A bare foot from the ground side: outline, horn, frog and bars. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin

from horses.drawing import pen


@dataclass(frozen=True, slots=True)
class Shape:
    """A foot's outline in its own terms: ``across`` −1 medial … 1 lateral."""

    half_width: float
    widest: float
    toe_power: float
    heel_share: float
    side: float

    def x(self, across: float) -> float:
        """Left or right by the foot; the lateral wall stands out a little more."""
        slant = 1.03 if across > 0 else 0.97
        return pen.MIDDLE + self.side * across * slant * self.half_width

    def y(self, along: float) -> float:
        return pen.TOE_Y + pen.LENGTH * along

    def at(self, across: float, along: float) -> pen.Point:
        return self.x(across), self.y(along)

    def half(self, along: float) -> float:
        """Half the width at ``along`` (0 toe, 1 heel), as a share of the widest."""
        if along < self.widest:
            gone = 1 - along / self.widest
            return float((1 - gone * gone) ** self.toe_power)
        gone = (along - self.widest) / (1 - self.widest)
        return 1 - (1 - self.heel_share) * float(gone**1.8)

    def wall(self) -> list[pen.Point]:
        """From the medial heel round the toe to the lateral heel."""
        steps = [0.0, 0.18, 0.36, 0.55, 0.78, 1.0]
        toe = [self.widest * (1 - cos(pi / 2 * s)) for s in steps]
        rear = [self.widest + (1 - self.widest) * s for s in (0.33, 0.66, 1.0)]
        along = toe[1:] + rear
        medial = [self.at(-self.half(v), v) for v in reversed(along)]
        lateral = [self.at(self.half(v), v) for v in along]
        return [*medial, self.at(0, 0), *lateral]

    def wall_from_left(self) -> list[pen.Point]:
        """The same from the left of the picture, so that 'inward' is one turn."""
        return self.wall() if self.side > 0 else self.wall()[::-1]


def shape_of(
    *, is_hind: bool, is_right: bool, width_mm: float | None, length_mm: float | None
) -> Shape:
    """A usual fore or hind foot, as wide for its length as measured where it was."""
    ratio = 0.88 if is_hind else 0.97
    if width_mm and length_mm:
        ratio = min(1.15, max(0.72, width_mm / length_mm))
    return Shape(
        half_width=ratio * pen.LENGTH / 2,
        widest=0.56 if is_hind else 0.5,
        toe_power=0.56 if is_hind else 0.5,
        heel_share=0.78 if is_hind else 0.76,
        side=-1.0 if is_right else 1.0,
    )


def horn(shape: Shape, wall: Sequence[pen.Point]) -> str:
    """Bulbs, wall with its white line, and sole."""
    thick = 12.0
    rear = len(wall) - 1

    def band(i: int) -> float:
        return thick * (0.72 + 0.28 * sin(pi * i / rear))

    inner = pen.offset(wall, band)
    white = pen.offset(wall, lambda i: band(i) + 3.2)
    left, right = wall[0], wall[-1]
    close = (
        f"C{pen.at((right[0] - 8, right[1] + 9))} {pen.at((left[0] + 8, left[1] + 9))} "
    )
    bulbs = (
        f"M{pen.at((left[0] + 1, left[1] - 14))}"
        f"C{pen.at((left[0] - 2, left[1] + 20))} {pen.at((left[0] + 26, left[1] + 34))} "
        f"{pen.at((pen.MIDDLE, left[1] + 14))}"
        f"C{pen.at((right[0] - 26, right[1] + 34))} {pen.at((right[0] + 2, right[1] + 20))} "
        f"{pen.at((right[0] - 1, right[1] - 14))}Z"
    )
    return "".join(
        (
            pen.path(bulbs, fill=pen.BULB, stroke=pen.HORN_EDGE, stroke_width=1.5),
            pen.path(
                pen.smooth(wall) + close + pen.at(left) + "Z",
                fill=pen.HORN,
                stroke=pen.HORN_EDGE,
                stroke_width=2.0,
                stroke_linejoin="round",
            ),
            pen.path(pen.smooth(inner) + "Z", fill=pen.WHITE_LINE),
            pen.path(
                pen.smooth(white) + "Z",
                fill=pen.SOLE,
                stroke=pen.SOLE_EDGE,
                stroke_width=1.0,
            ),
            pen.path(
                pen.smooth(pen.offset(wall, lambda i: band(i) + 9)[2:-2]),
                fill="none",
                stroke=pen.SOLE_EDGE,
                stroke_width=9.0,
                stroke_linecap="round",
                opacity="0.22",
            ),
            pen.path(
                pen.smooth(pen.offset(wall, lambda i: thick * 0.45)[1:-1]),
                fill="none",
                stroke="#b79a78",
                stroke_width=1.6,
                stroke_linecap="round",
                opacity="0.7",
            ),
        )
    )


def frog(shape: Shape) -> str:
    """Frog with its grooves, and the bars that turn in beside it."""
    parts = []
    for sign in (-1, 1):
        bar = (
            f"M{pen.at(shape.at(sign * 0.6, 0.995))}"
            f"Q{pen.at(shape.at(sign * 0.5, 0.82))} {pen.at(shape.at(sign * 0.3, 0.62))}"
        )
        parts.append(
            pen.path(
                bar,
                fill="none",
                stroke=pen.HORN_EDGE,
                stroke_width=11.0,
                stroke_linecap="round",
                opacity="0.35",
            )
        )
        parts.append(
            pen.path(
                bar,
                fill="none",
                stroke=pen.BAR_HORN,
                stroke_width=8.0,
                stroke_linecap="round",
            )
        )
    frog = (
        f"M{pen.at(shape.at(0, 0.4))}"
        f"C{pen.at(shape.at(-0.16, 0.5))} {pen.at(shape.at(-0.34, 0.8))} "
        f"{pen.at(shape.at(-0.42, 1.02))}"
        f"Q{pen.at(shape.at(-0.2, 1.13))} {pen.at(shape.at(0, 1.04))}"
        f"Q{pen.at(shape.at(0.2, 1.13))} {pen.at(shape.at(0.42, 1.02))}"
        f"C{pen.at(shape.at(0.34, 0.8))} {pen.at(shape.at(0.16, 0.5))} "
        f"{pen.at(shape.at(0, 0.4))}Z"
    )
    parts.append(
        pen.path(
            frog,
            fill=pen.FROG,
            stroke=pen.FROG_EDGE,
            stroke_width=2.0,
            stroke_linejoin="round",
        )
    )
    sulcus = (
        f"M{pen.at(shape.at(0, 0.68))}Q{pen.at(shape.at(-0.1, 0.84))} "
        f"{pen.at(shape.at(0, 1.03))}Q{pen.at(shape.at(0.1, 0.84))} {pen.at(shape.at(0, 0.68))}Z"
    )
    parts.append(pen.path(sulcus, fill=pen.GROOVE))
    return "".join(parts)
