"""From readings to observed rates: one line fitted between two trims. Pure.

Between a trim and the next nothing but growth moves the toe, so the readings of that
span lie on one line. Two readings give (before − after) / weeks with twice the tape's
variance; a foot measured in between and left alone shares its reading with both
neighbours, and the fitted line takes that covariance into account.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from horses.growth.priors import Group, Priors, stage_of
from horses.growth.season import Bools, Floats, Ints, Season, weeks_until
from horses.growth.table import Table, groups_of
from horses.growth.terms import Record

LONGEST_DAYS = 196
"""A gap of more than 28 weeks says little of growth: somebody else will have trimmed
in between, or the foot has worn off. Ours."""

_ONE = 1e-9


@dataclass(frozen=True, slots=True)
class Intervals:
    """One row a span between two trims, of all slots.

    ``rate``: mm a week, brought to the horse's present stage and shoeing (and to the
    year's mean where the season corrects); ``variance``: by the tape alone.
    ``first``, ``last``: rows of the table at which it starts and ends. ``weeks``: how
    much growing time it holds; ``gain_mm``: what grew in it.
    """

    slot: Ints
    rate: Floats
    variance: Floats
    first: Ints
    last: Ints
    start_day: Ints
    end_day: Ints
    weeks: Floats
    gain_mm: Floats


def group_of(record: Record, year: int) -> Group:
    """The group of a horse in a year: its stage of life, and whether it goes shod."""
    foaled = record.facts.foaled_year
    return stage_of(None if foaled is None else year - foaled), record.facts.shod


def means_now(records: Sequence[Record], as_of_year: int, priors: Priors) -> Floats:
    """Each horse's prior mean, at its age and shoeing of today."""
    return np.array(
        [priors.of[group_of(record, as_of_year)].mean for record in records],
        dtype=np.float64,
    ).reshape(-1)


_AGES = 42
"""Ages looked up in the table below: unknown, then 0, 1, … years."""


def _means_by_age(priors: Priors) -> Floats:
    """Prior means by age (row 0: unknown) and shoeing (column 1: shod)."""
    ages: list[int | None] = [None, *range(_AGES - 1)]
    return np.array(
        [
            [priors.of[stage_of(age), shod].mean for shod in (False, True)]
            for age in ages
        ]
    )


def _factor(
    table: Table, records: Sequence[Record], now: Floats, priors: Priors
) -> Floats:
    """The growth expected at each row's age and shoeing, by that expected today."""
    horse = table.slot // 4
    foaled = np.array(
        [record.facts.foaled_year or 0 for record in records], dtype=np.int64
    )[horse]
    shod_now = np.array([record.facts.shod for record in records], dtype=np.int64)
    year = (table.day - 719163).astype("datetime64[D]").astype("datetime64[Y]")
    age = np.clip(year.astype(np.int64) + 1970 - foaled, 0, _AGES - 2)
    row = np.where(foaled > 0, age + 1, 0)
    column = np.where(table.shod < 0, shod_now[horse], table.shod)
    return np.asarray(_means_by_age(priors)[row, column] / now[horse])


def _points(table: Table) -> tuple[Ints, Floats, Bools]:
    """Rows, lengths and whether a trim stands before the point, in order of time."""
    is_shared = table.before == table.after
    has_before, has_after = ~np.isnan(table.before), ~np.isnan(table.after)
    rows = np.arange(len(table.slot))
    takes_after = has_after & ~is_shared
    # A trim whose length after isn't known still ends the span: its length before
    # opens no new one.
    row = np.concatenate((rows[has_before], rows[takes_after]))
    value = np.concatenate((table.before[has_before], table.after[takes_after]))
    is_after = np.concatenate(
        (np.zeros(has_before.sum(), bool), np.ones(takes_after.sum(), bool))
    )
    order = np.lexsort((is_after, row))
    return row[order], value[order], is_after[order]


def _spans(table: Table, row: Ints, is_after: Bools) -> Ints:
    """The span that each point belongs to: a trim between two points parts them."""
    trims = ~(table.before == table.after)
    trims_until = np.cumsum(trims)
    # Before the trim of its own row a point belongs to the span before it.
    number = trims_until[row] - (trims[row] & ~is_after)
    return groups_of(table.slot[row] * (len(table.slot) + 2) + number)


def intervals_of(
    table: Table,
    records: Sequence[Record],
    *,
    now: Floats,
    priors: Priors,
    season: Season,
    length_sd_mm: float,
) -> Intervals:
    """Every span of growth that can be told, of all horses at once."""
    row, value, is_after = _points(table)
    if len(row) == 0:
        return _none()
    span = _spans(table, row, is_after)
    count = int(span[-1]) + 1
    time = (
        weeks_until(table.day, season)
        if season.corrects
        else table.day.astype(float) / 7
    )
    factor = _factor(table, records, now, priors)
    step = np.zeros(len(row))
    same = span[1:] == span[:-1]
    step[1:] = np.where(same, (time[row[1:]] - time[row[:-1]]) * factor[row[1:]], 0.0)
    along = np.cumsum(step)
    size = np.bincount(span, minlength=count)
    first = np.searchsorted(span, np.arange(count))
    last = first + size - 1
    # Sums about the span's own start and middle: no precision is lost over the years.
    along = along - along[first][span]
    centred = along - (np.bincount(span, along, count) / size)[span]
    spread = np.bincount(span, centred**2, count)
    slope_up = np.bincount(span, centred * (value - value[first][span]), count)
    lost = np.bincount(span[1:], (table.lost[row[1:]] & same), count) > 0
    gap = np.zeros(count, dtype=np.int64)
    between = np.where(same, table.day[row[1:]] - table.day[row[:-1]], 0)
    np.maximum.at(gap, span[1:], between)
    good = (spread > _ONE) & (gap <= LONGEST_DAYS) & ~lost
    spread = np.where(good, spread, 1.0)
    tape = max(length_sd_mm, 1e-3)
    return Intervals(
        slot=table.slot[row[first]][good],
        rate=(slope_up / spread)[good],
        variance=(tape**2 / spread)[good],
        first=row[first][good],
        last=row[last][good],
        start_day=table.day[row[first]][good],
        end_day=table.day[row[last]][good],
        weeks=along[last][good],
        gain_mm=(value[last] - value[first])[good],
    )


def _none() -> Intervals:
    whole, real = np.zeros(0, dtype=np.int64), np.zeros(0)
    return Intervals(whole, real, real, whole, whole, whole, whole, real, real)
