"""The named landmarks of each view of a foot, and the figures they give. Pure."""

from dataclasses import dataclass
from typing import Literal

from horses.entries import MEASURES

View = Literal["lateral", "dorsal", "solar"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """A named landmark. ``start`` is where a mark set by keyboard begins, as fractions."""

    name: str
    label: str
    hint: str
    start: Point


SCALE: tuple[Spot, Spot] = (
    Spot("scale_one", "scale, one end", "where the known length begins", (0.25, 0.92)),
    Spot(
        "scale_other", "scale, other end", "where the known length ends", (0.75, 0.92)
    ),
)
SPOTS: dict[View, tuple[Spot, ...]] = {
    "lateral": (
        Spot(
            "toe_hairline",
            "hairline at the toe",
            "where hair ends on the middle of the toe wall",
            (0.45, 0.45),
        ),
        Spot("toe_ground", "toe at the ground", "the toe's foremost horn", (0.3, 0.75)),
        Spot(
            "heel_hairline",
            "hairline at the heel",
            "the top of the heel wall",
            (0.75, 0.62),
        ),
        Spot(
            "heel_ground",
            "heel buttress at the ground",
            "where the heel bears",
            (0.68, 0.75),
        ),
        Spot("ground_front", "ground, ahead of the toe", "on the floor", (0.12, 0.76)),
        Spot("ground_back", "ground, behind the heel", "on the floor", (0.88, 0.76)),
        Spot(
            "pastern_lower",
            "pastern line, lower",
            "on the front of the pastern, above the coronet",
            (0.5, 0.36),
        ),
        Spot(
            "pastern_upper",
            "pastern line, upper",
            "on the front of the pastern, below the fetlock",
            (0.6, 0.15),
        ),
    ),
    "dorsal": (
        Spot(
            "medial_hairline",
            "medial hairline",
            "where hair ends at the medial quarter",
            (0.38, 0.5),
        ),
        Spot(
            "medial_ground",
            "medial wall at the ground",
            "below it, where the wall bears",
            (0.3, 0.75),
        ),
        Spot(
            "lateral_hairline",
            "lateral hairline",
            "where hair ends at the lateral quarter",
            (0.62, 0.5),
        ),
        Spot(
            "lateral_ground",
            "lateral wall at the ground",
            "below it, where the wall bears",
            (0.7, 0.75),
        ),
        Spot("ground_medial", "ground, medial", "on the floor, medial", (0.12, 0.76)),
        Spot(
            "ground_lateral", "ground, lateral", "on the floor, lateral", (0.88, 0.76)
        ),
    ),
    "solar": (
        Spot("toe", "toe", "the foremost point of the bearing wall", (0.5, 0.12)),
        Spot(
            "medial_heel",
            "medial heel buttress",
            "where the wall turns into the bar",
            (0.36, 0.8),
        ),
        Spot(
            "lateral_heel",
            "lateral heel buttress",
            "where the wall turns into the bar",
            (0.64, 0.8),
        ),
        Spot("medial_widest", "widest, medial", "the wall's outer edge", (0.22, 0.48)),
        Spot(
            "lateral_widest", "widest, lateral", "the wall's outer edge", (0.78, 0.48)
        ),
        Spot("frog_apex", "frog apex", "the tip of the trimmed frog", (0.5, 0.42)),
        Spot("frog_medial", "frog base, medial", "its widest, medial", (0.42, 0.76)),
        Spot("frog_lateral", "frog base, lateral", "its widest, lateral", (0.58, 0.76)),
    ),
}
LINES: dict[View, tuple[tuple[str, str], ...]] = {
    "lateral": (
        ("ground_front", "ground_back"),
        ("toe_hairline", "toe_ground"),
        ("heel_hairline", "heel_ground"),
        ("pastern_lower", "pastern_upper"),
    ),
    "dorsal": (
        ("ground_medial", "ground_lateral"),
        ("medial_hairline", "medial_ground"),
        ("lateral_hairline", "lateral_ground"),
        ("medial_hairline", "lateral_hairline"),
    ),
    "solar": (
        ("medial_heel", "lateral_heel"),
        ("medial_widest", "lateral_widest"),
        ("frog_medial", "frog_lateral"),
        ("frog_apex", "frog_medial"),
        ("frog_apex", "frog_lateral"),
    ),
}
"""Which marks a page joins by a line."""
SCALE_LINE = ("scale_one", "scale_other")

EXTRA: dict[str, str] = {
    "medial_wall_angle_deg": "medial wall against the ground",
    "lateral_wall_angle_deg": "lateral wall against the ground",
    "hairline_tilt_deg": "hairline against the ground",
}
LABELS: dict[str, str] = EXTRA | MEASURES
"""Each figure's words. Those of ``entries.MEASURES`` can go into a foot record."""


def spots(view: View) -> tuple[Spot, ...]:
    """The landmarks of a view, those of the scale last."""
    return (*SPOTS[view], *SCALE)
