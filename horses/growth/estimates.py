"""How fast each foot of each horse grows, with its band, and which readings don't fit.
Pure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from horses.growth.intervals import Intervals, group_of, intervals_of, means_now
from horses.growth.priors import DEFAULT, Priors
from horses.growth.season import Bools, Floats, Ints, Season, default_season
from horses.growth.shrink import (
    QUESTIONED_SDS,
    SWAPPED_SDS,
    Believed,
    believe,
    spreads_of,
    without,
)
from horses.growth.table import (
    Slips,
    Table,
    last_days,
    last_known,
    medians,
    table_of,
)
from horses.growth.terms import Z80, Estimate, FootEstimate, Record
from horses.hoof import FEET, Foot

LEAST_RATE = 0.05
"""No foot is taken to grow less than this, in mm a week: a day must come out (ours)."""


def _questioned(
    table: Table, found: Intervals, believed: Believed, slips: Slips
) -> None:
    """Marks, of each interval that stands apart, the reading further from its foot's
    middle; what it ends with where neither says more.
    """
    far = np.asarray(np.abs(believed.distance) > QUESTIONED_SDS)
    if not far.any():
        return
    slots = int(table.slot.max()) + 1
    start, end = found.first[far], found.last[far]
    after_middle, many = medians(table.after, table.slot, slots)
    slot = found.slot[far]
    expected_gain = believed.rate[slot] * found.weeks[far]
    after_off = np.abs(table.after[start] - after_middle[slot])
    before_off = np.abs(table.before[end] - after_middle[slot] - expected_gain)
    at_start: Bools = np.asarray((many[slot] >= 3) & (after_off > before_off))
    is_less = found.rate[far] < believed.rate[slot]
    for row, key, where in (
        (start, "after_mm", at_start),
        (end, "before_mm", ~at_start),
    ):
        for less, words in ((True, "less"), (False, "more")):
            these = where & (is_less == less)
            slips.mark(
                table.slot[row[these]],
                table.day[row[these]],
                key,  # type: ignore[arg-type]  # keys of the loop
                f"It makes for far {words} growth than this foot's other readings: "
                "a slip of the keys, or something happened in between?",
            )


def _swapped(values: Floats) -> Floats:
    """Each value with its tens and units changed round: 89.5 gives 98.5."""
    units, tens = np.floor(values) % 10, np.floor(values / 10) % 10
    return np.asarray(values + 9 * (units - tens))


def _changed_round(
    table: Table, found: Intervals, believed: Believed, slips: Slips
) -> Bools:
    """The intervals that stand apart somewhat and would fit with two digits of one
    reading changed round; that reading is marked.
    """
    off = np.abs(believed.distance)
    near = np.flatnonzero((off > SWAPPED_SDS) & (off <= QUESTIONED_SDS))
    start, end, weeks = found.first[near], found.last[near], found.weeks[near]
    gain, distance = found.gain_mm[near], believed.distance[near]
    expected = believed.rate[found.slot[near]] * weeks
    # Millimetres in one standard deviation, from the distance itself.
    scale = np.abs((found.rate[near] * weeks - expected) / distance)
    why = "It would fit with two digits changed round: a slip of the keys?"
    before, after = table.before[end], table.after[start]
    swapped = np.zeros(len(off), dtype=bool)
    for row, key, would in (
        (end, "before_mm", gain + _swapped(before) - before),
        (start, "after_mm", gain - _swapped(after) + after),
    ):
        fits = np.asarray(np.abs(would - expected) < scale)
        slips.mark(table.slot[row[fits]], table.day[row[fits]], key, why)  # type: ignore[arg-type]  # keys of the loop
        swapped[near[fits]] = True
    return swapped


def _guides(angles: Sequence[float | None]) -> list[Foot | None]:
    """Of each horse the foot with the lowest angle; of equals the first of FEET."""
    found: list[Foot | None] = []
    for start in range(0, len(angles), 4):
        known = [
            (angle, at) for at in range(4) if (angle := angles[start + at]) is not None
        ]
        found.append(FEET[min(known)[1]] if known else None)
    return found


def _ends(rate: Floats, sd: Floats) -> tuple[Floats, Floats, Floats]:
    value = np.maximum(rate, LEAST_RATE)
    return value, np.maximum(rate - Z80 * sd, 0.0), np.maximum(rate + Z80 * sd, value)


@dataclass(frozen=True, slots=True)
class Found:
    """What all estimates are made of, as arrays: intervals, and what is believed.

    ``group``: each horse's group, by its number in the priors.
    """

    horses: int
    table: Table
    intervals: Intervals
    believed: Believed
    group: Ints
    slips: Slips


def find(
    records: Sequence[Record],
    *,
    as_of: date,
    priors: Priors,
    season: Season,
    length_sd_mm: float,
) -> Found:
    """Intervals and beliefs of all these horses at once."""
    slips = Slips()
    table = table_of(records, as_of=as_of, length_sd_mm=length_sd_mm, slips=slips)
    now = means_now(records, as_of.year, priors)
    found = intervals_of(
        table,
        records,
        now=now,
        priors=priors,
        season=season,
        length_sd_mm=length_sd_mm,
    )
    spreads = spreads_of(records, as_of.year, priors)
    believed = believe(found, spreads, visit_sd=priors.visit_sd)
    swapped = _changed_round(table, found, believed, slips)
    believed = without(found, spreads, believed, swapped, visit_sd=priors.visit_sd)
    number = {group: at for at, group in enumerate(priors.of)}
    groups = [number[group_of(record, as_of.year)] for record in records]
    return Found(
        len(records), table, found, believed, np.array(groups, np.int64), slips
    )


def estimate_all(
    records: Sequence[Record],
    *,
    as_of: date,
    priors: Priors = DEFAULT,
    season: Season | None = None,
    length_sd_mm: float = 2.0,
) -> list[Estimate]:
    """Every horse's estimate, in order: what was known at the end of ``as_of``.

    Args:
        season: the northern default if left out.
        length_sd_mm: standard deviation of one length with the tape.
    """
    if not records:
        return []
    all_found = find(
        records,
        as_of=as_of,
        priors=priors,
        season=season or default_season(),
        length_sd_mm=length_sd_mm,
    )
    table, found, believed, slips = (
        all_found.table,
        all_found.intervals,
        all_found.believed,
        all_found.slips,
    )
    _questioned(table, found, believed, slips)
    slots = 4 * len(records)
    sd = np.sqrt(believed.variance)
    value, low, high = (one.tolist() for one in _ends(believed.rate, sd))
    used = np.bincount(found.slot[believed.weight > 0.5], minlength=slots).tolist()
    after = last_known(table.after, table.slot, slots)
    angle = last_known(table.angle, table.slot, slots)
    guides = _guides(angle)
    days = last_days(records, table)
    questionable = slips.of_horses(len(records))
    sds = sd.tolist()
    estimates = []
    for number, record in enumerate(records):
        feet = tuple(
            FootEstimate(
                foot=foot,
                rate_mm_per_week=value[slot],
                low80=low[slot],
                high80=high[slot],
                sd=sds[slot],
                intervals=used[slot],
                after_mm=after[slot],
                angle_deg=angle[slot],
                is_guide=foot == guides[number],
            )
            for foot, slot in zip(FEET, range(4 * number, 4 * number + 4), strict=True)
            if foot in record.facts.feet
        )
        foaled = record.facts.foaled_year
        estimates.append(
            Estimate(
                as_of=as_of,
                facts=record.facts,
                age_years=None if foaled is None else as_of.year - foaled,
                last_visit=days[number],
                feet=feet,
                questionable=questionable[number],
            )
        )
    return estimates


def estimate(
    record: Record,
    *,
    as_of: date,
    priors: Priors = DEFAULT,
    season: Season | None = None,
    length_sd_mm: float = 2.0,
) -> Estimate:
    """One horse's estimate: ``estimate_all`` of it alone."""
    return estimate_all(
        [record], as_of=as_of, priors=priors, season=season, length_sd_mm=length_sd_mm
    )[0]
