"""What planning has to know of horses, barns and nights away."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from horses.models import Horse, Work
from practice.geo import Position
from practice.models import Barn, User
from scheduling.models import (
    BarnClosure,
    BarnFinish,
    HorseHandling,
    HorseMinutes,
    Lodging,
)

USUAL_WORK_MINUTES = 45
"""A horse whose usual work is not said. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Handling:
    """preferred: a farrier's key. may_treat: keys; empty: anyone. minutes: at this
    horse whatever the work. by_work: with that work, by its key."""

    preferred: int | None = None
    may_treat: frozenset[int] = frozenset()
    needs_two: bool = False
    minutes: int | None = None
    by_work: Mapping[int, int] = field(default_factory=dict)

    def minutes_with(self, work: Work | None) -> int:
        """Minutes at this horse with a work: its own with that work, else its own
        whatever the work, else those that the work usually takes. None: not said."""
        if work is None:
            return self.minutes or USUAL_WORK_MINUTES
        own = self.by_work.get(work.pk, self.minutes)
        return work.minutes if own is None else own


@dataclass(frozen=True, slots=True)
class BarnLimits:
    """finish_by: minute of the day by ISO weekday. closed: first day, last day, why."""

    finish_by: Mapping[int, int] = field(default_factory=dict)
    closed: tuple[tuple[date, date, str], ...] = ()

    def is_closed(self, day: date) -> str | None:
        """Why it can't be attended on that day ('' unsaid); None: it can."""
        for first, last, why in self.closed:
            if first <= day <= last:
                return why
        return None


NOTHING_SAID = Handling()
NO_LIMITS = BarnLimits()


def minutes_at(horse: Horse, handling: Mapping[int, Handling]) -> int:
    """Minutes of work at this horse with what it usually gets: the one place where
    booking, rounds, sheets, the due list and proposals take them from.

    No query, given ``usual_work`` selected and the handling of these horses.
    """
    return handling.get(horse.pk, NOTHING_SAID).minutes_with(horse.usual_work)


def handling_of(horses: Iterable[Horse]) -> dict[int, Handling]:
    """What is said of these horses, by key; those of whom nothing is said are left out.
    Three queries."""
    keys = [horse.pk for horse in horses]
    by_work: dict[int, dict[int, int]] = defaultdict(dict)
    for own in HorseMinutes.objects.filter(horse__in=keys).order_by():
        by_work[own.horse_id][own.work_id] = own.minutes
    rows = HorseHandling.objects.filter(horse__in=keys).prefetch_related("may_treat")
    found = {
        row.horse_id: Handling(
            preferred=row.farrier_id,
            may_treat=frozenset(farrier.pk for farrier in row.may_treat.all()),
            needs_two=row.needs_two,
            minutes=row.minutes,
            by_work=by_work.get(row.horse_id, {}),
        )
        for row in rows
    }
    return {key: Handling(by_work=own) for key, own in by_work.items()} | found


def barn_limits(
    barns: Iterable[Barn], first: date, last: date
) -> dict[int, BarnLimits]:
    """Finish-by hours and closed days from first to last, by the barn's key; barns
    without any are left out. Two queries."""
    keys = [barn.pk for barn in barns]
    finish: dict[int, dict[int, int]] = defaultdict(dict)
    for row in BarnFinish.objects.filter(barn__in=keys):
        minute = row.finish_by.hour * 60 + row.finish_by.minute
        finish[row.barn_id][row.weekday] = minute
    closed: dict[int, list[tuple[date, date, str]]] = defaultdict(list)
    for shut in BarnClosure.objects.filter(
        barn__in=keys, first__lte=last, last__gte=first
    ):
        closed[shut.barn_id].append((shut.first, shut.last, shut.why))
    return {
        key: BarnLimits(finish.get(key, {}), tuple(closed.get(key, ())))
        for key in {*finish, *closed}
    }


def lodgings(
    farriers: Iterable[User], days: Iterable[date]
) -> dict[tuple[int, date], tuple[Position | None, Position | None]]:
    """Where the days of these farriers start and end if not at home (None), by farrier
    and day; days that do both are left out. One query."""
    keys, wanted = [farrier.pk for farrier in farriers], list(days)
    one = timedelta(days=1)
    nights = {
        (row.farrier_id, row.night): Position(float(row.latitude), float(row.longitude))
        for row in Lodging.objects.filter(
            farrier__in=keys, night__in={*wanted, *(day - one for day in wanted)}
        )
    }
    found = {
        (key, day): (nights.get((key, day - one)), nights.get((key, day)))
        for key in keys
        for day in wanted
    }
    return {place: ends for place, ends in found.items() if any(ends)}
