"""What planning has to know of horses, barns and nights away."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from horses.models import Horse
from practice.geo import Position
from practice.models import Barn, User
from scheduling.models import BarnClosure, BarnFinish, HorseHandling, Lodging


@dataclass(frozen=True, slots=True)
class Handling:
    """preferred: a farrier's key. may_treat: keys; empty: anyone. minutes: at this
    horse, instead of its usual work's."""

    preferred: int | None = None
    may_treat: frozenset[int] = frozenset()
    needs_two: bool = False
    minutes: int | None = None


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


def handling_of(horses: Iterable[Horse]) -> dict[int, Handling]:
    """What is said of these horses, by key; those of whom nothing is said are left out.
    Two queries."""
    rows = HorseHandling.objects.filter(
        horse__in=[horse.pk for horse in horses]
    ).prefetch_related("may_treat")
    return {
        row.horse_id: Handling(
            preferred=row.farrier_id,
            may_treat=frozenset(farrier.pk for farrier in row.may_treat.all()),
            needs_two=row.needs_two,
            minutes=row.minutes,
        )
        for row in rows
    }


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
