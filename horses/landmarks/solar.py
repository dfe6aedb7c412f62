"""From the marks of a sole to the outline a plan starts from. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass

from horses.hoof import Figure
from horses.landmarks.frames import Reckon, Seen, axis_of, spread
from horses.landmarks.reading import Marked, read, seen_of

OUTLINE = ("width_mm", "length_mm", "widest_from_toe_mm")
PLACES = {"quarter": "widest", "heel": "heel"}
"""A plan's places by the marks that lie there."""
FROG = ("frog_medial", "frog_lateral")
STEP_MM = 0.5


@dataclass(frozen=True, slots=True)
class SolarOutline:
    """Lengths in mm by the names of a foot record; ``halves``: mm from the midline by a
    plan's place; ``out_mm``: only where a wall stands off the sound line.
    """

    measures: Mapping[str, float]
    halves: Mapping[str, Figure]
    out_mm: Mapping[str, float]


def outline_from_solar(marked: Marked) -> SolarOutline | None:
    """What the marks of a sole say of the bearing outline; None without its lengths.

    The sound line is taken as the symmetric one between the two walls: ours, no mark
    shows it. So ``out_mm`` is a half-width less the mean of both, positive outward, to
    the nearest half millimetre, and left out where it is within its own standard
    deviation. A flare alike on both sides can't be seen from this.

    The midline runs from the toe to the middle of the frog's base where that is marked
    (ours), else to the middle of the buttresses: both heels then stand equally far
    from it by construction, and nothing is said of them.

    Raises:
        BadMarks: as ``reading.check``.
    """
    if marked.view != "solar":
        return None
    figures = {figure.name: figure.value for figure in read(marked).figures}
    if any(name not in figures for name in OUTLINE):
        return None
    seen = seen_of(marked)
    halves, out_mm = {}, {}
    for place, mark in PLACES.items():
        if mark == "heel" and not seen.has(*FROG):
            continue
        for side, other in (("medial", "lateral"), ("lateral", "medial")):
            name = f"{side}_{place}"
            halves[name] = _figure(name, seen, _half(side, mark))
            off = _figure(name, seen, _out(side, other, mark))
            value = round(off.value / STEP_MM) * STEP_MM
            if value and abs(off.value) > off.sd:
                out_mm[name] = value
    measures = {name: round(figures[name], 1) for name in OUTLINE}
    return SolarOutline(measures, halves, out_mm)


def _figure(name: str, seen: Seen, reckon: Reckon) -> Figure:
    return Figure(name, reckon(seen), spread(seen, reckon))


def _midline(seen: Seen) -> complex:
    """The unit vector back from the toe."""
    if seen.has(*FROG):
        axis = (seen.at[FROG[0]] + seen.at[FROG[1]]) / 2 - seen.at["toe"]
    else:
        axis = axis_of(seen)
    return axis / abs(axis)


def _half(side: str, mark: str) -> Reckon:
    """How far a wall stands from the midline toward its own side, mm."""

    def reckon(seen: Seen) -> float:
        midline = _midline(seen)
        heels = (seen.at["lateral_heel"] - seen.at["medial_heel"]) / midline
        toward = 1 if (heels.imag > 0) == (side == "lateral") else -1
        off = (seen.at[f"{side}_{mark}"] - seen.at["toe"]) / midline
        return toward * off.imag * seen.mm_per_px()

    return reckon


def _out(side: str, other: str, mark: str) -> Reckon:
    one, two = _half(side, mark), _half(other, mark)
    return lambda seen: (one(seen) - two(seen)) / 2
