"""How a value said at a place runs along a branch. Pure.

A value holds at its place and runs linearly to nothing at the neighbouring places;
one at a heel begins at the last nail of its branch, and holds behind the buttress.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from horses.shoe.plan import Amounts, FootPlan, Hoof, Place, Side

Line = NDArray[np.float64]

OVERHANG_COUNTS_MM = 0.5
"""Less steel than this outside the wall counts as none (reckon.md)."""


def side_of(place: Place) -> Side | None:
    """The branch a place lies on; None for the toe."""
    if place == "toe":
        return None
    return "medial" if place.startswith("medial") else "lateral"


def from_toe_mm(hoof: Hoof, place: Place) -> float:
    """Where the place lies, along the midline."""
    if place == "toe":
        return 0.0
    if place.endswith("toe_quarter"):
        return hoof.widest_from_toe_mm / 2
    if place.endswith("quarter"):
        return hoof.widest_from_toe_mm
    return hoof.length_mm


def branch_places(side: Side) -> tuple[Place, ...]:
    """The four places along one branch, from the toe."""
    if side == "medial":
        return ("toe", "medial_toe_quarter", "medial_quarter", "medial_heel")
    return ("toe", "lateral_toe_quarter", "lateral_quarter", "lateral_heel")


@dataclass(frozen=True, slots=True)
class Run:
    """What the values of one branch come to at any distance from the toe."""

    knots: tuple[float, float, float, float]
    values: tuple[float, float, float, float]
    last_nail: float

    def at(self, from_toe: Line) -> Line:
        """The value at each distance from the toe (mm along the midline)."""
        toe, toe_quarter, quarter, heel = self.knots
        ahead = np.interp(
            from_toe, (toe, toe_quarter, quarter, heel), (*self.values[:3], 0.0)
        )
        start = min(self.last_nail, heel - 1e-6)
        behind = np.interp(from_toe, (start, heel), (0.0, self.values[3]))
        total: Line = ahead + behind
        return total

    def at_one(self, from_toe: float) -> float:
        """The value at one distance from the toe."""
        return float(self.at(np.array([from_toe]))[0])

    @property
    def lowest(self) -> float:
        """The least value; it runs straight between its places and the last nail."""
        return float(self.at(np.array([*self.knots, self.last_nail])).min())


def run_of(plan: FootPlan, side: Side, *amounts: Amounts) -> Run:
    """The sum of these amounts along one branch."""
    places = branch_places(side)
    a, b, c, d = (sum(float(said.get(p, 0.0)) for said in amounts) for p in places)
    e, f, g, h = (from_toe_mm(plan.hoof, p) for p in places)
    return Run((e, f, g, h), (a, b, c, d), plan.shoe.branch(side).last_nail_from_toe_mm)


def set_under(plan: FootPlan) -> Amounts:
    """How far a set-under toe draws the outer edge back, as a (negative) amount."""
    toe = plan.shoe.toe
    if toe.treatment != "set_under" or not toe.by_mm:
        return {}
    return {toe.at: -toe.by_mm}


def edge_amounts(plan: FootPlan) -> tuple[Amounts, ...]:
    """All that moves the shoe's outer edge from the sound foot's line."""
    shoe = plan.shoe
    return (
        plan.hoof.out_mm,
        shoe.fit_mm,
        shoe.set_mm,
        shoe.extension_mm,
        set_under(plan),
    )


def overhang_mm(plan: FootPlan, place: Place) -> float:
    """Steel outside the wall at a place, a declared extension apart; 0 where it is
    under half a millimetre."""
    said = plan.shoe.fit_mm.get(place, 0.0) + plan.shoe.set_mm.get(place, 0.0)
    return 0.0 if said < OVERHANG_COUNTS_MM - 1e-9 else float(said)


def edge_from_sound_line_mm(plan: FootPlan, place: Place) -> float:
    """The outer edge's distance from the sound foot's line, extension apart."""
    shoe = plan.shoe
    amounts = (plan.hoof.out_mm, shoe.fit_mm, shoe.set_mm, set_under(plan))
    return float(sum(said.get(place, 0.0) for said in amounts))


def web_mm(plan: FootPlan, place: Place) -> float:
    """The bar's width at a place."""
    return plan.shoe.section.width_mm + plan.shoe.web_change_mm.get(place, 0.0)


def wall_on_steel_percent(plan: FootPlan, place: Place) -> float:
    """How much of the sound wall's band lies over steel, across the wall at a place.

    The band runs from the sound foot's line inward by ``sound_wall_mm``; the steel
    from its outer edge inward by its web. Behind a shoe that ends short: nothing.
    """
    side = side_of(place)
    if (
        side
        and place.endswith("heel")
        and plan.shoe.branch(side).heel_past_buttress_mm < 0
    ):
        return 0.0
    outer = edge_from_sound_line_mm(plan, place) + plan.shoe.extension_mm.get(
        place, 0.0
    )
    inner = outer - web_mm(plan, place)
    band = plan.hoof.sound_wall_mm
    over = min(0.0, outer) - max(-band, inner)
    return 100 * (min(max(over, 0.0), band) / band)
