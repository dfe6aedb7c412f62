"""What a plan comes to: steel under the wall, overhang, areas, mass, flags. Pure."""

from dataclasses import dataclass

from horses.shoe.outline import (
    BranchOutline,
    branch_outline,
    mean_area_mm2,
    nail_places,
)
from horses.shoe.places import (
    edge_from_sound_line_mm,
    overhang_mm,
    wall_on_steel_percent,
)
from horses.shoe.plan import PLACES, SIDES, FootPlan, Place, Side
from horses.shoe.section import (
    area_mm2,
    areas_mm2,
    fuller_mm3,
    handbook_length_mm,
    holes_mm3,
    mass_g,
)

RULES_VERSION = "shoe 1"
"""Changes when a formula, a limit or a rule of this package does."""

FULLER_PAST_LAST_NAIL = 0.5
FULLER_FROM_TOE_SHARE = 0.15
"""Fullering of a fullered bar, where its length is not said: from 15 % of the way to
the last nail, to half a web behind it. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class BranchReckoned:
    """One branch: mm, mm², grams."""

    outline: BranchOutline
    nails: tuple[tuple[float, float], ...]
    fuller_mm: float
    mass_g: float

    @property
    def area_mm2(self) -> float:
        return self.outline.area_mm2


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What a plan comes to, its rules apart.

    ``bar_length_mm``: bar of the section to cut for as much metal as the shoe has
    before it is punched and fullered; ``handbook_length_mm``: the geometry formula
    on the same outside measures.
    """

    medial: BranchReckoned
    lateral: BranchReckoned
    bar_length_mm: float
    handbook_length_mm: float
    outside_width_mm: float
    outside_length_mm: float
    wall_on_steel_percent: dict[Place, float]
    overhang_mm: dict[Place, float]
    edge_from_sound_line_mm: dict[Place, float]

    def branch(self, side: Side) -> BranchReckoned:
        return self.medial if side == "medial" else self.lateral

    @property
    def mass_g(self) -> float:
        return self.medial.mass_g + self.lateral.mass_g

    @property
    def centre_line_mm(self) -> float:
        return sum(self.branch(side).outline.centre_line_mm for side in SIDES)

    @property
    def bearing_ratio(self) -> float | None:
        """Medial over lateral area; None without lateral steel."""
        area = self.lateral.area_mm2
        return self.medial.area_mm2 / area if area > 0 else None


def _fuller(plan: FootPlan, side: Side, line_mm: float) -> float:
    """The fullering's length on a branch, no longer than the branch."""
    branch = plan.shoe.branch(side)
    said = branch.fuller_mm
    if said is None:
        if plan.shoe.section.profile != "fullered":
            return 0.0
        said = (
            branch.last_nail_from_toe_mm * (1 - FULLER_FROM_TOE_SHARE)
            + plan.shoe.section.width_mm * FULLER_PAST_LAST_NAIL
        )
    return min(said, line_mm)


def _branch(plan: FootPlan, side: Side) -> tuple[BranchReckoned, float]:
    """The branch, and the volume (mm³) of its bar before it is punched."""
    outline = branch_outline(plan, side)
    section = plan.shoe.section
    areas = areas_mm2(section, outline.widths)
    volume = mean_area_mm2(outline, areas) * outline.centre_line_mm
    fuller = _fuller(plan, side, outline.centre_line_mm)
    cut = fuller_mm3(section, fuller) + holes_mm3(section, plan.shoe.branch(side).nails)
    # More holes than metal can be said of a doll's shoe; nothing weighs less than none.
    mass = mass_g(max(volume - cut, 0.0), plan.shoe.metal)
    nails = nail_places(plan, side)
    return BranchReckoned(outline, nails, fuller, mass), volume


def reckon(plan: FootPlan) -> Reckoned:
    """All figures of a plan. Medial and lateral, so a pair mirrors by itself."""
    medial, medial_volume = _branch(plan, "medial")
    lateral, lateral_volume = _branch(plan, "lateral")
    section = plan.shoe.section
    bar_area = area_mm2(section)
    width = (
        max(float(lateral.outline.steel.bounds[2]), 0.0) if lateral.area_mm2 else 0.0
    )
    width += (
        max(-float(medial.outline.steel.bounds[0]), 0.0) if medial.area_mm2 else 0.0
    )
    tops = [b.outline.steel.bounds for b in (medial, lateral) if b.area_mm2]
    length = max((b[3] for b in tops), default=0) - min((b[1] for b in tops), default=0)
    return Reckoned(
        medial=medial,
        lateral=lateral,
        bar_length_mm=(medial_volume + lateral_volume) / bar_area,
        handbook_length_mm=handbook_length_mm(width, length, section.width_mm),
        outside_width_mm=width,
        outside_length_mm=float(length),
        wall_on_steel_percent={p: wall_on_steel_percent(plan, p) for p in PLACES},
        overhang_mm={p: overhang_mm(plan, p) for p in PLACES},
        edge_from_sound_line_mm={p: edge_from_sound_line_mm(plan, p) for p in PLACES},
    )
