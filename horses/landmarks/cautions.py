"""What to mind about a marked photo: what its marks show of camera and scale. Pure.

The limits are ours. A caution is given past its limit, and only where the figure is
clearly not nought for the spread of its marks.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import atan, atan2, cos, degrees, radians, tan

from horses.hoof import FOOT_NAMES, Figure, Foot
from horses.landmarks.frames import (
    GROUND,
    HEELS,
    ON_GROUND,
    WALLS,
    Reckon,
    Seen,
    axis_of,
    spread,
)
from horses.landmarks.spots import LABELS, SCALE_LINE

APART_PX = 8.0
"""Two marks of one line nearer than this, as shown, tell no direction."""
SCALE_APART_PX = 40.0
"""The least length of the scale, as shown."""
LEVEL_DEG = 2.0
PARALLEL_DEG = 2.0
ASKEW_DEG = 5.0
UNEVEN = 0.05
LIKELY_MM = (50.0, 220.0)
"""Width or length of a horse's foot outside this is more likely a wrong scale."""
_CLEAR = 2.0
"""How many sd from nought a figure must be."""
_TURNED_DEG = 10.0

Line = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to look at again. ``is_refusal``: a figure was left out because of it."""

    code: str
    sentence: str
    is_refusal: bool = False


def turned_reading_deg(true_deg: float, turned_deg: float) -> float:
    """How an angle to the ground reads on a photo of a foot turned about the upright by
    ``turned_deg`` from square-on: tan(seen) = tan(true) / cos(turned).
    """
    return degrees(atan(tan(radians(true_deg)) / cos(radians(turned_deg))))


def square_on_deg(seen_deg: float, turned_deg: float) -> float:
    """The inverse: what an angle that reads ``seen_deg`` is if the foot was turned."""
    return degrees(atan(tan(radians(seen_deg)) * cos(radians(turned_deg))))


def cautions(
    seen: Seen, foot: Foot | None, figures: Mapping[str, Figure]
) -> Iterator[Caution]:
    """What the marks show of the camera and the scale, and what they can't show."""
    if seen.view == "solar":
        yield from _sole(seen)
    else:
        yield from _ground(seen)
    if foot is not None and seen.view != "lateral":
        yield from _sides(seen, foot)
    yield from _scale(seen, figures)
    if (angle := figures.get("dorsal_angle_deg")) is not None:
        yield _square_on(angle.value)


def _square_on(angle_deg: float) -> Caution:
    true = square_on_deg(angle_deg, _TURNED_DEG)
    short = 100 * (1 - cos(radians(_TURNED_DEG)))
    return Caution(
        "square_on",
        "Taken square to the foot, with the camera at its height? No mark shows it. "
        f"Were the foot turned {_TURNED_DEG:.0f}° from the camera, {angle_deg:.1f}° read "
        f"here would be {true:.1f}°, and lengths along the ground {short:.1f} % longer "
        "than read.",
    )


def _apart_deg(one: Line, other: Line) -> Reckon:
    """The angle between two lines, 0 to 90°, whichever way each was marked."""

    def reckon(seen: Seen) -> float:
        first, second = (seen.at[b] - seen.at[a] for a, b in (one, other))
        turn = first / second
        return degrees(atan2(abs(turn.imag), abs(turn.real)))

    return reckon


def _marked(seen: Seen, *lines: Line) -> bool:
    """Whether these lines are marked, with ends apart."""
    return all(
        seen.has(*ends) and seen.apart_shown_px(*ends) >= APART_PX for ends in lines
    )


def _past(seen: Seen, reckon: Reckon, limit: float) -> float | None:
    """The value where it is past its limit, and clearly not nought; else None."""
    value = reckon(seen)
    return value if value > max(limit, _CLEAR * spread(seen, reckon)) else None


def _ground(seen: Seen) -> Iterator[Caution]:
    ground, foot = GROUND[seen.view], ON_GROUND[seen.view]
    walls = [ends for ends in WALLS[seen.view] if seen.has(*ends)]
    if walls and all(seen.at[top].imag < seen.at[low].imag for low, top in walls):
        yield Caution(
            "upside_down",
            "The hairline is marked lower in the picture than the ground: the picture "
            "stands on its head, or the marks are swapped.",
        )
    if not _marked(seen, ground):
        return

    def level(seen: Seen) -> float:
        line = seen.at[ground[1]] - seen.at[ground[0]]
        return degrees(atan2(abs(line.imag), abs(line.real)))

    if (tilt := _past(seen, level, LEVEL_DEG)) is not None:
        yield Caution(
            "not_level",
            f"The ground line stands {tilt:.1f}° off level: the camera was tilted or the "
            "floor slopes. Figures are taken against the marked ground, so they hold "
            "where the foot stood square on it; a photo taken level is better.",
        )
    if not _marked(seen, foot):
        return
    if (off := _past(seen, _apart_deg(foot, ground), PARALLEL_DEG)) is not None:
        ends = "toe to heel" if seen.view == "lateral" else "medial to lateral wall"
        yield Caution(
            "off_ground",
            f"The line at the ground from {ends} stands {off:.1f}° off the marked ground: "
            "the foot didn't bear flat, the camera looked down on it, or a mark is "
            "misplaced.",
        )


def _sole(seen: Seen) -> Iterator[Caution]:
    heels = ("medial_heel", "lateral_heel")
    if not _marked(seen, *HEELS, heels):
        return

    def uneven(seen: Seen) -> float:
        medial, lateral = (abs(seen.at[heel] - seen.at["toe"]) for heel in heels)
        return abs(medial - lateral) / max(medial, lateral)

    if (part := _past(seen, uneven, UNEVEN)) is not None:
        yield Caution(
            "heels_uneven",
            f"From the toe, one heel buttress lies {100 * part:.0f} % further than the "
            "other: the sole was tilted to the camera, or the foot is so. Look again "
            "before using these.",
        )
    widest = ("medial_widest", "lateral_widest")
    if not _marked(seen, widest):
        return
    if (askew := _past(seen, _apart_deg(widest, heels), ASKEW_DEG)) is not None:
        yield Caution(
            "askew",
            f"The widest part stands {askew:.0f}° off the line of the heels: the sole was "
            "tilted to the camera, or a mark is misplaced.",
        )


def _sides(seen: Seen, foot: Foot) -> Iterator[Caution]:
    """A left foot has its lateral side to the right when seen from the front or, toe
    up, from below (unless the picture is mirrored); a right foot to the left.
    """
    if seen.view == "solar":
        if not _marked(seen, *HEELS, ("medial_heel", "lateral_heel")):
            return
        up = -axis_of(seen)
        across = seen.at["lateral_heel"] - seen.at["medial_heel"]
    else:
        walls = (
            ("medial_ground", "medial_hairline"),
            ("medial_ground", "lateral_ground"),
        )
        if not _marked(seen, *walls):
            return
        up, across = (seen.at[b] - seen.at[a] for a, b in walls)
    is_to_right = -(across / up).imag > 0
    if is_to_right != foot.startswith("L"):
        yield Caution(
            "sides_swapped",
            f"On a {FOOT_NAMES[foot]}, medial and lateral look swapped: check the marks, "
            "which foot it is, and that the picture isn't mirrored.",
        )


def _scale(seen: Seen, figures: Mapping[str, Figure]) -> Iterator[Caution]:
    if seen.known_mm is None or not seen.has(*SCALE_LINE):
        yield Caution(
            "no_scale",
            "No scale yet: mark both ends of something of known length, as far from the "
            "camera as what is measured, and write its length. Until then there are "
            "angles alone.",
        )
        return
    for name in ("width_mm", "length_mm"):
        size = figures.get(name)
        if size is not None and not LIKELY_MM[0] <= size.value <= LIKELY_MM[1]:
            yield Caution(
                "scale_strange",
                f"By this scale the {LABELS[name]} is {size.value:.0f} mm: check the known "
                "length and its two ends.",
            )
