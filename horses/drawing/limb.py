"""One limb seen from the front (a hind limb from behind), with how it is built. Pure.

Deviations are drawn larger than life, by their grade, and the drawing says so in words:
it shows which way, not how much. Left and right mirror each other; medial and lateral
carry their words, and the horse's midline is drawn.
"""

from dataclasses import dataclass
from html import escape
from math import cos, radians, sin

from horses.conformation import Built, words
from horses.drawing import pen
from horses.hoof import FOOT_NAMES, Foot

WIDE, HIGH = 220, 346
MIDDLE = 110.0
LEAN_DEG = {"slight": 7.0, "moderate": 12.0, "marked": 18.0}
TURN_DEG = {"slight": 14.0, "moderate": 24.0, "marked": 36.0}
STEP = {"slight": 7.0, "moderate": 12.0, "marked": 17.0}
"""How a grade is drawn, far over its size on a horse: ours, for the eye alone."""
UNGRADED = "moderate"
NOT_TO_MEASURE = "Drawn larger than life, not to measure"

_TOP_Y = 14.0
_UPPER, _CANNON, _PASTERN, _HOOF = 92.0, 78.0, 26.0, 34.0
_HALF = {"upper": 15.0, "joint": 13.0, "cannon": 9.0, "fetlock": 12.5, "pastern": 9.5}
_COAT, _COAT_EDGE, _JOINT = "#b89f83", "#5c4735", "#d3bfa6"


@dataclass(frozen=True, slots=True)
class LimbPicture:
    """One limb to draw, with what is said of it, in the order of its list."""

    limb: Foot
    built: tuple[Built, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """The limb's middle line: (lateral, down) of each joint, lateral positive."""

    top: pen.Point
    joint_above: pen.Point
    joint: pen.Point
    fetlock_above: pen.Point
    fetlock: pen.Point
    coronet: pen.Point
    ground: pen.Point
    turn_deg: float


def _sign(direction: str) -> float:
    if direction in ("valgus", "toes_out", "base_wide", "lateral"):
        return 1.0
    if direction in ("varus", "toes_in", "base_narrow", "medial"):
        return -1.0
    return 0.0


def _sum(
    picture: LimbPicture, sizes: dict[str, float], kind: str, *places: str
) -> float:
    return sum(
        _sign(b.direction) * sizes.get(b.grade, sizes[UNGRADED])
        for b in picture.built
        if b.kind == kind and (not places or b.place in places)
    )


def _down(start: pen.Point, length: float, lean_deg: float) -> pen.Point:
    angle = radians(lean_deg)
    return start[0] + length * sin(angle), start[1] + length * cos(angle)


def line_of(picture: LimbPicture) -> Line:
    """Where the limb runs, in the drawing's units, lateral positive, from the top.

    Valgus leans the part below the joint laterally, varus medially; base narrow brings
    the whole limb in as it goes down.
    """
    stance = _sum(picture, LEAN_DEG, "stance") / 2
    middle = "carpus" if picture.limb.endswith("F") else "tarsus"
    lean = stance
    top = (0.0, _TOP_Y)
    above = _down(top, _UPPER, lean)
    joint = (above[0] + _sum(picture, STEP, "offset", middle), above[1])
    lean += _sum(picture, LEAN_DEG, "angular", middle)
    fetlock_above = _down(joint, _CANNON, lean)
    fetlock = (
        fetlock_above[0] + _sum(picture, STEP, "offset", "fetlock"),
        fetlock_above[1],
    )
    lean += _sum(picture, LEAN_DEG, "angular", "fetlock")
    coronet = _down(fetlock, _PASTERN, lean)
    ground = _down(coronet, _HOOF, lean / 2)
    return Line(
        top,
        above,
        joint,
        fetlock_above,
        fetlock,
        coronet,
        ground,
        _sum(picture, TURN_DEG, "axial_rotation"),
    )


def _side(limb: Foot) -> float:
    """+1 where the lateral side is at the right: a left fore from the front, a right
    hind from behind.
    """
    return 1.0 if limb in ("LF", "RH") else -1.0


class _Sheet:
    """The paper: turns (lateral, down) into the picture's points, kept within it."""

    def __init__(self, picture: LimbPicture, line: Line) -> None:
        self.side = _side(picture.limb)
        self.is_hind = picture.limb.endswith("H")
        spread = [p[0] for p in (line.joint, line.fetlock, line.coronet, line.ground)]
        self.shift = -(max(0.0, *spread) + min(0.0, *spread)) / 2

    def at(self, point: pen.Point, across: float = 0.0) -> pen.Point:
        return MIDDLE + self.side * (point[0] + self.shift + across), point[1]

    def band(self, one: pen.Point, other: pen.Point, wide: float, end: float) -> str:
        corners = (
            self.at(one, -wide),
            self.at(one, wide),
            self.at(other, end),
            self.at(other, -end),
        )
        return pen.path(
            "M" + "L".join(pen.at(corner) for corner in corners) + "Z",
            fill=_COAT,
            stroke=_COAT_EDGE,
            stroke_width=1.6,
            stroke_linejoin="round",
        )

    def knob(self, point: pen.Point, half: float, tall: float) -> str:
        x, y = self.at(point)
        return pen.tag(
            "ellipse",
            cx=x,
            cy=y,
            rx=half,
            ry=tall,
            fill=_JOINT,
            stroke=_COAT_EDGE,
            stroke_width=1.6,
        )


def _leg(sheet: _Sheet, line: Line) -> str:
    half = _HALF
    return "".join(
        (
            sheet.band(
                line.top, line.joint_above, half["upper"] + 5, half["cannon"] + 2
            ),
            sheet.band(line.joint, line.fetlock_above, half["cannon"], half["cannon"]),
            sheet.band(
                line.fetlock, line.coronet, half["pastern"], half["pastern"] + 4
            ),
            sheet.knob(line.joint_above, half["joint"] + 2, 9.0),
            sheet.knob(line.joint, half["joint"], 10.0),
            sheet.knob(line.fetlock, half["fetlock"], 9.5),
        )
    )


def _hoof(sheet: _Sheet, line: Line) -> str:
    corners = (
        sheet.at(line.coronet, -15),
        sheet.at(line.coronet, 15),
        sheet.at(line.ground, 21),
        sheet.at(line.ground, -21),
    )
    wall = pen.path(
        "M" + "L".join(pen.at(corner) for corner in corners) + "Z",
        fill=pen.HORN,
        stroke=pen.HORN_EDGE,
        stroke_width=2.0,
        stroke_linejoin="round",
    )
    if sheet.is_hind:
        return wall + _bulbs(sheet, line)
    toe = min(max(line.turn_deg / 2.2, -15.0), 15.0)
    ridge = f"M{pen.at(sheet.at(line.coronet, toe * 0.7))}L{pen.at(sheet.at(line.ground, toe))}"
    return wall + pen.path(
        ridge,
        fill="none",
        stroke=pen.WHITE_LINE,
        stroke_width=2.5,
        stroke_dasharray="4 3",
    )


def _bulbs(sheet: _Sheet, line: Line) -> str:
    """From behind the heels are seen, not the toe."""
    x, y = sheet.at(line.coronet)
    low = sheet.at((line.ground[0], line.ground[1] - 9))
    return "".join(
        pen.path(
            f"M{pen.at((x, y + 3))}C{pen.at((x + out * 16, y + 1))} "
            f"{pen.at((low[0] + out * 19, low[1]))} {pen.at(low)}Z",
            fill=pen.BULB,
            stroke=pen.HORN_EDGE,
            stroke_width=1.2,
        )
        for out in (-1, 1)
    )


def _print(sheet: _Sheet, line: Line, limb: Foot) -> str:
    """The hoof's print from above, turned as the toe points, and an arrow from it."""
    toward = 1.0 if limb.endswith("F") else -1.0
    x, _ = sheet.at(line.ground)
    y = 277.0 if toward > 0 else 292.0
    angle = radians(line.turn_deg)

    def turned(across: float, ahead: float) -> pen.Point:
        lateral = across * cos(angle) + ahead * sin(angle)
        forward = ahead * cos(angle) - across * sin(angle)
        return x + sheet.side * lateral, y + toward * forward

    outline = [
        turned(a, f)
        for a, f in (
            (-12, -11),
            (-15, 0),
            (-11, 11),
            (0, 16),
            (11, 11),
            (15, 0),
            (12, -11),
        )
    ]
    tip = turned(0, 27)
    return "".join(
        (
            pen.path(
                pen.smooth(outline) + "Z",
                fill=pen.SOLE,
                stroke=pen.HORN_EDGE,
                stroke_width=1.6,
            ),
            pen.path(
                f"M{pen.at(turned(0, -8))}L{pen.at(tip)}M{pen.at(turned(-5, 20))}"
                f"L{pen.at(tip)}L{pen.at(turned(5, 20))}",
                fill="none",
                stroke=pen.MARK,
                stroke_width=2.4,
                stroke_linejoin="round",
                stroke_linecap="round",
            ),
        )
    )


def _spot(line: Line, place: str) -> pen.Point:
    return {
        "carpus": line.joint,
        "tarsus": line.joint,
        "cannon": (
            (line.joint[0] + line.fetlock_above[0]) / 2,
            (line.joint[1] + line.fetlock_above[1]) / 2,
        ),
        "fetlock": line.fetlock,
        "pastern": line.coronet,
        "foot": (line.ground[0], line.ground[1] - 8),
    }.get(place, (line.top[0], line.top[1] + 40))


def _marks(sheet: _Sheet, line: Line, picture: LimbPicture) -> str:
    drawn, taken = [], dict[str, int]()
    for number, built in enumerate(picture.built, start=1):
        again = taken.get(built.place, 0)
        taken[built.place] = again + 1
        x, y = sheet.at(_spot(line, built.place), 30 + 22 * again)
        x = min(max(x, 13.0), WIDE - 13.0)
        drawn.append(
            pen.tag(
                "circle",
                cx=x,
                cy=y,
                r=11.0,
                fill=pen.MARK,
                stroke="#fff",
                stroke_width=2.0,
            )
        )
        drawn.append(
            pen.word(
                str(number),
                x,
                y + 5,
                fill="#fff",
                font_size="15",
                font_weight="700",
                text_anchor="middle",
            )
        )
    return "".join(drawn)


def describe(picture: LimbPicture) -> str:
    """The drawing in words, for those who don't see it."""
    if not picture.built:
        return "Nothing noted: drawn straight."
    said = [f"{i}: {words(built)}." for i, built in enumerate(picture.built, 1)]
    return " ".join((*said, f"{NOT_TO_MEASURE}."))


def _ends(limb: Foot) -> str:
    """The words medial and lateral, and the horse's midline at the medial edge."""
    left, right = ("medial", "lateral") if _side(limb) > 0 else ("lateral", "medial")
    edge = 5.0 if _side(limb) > 0 else WIDE - 5.0
    return "".join(
        (
            pen.path(
                f"M{pen.at((edge, 6))}L{pen.at((edge, HIGH - 32.0))}",
                fill="none",
                stroke="currentColor",
                stroke_width=1.2,
                stroke_dasharray="7 5",
                opacity="0.6",
            ),
            pen.word(left, 10.0, HIGH - 7.0),
            pen.word(right, WIDE - 10.0, HIGH - 7.0, text_anchor="end"),
        )
    )


def limb_view(picture: LimbPicture) -> str:
    """The limb as SVG: a fore limb from the front, a hind limb from behind.

    Numbers follow the order of ``built``. The dotted line is the plumb line from the
    top of the limb, the dashed one at the edge the horse's midline. What is seen from
    the side alone has its number at its place.
    """
    line = line_of(picture)
    sheet = _Sheet(picture, line)
    seen_from = "the front" if picture.limb.endswith("F") else "behind"
    plumb = sheet.at(line.top)
    return "".join(
        (
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" '
                f'class="limb-front" role="img" data-limb="{picture.limb}">'
            ),
            f"<title>{FOOT_NAMES[picture.limb].capitalize()} limb from {seen_from}</title>",
            f"<desc>{escape(describe(picture))}</desc>",
            _leg(sheet, line),
            _hoof(sheet, line),
            _print(sheet, line, picture.limb),
            pen.path(
                f"M{pen.at(plumb)}L{pen.at((plumb[0], 254.0))}",
                fill="none",
                stroke="currentColor",
                stroke_width=1.4,
                stroke_dasharray="1.5 4",
                stroke_linecap="round",
            ),
            _marks(sheet, line, picture),
            _ends(picture.limb),
            pen.word(
                picture.limb,
                MIDDLE,
                HIGH - 6.0,
                font_size="22",
                font_weight="700",
                text_anchor="middle",
            ),
            "</svg>",
        )
    )
