"""Readings of many horses as columns: merged by day, their slips marked. Pure.

A foot's slot is four times its horse's number plus the foot's place in LF RF LH RH.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from horses.growth.season import Bools, Floats, Ints
from horses.growth.terms import Key, Questionable, Record
from horses.hoof import FEET

LEAST_MM, MOST_MM = 25.0, 160.0
"""Toes outside these are no horse's: ours (feral adults 63 to 97 mm; a foal is born
with about 48 mm)."""
LEAST_DEG, MOST_DEG = 25.0, 85.0
"""Angles outside these: ours (feral adults 45 to 65°; a club foot 80° and more)."""

FOOT_SLIP_SDS, HORSE_SLIP_SDS = 6.0, 12.0
"""A length further than this many standard deviations of the tape from the middle of
its own foot's (with three or more), or of its horse's, may be a slip: ours."""
ANGLE_SLIP_DEG = 12.0
"""An angle further than this from the middle of its own foot's (with three or more)."""
LENGTHENED_SDS = 3 * 2**0.5
"""A trim doesn't lengthen: more than three standard deviations of two readings."""

_KEYS: tuple[Key, ...] = ("before_mm", "after_mm", "angle_after_deg")


@dataclass(slots=True)
class Slips:
    """What was found questionable, by slot, day and key; the first reason stands."""

    found: dict[tuple[int, int, Key], str] = field(default_factory=dict)

    def mark(self, slots: Ints, days: Ints, key: Key, why: str) -> None:
        for slot, day in zip(slots.tolist(), days.tolist(), strict=True):
            self.found.setdefault((slot, day, key), why)

    def of_horses(self, count: int) -> list[tuple[Questionable, ...]]:
        """By horse, ordered by day, foot and key."""
        lists: list[list[tuple[int, int, Key, str]]] = [[] for _ in range(count)]
        for (slot, day, key), why in self.found.items():
            lists[slot // 4].append((day, slot % 4, key, why))
        return [
            tuple(
                Questionable(FEET[foot], date.fromordinal(day), key, why)
                for day, foot, key, why in sorted(one)
            )
            for one in lists
        ]


@dataclass(frozen=True, slots=True)
class Table:
    """One row a foot and day, ordered by slot and day. NaN: not measured, or not
    believed. ``shod``: 1, 0, or −1 for as the horse goes.
    """

    slot: Ints
    day: Ints
    before: Floats
    after: Floats
    angle: Floats
    shod: Ints
    lost: Bools


def _columns(records: Sequence[Record], as_of: int, slips: Slips) -> Table:
    readings = [one for record in records for one in record.readings]
    foot, days, before, after, angle, shod, lost = (
        zip(*readings, strict=True) if readings else [()] * 7
    )
    many = [len(record.readings) for record in records]
    place = {one: at for at, one in enumerate(FEET)}
    slot = 4 * np.repeat(np.arange(len(records)), many) + _whole(
        [place[one] for one in foot]
    )
    day = _whole([one.toordinal() for one in days])
    foaled = _whole([record.facts.foaled_year or 0 for record in records])
    year = (day - 719163).astype("datetime64[D]").astype("datetime64[Y]")
    late = day > as_of
    early = year.astype(np.int64) + 1970 < foaled[slot // 4]
    slips.mark(slot[late], day[late], "day", "This day lies after the day asked for.")
    slips.mark(slot[early], day[early], "day", "The horse was foaled after this day.")
    keep = np.flatnonzero(~(late | early))
    rows = keep[np.lexsort((day[keep], slot[keep]))]
    return Table(
        slot=slot[rows],
        day=day[rows],
        before=_real(before)[rows],
        after=_real(after)[rows],
        angle=_real(angle)[rows],
        shod=_whole([-1 if one is None else one for one in shod])[rows],
        lost=np.array(lost, dtype=bool)[rows],
    )


def _whole(values: Sequence[int]) -> Ints:
    return np.array(values, dtype=np.int64)


def _real(values: Sequence[float | None]) -> Floats:
    """None becomes NaN."""
    return np.array(values, dtype=np.float64)


def _out_of_range(table: Table, slips: Slips) -> None:
    tests: tuple[tuple[Key, Floats, float, float, str, str], ...] = (
        ("before_mm", table.before, LEAST_MM, MOST_MM, "short", "long"),
        ("after_mm", table.after, LEAST_MM, MOST_MM, "short", "long"),
        ("angle_after_deg", table.angle, LEAST_DEG, MOST_DEG, "flat", "steep"),
    )
    for key, values, low, high, little, much in tests:
        for out, word in ((values < low, little), (values > high, much)):
            _mark(slips, table, out, key, f"No toe is so {word}: a slip of the keys?")
        values[(values < low) | (values > high)] = np.nan


def _mark(slips: Slips, table: Table, where: Bools, key: Key, why: str) -> None:
    slips.mark(table.slot[where], table.day[where], key, why)


def groups_of(keys: Ints) -> Ints:
    """The number, from 0, of each run of equal neighbours."""
    if len(keys) == 0:
        return np.zeros(0, dtype=np.int64)
    return np.concatenate(([0], np.cumsum(keys[1:] != keys[:-1]))).astype(np.int64)


def _mean(values: Floats, group: Ints, count: int) -> Floats:
    known = ~np.isnan(values)
    total = np.bincount(group[known], values[known], count)
    many = np.bincount(group[known], minlength=count)
    return np.where(many > 0, total / np.maximum(many, 1), np.nan)


def _merged(table: Table, slips: Slips) -> Table:
    """One row a day: what stands twice is averaged, and shown."""
    if len(table.slot) == 0:
        return table
    day_key = table.slot * 4_000_000 + table.day
    group = groups_of(day_key)
    count = int(group[-1]) + 1
    if count == len(group):
        return table
    first = np.unique(group, return_index=True)[1]
    slot, day = table.slot[first], table.day[first]
    means = []
    for key, values in zip(
        _KEYS, (table.before, table.after, table.angle), strict=True
    ):
        many = np.bincount(group[~np.isnan(values)], minlength=count) > 1
        slips.mark(
            slot[many], day[many], key, "Measured twice on this day: the mean counts."
        )
        means.append(_mean(values, group, count))
    lost = np.bincount(group[table.lost], minlength=count) > 0
    shod = np.full(count, -1, dtype=np.int64)
    np.maximum.at(shod, group, table.shod)
    return Table(slot, day, means[0], means[1], means[2], shod, lost)


def medians(values: Floats, group: Ints, count: int) -> tuple[Floats, Ints]:
    """The median of each group's known values, and how many it has (NaN for none)."""
    known = ~np.isnan(values)
    sorted_by = np.lexsort((values[known], group[known]))
    ordered = values[known][sorted_by]
    many = np.bincount(group[known], minlength=count)
    starts = np.concatenate(([0], np.cumsum(many)[:-1]))
    found = np.full(count, np.nan)
    has = many > 0
    low = starts[has] + (many[has] - 1) // 2
    high = starts[has] + many[has] // 2
    found[has] = (ordered[low] + ordered[high]) / 2
    return found, many.astype(np.int64)


def near_median(values: Floats, slot: Ints) -> Floats:
    """The median of up to six neighbours of each value in its own foot, three before
    and three after it; NaN where fewer than three are known.
    """
    count = len(values)
    beside = np.full((count, 6), np.nan)
    for column, step in enumerate((-3, -2, -1, 1, 2, 3)):
        at = np.arange(count) + step
        inside = (at >= 0) & (at < count)
        there = at[inside]
        same = slot[there] == slot[inside]
        beside[inside, column] = np.where(same, values[there], np.nan)
    ordered = np.sort(beside, axis=1)  # NaN comes last
    many = 6 - np.isnan(ordered).sum(axis=1)
    row = np.arange(count)
    low = ordered[row, np.maximum(many - 1, 0) // 2]
    high = ordered[row, np.minimum(many // 2, 5)]
    return np.where(many >= 3, (low + high) / 2, np.nan)


def _without(
    table: Table, key: Key, values: Floats, far: Bools, why: str, slips: Slips
) -> None:
    _mark(slips, table, far, key, why)
    values[far] = np.nan


def _apart(table: Table, horses: int, length_sd_mm: float, slips: Slips) -> None:
    """Lengths far from their neighbours or the horse's other feet, angles from their
    neighbours.
    """
    tape = max(length_sd_mm, 1.0)
    lengths: tuple[tuple[Key, Floats, float], ...] = (
        ("after_mm", table.after, tape),
        # Befores differ by how long the foot was left: they are given twice the room.
        ("before_mm", table.before, 2 * tape),
    )
    for key, values, room in lengths:
        off = np.abs(values - near_median(values, table.slot))
        why = "Far from this foot's other readings: a slip of the keys?"
        _without(table, key, values, off > FOOT_SLIP_SDS * room, why, slips)
        middle, many = medians(values, table.slot // 4, horses)
        off = np.abs(values - middle[table.slot // 4])
        far = (off > HORSE_SLIP_SDS * room) & (many[table.slot // 4] >= 2)
        why = "Far from the readings of this horse's feet: a slip of the keys?"
        _without(table, key, values, far, why, slips)
    off = np.abs(table.angle - near_median(table.angle, table.slot))
    why = "Far from this foot's other angles: a slip of the keys?"
    far = np.asarray(off > ANGLE_SLIP_DEG)
    _without(table, "angle_after_deg", table.angle, far, why, slips)


def _lengthened(table: Table, horses: int, length_sd_mm: float, slips: Slips) -> None:
    """After longer than before: the one further from its foot's middle is marked."""
    tape = max(length_sd_mm, 1.0)
    more = np.asarray(table.after - table.before > LENGTHENED_SDS * tape)
    if not more.any():
        return
    off = []
    for values in (table.before, table.after):
        middle, _ = medians(values, table.slot, 4 * horses)
        off.append(np.abs(values - middle[table.slot]))
    is_after = more & (off[1] >= off[0])
    why = "Longer after the trim than before it: a slip of the keys?"
    _without(table, "after_mm", table.after, is_after, why, slips)
    _without(table, "before_mm", table.before, more & ~is_after, why, slips)


def table_of(
    records: Sequence[Record], *, as_of: date, length_sd_mm: float, slips: Slips
) -> Table:
    """The readings up to ``as_of`` as columns, without what can't be a foot's."""
    table = _columns(records, as_of.toordinal(), slips)
    _out_of_range(table, slips)
    table = _merged(table, slips)
    _lengthened(table, len(records), length_sd_mm, slips)
    _apart(table, len(records), length_sd_mm, slips)
    return table


def last_known(values: Floats, slot: Ints, slots: int) -> list[float | None]:
    """The last value known of each slot; rows are ordered by day."""
    known = ~np.isnan(values)
    found: list[float | None] = [None] * slots
    for one, value in zip(slot[known].tolist(), values[known].tolist(), strict=True):
        found[one] = value
    return found


def last_days(records: Sequence[Record], table: Table) -> list[date | None]:
    """Each horse's last visit: as told, or the last day on which a foot was read."""
    days: list[date | None] = [record.facts.last_visit for record in records]
    horse = table.slot // 4
    latest = np.full(len(records), -1, dtype=np.int64)
    np.maximum.at(latest, horse, table.day)
    for number, day in enumerate(latest.tolist()):
        told = days[number]
        if day >= 0 and (told is None or day > told.toordinal()):
            days[number] = date.fromordinal(day)
    return days
