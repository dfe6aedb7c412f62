"""When a farrier drives out on a day, and who rides along."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, time
from typing import TypeVar

from django.db.models import Q, QuerySet

from practice.models import User
from scheduling.models import UsualDay, WorkingDay

Row = TypeVar("Row", UsualDay, WorkingDay)

USUAL_START = time(8)
USUAL_END = time(17)
USUAL_BREAK_MINUTES = 30
"""The hours of a farrier who has set none, and of a day at home on which a round is
booked all the same. Ours."""


@dataclass(frozen=True, slots=True)
class WorkHours:
    """Hours of one farrier on one day; ``drives_out`` is false for a day at home.

    ``note`` is that of a day otherwise than usual, or says with whom this farrier
    rides along; ``area`` the one wished on that day, else the weekday's usual one;
    ``company`` the name of who rides along, empty for nobody.
    """

    starts: time
    ends: time
    break_minutes: int
    drives_out: bool
    note: str = ""
    area: str = ""
    company: str = ""

    @property
    def people(self) -> int:
        """How many ride on that day's round."""
        return 2 if self.company else 1


AS_USUAL = WorkHours(USUAL_START, USUAL_END, USUAL_BREAK_MINUTES, drives_out=True)


def work_hours(
    *, farriers: Iterable[User], days: Iterable[date]
) -> dict[tuple[int, date], WorkHours]:
    """The hours of each of these farriers on each of these days. Two queries.

    A farrier who has set no usual days at all is taken to drive out daily. One who
    rides along with another has no round of own.
    """
    keys, wanted = [farrier.pk for farrier in farriers], list(days)
    # Those of others as well: one of these may ride along with them.
    usual: dict[int, dict[int, UsualDay]] = {key: {} for key in keys}
    for row in _of_those(UsualDay.objects.all(), keys):
        usual.setdefault(row.farrier_id, {})[row.weekday] = row
    special: dict[date, dict[int, WorkingDay]] = {day: {} for day in wanted}
    for other in _of_those(WorkingDay.objects.filter(day__in=wanted), keys):
        special[other.day][other.farrier_id] = other
    found: dict[tuple[int, date], WorkHours] = {}
    for day in wanted:
        week = {key: rows.get(day.isoweekday()) for key, rows in usual.items()}
        own = {
            key: _hours(week.get(key), special[day].get(key), bool(usual.get(key)))
            for key in {*usual, *special[day]}
        }
        together = _together(own, week, special[day])
        found |= {(key, day): together[key] for key in keys}
    return found


def _of_those(rows: QuerySet[Row], keys: list[int]) -> QuerySet[Row]:
    return rows.filter(Q(farrier__in=keys) | Q(farrier__is_active=True)).select_related(
        "area", "farrier", "rides_along"
    )


def _together(
    own: Mapping[int, WorkHours],
    week: Mapping[int, UsualDay | None],
    special: Mapping[int, WorkingDay],
) -> dict[int, WorkHours]:
    """These hours of one day with who rides along: what is said of the day itself goes
    before the usual week. Whoever has own hours or the day off by name rides with
    nobody; nobody rides with two, or with one who rides along."""
    found = dict(own)
    taken: set[int] = set()
    for farrier, person in _named(own, week, special):
        keys = {farrier.pk, person.pk}
        if keys & taken or person.pk in special or not person.is_active:
            continue
        taken |= keys
        found[farrier.pk] = replace(own[farrier.pk], company=person.name)
        if person.pk in own:
            said = f"rides along with {farrier.name}"
            found[person.pk] = replace(own[person.pk], drives_out=False, note=said)
    return found


def _named(
    own: Mapping[int, WorkHours],
    week: Mapping[int, UsualDay | None],
    special: Mapping[int, WorkingDay],
) -> list[tuple[User, User]]:
    """(farrier, who is named to ride along), those named for the day itself first."""
    today, usual = [], []
    for key in sorted(key for key, hours in own.items() if hours.drives_out):
        row, one = week.get(key), special.get(key)
        if one and one.rides_along:
            today.append((one.farrier, one.rides_along))
        elif row and row.rides_along and not (one and one.rides_alone):
            usual.append((row.farrier, row.rides_along))
    return [*today, *usual]


def hours_of(*, farrier: User, day: date) -> WorkHours:
    """The hours of one farrier on one day. Two queries."""
    return work_hours(farriers=[farrier], days=[day])[farrier.pk, day]


def _hours(
    usual: UsualDay | None, special: WorkingDay | None, has_set_days: bool
) -> WorkHours:
    base = AS_USUAL
    if usual:
        base = WorkHours(
            usual.starts,
            usual.ends,
            usual.break_minutes,
            drives_out=True,
            area=usual.area.name if usual.area else "",
        )
    elif has_set_days:
        base = replace(AS_USUAL, drives_out=False)
    if special is None:
        return base
    if special.is_off or special.starts is None or special.ends is None:
        return replace(base, drives_out=False, note=special.note)
    return replace(
        base,
        starts=special.starts,
        ends=special.ends,
        break_minutes=special.break_minutes,
        drives_out=True,
        note=special.note,
        area=special.area.name if special.area else base.area,
    )
