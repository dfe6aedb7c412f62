"""From barns, horses and a farrier's day to the planner's terms, and its answer back."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time

from horses.models import Horse
from practice.geo import Position
from practice.models import Barn, Practice, User
from scheduling.planner.one_day import (
    Broken,
    Call,
    Day,
    Plan,
    Stop,
    plan_round,
    time_round,
)
from scheduling.selectors.hours import WorkHours, hours_of
from scheduling.selectors.travel import known_travel

USUAL_WORK_MINUTES = 45
"""A horse whose usual work is not said. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A barn with the horses to be attended there.

    ``typed_minutes``: the drive, for a barn without position; without it the barn's own.
    ``attended``: done already, so it keeps its place in front.
    """

    barn: Barn
    horses: tuple[Horse, ...]
    typed_minutes: int | None = None
    attended: bool = False


@dataclass(frozen=True, slots=True)
class PlannedStop:
    """A stop of a plan with the rows that it stands for."""

    number: int
    stop: Stop
    wish: Wish


@dataclass(frozen=True, slots=True)
class Outlook:
    """A round as it would be: nothing of it is stored."""

    farrier: User
    day: date
    hours: WorkHours
    home: Position | None
    plan: Plan
    stops: tuple[PlannedStop, ...]
    warnings: tuple[Broken, ...]


def position_of(barn: Barn) -> Position | None:
    """Where the barn is, if anybody has said."""
    if barn.latitude is None or barn.longitude is None:
        return None
    return Position(float(barn.latitude), float(barn.longitude))


def home_of(practice: Practice) -> Position | None:
    """The practice's home base, if anybody has said."""
    if practice.home_latitude is None or practice.home_longitude is None:
        return None
    return Position(float(practice.home_latitude), float(practice.home_longitude))


def minutes_of(horse: Horse) -> int:
    """Minutes at the barn for what the horse usually gets."""
    return horse.usual_work.minutes if horse.usual_work else USUAL_WORK_MINUTES


def open_hours(barn: Barn, day: date) -> tuple[tuple[int, int], ...] | None:
    """The barn's access hours on the day in minutes: None is always, () is closed.

    Reads ``barn.access_hours.all()``: prefetch it.
    """
    rows = list(barn.access_hours.all())
    if not rows:
        return None
    return tuple(
        sorted(
            (_minutes(row.opens), _minutes(row.closes))
            for row in rows
            if row.weekday == day.isoweekday()
        )
    )


def look_ahead(
    *,
    practice: Practice,
    farrier: User,
    day: date,
    wishes: Sequence[Wish],
    keep_order: bool = False,
) -> Outlook:
    """The round of these barns on this day: the best order, or the one given.

    Five queries at the most, given barns with ``access_hours`` prefetched and horses with
    ``usual_work``.
    """
    hours = hours_of(farrier=farrier, day=day)
    home = home_of(practice)
    frame = Day(
        start=_minutes(hours.starts),
        end=_minutes(hours.ends),
        break_minutes=hours.break_minutes,
        home=home,
    )
    calls = [_call(wish, day) for wish in wishes]
    places = [place for place in (home, *(call.at for call in calls)) if place]
    travel = known_travel(places)
    if keep_order:
        plan = time_round(frame, calls, drive=travel.drive)
    else:
        first = [str(wish.barn.pk) for wish in wishes if wish.attended]
        plan = plan_round(frame, calls, first=first, drive=travel.drive)
    by_key = {str(wish.barn.pk): wish for wish in wishes}
    return Outlook(
        farrier=farrier,
        day=day,
        hours=hours,
        home=home,
        plan=plan,
        stops=tuple(
            PlannedStop(number, stop, by_key[stop.key])
            for number, stop in enumerate(plan.stops, start=1)
        ),
        warnings=(*_off(farrier, day, hours), *plan.broken),
    )


def grouped(horses: Iterable[Horse]) -> dict[Barn, list[Horse]]:
    """Horses by barn, in the order in which the barns come up; homeless ones left out."""
    found: dict[Barn, list[Horse]] = {}
    for horse in horses:
        if horse.barn:
            found.setdefault(horse.barn, []).append(horse)
    return found


def _call(wish: Wish, day: date) -> Call:
    barn = wish.barn
    typed = wish.typed_minutes
    return Call(
        key=str(barn.pk),
        name=barn.name,
        at=position_of(barn),
        work_minutes=sum(minutes_of(horse) for horse in wish.horses),
        setup_minutes=barn.setup_minutes,
        hours=open_hours(barn, day),
        typed_minutes=barn.typed_drive_minutes if typed is None else typed,
    )


def _off(farrier: User, day: date, hours: WorkHours) -> Iterable[Broken]:
    if not hours.drives_out:
        because = f" ({hours.note})" if hours.note else ""
        yield Broken(
            "off",
            None,
            f"{farrier.name} does not drive out on {day:%A} {day.day} {day:%B}"
            f"{because}. Take another day, or change the hours.",
        )


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute
