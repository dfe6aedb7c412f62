"""From barns, horses and a farrier's day to the planner's terms, and its answer back."""

from collections.abc import Iterable, Mapping, Sequence
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
    clock,
    plan_round,
    time_round,
)
from scheduling.planner.pause import with_break_inside
from scheduling.selectors.handling import (
    NO_LIMITS,
    NOTHING_SAID,
    BarnLimits,
    Handling,
    barn_limits,
    handling_of,
    lodgings,
    minutes_at,
)
from scheduling.selectors.hours import WorkHours, hours_of
from scheduling.selectors.travel import known_travel

AGREED_WITHIN = 15
"""Minutes after an agreed start by which the work may begin: what "about ten" means.
Ours."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A barn with the horses to be attended there.

    ``typed_minutes``: the drive, for a barn without position; without it the barn's own.
    ``attended``: done already, so it keeps its place in front. ``agreed_at``: the minute
    of the day for which an owner or the barn agreed, kept within AGREED_WITHIN.
    """

    barn: Barn
    horses: tuple[Horse, ...]
    typed_minutes: int | None = None
    attended: bool = False
    agreed_at: int | None = None


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
    frame: Day
    calls: tuple[Call, ...]


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

    Eleven queries at the most, given barns with ``access_hours`` prefetched and horses with
    ``usual_work``.
    """
    hours = hours_of(farrier=farrier, day=day)
    home = home_of(practice)
    start, end = ends_of(practice=practice, farrier=farrier, day=day)
    frame = Day(
        start=_minutes(hours.starts),
        end=_minutes(hours.ends),
        break_minutes=hours.break_minutes,
        home=start,
        end_at=end,
    )
    handling = handling_of(horse for wish in wishes for horse in wish.horses)
    limits = barn_limits([wish.barn for wish in wishes], day, day)
    calls = [
        _call(wish, day, handling, limits.get(wish.barn.pk, NO_LIMITS))
        for wish in wishes
    ]
    places = [place for place in (start, end, *(call.at for call in calls)) if place]
    travel = known_travel(places)
    if keep_order:
        plan = time_round(frame, calls, drive=travel.drive)
    else:
        first = [str(wish.barn.pk) for wish in wishes if wish.attended]
        plan = plan_round(frame, calls, first=first, drive=travel.drive)
    parts = {
        str(wish.barn.pk): [minutes_at(horse, handling) for horse in wish.horses]
        for wish in wishes
    }
    plan = with_break_inside(frame, calls, plan, parts, drive=travel.drive)
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
        warnings=(
            *_off(farrier, day, hours),
            *_alone(farrier, hours, wishes, handling),
            *_shut(wishes, day, limits),
            *(_told(one, by_key, plan) for one in plan.broken),
        ),
        frame=frame,
        calls=tuple(calls),
    )


def grouped(horses: Iterable[Horse]) -> dict[Barn, list[Horse]]:
    """Horses by barn, in the order in which the barns come up; homeless ones left out."""
    found: dict[Barn, list[Horse]] = {}
    for horse in horses:
        if horse.barn:
            found.setdefault(horse.barn, []).append(horse)
    return found


def ends_of(
    *, practice: Practice, farrier: User, day: date
) -> tuple[Position | None, Position | None]:
    """Where the farrier's day starts and where it ends: home, or a bed elsewhere. One
    query."""
    home = home_of(practice)
    start, end = lodgings([farrier], [day]).get((farrier.pk, day), (None, None))
    return start or home, end or home


def within_limits(
    hours: tuple[tuple[int, int], ...] | None,
    limits: BarnLimits,
    day: date,
    minutes: int,
) -> tuple[tuple[int, int], ...] | None:
    """The hours in which work of so many minutes may start, given when it must be over
    and which days are closed."""
    if limits.is_closed(day) is not None:
        return ()
    finish = limits.finish_by.get(day.isoweekday())
    if finish is None:
        return hours
    latest = max(0, finish - minutes)
    spans = ((0, latest),) if hours is None else hours
    return tuple((a, min(b, latest)) for a, b in spans if a <= latest)


def _call(
    wish: Wish, day: date, handling: Mapping[int, Handling], limits: BarnLimits
) -> Call:
    barn = wish.barn
    typed = wish.typed_minutes
    minutes = sum(minutes_at(horse, handling) for horse in wish.horses)
    return Call(
        key=str(barn.pk),
        name=barn.name,
        at=position_of(barn),
        work_minutes=minutes,
        setup_minutes=barn.setup_minutes,
        hours=agreed_span(None if wish.attended else wish.agreed_at)
        or within_limits(open_hours(barn, day), limits, day, minutes),
        typed_minutes=barn.typed_drive_minutes if typed is None else typed,
    )


def agreed_span(agreed_at: int | None) -> tuple[tuple[int, int], ...] | None:
    """The only span in which the work may start, where its start is agreed."""
    return None if agreed_at is None else ((agreed_at, agreed_at + AGREED_WITHIN),)


def _told(one: Broken, wishes: Mapping[str, Wish], plan: Plan) -> Broken:
    """A broken rule; of an agreed start in the words that fit it."""
    wish = wishes.get(one.key or "")
    if one.kind != "hours" or wish is None or wish.agreed_at is None:
        return one
    start = next(stop.start for stop in plan.stops if stop.key == one.key)
    return Broken(
        "hours",
        one.key,
        f"{wish.barn.name} is agreed for {clock(wish.agreed_at)} and would start at "
        f"{clock(start)}. Ask again, or change the round.",
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


def _alone(
    farrier: User,
    hours: WorkHours,
    wishes: Sequence[Wish],
    handling: Mapping[int, Handling],
) -> Iterable[Broken]:
    """Where a horse needs two people and the farrier rides alone."""
    for wish in wishes:
        names = [
            horse.name
            for horse in wish.horses
            if handling.get(horse.pk, NOTHING_SAID).needs_two
        ]
        if names and hours.people < 2 and not wish.attended:
            need = "needs" if len(names) == 1 else "need"
            yield Broken(
                "people",
                str(wish.barn.pk),
                f"{' and '.join(names)} at {wish.barn.name} {need} two people, and "
                f"nobody rides along with {farrier.name} on this day. Set who does "
                "under Hours, or take another day.",
            )


def _shut(
    wishes: Sequence[Wish], day: date, limits: Mapping[int, BarnLimits]
) -> Iterable[Broken]:
    """Barns that are closed on a day for which they are agreed: the agreed start stays
    in the plan, so nothing else would tell."""
    for wish in wishes:
        because = limits.get(wish.barn.pk, NO_LIMITS).is_closed(day)
        if because is not None and wish.agreed_at is not None and not wish.attended:
            why = f" ({because})" if because else ""
            yield Broken(
                "closed",
                str(wish.barn.pk),
                f"{wish.barn.name} is agreed for this day and closed on it{why}. Ask "
                "for another day, or open it.",
            )


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute
