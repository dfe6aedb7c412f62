"""One foot from its lateral side, drawn to measure. Pure."""

from dataclasses import dataclass
from math import cos, radians, sin

from horses.drawing import pen
from horses.hoof import FOOT_NAMES, Foot


@dataclass(frozen=True, slots=True)
class SidePicture:
    """One foot from its lateral side, drawn to measure. Lengths mm, angles degrees."""

    foot: Foot
    dorsal_length_mm: float
    dorsal_angle_deg: float
    heel_length_mm: float | None = None
    heel_angle_deg: float | None = None
    length_mm: float | None = None
    pastern_angle_deg: float | None = None
    shod: bool = False


GROUND_Y = 122.0
SCALE = 0.86
"""Units to the millimetre: all side views share it, so that feet can be compared."""


def _arc(
    at: pen.Point, size: float, start_deg: float, end_deg: float, side: float
) -> str:
    one, two = (
        (at[0] + side * size * cos(radians(d)), at[1] - size * sin(radians(d)))
        for d in (start_deg, end_deg)
    )
    sweep = 0 if side > 0 else 1
    return f"M{pen.at(one)}A{pen.n(size)} {pen.n(size)} 0 0 {sweep} {pen.at(two)}"


@dataclass(frozen=True, slots=True)
class _Side:
    """Ground points and hairline of a foot from the side; x grows toward the toe."""

    toe: pen.Point
    heel: pen.Point
    coronet: pen.Point
    bulb: pen.Point


def _profile_of(picture: SidePicture, side: float) -> _Side:
    length = picture.length_mm or 1.5 * picture.dorsal_length_mm
    heel_length = picture.heel_length_mm or picture.dorsal_length_mm / 3
    heel_angle = radians(picture.heel_angle_deg or picture.dorsal_angle_deg)
    angle = radians(picture.dorsal_angle_deg)
    toe = ((pen.WIDE - 10.0) if side > 0 else 10.0, GROUND_Y)
    heel = (toe[0] - side * length * SCALE, GROUND_Y)

    def up(start: pen.Point, size: float, lean: float) -> pen.Point:
        return (
            start[0] - side * size * SCALE * cos(lean),
            start[1] - size * SCALE * sin(lean),
        )

    return _Side(
        toe,
        heel,
        up(toe, picture.dorsal_length_mm, angle),
        up(heel, heel_length, heel_angle),
    )


def _capsule(shape: _Side, side: float) -> str:
    top = (
        (shape.coronet[0] + shape.bulb[0]) / 2,
        (shape.coronet[1] + shape.bulb[1]) / 2 - 7,
    )
    wall = (
        f"M{pen.at(shape.toe)}L{pen.at(shape.coronet)}Q{pen.at(top)} {pen.at(shape.bulb)}"
        f"L{pen.at(shape.heel)}Z"
    )
    rings = "".join(
        f"M{pen.at(_between(shape.toe, shape.coronet, share))}"
        f"L{pen.at(_between(shape.heel, shape.bulb, share))}"
        for share in (0.35, 0.62, 0.84)
    )
    return pen.path(
        wall,
        fill=pen.HORN,
        stroke=pen.HORN_EDGE,
        stroke_width=2.0,
        stroke_linejoin="round",
    ) + pen.path(rings, fill="none", stroke="#b79a78", stroke_width=1.3, opacity="0.6")


def _between(one: pen.Point, two: pen.Point, share: float) -> pen.Point:
    return one[0] + (two[0] - one[0]) * share, one[1] + (two[1] - one[1]) * share


def _pastern(picture: SidePicture, shape: _Side, side: float) -> str:
    """The pastern above the hairline, and its axis where it was measured."""
    lean = radians(picture.pastern_angle_deg or picture.dorsal_angle_deg)
    dx, dy = -side * 40 * cos(lean), -40 * sin(lean)
    front, back = shape.coronet, _between(shape.bulb, shape.coronet, 0.2)
    high, low = (front[0] + dx, front[1] + dy), (back[0] + dx * 0.8, back[1] + dy - 2)
    skin = (
        f"M{pen.at(front)}Q{pen.at((front[0] + dx * 0.5 - side * 3, front[1] + dy * 0.5))} "
        f"{pen.at(high)}L{pen.at(low)}"
        f"Q{pen.at((back[0] + dx * 0.2 + side * 5, back[1] + dy * 0.4))} {pen.at(back)}Z"
    )
    drawn = pen.path(skin, fill="#b7a697", stroke="none", opacity="0.55")
    if picture.pastern_angle_deg is None:
        return drawn
    start = _between(shape.coronet, shape.bulb, 0.42)
    axis = f"M{pen.at(start)}L{pen.at((start[0] + dx * 1.05, start[1] + dy * 1.05))}"
    return drawn + pen.path(
        axis, fill="none", stroke="#fff", stroke_width=2.4, stroke_dasharray="6 4"
    )


def _angles(picture: SidePicture, shape: _Side, side: float) -> str:
    back = -side
    parts = [
        pen.path(
            _arc(shape.toe, 30, 0, picture.dorsal_angle_deg, back),
            fill="none",
            stroke="#fff",
            stroke_width=2.0,
        ),
        pen.word(
            f"{pen.n(picture.dorsal_angle_deg)}°",
            shape.toe[0] - side * 36,
            GROUND_Y - 7,
            fill="#fff",
            font_weight="700",
            text_anchor="end" if side > 0 else "start",
        ),
    ]
    if picture.heel_angle_deg is not None:
        parts.append(
            pen.path(
                _arc(shape.heel, 22, 0, picture.heel_angle_deg, back),
                fill="none",
                stroke="currentColor",
                stroke_width=2.0,
            )
        )
        parts.append(
            pen.word(
                f"{pen.n(picture.heel_angle_deg)}°",
                min(max(shape.heel[0] - side * 27, 52.0), pen.WIDE - 52.0),
                GROUND_Y - 4,
                font_weight="700",
                text_anchor="end" if side > 0 else "start",
            )
        )
    return "".join(parts)


def side_view(picture: SidePicture) -> str:
    """The foot from its lateral side, angles and lengths drawn to measure.

    The toe of a right foot points right, of a left foot left. The pastern is a shade
    of a usual one unless its angle was measured; heel and bearing length likewise.
    """
    side = 1.0 if picture.foot.startswith("R") else -1.0
    shape = _profile_of(picture, side)
    name = FOOT_NAMES[picture.foot].capitalize()
    said = [f"Dorsal wall {pen.n(picture.dorsal_angle_deg)} degrees to the ground"]
    if picture.heel_angle_deg is not None:
        said.append(f"heel {pen.n(picture.heel_angle_deg)} degrees")
    if picture.pastern_angle_deg is not None:
        said.append(f"pastern {pen.n(picture.pastern_angle_deg)} degrees")
    shoe = ""
    if picture.shod:
        left, right = sorted((shape.toe[0] - side * 3, shape.heel[0] - side * 6))
        shoe = pen.tag(
            "rect",
            x=left,
            y=GROUND_Y,
            width=right - left,
            height=8.0,
            rx=3.0,
            fill=pen.STEEL,
            stroke=pen.STEEL_EDGE,
            stroke_width=1.5,
        )
    ground = GROUND_Y + (8 if picture.shod else 0)
    return "".join(
        (
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {pen.WIDE} 142" '
                f'class="foot-side" role="img" data-foot="{picture.foot}">'
            ),
            f"<title>{name} foot from the side</title>",
            f"<desc>{', '.join(said)}.</desc>",
            _pastern(picture, shape, side),
            _capsule(shape, side),
            shoe,
            pen.path(
                f"M4 {pen.n(ground + 1)}H{pen.WIDE - 4}",
                stroke="currentColor",
                stroke_width=2.0,
                opacity="0.55",
            ),
            _angles(picture, shape, side),
            "</svg>",
        )
    )
