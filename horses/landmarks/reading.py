"""A marked photo read: its figures with their spread, and what to mind. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import chain
from math import isfinite

from horses.entries import ANGLE_RANGE, LENGTH_RANGE, MEASURES
from horses.hoof import Figure, Foot
from horses.landmarks.cautions import APART_PX, SCALE_APART_PX, Caution, cautions
from horses.landmarks.frames import RULES, Rule, Seen, spread
from horses.landmarks.spots import LABELS, SCALE_LINE, SPOTS, Point, View, spots

SHOWN_PX = 800
"""The size at which placement is stated: the picture's longer side shown so long."""
MARK_SD_PX = 2.0
"""Standard deviation of a placed mark along each axis, in pixels of a picture shown
``SHOWN_PX`` long: ours, about what a steady finger with a magnifier leaves."""
KNOWN_SD_MM = 0.5
"""Standard deviation of the known length: half a division of a millimetre rule, ours."""
KNOWN_RANGE_MM = (1, 1000)
_STEEPEST_DEG = 135


class BadMarks(ValueError):
    """Marks that can't be of a picture; the message is a sentence that says the mend."""


@dataclass(frozen=True, slots=True)
class Marked:
    """A picture with its marks. ``points``: fractions by landmark name; some may lack.

    ``known_mm`` is the length between the two marks of the scale; without it, or
    without them, there are angles alone. Spreads are standard deviations, that of a
    mark in pixels of a picture shown ``SHOWN_PX`` long.
    """

    view: View
    width_px: int
    height_px: int
    points: Mapping[str, Point]
    known_mm: float | None = None
    foot: Foot | None = None
    mark_sd_px: float = MARK_SD_PX
    known_sd_mm: float = KNOWN_SD_MM


@dataclass(frozen=True, slots=True)
class Reading:
    """What the marks say: figures in the order of the view, and what to mind."""

    figures: tuple[Figure, ...]
    cautions: tuple[Caution, ...]


def check(marked: Marked) -> None:
    """Nothing where marks and scale can be of this picture.

    Raises:
        BadMarks: a mark outside the picture or of another view, an impossible scale.
    """
    if marked.view not in SPOTS:
        raise BadMarks("Say which view the photo shows: lateral, dorsal or solar.")
    if marked.width_px < 1 or marked.height_px < 1:
        raise BadMarks("The picture has no size.")
    known = {spot.name: spot.label for spot in spots(marked.view)}
    for name, (x, y) in marked.points.items():
        if name not in known:
            raise BadMarks(f"This view has no landmark '{name[:40]}'.")
        if not (0 <= x <= 1 and 0 <= y <= 1):  # NaN fails it too
            raise BadMarks(f"The mark '{known[name]}' lies outside the picture.")
    low, high = KNOWN_RANGE_MM
    if marked.known_mm is not None and not low <= marked.known_mm <= high:
        raise BadMarks(f"The known length lies between {low} and {high} mm.")
    for sd in (marked.mark_sd_px, marked.known_sd_mm):
        if not (isfinite(sd) and sd >= 0):
            raise BadMarks("A spread is nought or more.")


def read(marked: Marked) -> Reading:
    """The figures that the marks allow, each with its sd, and what to mind.

    A figure whose marks lack is left out; one whose marks can't be right is left out
    with a caution that says which to move.

    Raises:
        BadMarks: as ``check``.
    """
    check(marked)
    seen = seen_of(marked)
    figures, refusals = [], []
    for rule in RULES[marked.view]:
        result = _figure(seen, rule)
        if isinstance(result, Figure):
            figures.append(result)
        elif result is not None and result not in refusals:
            refusals.append(result)
    by_name = {figure.name: figure for figure in figures}
    minded = cautions(seen, marked.foot, by_name)
    return Reading(tuple(figures), (*refusals, *minded))


def recorded(value: float) -> Decimal:
    """A figure as a foot record keeps it: one decimal."""
    return Decimal(value).quantize(Decimal("0.1"))


def seen_of(marked: Marked) -> Seen:
    """The marks in picture pixels, y up, with how well they are known."""
    shown_px = max(marked.width_px, marked.height_px) / SHOWN_PX
    return Seen(
        view=marked.view,
        at={
            name: complex(x * marked.width_px, -y * marked.height_px)
            for name, (x, y) in marked.points.items()
        },
        known_mm=marked.known_mm,
        shown_px=shown_px,
        mark_sd_px=marked.mark_sd_px * shown_px,
        known_sd_mm=marked.known_sd_mm,
    )


def _figure(seen: Seen, rule: Rule) -> Figure | Caution | None:
    """The figure, why there is none, or None where its marks are not all set."""
    if not seen.has(*rule.needs) or (rule.is_length and seen.known_mm is None):
        return None
    if (fault := _too_near(seen, rule)) is not None:
        return fault
    value = rule.reckon(seen)
    if (fault := _impossible(seen, rule, value)) is not None:
        return fault
    return Figure(rule.name, value, spread(seen, rule.reckon))


def _label(seen: Seen, name: str) -> str:
    return next(spot.label for spot in spots(seen.view) if spot.name == name)


def _too_near(seen: Seen, rule: Rule) -> Caution | None:
    pairs = [(ends, APART_PX) for ends in rule.ends]
    if rule.is_length:
        pairs.append((SCALE_LINE, SCALE_APART_PX))
    for (one, other), least in pairs:
        if seen.apart_shown_px(one, other) < least:
            return Caution(
                "too_near",
                f"'{_label(seen, one)}' and '{_label(seen, other)}' lie too near to each "
                "other to measure from: move them apart.",
                is_refusal=True,
            )
    return None


def _impossible(seen: Seen, rule: Rule, value: float) -> Caution | None:
    low, high = LENGTH_RANGE if rule.is_length else ANGLE_RANGE
    if rule.name not in MEASURES and not rule.is_length:
        low, high = Decimal(0), Decimal(_STEEPEST_DEG)
    if isfinite(value) and low <= recorded(value) <= high:
        return None
    marks = ", ".join(_label(seen, name) for name in dict.fromkeys(chain(*rule.ends)))
    return Caution(
        "impossible",
        f"The {LABELS[rule.name]} comes to {f'{value:.0f}'.replace('-', '−')}"
        f"{' mm' if rule.is_length else '°'}, which no foot has. Look at the marks: {marks}"
        f"{', and at the scale' if rule.is_length else ''}.",
        is_refusal=True,
    )
