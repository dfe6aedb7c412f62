"""What is planned for a foot: the hoof as measured, the shoe as meant. Pure.

Lengths in millimetres. Distances from the toe run along the foot's midline. Medial
and lateral are the foot's own, so that a left and a right foot are one reckoning.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from horses.findings import Seen
from horses.hoof import Foot

Side = Literal["medial", "lateral"]
Place = Literal[
    "toe",
    "medial_toe_quarter",
    "lateral_toe_quarter",
    "medial_quarter",
    "lateral_quarter",
    "medial_heel",
    "lateral_heel",
]
Metal = Literal["steel", "aluminium"]
Profile = Literal["plain", "fullered", "concave", "half_round"]
Treatment = Literal["plain", "rolled", "rocker", "set_under"]

SIDES: tuple[Side, ...] = ("medial", "lateral")
PLACES: tuple[Place, ...] = (
    "toe",
    "medial_toe_quarter",
    "lateral_toe_quarter",
    "medial_quarter",
    "lateral_quarter",
    "medial_heel",
    "lateral_heel",
)
TOE_PLACES: tuple[Place, ...] = PLACES[:3]
PLACE_NAMES: dict[str, str] = {
    **{place: place.replace("_", " ") for place in PLACES},
    "whole_foot": "whole foot",
}
"""Each place in words."""

Amounts = Mapping[Place, float]
"""Millimetres by place; a place that is absent has none."""


@dataclass(frozen=True, slots=True)
class Hoof:
    """The bearing outline's measures.

    ``width_mm`` at the widest part, ``length_mm`` toe to heel buttress,
    ``widest_from_toe_mm`` along the midline. ``out_mm``: how far the wall stands
    outside the sound foot's line (flare), negative where it is tucked under.
    """

    foot: Foot
    width_mm: float
    length_mm: float
    widest_from_toe_mm: float
    sound_wall_mm: float
    out_mm: Amounts = field(default_factory=dict)

    @property
    def is_hind(self) -> bool:
        return self.foot.endswith("H")


@dataclass(frozen=True, slots=True)
class Section:
    """The bar's cross-section, foot face down to ground face."""

    profile: Profile
    width_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class Toe:
    """How the toe is treated. ``by_mm``: how far (set under), how deep (rolled,
    rocker); ``foot_dressed``: the foot is dressed to fit a rocker."""

    treatment: Treatment = "plain"
    at: Place = "toe"
    foot_dressed: bool = False
    by_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Branch:
    """One side of the shoe. ``fuller_mm``: length of its fullering, None unsaid."""

    heel_past_buttress_mm: float
    nails: int
    last_nail_from_toe_mm: float
    fuller_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Shoe:
    """The shoe upon the foot.

    ``fit_mm``: outer edge outside the wall as it is. ``set_mm``: metal set out (+) or
    in (−). ``web_change_mm``: the inner edge moved (negative: narrower).
    ``extension_mm``: declared steel beyond the wall, not an overhang.
    """

    metal: Metal
    section: Section
    toe: Toe
    medial: Branch
    lateral: Branch
    fit_mm: Amounts = field(default_factory=dict)
    web_change_mm: Amounts = field(default_factory=dict)
    set_mm: Amounts = field(default_factory=dict)
    extension_mm: Amounts = field(default_factory=dict)

    def branch(self, side: Side) -> Branch:
        """The branch of one side."""
        return self.medial if side == "medial" else self.lateral


@dataclass(frozen=True, slots=True)
class FootPlan:
    """A hoof, the shoe for it, what the horse does, and what was seen on the foot."""

    hoof: Hoof
    shoe: Shoe
    use: str = ""
    findings: tuple[Seen, ...] = ()
