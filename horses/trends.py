"""A foot's measures over time: points with their spread, slips, changes. Pure.

Lengths in millimetres, angles in degrees. Every figure carries the standard deviation
of its readings, so that a change says whether it is more than the tape's own error.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import hypot
from statistics import median
from typing import Literal

from horses.entries import ANGLES, LENGTHS, MEASURES, FootEntry
from horses.feet import FIGURE_WORDS, measures_of
from horses.hoof import FEET, MATE, RULES, Figure, Foot, Rule, derived
from practice.units import MM_PER_INCH, LengthUnit, System, format_length

Unit = Literal["mm", "°", "%", ""]

COVERAGE = 1.96
COVERAGE_SOURCE = (
    "two readings of an unchanged thing lie further apart than 1.96 × √2 = 2.8 standard "
    "deviations of one reading once in twenty times (the repeatability limit of "
    "ISO 5725-6:1994, from memory)"
)
YEAR_DAYS, YEAR_SLACK_DAYS = 365, 61
"""'A year before' is the visit nearest to a year back, two months off at most (ours)."""

SLIP_SDS, SLIP_LEAST = 8.0, {"mm": 15.0, "°": 8.0}
SLIP_SOURCE = (
    "ours: a reading further than 8 standard deviations, and 15 mm or 8°, from the "
    "middle of the four nearest of its own foot may be a slip of the keys"
)
_NEAR, _LEAST_NEAR = 2, 3


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing that is followed: measured itself, or derived ``of`` several readings.

    ``sides``: of a signed difference, what a positive and a negative value say.
    ``is_pair``: one figure for both feet of a pair, kept with the left foot.
    """

    key: str
    label: str
    unit: Unit
    family: str
    of: tuple[str, ...]
    sides: tuple[str, str] | None = None
    is_pair: bool = False


def _read(key: str, family: str) -> Measure:
    return Measure(key, MEASURES[key], "mm" if key in LENGTHS else "°", family, (key,))


def _derived(
    key: str,
    family: str,
    *of: str,
    label: str = "",
    sides: tuple[str, str] | None = None,
    is_pair: bool = False,
) -> Measure:
    words, said = FIGURE_WORDS[key]
    unit: Unit = (
        "°" if said == "°" else "mm" if said == "mm" else "%" if said == "%" else ""
    )
    return Measure(key, label or words, unit, family, of, sides, is_pair)


_SIDES = ("lateral more", "medial more")
FOLLOWED: tuple[Measure, ...] = (
    _read("dorsal_length_mm", "Toe"),
    _read("trimmed_length_mm", "Toe"),
    _read("dorsal_angle_deg", "Toe"),
    _read("trimmed_angle_deg", "Toe"),
    _derived(
        "pair_angle_difference_deg",
        "Toe",
        "dorsal_angle_deg",
        label="toe angle, left less right",
        sides=("left steeper", "right steeper"),
        is_pair=True,
    ),
    _read("heel_length_mm", "Heel"),
    _read("heel_angle_deg", "Heel"),
    _derived(
        "toe_heel_angle_difference_deg", "Heel", "dorsal_angle_deg", "heel_angle_deg"
    ),
    _derived("toe_heel_length_ratio", "Heel", "dorsal_length_mm", "heel_length_mm"),
    _read("pastern_angle_deg", "Pastern"),
    _derived(
        "hoof_pastern_angle_deg", "Pastern", "dorsal_angle_deg", "pastern_angle_deg"
    ),
    _read("length_mm", "Base"),
    _read("width_mm", "Base"),
    _derived("width_length_ratio", "Base", "width_mm", "length_mm"),
    _read("widest_from_toe_mm", "Base"),
    _derived("ahead_of_widest_percent", "Base", "widest_from_toe_mm", "length_mm"),
    _read("frog_width_mm", "Frog"),
    _read("frog_length_mm", "Frog"),
    _derived("frog_ratio", "Frog", "frog_width_mm", "frog_length_mm"),
    _read("medial_height_mm", "Medial and lateral"),
    _read("lateral_height_mm", "Medial and lateral"),
    _derived(
        "wall_height_difference_mm",
        "Medial and lateral",
        "medial_height_mm",
        "lateral_height_mm",
        label="wall heights, lateral less medial",
        sides=_SIDES,
    ),
    _read("heel_length_medial_mm", "Medial and lateral"),
    _read("heel_length_lateral_mm", "Medial and lateral"),
    _derived(
        "heel_length_difference_mm",
        "Medial and lateral",
        "heel_length_medial_mm",
        "heel_length_lateral_mm",
        label="heel lengths, lateral less medial",
        sides=_SIDES,
    ),
)
"""All that is followed, in the order of the page."""


@dataclass(frozen=True, slots=True)
class MeasuredVisit:
    """What was measured at one visit; ``key`` names its record."""

    key: str
    day: date
    feet: tuple[FootEntry, ...]


@dataclass(frozen=True, slots=True)
class Point:
    """One figure on one day. ``is_questionable``: it looks like a slip of the keys."""

    key: str
    day: date
    value: float
    sd: float
    is_questionable: bool = False


@dataclass(frozen=True, slots=True)
class Series:
    """One measure of one foot, oldest first."""

    measure: Measure
    foot: Foot
    points: tuple[Point, ...]

    @property
    def sound(self) -> tuple[Point, ...]:
        """Without what looks like a slip."""
        return tuple(point for point in self.points if not point.is_questionable)


@dataclass(frozen=True, slots=True)
class Change:
    """How far a figure moved between two visits."""

    before: Point
    after: Point
    value: float
    sd: float
    is_real: bool


# ---- Slips -------------------------------------------------------------------------
def questionable(values: Sequence[float], *, sd: float, unit: Unit) -> list[bool]:
    """Which of these readings, oldest first, stand apart from their neighbours.

    Each is held against the median of the two before and the two after it (at an end,
    of the nearest four); with fewer than three others nothing is said.
    """
    limit = max(SLIP_SDS * sd, SLIP_LEAST.get(unit, 0.0))
    found = []
    for i, value in enumerate(values):
        start = min(max(i - _NEAR, 0), max(len(values) - 2 * _NEAR - 1, 0))
        window = range(start, min(start + 2 * _NEAR + 1, len(values)))
        others = [values[j] for j in window if j != i]
        apart = len(others) >= _LEAST_NEAR and abs(value - median(others)) > limit
        found.append(apart)
    return found


def _slips(
    visits: Sequence[MeasuredVisit], *, length_sd_mm: float, angle_sd_deg: float
) -> set[tuple[str, Foot, str]]:
    """The readings that look like slips: record, foot and measurement."""
    found: set[tuple[str, Foot, str]] = set()
    for foot in FEET:
        for name in MEASURES:
            rows = [
                (visit.key, float(value))
                for visit in visits
                for entry in visit.feet
                if entry.foot == foot and (value := getattr(entry, name)) is not None
            ]
            unit: Unit = "mm" if name in LENGTHS else "°"
            sd = length_sd_mm if name in LENGTHS else angle_sd_deg
            marks = questionable([value for _, value in rows], sd=sd, unit=unit)
            found |= {
                (key, foot, name)
                for (key, _), mark in zip(rows, marks, strict=True)
                if mark
            }
    return found


# ---- Series ------------------------------------------------------------------------
def _signed(figure: Figure) -> float:
    """Lateral and left count up, medial and right down."""
    down = figure.side == "medial" or (figure.side or "").startswith("R")
    return -figure.value if down else figure.value


def _figures(
    visit: MeasuredVisit, *, length_sd_mm: float, angle_sd_deg: float
) -> dict[tuple[Foot, str], tuple[float, float]]:
    """Value and spread of all that one visit says, by foot and measure."""
    spread = {"length_sd_mm": length_sd_mm, "angle_sd_deg": angle_sd_deg}
    plain = {entry.foot: measures_of(entry, **spread) for entry in visit.feet}
    found: dict[tuple[Foot, str], tuple[float, float]] = {}
    for entry in visit.feet:
        for names, sd in ((LENGTHS, length_sd_mm), (ANGLES, angle_sd_deg)):
            for name in names:
                value = getattr(entry, name)
                if value is not None:
                    found[entry.foot, name] = (float(value), sd)
        pair = plain.get(MATE[entry.foot])
        for name, figure in derived(replace(plain[entry.foot], pair=pair)).items():
            found[entry.foot, name] = (_signed(figure), figure.sd)
    return found


def follow(
    visits: Iterable[MeasuredVisit], *, length_sd_mm: float, angle_sd_deg: float
) -> dict[tuple[Foot, str], Series]:
    """Every measure of every foot over these visits, by foot and key; empty ones are
    left out. A derived figure of a questionable reading is questionable too.
    """
    told = sorted(visits, key=lambda visit: (visit.day, visit.key))
    spread = {"length_sd_mm": length_sd_mm, "angle_sd_deg": angle_sd_deg}
    slips = _slips(told, **spread)
    figures = [(visit, _figures(visit, **spread)) for visit in told]
    found: dict[tuple[Foot, str], Series] = {}
    for measure in FOLLOWED:
        for foot in FEET:
            if measure.is_pair and foot.startswith("R"):
                continue
            feet = (foot, MATE[foot]) if measure.is_pair else (foot,)
            points = tuple(
                Point(
                    visit.key,
                    visit.day,
                    *by_name[foot, measure.key],
                    is_questionable=any(
                        (visit.key, one, name) in slips
                        for one in feet
                        for name in measure.of
                    ),
                )
                for visit, by_name in figures
                if (foot, measure.key) in by_name
            )
            if points:
                found[foot, measure.key] = Series(measure, foot, points)
    return found


def years_before(day: date, years: int) -> date:
    """The same day so many years earlier; of 29 February the 28th."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return day.replace(year=day.year - years, day=28)


# ---- Changes -----------------------------------------------------------------------
def change(before: Point, after: Point) -> Change:
    """From one reading to another, whose errors are independent.

    Real where it is more than 1.96 of its own standard deviations: ``COVERAGE_SOURCE``.
    """
    value, sd = after.value - before.value, hypot(before.sd, after.sd)
    return Change(before, after, value, sd, round(abs(value) - COVERAGE * sd, 9) > 0)


def since_last(series: Series) -> Change | None:
    """Between the last two readings that don't look like slips."""
    sound = series.sound
    return change(sound[-2], sound[-1]) if len(sound) > 1 else None


def over_a_year(series: Series) -> Change | None:
    """From the visit nearest to a year before the last; None if none is near."""
    if not series.sound:
        return None
    last = series.sound[-1]

    def off(point: Point) -> int:
        return abs((last.day - point.day).days - YEAR_DAYS)

    before = min(series.sound, key=off)
    return change(before, last) if off(before) <= YEAR_SLACK_DAYS else None


_ERROR_OF = {"mm": "the tape's error", "°": "the gauge's error"}


def verdict(change: Change, unit: Unit) -> str:
    """``real`` or ``within the tape's error``."""
    if change.is_real:
        return "real"
    return f"within {_ERROR_OF.get(unit, 'the error of measuring')}"


# ---- Limits and words --------------------------------------------------------------
def limits_of(measure: Measure) -> tuple[tuple[float, Rule], ...]:
    """The limits that belong on this measure's chart, each with its rule."""
    rules = [rule for rule in RULES if rule.figure == measure.key]
    found = [(rule.sign * rule.threshold, rule) for rule in rules]
    if measure.sides:
        found += [(-value, rule) for value, rule in found]
    return tuple(found)


def number(value: float, unit: Unit, length_unit: LengthUnit) -> str:
    """The figure alone, in the practice's unit: ``84.5``, ``3 1/4``, ``51.2``."""
    if unit == "mm":
        return format_length(
            value, _system(length_unit), unit=length_unit
        ).removesuffix(f" {length_unit}")
    places = 2 if unit == "" else 1
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("-", "−")


def unit_word(unit: Unit, length_unit: LengthUnit) -> str:
    """``mm``, ``in``, ``°``, ``%`` or nothing."""
    return length_unit if unit == "mm" else unit


def said(value: float, unit: Unit, length_unit: LengthUnit) -> str:
    """The figure with its unit, not to be torn apart: ``84.5 mm``, ``51.2°``."""
    word = unit_word(unit, length_unit)
    gap = "" if word in ("°", "") else "\u00a0"
    return f"{number(value, unit, length_unit)}{gap}{word}".replace(" ", "\u00a0")


def said_spread(sd: float, unit: Unit, length_unit: LengthUnit) -> str:
    """A spread with its unit: inches in hundredths, since it is no reading; what is
    under a tenth with a second decimal.
    """
    if unit == "mm" and length_unit == "in":
        return f"{sd / float(MM_PER_INCH):.2f}\u00a0in"
    if unit and 0 < sd < 0.095 and length_unit != "cm":
        word = unit_word(unit, length_unit)
        return f"{sd:.2f}" + ("" if word == "°" else "\u00a0") + word
    return said(sd, unit, length_unit)


def said_change(change: Change, unit: Unit, length_unit: LengthUnit) -> str:
    """``+2 mm ± 2.8 mm``: the change and its spread."""
    sign = "+" if change.value > 0 else ""
    moved = said(change.value, unit, length_unit)
    return f"{sign}{moved} ± {said_spread(change.sd, unit, length_unit)}"


def _system(length_unit: LengthUnit) -> System:
    return "imperial" if length_unit == "in" else "metric"
