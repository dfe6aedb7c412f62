"""When a farrier drives out on a day."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, time

from practice.models import User
from scheduling.models import UsualDay, WorkingDay

USUAL_START = time(8)
USUAL_END = time(17)
USUAL_BREAK_MINUTES = 30
"""The hours of a farrier who has set none, and of a day at home on which a round is
booked all the same. Ours."""


@dataclass(frozen=True, slots=True)
class WorkHours:
    """Hours of one farrier on one day; ``drives_out`` is false for a day at home.

    ``note`` is that of a day otherwise than usual, ``area`` the one wished on
    that day, else the weekday's usual one.
    """

    starts: time
    ends: time
    break_minutes: int
    drives_out: bool
    note: str = ""
    area: str = ""


AS_USUAL = WorkHours(USUAL_START, USUAL_END, USUAL_BREAK_MINUTES, drives_out=True)


def work_hours(
    *, farriers: Iterable[User], days: Iterable[date]
) -> dict[tuple[int, date], WorkHours]:
    """The hours of each of these farriers on each of these days. Two queries.

    A farrier who has set no usual days at all is taken to drive out daily.
    """
    keys, wanted = [farrier.pk for farrier in farriers], list(days)
    usual: dict[int, dict[int, UsualDay]] = {key: {} for key in keys}
    for row in UsualDay.objects.filter(farrier__in=keys).select_related("area"):
        usual[row.farrier_id][row.weekday] = row
    special = {
        (row.farrier_id, row.day): row
        for row in WorkingDay.objects.filter(
            farrier__in=keys, day__in=wanted
        ).select_related("area")
    }
    return {
        (key, day): _hours(
            usual[key].get(day.isoweekday()),
            special.get((key, day)),
            has_set_days=bool(usual[key]),
        )
        for key in keys
        for day in wanted
    }


def hours_of(*, farrier: User, day: date) -> WorkHours:
    """The hours of one farrier on one day. Two queries."""
    return work_hours(farriers=[farrier], days=[day])[farrier.pk, day]


def _hours(
    usual: UsualDay | None, special: WorkingDay | None, *, has_set_days: bool
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
