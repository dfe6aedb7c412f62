"""A round under way: times from what was tapped, slack, what to bring, who is to hear."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from horses.models import Horse, Visit, VisitRecord, Work
from scheduling.models import Booking, DrivenRoad, Round, RoundActual, StopActual
from scheduling.planner.one_day import Broken, Call, Stop, clock
from scheduling.running import (
    Course,
    Done,
    HorseLesson,
    Leg,
    Running,
    Stay,
    WorkLesson,
    horse_lessons,
    lessons,
    retime,
)
from scheduling.selectors.asks import agreed_starts
from scheduling.selectors.handling import (
    NO_LIMITS,
    NOTHING_SAID,
    barn_limits,
    handling_of,
)
from scheduling.selectors.plans import (
    Outlook,
    agreed_span,
    open_hours,
    within_limits,
)

WORTH_TELLING_MINUTES = 10
"""A stop that moves by less is not worth a message. Ours."""
LESSON_DAYS = 365
"""Days before today whose stays teach: what a farrier takes changes with the years."""

_SURE = ("position", "home", "off", "people")


def minute_of(moment: datetime, day: date, zone: ZoneInfo) -> int:
    """Minutes after the local midnight of the day by the clock on the wall."""
    there = moment.astimezone(zone)
    days = (there.date() - day).days
    return max(0, days * 24 * 60 + there.hour * 60 + there.minute)


def _minute(moment: datetime | None, day: date, zone: ZoneInfo) -> int | None:
    return minute_of(moment, day, zone) if moment else None


def as_it_goes(
    outlook: Outlook, round_: Round, bookings: Sequence[Booking], zone: ZoneInfo
) -> Outlook:
    """The round as planned, or, once anything was tapped or said to run late, as it
    will go. One query, given bookings with ``actual`` selected."""
    day = RoundActual.objects.filter(round=round_).first()
    stops = {str(one.barn_id): getattr(one, "actual", None) for one in bookings}
    if not (day and day.left_home_at) and not any(stops.values()):
        return outlook
    calls = {call.key: call for call in outlook.calls}
    legs = [
        _leg(row, calls[row.key], stops.get(row.key), round_.day, zone)
        for row in outlook.plan.stops
    ]
    leave = outlook.plan.leave
    if day and day.left_home_at:
        leave = minute_of(day.left_home_at, round_.day, zone)
    frame = outlook.frame
    course = Course(leave, frame.end, frame.break_minutes, outlook.plan.home_minutes)
    return _with_times(outlook, course, legs, retime(course, legs))


def _leg(
    row: Stop, call: Call, actual: StopActual | None, day: date, zone: ZoneInfo
) -> Leg:
    leg = Leg(
        key=row.key,
        name=call.name,
        drive_minutes=row.drive_minutes,
        setup_minutes=call.setup_minutes,
        work_minutes=call.work_minutes,
        hours=call.hours,
    )
    if actual is None:
        return leg
    return replace(
        leg,
        late_arriving=actual.late_arriving,
        late_leaving=actual.late_leaving,
        arrived=_minute(actual.arrived_at, day, zone),
        left=_minute(actual.left_at, day, zone),
    )


def _with_times(
    outlook: Outlook, course: Course, legs: Sequence[Leg], running: Running
) -> Outlook:
    times = {one.key: one for one in running.legs}
    stops = tuple(
        replace(
            row,
            arrive=times[row.key].arrive,
            start=times[row.key].start,
            end=times[row.key].end,
            wait_minutes=times[row.key].wait_minutes,
        )
        for row in outlook.plan.stops
    )
    plan = replace(
        outlook.plan,
        stops=stops,
        leave=course.leave,
        home_at=running.home_at,
        break_start=running.break_start,
        wait_minutes=sum(one.wait_minutes for one in running.legs),
    )
    sure = [one for one in outlook.warnings if one.kind in _SURE]
    return replace(
        outlook,
        plan=plan,
        stops=tuple(
            replace(row, stop=stop)
            for row, stop in zip(outlook.stops, stops, strict=True)
        ),
        warnings=(*sure, *_broken(course, legs, running)),
    )


def _broken(course: Course, legs: Sequence[Leg], running: Running) -> Iterable[Broken]:
    for leg, one in zip(legs, running.legs, strict=True):
        if leg.is_done:
            continue
        if leg.hours == ():
            yield Broken("closed", leg.key, f"{leg.name} is closed on this day.")
        elif one.outside:
            yield Broken(
                "hours",
                leg.key,
                f"{leg.name}: work would start at {clock(one.start)}, "
                f"{_span(one.outside)} after it must.",
            )
    if running.home_at > course.end:
        over = running.home_at - course.end
        yield Broken("day", None, f"The day ends {_span(over)} after its hours.")
    if running.misses_break:
        yield Broken("break", None, "There is no time left for the break.")


def _span(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} minutes"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


# --- slack of each stop -----------------------------------------------------------------


def slacks(round_: Round, zone: ZoneInfo) -> dict[str, int]:
    """How many minutes later than planned the farrier may come to each open stop before
    a rule is broken or an agreed start is not kept, by booking. Three queries, given a
    round of ``with_stops``."""
    rows = list(round_.stops.all())
    agreed = agreed_starts([row.booking for row in rows], zone)
    limits = barn_limits([row.booking.barn for row in rows], round_.day, round_.day)
    legs = []
    time = round_.leave
    for row in rows:
        barn, work = row.booking.barn, row.end - row.start
        hours = agreed_span(agreed.get(row.booking_id)) or within_limits(
            open_hours(barn, round_.day),
            limits.get(barn.pk, NO_LIMITS),
            round_.day,
            work,
        )
        leg = Leg(
            key=str(row.booking_id),
            name=barn.name,
            drive_minutes=max(0, row.arrive - time),
            setup_minutes=max(0, row.start - row.wait_minutes - row.arrive),
            work_minutes=work,
            hours=hours,
        )
        actual = getattr(row.booking, "actual", None)
        if actual and actual.left_at:
            leg = replace(leg, arrived=row.arrive, left=row.end)
        legs.append(leg)
        time = row.end
    end = round_.ends.hour * 60 + round_.ends.minute
    # Where the break lies is in the times already.
    course = Course(round_.leave, end, 0, max(0, round_.home_at - time))
    found = retime(course, legs)
    return {one.key: one.slack for one in found.legs if one.slack is not None}


def driven_minutes(booking: Booking) -> int | None:
    """The drive to this stop as it was tapped, in minutes; None where it was not."""
    row = DrivenRoad.objects.filter(key=f"stop-{booking.pk}").first()
    return row.minutes if row else None


def shared_road(round_: Round) -> dict[str, int | None]:
    """The driving of the whole round and how many barns share it, as a visit keeps it.
    Metres are None where those of one drive are not known. One query."""
    legs = list(round_.stops.values_list("drive_metres", flat=True))
    metres = [*legs, round_.home_metres]
    known = [one for one in metres if one is not None]
    return {
        "round_minutes": round_.drive_minutes,
        "round_metres": sum(known) if len(known) == len(metres) else None,
        "round_stops": len(legs),
    }


# --- who is to hear that it gets late ------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Moved:
    """A booking whose start is no longer the one that people know."""

    booking: Booking
    told: datetime
    starts: datetime

    @property
    def minutes(self) -> int:
        """How much later (negative: earlier)."""
        return round((self.starts - self.told).total_seconds() / 60)


def moved(round_: Round) -> list[Moved]:
    """Stops still to come that moved by enough to tell, in their order: against what all
    were told, or what one of them was. Two queries."""
    rows = (
        StopActual.objects.filter(
            booking__stop__round=round_,
            arrived_at__isnull=True,
            told_start__isnull=False,
            booking__starts_at__isnull=False,
            booking__status__in=[Booking.Status.ASKED, Booking.Status.AGREED],
        )
        .select_related("booking__barn", "booking__farrier")
        .prefetch_related("booking__times_told")
        .order_by("booking__stop__position")
    )
    found = []
    for row in rows:
        starts = row.booking.starts_at
        if starts and row.told_start:
            last = {
                (t.client_id, t.contact_id): t for t in row.booking.times_told.all()
            }
            known = [row.told_start, *(told.starts for told in last.values())]
            if any(is_news(one, starts) for one in known):
                found.append(Moved(row.booking, row.told_start, starts))
    return found


def is_news(told: datetime, starts: datetime) -> bool:
    """Whether a start is far enough from the one that was told."""
    return abs(starts - told) >= timedelta(minutes=WORTH_TELLING_MINUTES)


# --- what the days teach --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Taught:
    """What the stays of the last year say: of works, and of single horses."""

    works: tuple[tuple[Work, WorkLesson], ...]
    horses: tuple[tuple[Horse, Work, HorseLesson], ...]


def taught(*, today: date) -> Taught:
    """What the stays of the last year say of each work, and of horses that were
    attended alone. Six queries."""
    since = today - timedelta(days=LESSON_DAYS)
    actuals = StopActual.objects.filter(
        arrived_at__isnull=False,
        left_at__isnull=False,
        booking__day__gte=since,
        booking__visit__state=Visit.State.CLOSED,
    ).select_related("booking__barn")
    stays = {one.booking.visit_id: one for one in actuals}
    done: dict[object, list[Done]] = {key: [] for key in stays}
    records = VisitRecord.objects.filter(visit__in=list(stays))
    there: Counter[object] = Counter(records.values_list("visit", flat=True))
    rows = list(
        records.filter(is_recorded=True, work__isnull=False).select_related(
            "work", "horse"
        )
    )
    horses = {row.horse_id: row.horse for row in rows}
    works = {row.work.pk: row.work for row in rows if row.work}
    handling = handling_of(horses.values())
    for row in rows:
        assert row.work
        said = handling.get(row.horse_id, NOTHING_SAID)
        planned = said.minutes_with(row.work)
        done[row.visit_id].append(
            Done(row.work.pk, row.horse_id, planned, row.work.minutes)
        )
    found = [
        Stay(
            setup_minutes=one.booking.barn.setup_minutes,
            minutes=_minutes(one),
            horses=there[key],
            done=tuple(done[key]),
        )
        for key, one in stays.items()
    ]
    return Taught(
        works=tuple((works[one.key], one) for one in lessons(found)),
        horses=tuple(
            (horses[one.horse], works[one.work], one) for one in horse_lessons(found)
        ),
    )


def _minutes(actual: StopActual) -> int:
    assert actual.arrived_at
    assert actual.left_at
    return round((actual.left_at - actual.arrived_at).total_seconds() / 60)
