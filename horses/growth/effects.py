"""What growth does to a foot that is left alone: toe, lever, angle. Pure.

The formulas are those of ``horses.hoof`` (``leverage_after``), here for many feet at
once; a test holds both against each other. A static model of a rigid foot: it knows
nothing of how the horse stands or goes, and is no diagnosis.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from horses.growth.season import Floats
from horses.growth.terms import FootEstimate, HorseFacts, Limits, Shape
from horses.hoof import Leverage, LeverageAfter, leverage_after

FORE_DEG, HIND_DEG = 50.0, 55.0
ANGLES_SOURCE = "about 50° before, 55° behind, where not measured: trade texts"
HEEL_LOWER_DEG = 7.0
WEAR_PER_GROWTH = 5.8 / 14
WEAR_SOURCE = (
    "a toe of 52° over a heel of 45° that gains 14 mm in eight weeks (the data behind "
    "van Heel 2005) loses 3.3° (from memory) if the heel wears 5.8 mm on the shoe: "
    "worked back, not measured. Unshod, no wear of the heel alone is taken: bare feet "
    "lost no angle (Malone SR, Davies HMS (2019) Animals 9(12):1017)"
)
BASE_PER_TOE = 120 / 88.459
BASE_SOURCE = (
    "where it isn't measured, a base of 120 mm under a toe of 88 mm: ours. The joint's "
    "centre stands over half of the base (Adams & Stashak, 7th ed., p. 1092), a toe's "
    "length from the toe (a thesis on 23 feet whose author we don't know)"
)
USUAL_TOE_MM = 82.0
MOST_GAIN_MM = 60.0
"""Past this no limit is looked for."""
_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Capsules:
    """Feet as trimmed, as arrays; names as in ``hoof.Leverage``."""

    cor_forward: Floats
    cor_height: Floats
    dorsal: Floats
    heel: Floats
    base: Floats
    wear_per_growth: Floats


def capsule_of(
    foot: FootEstimate, facts: HorseFacts
) -> tuple[float, float, float, float, float, float]:
    """One foot's row of ``Capsules``: measured where it was, else customary."""
    shape = facts.shapes.get(foot.foot, Shape())
    usual = FORE_DEG if foot.foot in ("LF", "RF") else HIND_DEG
    dorsal = foot.angle_deg or usual
    toe = foot.after_mm or USUAL_TOE_MM
    base = shape.length_mm or BASE_PER_TOE * toe
    forward = shape.widest_from_toe_mm or base / 2
    # A base too long for its toe would put the joint under the ground.
    forward = min(forward, 0.9 * toe)
    height = (toe**2 - forward**2) ** 0.5
    heel = shape.heel_angle_deg or max(dorsal - HEEL_LOWER_DEG, 10.0)
    wear = WEAR_PER_GROWTH if facts.shod else 0.0
    return forward, height, dorsal, heel, base, wear


def capsules_of(feet: Sequence[FootEstimate], facts: Sequence[HorseFacts]) -> Capsules:
    """The feet's capsules, in order."""
    rows = [capsule_of(foot, of) for foot, of in zip(feet, facts, strict=True)]
    columns = np.array(rows, dtype=np.float64).reshape(-1, 6).T
    return Capsules(*columns)


def after_gain(capsules: Capsules, gain_mm: Floats) -> tuple[Floats, Floats]:
    """Lever's change in percent and the angle lost after so much growth at toe and
    heel: points 4 and 5 of the geometry in ``hoof``.
    """
    toe, heel = np.radians(capsules.dorsal), np.radians(capsules.heel)
    rise = gain_mm * (np.sin(toe) - np.sin(heel) + capsules.wear_per_growth)
    base = np.maximum(capsules.base + gain_mm * (np.cos(toe) - np.cos(heel)), 1.0)
    loss = np.arctan(rise / base)
    arm = (capsules.cor_forward + gain_mm * np.cos(toe)) * np.cos(loss) + (
        capsules.cor_height + gain_mm * np.sin(toe)
    ) * np.sin(loss)
    return 100 * (arm / capsules.cor_forward - 1), np.degrees(loss)


def leverage_of(foot: FootEstimate, facts: HorseFacts, gain_mm: float) -> LeverageAfter:
    """The same for one foot, by ``hoof`` itself."""
    forward, height, dorsal, heel, base, wear = capsule_of(foot, facts)
    return leverage_after(
        Leverage(
            cor_forward_mm=forward,
            cor_height_mm=height,
            dorsal_angle_deg=dorsal,
            toe_growth_mm=gain_mm,
            heel_growth_mm=gain_mm,
            heel_angle_deg=heel,
            heel_wear_mm=wear * gain_mm,
            bearing_length_mm=base,
        )
    )


def _gain_at(capsules: Capsules, which: int, limit: Floats) -> Floats:
    """The growth at which lever (0) or angle (1) reaches the limit; NaN limits and
    limits not reached by ``MOST_GAIN_MM`` give that.
    """
    low, high = np.zeros(len(limit)), np.full(len(limit), MOST_GAIN_MM)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        reached = after_gain(capsules, middle)[which] >= limit
        high = np.where(reached, middle, high)
        low = np.where(reached, low, middle)
    return high


def gains_at_limits(
    capsules: Capsules, limits: Sequence[Limits]
) -> tuple[Floats, Floats, Floats]:
    """For each foot the growth in mm at which each limit is reached: toe, lever, angle.
    Infinite where there is none.
    """
    toe, lever, angle = (
        np.array(
            [np.inf if (v := getattr(one, name)) is None else v for one in limits],
            dtype=np.float64,
        ).reshape(-1)
        for name in ("toe_gain_mm", "lever_gain_percent", "angle_loss_deg")
    )
    found = []
    for which, limit in ((0, lever), (1, angle)):
        gain = np.full(len(limit), np.inf)
        asked = np.isfinite(limit)
        if asked.any():
            some = Capsules(
                *(getattr(capsules, name)[asked] for name in Capsules.__slots__)
            )
            at = _gain_at(some, which, limit[asked])
            gain[asked] = np.where(at >= MOST_GAIN_MM, np.inf, at)
        found.append(gain)
    return toe, found[0], found[1]
