"""What a wedge, a rasp or a set-back shoe does to a foot's angle and lever. Pure.

Lengths in millimetres, angles in degrees, the frame of ``horses.hoof``: fixed to the
bone, x forward, y up, origin at the coffin joint's centre of rotation. A static model:
it moves the ground under a rigid foot, and knows nothing of how the horse stands
or goes afterwards.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import atan, cos, degrees, hypot, radians, sin, sqrt, tan
from typing import Literal

from horses.hoof import ANGLE_SD_DEG, LENGTH_SD_MM, breakover_arm_mm, wedge_height_mm

COR_FORWARD_SOURCE = (
    "the joint's centre stands over the widest part, near half of the base: Adams & "
    "Stashak, 7th ed., p. 1092"
)
COR_HEIGHT_SOURCE = (
    "from toe to joint's centre is the toe length, to 1 mm in 23 feet: a thesis whose "
    "author we don't know"
)
STEEPEST_DEG, FLATTEST_DEG = 85.0, 20.0
"""Past these the foot would tip over: no figure is given (ours)."""


@dataclass(frozen=True, slots=True)
class Stand:
    """A foot as it stands. ``widest_from_toe_mm`` None: half of the length is taken.

    ``dorsal_length_mm`` None: the lever isn't reckoned.
    """

    dorsal_angle_deg: float
    length_mm: float
    dorsal_length_mm: float | None = None
    widest_from_toe_mm: float | None = None
    heel_angle_deg: float | None = None
    length_sd_mm: float = LENGTH_SD_MM
    angle_sd_deg: float = ANGLE_SD_DEG


@dataclass(frozen=True, slots=True)
class Steps:
    """What is done, each as given and without an error of its own.

    ``wedge_mm``: the wedge's height at its thick end, over the foot's length, at
    ``wedge_at``; ``wedge_deg``: the same by its angle, added to it. ``heel_off_mm`` and ``toe_off_mm``: height taken off, measured
    straight up at that end and running to nothing at the other. ``set_back_mm``: how
    far breakover is moved back along the ground.
    """

    wedge_mm: float = 0.0
    wedge_at: Literal["heel", "toe"] = "heel"
    heel_off_mm: float = 0.0
    toe_off_mm: float = 0.0
    set_back_mm: float = 0.0
    wedge_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """One figure before and after, each with its standard deviation.

    The change's is reckoned by itself: both ends share their readings.
    """

    name: str
    before: float
    before_sd: float
    after: float
    after_sd: float
    change: float
    change_sd: float


@dataclass(frozen=True, slots=True)
class Effects:
    """What the steps do. ``lever_mm`` and the percentage need the toe length."""

    dorsal_angle_deg: BeforeAfter
    heel_angle_deg: BeforeAfter | None
    lever_mm: BeforeAfter | None
    lever_change_percent: float | None
    lever_change_percent_sd: float | None
    dorsal_length_mm: BeforeAfter | None


class TooMuch(ValueError):
    """The steps would tip the foot past what can stand; the message is a sentence."""


def wedge_of_degrees(wedge_deg: float, length_mm: float) -> float:
    """The height of a wedge of so many degrees under a foot of this length."""
    return wedge_height_mm(wedge_deg, length_mm)


def _wedge_mm(steps: Steps, length_mm: float) -> float:
    return steps.wedge_mm + wedge_of_degrees(steps.wedge_deg, length_mm)


def turn_deg(steps: Steps, length_mm: float) -> float:
    """How much steeper the foot stands: atan[(heel's change − toe's change) / L]."""
    wedge = _wedge_mm(steps, length_mm) * (1 if steps.wedge_at == "heel" else -1)
    return degrees(atan((wedge - steps.heel_off_mm + steps.toe_off_mm) / length_mm))


def toe_cut_mm(stand: Stand, steps: Steps) -> float:
    """How much of the toe's wall the rasp takes, along the wall.

    Its plane, δ steeper than the old ground, runs through the point ``toe_off_mm``
    above the old toe and meets the wall at t cos δ / sin(θ + δ), by the law of sines.
    A wedge takes no horn.
    """
    turned = radians(
        turn_deg(replace(steps, wedge_mm=0.0, wedge_deg=0.0), stand.length_mm)
    )
    both = radians(stand.dorsal_angle_deg) + turned
    return steps.toe_off_mm * cos(turned) / sin(both)


def cor_forward_mm(stand: Stand) -> float:
    """From the centre of rotation forward to the toe's ground point."""
    if stand.widest_from_toe_mm is not None:
        return stand.widest_from_toe_mm
    return stand.length_mm / 2


def cor_height_mm(stand: Stand) -> float | None:
    """The centre of rotation above the ground; None where it can't be reckoned."""
    if stand.dorsal_length_mm is None:
        return None
    square = stand.dorsal_length_mm**2 - cor_forward_mm(stand) ** 2
    return sqrt(square) if square > 0 else None


def _angle_after(stand: Stand, steps: Steps) -> float:
    return stand.dorsal_angle_deg + turn_deg(steps, stand.length_mm)


def _lever_after(stand: Stand, steps: Steps) -> float:
    """A wedge at the toe adds its height between the joint and the ground there."""
    height = cor_height_mm(stand)
    if height is None:
        raise TooMuch("The toe length is too short for this base.")
    is_at_toe = steps.wedge_at == "toe"
    toe_wedge = _wedge_mm(steps, stand.length_mm) if is_at_toe else 0.0
    arm = breakover_arm_mm(
        cor_forward_mm=cor_forward_mm(stand),
        cor_height_mm=height + toe_wedge,
        toe_growth_mm=-toe_cut_mm(stand, steps),
        dorsal_angle_deg=stand.dorsal_angle_deg,
        angle_loss_deg=-turn_deg(steps, stand.length_mm),
    )
    return arm - steps.set_back_mm


def _spread(stand: Stand, of: Callable[[Stand], float]) -> float:
    """The standard deviation of a figure, to first order, by central differences."""
    total = 0.0
    for name, sd in (
        ("dorsal_angle_deg", stand.angle_sd_deg),
        ("heel_angle_deg", stand.angle_sd_deg),
        ("length_mm", stand.length_sd_mm),
        ("dorsal_length_mm", stand.length_sd_mm),
        ("widest_from_toe_mm", stand.length_sd_mm),
    ):
        value = getattr(stand, name)
        if value is None or sd == 0:
            continue
        step = 1e-3
        up, down = (replace(stand, **{name: value + way * step}) for way in (1, -1))
        total = hypot(total, (of(up) - of(down)) / (2 * step) * sd)
    return total


def _before_after(
    name: str,
    stand: Stand,
    before: Callable[[Stand], float],
    after: Callable[[Stand], float],
) -> BeforeAfter:
    return BeforeAfter(
        name,
        before(stand),
        _spread(stand, before),
        after(stand),
        _spread(stand, after),
        after(stand) - before(stand),
        _spread(stand, lambda s: after(s) - before(s)),
    )


def effects(stand: Stand, steps: Steps) -> Effects:
    """Angle and breakover lever before and after these steps, with their spread.

    Raises TooMuch where the foot would stand under 20° or over 85°, or breakover would
    come to lie behind the joint.
    """
    angle = _before_after(
        "dorsal_angle_deg",
        stand,
        lambda s: s.dorsal_angle_deg,
        lambda s: _angle_after(s, steps),
    )
    if not FLATTEST_DEG <= angle.after <= STEEPEST_DEG:
        raise TooMuch(
            f"That would stand the toe at {angle.after:.0f}°: less of it, please."
        )
    heel = None
    if stand.heel_angle_deg is not None:
        heel = _before_after(
            "heel_angle_deg",
            stand,
            lambda s: s.heel_angle_deg or 0.0,
            lambda s: (s.heel_angle_deg or 0.0) + turn_deg(steps, s.length_mm),
        )
    toe = None
    if stand.dorsal_length_mm is not None:
        toe = _before_after(
            "dorsal_length_mm",
            stand,
            lambda s: s.dorsal_length_mm or 0.0,
            lambda s: (s.dorsal_length_mm or 0.0) - toe_cut_mm(s, steps),
        )
    if cor_height_mm(stand) is None:
        return Effects(angle, heel, None, None, None, toe)
    lever = _before_after(
        "lever_mm", stand, cor_forward_mm, lambda s: _lever_after(s, steps)
    )
    if lever.after <= 0:
        raise TooMuch("That would put breakover behind the joint: less of it, please.")
    return Effects(
        angle,
        heel,
        lever,
        100 * lever.change / lever.before,
        _spread(
            stand, lambda s: 100 * (_lever_after(s, steps) / cor_forward_mm(s) - 1)
        ),
        toe,
    )


def height_of_a_degree_mm(length_mm: float) -> float:
    """How much height at one end turns a foot of this length by 1°."""
    return length_mm * tan(radians(1))
