"""A bar's cross-section, its weight, the length to cut. Pure.

Areas in mm², masses in grams. Densities: mild steel 7850 kg/m³ (tables of flat bar:
0.00785 kg/m for each mm²), aluminium 2700 kg/m³ (from memory).
"""

from math import atan, pi, sin

import numpy as np

from horses.shoe.places import Line
from horses.shoe.plan import Metal, Section

DENSITY_KG_M3: dict[Metal, float] = {"steel": 7850.0, "aluminium": 2700.0}

CONCAVE_GROUND_SHARE = 2 / 3
"""Ground face of a concave bar as a share of its foot face: 19.05 over 12.7 mm of a
common 3/4 × 3/8 bar, from memory."""

FULLER_SHARE = 0.5 * 0.4 * (2 / 3)
"""A V-groove two fifths of the web wide and two thirds of the thickness deep, as a
share of the full section: common practice, no source."""

HOLE_SHARE = 0.045
"""Mean cut of one nail hole, as a share of the width squared: 18 mm² (3 × 6 mm) in a
20 mm bar, from memory."""


def area_mm2(section: Section, width_mm: float | None = None) -> float:
    """The section's area; ``width_mm`` in place of its own where the web differs."""
    widths = np.array([section.width_mm if width_mm is None else width_mm])
    return float(areas_mm2(section, widths)[0])


def areas_mm2(section: Section, widths: Line) -> Line:
    """The section's area at each of these widths (mm)."""
    thick = section.thickness_mm
    if section.profile == "concave":
        return widths * (thick * (1 + CONCAVE_GROUND_SHARE) / 2)
    if section.profile == "half_round":
        return np.array([_half_round(float(w), thick) for w in widths])
    return widths * thick


def _half_round(width: float, height: float) -> float:
    """A circular segment; past half the width, a half circle on a straight foot."""
    if height >= width / 2:
        return pi * width**2 / 8 + width * (height - width / 2)
    radius = (width**2 / 4 + height**2) / (2 * height)
    angle = 4 * atan(2 * height / width)
    return radius**2 / 2 * (angle - sin(angle))


def mass_g(volume_mm3: float, metal: Metal) -> float:
    """What a volume of the metal weighs."""
    return volume_mm3 * DENSITY_KG_M3[metal] * 1e-6


def kg_per_m(section: Section, metal: Metal) -> float:
    """What a metre of the bar weighs, uncut."""
    return mass_g(area_mm2(section) * 1000, metal) / 1000


def fuller_mm3(section: Section, length_mm: float) -> float:
    """The metal that a fuller of this length has displaced."""
    return FULLER_SHARE * section.width_mm * section.thickness_mm * length_mm


def holes_mm3(section: Section, nails: int) -> float:
    """The metal that so many nail holes have displaced."""
    return HOLE_SHARE * section.width_mm**2 * section.thickness_mm * nails


def handbook_length_mm(
    width_mm: float, length_mm: float, section_width_mm: float
) -> float:
    """Bar for a half-circle toe and parallel branches, on its middle line.

    ``2(L − s/2) + (π/2 − 1)(W − s)`` with the shoe's outside width and length and the
    section's width: plane geometry. No published formula fits every smith.
    """
    return 2 * (length_mm - section_width_mm / 2) + (pi / 2 - 1) * (
        width_mm - section_width_mm
    )
