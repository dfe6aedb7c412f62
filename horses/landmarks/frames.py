"""From marks to figures: the frame of each view, and the spread of a figure. Pure."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import chain
from math import atan2, degrees, hypot
from typing import Literal

from horses.landmarks.spots import SCALE_LINE, View


@dataclass(frozen=True, slots=True)
class Seen:
    """Marks in picture pixels as complex numbers, y up; the scale; how well both are
    known. ``shown_px``: picture pixels in one pixel as shown.
    """

    view: View
    at: Mapping[str, complex]
    known_mm: float | None
    shown_px: float
    mark_sd_px: float
    known_sd_mm: float

    def mm_per_px(self) -> float:
        """Of the picture; both scale marks and the known length are there."""
        return (self.known_mm or 0.0) / abs(
            self.at["scale_other"] - self.at["scale_one"]
        )

    def has(self, *names: str) -> bool:
        """Whether all of these are marked."""
        return all(name in self.at for name in names)

    def apart_shown_px(self, one: str, other: str) -> float:
        """How far two marks lie from each other, in pixels as shown."""
        return abs(self.at[other] - self.at[one]) / self.shown_px


Reckon = Callable[[Seen], float]


def spread(seen: Seen, reckon: Reckon) -> float:
    """The first-order sd of ``reckon``: the root of the sum of (slope × sd)² over both
    coordinates of each mark and the known length, slopes by central differences.
    """
    step = 0.01 * seen.shown_px
    parts = []
    for name, point in seen.at.items():
        for move in (complex(step, 0), complex(0, step)):
            ahead, behind = (
                reckon(replace(seen, at={**seen.at, name: moved}))
                for moved in (point + move, point - move)
            )
            parts.append((ahead - behind) / (2 * step) * seen.mark_sd_px)
    if (known := seen.known_mm) is not None and seen.has(*SCALE_LINE):
        step = known * 1e-4
        ahead, behind = (
            reckon(replace(seen, known_mm=k)) for k in (known + step, known - step)
        )
        parts.append((ahead - behind) / (2 * step) * seen.known_sd_mm)
    return hypot(*parts)


# ---- Frames ----------------------------------------------------------------------
GROUND: dict[View, tuple[str, str]] = {
    "lateral": ("ground_back", "ground_front"),
    "dorsal": ("ground_medial", "ground_lateral"),
}
ON_GROUND: dict[View, tuple[str, str]] = {
    "lateral": ("heel_ground", "toe_ground"),
    "dorsal": ("medial_ground", "lateral_ground"),
}
WALLS: dict[View, tuple[tuple[str, str], ...]] = {
    "lateral": (
        ("toe_ground", "toe_hairline"),
        ("heel_ground", "heel_hairline"),
    ),
    "dorsal": (
        ("medial_ground", "medial_hairline"),
        ("lateral_ground", "lateral_hairline"),
    ),
}


def _along(seen: Seen, view: View) -> complex:
    """The unit vector along the ground, toward the toe or toward lateral. Which of the
    two ground marks was set first doesn't matter where the foot's own marks tell.
    """
    start, end = GROUND[view]
    line = seen.at[end] - seen.at[start]
    unit = line / abs(line)
    start, end = ON_GROUND[view]
    if start in seen.at and end in seen.at:
        foot = (seen.at[end] - seen.at[start]) / unit
        return -unit if foot.real < 0 else unit
    return unit


def _local(seen: Seen, view: View, foot: str, top: str) -> complex:
    """From ``foot`` to ``top``: real part along the ground, imaginary part up. Up is
    where the walls' hairlines are; where they disagree, the picture's upper edge.
    """
    along = _along(seen, view)
    walls = [pair for pair in WALLS[view] if seen.has(*pair)]
    pairs = walls or [(foot, top)]
    ups = [((seen.at[b] - seen.at[a]) / along).imag for a, b in pairs]
    is_turned_over = along.real < 0 if min(ups) < 0 < max(ups) else max(ups) <= 0
    vector = (seen.at[top] - seen.at[foot]) / along
    return vector.conjugate() if is_turned_over else vector


def _slope(view: View, foot: str, top: str, side: Literal[1, -1]) -> Reckon:
    """Degrees against the ground of a line that leans backward (``side`` −1) or along."""

    def reckon(seen: Seen) -> float:
        vector = _local(seen, view, foot, top)
        return degrees(atan2(vector.imag, side * vector.real))

    return reckon


def _height(foot: str, top: str) -> Reckon:
    def reckon(seen: Seen) -> float:
        return _local(seen, "dorsal", foot, top).imag * seen.mm_per_px()

    return reckon


def _between(one: str, other: str) -> Reckon:
    return lambda seen: abs(seen.at[other] - seen.at[one]) * seen.mm_per_px()


def _tilt(seen: Seen) -> float:
    """How far the hairline stands off the ground's direction, to either side."""
    vector = (seen.at["lateral_hairline"] - seen.at["medial_hairline"]) / _along(
        seen, "dorsal"
    )
    return abs(degrees(atan2(vector.imag, abs(vector.real))))


def _middle(seen: Seen, one: str, other: str) -> complex:
    return (seen.at[one] + seen.at[other]) / 2


def axis_of(seen: Seen) -> complex:
    """The midline of the sole, from the toe to the middle between the buttresses."""
    return _middle(seen, "medial_heel", "lateral_heel") - seen.at["toe"]


def _sole_length(seen: Seen) -> float:
    return abs(axis_of(seen)) * seen.mm_per_px()


def _on_axis(seen: Seen, vector: complex) -> complex:
    axis = axis_of(seen)
    return vector / (axis / abs(axis))


def _sole_width(seen: Seen) -> float:
    across = seen.at["lateral_widest"] - seen.at["medial_widest"]
    return abs(_on_axis(seen, across).imag) * seen.mm_per_px()


def _widest_from_toe(seen: Seen) -> float:
    widest = _middle(seen, "medial_widest", "lateral_widest") - seen.at["toe"]
    return _on_axis(seen, widest).real * seen.mm_per_px()


def _frog_length(seen: Seen) -> float:
    base = _middle(seen, "frog_medial", "frog_lateral")
    return abs(base - seen.at["frog_apex"]) * seen.mm_per_px()


@dataclass(frozen=True, slots=True)
class Rule:
    """How one figure comes from which marks; ``ends``: marks that may not coincide."""

    name: str
    reckon: Reckon
    ends: tuple[tuple[str, str], ...]
    also: tuple[str, ...] = ()

    @property
    def is_length(self) -> bool:
        return self.name.endswith("_mm")

    @property
    def needs(self) -> frozenset[str]:
        scale = SCALE_LINE if self.is_length else ()
        return frozenset((*chain(*self.ends), *self.also, *scale))


def _wall(
    angle: str, length: str, view: View, foot: str, top: str
) -> tuple[Rule, Rule]:
    return (
        Rule(angle, _slope(view, foot, top, -1), ((foot, top), GROUND[view])),
        Rule(length, _between(foot, top), ((foot, top),)),
    )


HEELS = (("toe", "medial_heel"), ("toe", "lateral_heel"))
RULES: dict[View, tuple[Rule, ...]] = {
    "lateral": (
        *_wall(
            "dorsal_angle_deg",
            "dorsal_length_mm",
            "lateral",
            "toe_ground",
            "toe_hairline",
        ),
        *_wall(
            "heel_angle_deg",
            "heel_length_mm",
            "lateral",
            "heel_ground",
            "heel_hairline",
        ),
        Rule(
            "pastern_angle_deg",
            _slope("lateral", "pastern_lower", "pastern_upper", -1),
            (("pastern_lower", "pastern_upper"), GROUND["lateral"]),
        ),
    ),
    "dorsal": (
        *(
            Rule(
                f"{side}_height_mm",
                _height(f"{side}_ground", f"{side}_hairline"),
                ((f"{side}_ground", f"{side}_hairline"), GROUND["dorsal"]),
            )
            for side in ("medial", "lateral")
        ),
        Rule(
            "medial_wall_angle_deg",
            _slope("dorsal", "medial_ground", "medial_hairline", 1),
            (("medial_ground", "medial_hairline"), GROUND["dorsal"]),
            ON_GROUND["dorsal"],
        ),
        Rule(
            "lateral_wall_angle_deg",
            _slope("dorsal", "lateral_ground", "lateral_hairline", -1),
            (("lateral_ground", "lateral_hairline"), GROUND["dorsal"]),
            ON_GROUND["dorsal"],
        ),
        Rule(
            "hairline_tilt_deg",
            _tilt,
            (("medial_hairline", "lateral_hairline"), GROUND["dorsal"]),
        ),
    ),
    "solar": (
        Rule("width_mm", _sole_width, (("medial_widest", "lateral_widest"), *HEELS)),
        Rule("length_mm", _sole_length, HEELS),
        Rule(
            "widest_from_toe_mm",
            _widest_from_toe,
            (("medial_widest", "lateral_widest"), *HEELS),
        ),
        Rule(
            "frog_width_mm",
            _between("frog_medial", "frog_lateral"),
            (("frog_medial", "frog_lateral"),),
        ),
        Rule(
            "frog_length_mm",
            _frog_length,
            (("frog_apex", "frog_medial"), ("frog_apex", "frog_lateral")),
        ),
    ),
}
