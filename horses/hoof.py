"""A foot's geometry from its measurements: derived figures, flags, leverage. Pure.

Lengths in millimetres, angles in degrees. The frame is fixed to the bone: x forward,
y up, the ground at y = 0. Figures carry a standard deviation, propagated to first
order from that of one reading, so that a flag says how far it can be trusted. A flag
marks a number past a published or customary limit; it is not a diagnosis.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan, atan2, cos, degrees, hypot, radians, sin, tan
from typing import Literal

Foot = Literal["LF", "RF", "LH", "RH"]
State = Literal["clear", "likely", "not shown"]

FEET: tuple[Foot, ...] = ("LF", "RF", "LH", "RH")
MATE: dict[Foot, Foot] = {"LF": "RF", "RF": "LF", "LH": "RH", "RH": "LH"}
"""The other foot of the pair."""

FOOT_NAMES: dict[Foot, str] = {
    "LF": "left fore",
    "RF": "right fore",
    "LH": "left hind",
    "RH": "right hind",
}

RULES_VERSION = "foot 1"
"""Changes when a rule, a threshold or a formula of this module does."""

LENGTH_SD_MM = 2.0
ANGLE_SD_DEG = 1.0
"""One reading with tape or gauge on a living horse: common practice, no source."""

_NOISE = 9
"""Decimals kept: binary fractions must not decide a comparison with a threshold."""


@dataclass(frozen=True, slots=True)
class FootMeasures:
    """What was measured on one foot, shoe off; ``None`` is not measured.

    ``dorsal_length_mm``: along the middle of the toe wall, hairline to the horn's
    edge. ``heel_length_*``: along the heel wall. ``*_height_mm``: vertical at the
    quarters. ``width_mm``: at the widest part. ``length_mm``: toe to the line that
    joins the heel buttresses. ``widest_from_toe_mm``: along the midline.
    """

    foot: Foot
    dorsal_length_mm: float | None = None
    dorsal_angle_deg: float | None = None
    heel_length_mm: float | None = None
    heel_length_medial_mm: float | None = None
    heel_length_lateral_mm: float | None = None
    heel_angle_deg: float | None = None
    medial_height_mm: float | None = None
    lateral_height_mm: float | None = None
    width_mm: float | None = None
    length_mm: float | None = None
    widest_from_toe_mm: float | None = None
    pastern_angle_deg: float | None = None
    frog_width_mm: float | None = None
    frog_length_mm: float | None = None
    length_sd_mm: float = LENGTH_SD_MM
    angle_sd_deg: float = ANGLE_SD_DEG
    pair: "FootMeasures | None" = None


@dataclass(frozen=True, slots=True)
class Figure:
    """A derived figure. ``side`` names the larger of two sides or feet, if any."""

    name: str
    value: float
    sd: float
    side: str | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """A limit: a figure times ``sign`` at or past (``strict``: only past) it.

    ``label`` is for people, ``unit`` is ``°``, ``mm`` or empty.
    """

    code: str
    label: str
    figure: str
    threshold: float
    strict: bool
    unit: str
    source: str
    sign: Literal[1, -1] = 1
    below: bool = False


@dataclass(frozen=True, slots=True)
class Flag:
    """How a figure stands to a rule. ``value`` has the rule's sign applied."""

    rule: Rule
    state: State
    value: float
    sd: float
    side: str | None = None


WIGGERS = (
    "Wiggers N et al. (2015) PLoS ONE 10(2):e0114836: 34 riding horses, fore feet; "
    "more than 1.5° between left and right is uneven"
)
OGRADY = "O'Grady SE, equipodiatry.com/news/63: heel lengths 5 mm or more apart"

RULES: tuple[Rule, ...] = (
    Rule(
        "underrun_heel",
        "under-run heel",
        "toe_heel_angle_difference_deg",
        5.0,
        strict=False,
        unit="°",
        source="Turner TA (1992) Proc AAEP 38:389-395, from memory: heel 5° or more "
        "below the toe",
    ),
    Rule(
        "sheared_heels",
        "sheared heels",
        "heel_length_difference_mm",
        5.0,
        strict=False,
        unit="mm",
        source=OGRADY,
    ),
    Rule(
        "uneven_walls",
        "uneven walls",
        "wall_height_difference_mm",
        5.0,
        strict=False,
        unit="mm",
        source=f"ours, the limit of the heels used at the quarters ({OGRADY})",
    ),
    Rule(
        "broken_back_axis",
        "hoof-pastern axis broken back",
        "hoof_pastern_angle_deg",
        3.0,
        strict=True,
        unit="°",
        source="common practice, no source; 3° is about one reading from a photo",
        sign=-1,
    ),
    Rule(
        "broken_forward_axis",
        "hoof-pastern axis broken forward",
        "hoof_pastern_angle_deg",
        3.0,
        strict=True,
        unit="°",
        source="common practice, no source; 3° is about one reading from a photo",
    ),
    Rule(
        "uneven_pair",
        "uneven pair",
        "pair_angle_difference_deg",
        1.5,
        strict=True,
        unit="°",
        source=WIGGERS,
    ),
    Rule(
        "contracted_heels",
        "contracted heels",
        "frog_ratio",
        0.67,
        strict=True,
        unit="",
        source="Turner TA (1992) Proc AAEP 38:389-395, from memory: frog width under "
        "0.67 of its length",
        below=True,
    ),
)


def _tidy(value: float) -> float:
    return round(float(value), _NOISE) + 0.0  # + 0.0: no negative zero


def _ratio(
    name: str, top: float, bottom: float, sd_mm: float, scale: float = 1.0
) -> Figure:
    value = scale * top / bottom
    return Figure(name, _tidy(value), _tidy(value * hypot(sd_mm / top, sd_mm / bottom)))


def _apart(
    name: str, one: tuple[str, float], other: tuple[str, float], sd: float
) -> Figure:
    """How far two sides differ, unsigned, with the name of the larger one."""
    difference = _tidy(one[1] - other[1])
    side = None if difference == 0 else one[0] if difference > 0 else other[0]
    return Figure(name, abs(difference), _tidy(sd), side)


def _angles(m: FootMeasures) -> Iterator[Figure]:
    both = hypot(m.angle_sd_deg, m.angle_sd_deg)
    if m.dorsal_angle_deg is None:
        return
    if m.heel_angle_deg is not None:
        value = _tidy(m.dorsal_angle_deg - m.heel_angle_deg)
        yield Figure("toe_heel_angle_difference_deg", value, _tidy(both))
    if m.pastern_angle_deg is not None:
        value = _tidy(m.dorsal_angle_deg - m.pastern_angle_deg)
        yield Figure("hoof_pastern_angle_deg", value, _tidy(both))
    if m.pair is not None and m.pair.dorsal_angle_deg is not None:
        yield _apart(
            "pair_angle_difference_deg",
            (m.foot, m.dorsal_angle_deg),
            (m.pair.foot, m.pair.dorsal_angle_deg),
            hypot(m.angle_sd_deg, m.pair.angle_sd_deg),
        )


def _sides(m: FootMeasures) -> Iterator[Figure]:
    both = hypot(m.length_sd_mm, m.length_sd_mm)
    for name, medial, lateral in (
        ("wall_height_difference_mm", m.medial_height_mm, m.lateral_height_mm),
        (
            "heel_length_difference_mm",
            m.heel_length_medial_mm,
            m.heel_length_lateral_mm,
        ),
    ):
        if medial is not None and lateral is not None:
            yield _apart(name, ("medial", medial), ("lateral", lateral), both)


def _ratios(m: FootMeasures) -> Iterator[Figure]:
    for name, top, bottom, scale in (
        ("toe_heel_length_ratio", m.dorsal_length_mm, m.heel_length_mm, 1.0),
        ("width_length_ratio", m.width_mm, m.length_mm, 1.0),
        ("ahead_of_widest_percent", m.widest_from_toe_mm, m.length_mm, 100.0),
        ("frog_ratio", m.frog_width_mm, m.frog_length_mm, 1.0),
    ):
        if top is not None and bottom is not None:
            yield _ratio(name, top, bottom, m.length_sd_mm, scale)


def derived(measures: FootMeasures) -> dict[str, Figure]:
    """The figures that these measurements allow, by name; what lacks one is left out.

    Lengths must be positive. Differences between sides or feet are unsigned and name
    the larger side; toe − heel and hoof − pastern keep their sign.
    """
    found = (*_angles(measures), *_sides(measures), *_ratios(measures))
    return {figure.name: figure for figure in found}


@dataclass(frozen=True, slots=True)
class BaseSplit:
    """The base of a foot ahead of and behind its widest part, in mm and percent."""

    ahead_mm: Figure
    behind_mm: Figure
    ahead_percent: Figure
    behind_percent: Figure


def base_split(measures: FootMeasures) -> BaseSplit | None:
    """The length from toe to heel, split about the widest part:
    behind % = 100 (L − x) / L. None without both, or where the widest part would lie
    behind the heels.
    """
    length, ahead = measures.length_mm, measures.widest_from_toe_mm
    if length is None or ahead is None or not 0 < ahead <= length:
        return None
    sd = measures.length_sd_mm
    share = _ratio("ahead_of_widest_percent", ahead, length, sd, 100.0)
    rest = _tidy(100 - share.value)
    return BaseSplit(
        ahead_mm=Figure("ahead_of_widest_mm", _tidy(ahead), _tidy(sd)),
        behind_mm=Figure(
            "behind_widest_mm", _tidy(length - ahead), _tidy(hypot(sd, sd))
        ),
        ahead_percent=share,
        behind_percent=Figure("behind_widest_percent", rest, share.sd),
    )


def _state(rule: Rule, value: float, sd: float) -> State:
    past = _tidy(rule.threshold - value if rule.below else value - rule.threshold)
    if past < 0 or (rule.strict and past == 0):
        return "not shown"
    return "clear" if past > sd else "likely"


def flags(measures: FootMeasures) -> tuple[Flag, ...]:
    """Each rule whose figure is there, in the order of ``RULES``.

    ``clear``: past the threshold by more than the figure's sd; ``likely``: at it
    (where the rule says 'or more') or past it; else ``not shown``.
    """
    figures = derived(measures)
    return tuple(
        Flag(
            rule,
            _state(rule, rule.sign * figure.value + 0.0, figure.sd),
            rule.sign * figure.value + 0.0,
            figure.sd,
            figure.side,
        )
        for rule in RULES
        if (figure := figures.get(rule.figure)) is not None
    )


def angle_class(dorsal_angle_deg: float) -> Literal["flat", "medium", "upright"]:
    """Flat below 50°, upright above 55°, medium between (Wiggers 2015, fore feet; the
    study leaves exactly 50 and 55 open: we count both as medium).
    """
    if dorsal_angle_deg < 50:
        return "flat"
    return "upright" if dorsal_angle_deg > 55 else "medium"


@dataclass(frozen=True, slots=True)
class Leverage:
    """A foot as trimmed, and how it grows and wears until the next visit.

    ``cor_*``: the coffin joint's centre of rotation, forward distance to the toe's
    ground point and height. Growth runs along the wall; ``heel_wear_mm`` is vertical.
    """

    cor_forward_mm: float
    cor_height_mm: float
    dorsal_angle_deg: float
    toe_growth_mm: float
    heel_growth_mm: float
    heel_angle_deg: float
    heel_wear_mm: float
    bearing_length_mm: float


@dataclass(frozen=True, slots=True)
class LeverageAfter:
    """What growth and wear make of it."""

    angle_loss_deg: float
    new_angle_deg: float
    lever_mm: float
    lever_change_percent: float


def grown_base_mm(foot: Leverage) -> float:
    """Bearing length after growth, before the foot settles on its new ground."""
    return (
        foot.bearing_length_mm
        + foot.toe_growth_mm * cos(radians(foot.dorsal_angle_deg))
        - foot.heel_growth_mm * cos(radians(foot.heel_angle_deg))
    )


def angle_loss_deg(foot: Leverage) -> float:
    """atan[(g sin θ − gₕ sin φ + w) / (L + g cos θ − gₕ cos φ)], in degrees.

    The grown base must be positive.
    """
    rise = (
        foot.toe_growth_mm * sin(radians(foot.dorsal_angle_deg))
        - foot.heel_growth_mm * sin(radians(foot.heel_angle_deg))
        + foot.heel_wear_mm
    )
    return degrees(atan(rise / grown_base_mm(foot)))


def breakover_arm_mm(
    *,
    cor_forward_mm: float,
    cor_height_mm: float,
    toe_growth_mm: float,
    dorsal_angle_deg: float,
    angle_loss_deg: float,
) -> float:
    """From the centre of rotation to the toe, along the new ground:
    (a + g cos θ) cos δ + (h + g sin θ) sin δ.
    """
    forward, down = growth_forward_down_mm(toe_growth_mm, dorsal_angle_deg)
    delta = radians(angle_loss_deg)
    return (cor_forward_mm + forward) * cos(delta) + (cor_height_mm + down) * sin(delta)


def leverage_after(foot: Leverage) -> LeverageAfter:
    """Angle lost, angle left, the arm at breakover and its change in percent.

    A static model: with an equal ground force the percentage is the change of the
    moment about the joint.
    """
    loss = angle_loss_deg(foot)
    arm = breakover_arm_mm(
        cor_forward_mm=foot.cor_forward_mm,
        cor_height_mm=foot.cor_height_mm,
        toe_growth_mm=foot.toe_growth_mm,
        dorsal_angle_deg=foot.dorsal_angle_deg,
        angle_loss_deg=loss,
    )
    return LeverageAfter(
        angle_loss_deg=_tidy(loss),
        new_angle_deg=_tidy(foot.dorsal_angle_deg - loss),
        lever_mm=_tidy(arm),
        lever_change_percent=_tidy(100 * (arm / foot.cor_forward_mm - 1)),
    )


def growth_forward_down_mm(
    growth_mm: float, dorsal_angle_deg: float
) -> tuple[float, float]:
    """How far the toe moves forward and down as the wall grows by ``growth_mm``."""
    angle = radians(dorsal_angle_deg)
    return growth_mm * cos(angle), growth_mm * sin(angle)


def coronet_mm(dorsal_length_mm: float, dorsal_angle_deg: float) -> tuple[float, float]:
    """Height of the hairline at the toe, and how far it stands behind the toe."""
    angle = radians(dorsal_angle_deg)
    return dorsal_length_mm * sin(angle), dorsal_length_mm * cos(angle)


def wedge_deg(height_mm: float, bearing_length_mm: float) -> float:
    """The change of angle from a height on or off at one end of the bearing length."""
    return degrees(atan(height_mm / bearing_length_mm))


def wedge_height_mm(angle_deg: float, bearing_length_mm: float) -> float:
    """The height at one end that changes the angle by ``angle_deg``."""
    return bearing_length_mm * tan(radians(angle_deg))


def tilt_deg(height_difference_mm: float, width_mm: float) -> float:
    """How far a foot leans over its width, medial to lateral."""
    return degrees(atan(height_difference_mm / width_mm))


def photo_angle_deg(dx_px: float, dy_px: float) -> float:
    """The angle to the ground of a line that runs ``dx`` along and ``dy`` up."""
    return degrees(atan2(dy_px, dx_px))
