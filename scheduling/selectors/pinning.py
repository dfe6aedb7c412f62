"""The map on which a barn's position is put: the other barns, home, a scale."""

import math
from dataclasses import dataclass
from typing import Final

from practice.geo import METRES_PER_DEGREE, Position, distance_metres
from practice.models import Barn, Practice
from scheduling.drawing import UNIT_METRES, Dot, draw_map
from scheduling.selectors.plans import home_of, position_of

REACHES_KM: Final = (100, 40, 15, 5, 2)
"""From the middle of the picture to its edge, farther to nearer. Ours."""
NEAR_KM: Final = 5


@dataclass(frozen=True, slots=True)
class PinMap:
    """The map with what the pin is told from: home first, then barns, by name and
    place. farther, nearer: reaches in km, None at the ends. metres: of one unit."""

    map: str
    landmarks: tuple[tuple[str, Position], ...]
    farther: int | None
    nearer: int | None
    unit: str
    metres: float


def pin_map(
    *, at: Position | None, reach: int | None = None, but: int | None = None
) -> PinMap | None:
    """The map about a place; without one about home, and as wide as the barns lie. None
    where neither a place nor home nor a barn is known. Two queries.

    reach: one of REACHES_KM. but: key of the barn that is being put.
    """
    practice = Practice.objects.the_one()
    home = home_of(practice)
    rows = Barn.objects.active().exclude(pk=but or 0).order_by("name", "pk")
    placed = [(barn, place) for barn in rows if (place := position_of(barn))]
    landmarks = [("home", home)] if home else []
    landmarks += [(barn.name, place) for barn, place in placed]
    if not landmarks and at is None:
        return None
    middle = at or landmarks[0][1]
    if reach not in REACHES_KM:
        far = max((distance_metres(middle, place) for _, place in landmarks), default=0)
        reach = NEAR_KM if at else _that_holds(far)
    here = REACHES_KM.index(reach)
    dots = [Dot(str(barn.pk), at, barn.name, named=True) for barn, at in placed]
    return PinMap(
        map=draw_map(
            (),
            home=home,
            dots=dots,
            measured=True,
            holds=_corners(middle, reach),
            unit=practice.road_unit,
            title="Map for putting the pin",
        ),
        landmarks=tuple(landmarks),
        farther=REACHES_KM[here - 1] if here else None,
        nearer=REACHES_KM[here + 1] if here + 1 < len(REACHES_KM) else None,
        unit=practice.road_unit,
        metres=UNIT_METRES[practice.road_unit],
    )


def _that_holds(metres: float) -> int:
    wide = [reach for reach in REACHES_KM if reach * 1000 >= metres]
    return wide[-1] if wide else REACHES_KM[0]


def _corners(middle: Position, reach_km: int) -> tuple[Position, Position]:
    """South-west and north-east of the square about a place."""
    up = reach_km * 1000 / METRES_PER_DEGREE
    across = up / max(0.05, math.cos(math.radians(middle.lat)))
    return (
        Position(max(-90.0, middle.lat - up), max(-180.0, middle.lon - across)),
        Position(min(90.0, middle.lat + up), min(180.0, middle.lon + across)),
    )
