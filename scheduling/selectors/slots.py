"""Which days could take a booking, and who could take a day: by added driving."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from practice.errors import Refused
from practice.models import Practice, User
from scheduling.models import Booking
from scheduling.planner.insertion import Insertion, insertion_cost
from scheduling.planner.judge import time_shift
from scheduling.planner.one_day import clock
from scheduling.planner.weeks import Plan
from scheduling.selectors.travel import known_travel
from scheduling.selectors.world import gather
from scheduling.selectors.world_rows import Asked
from scheduling.weeks.changes import put
from scheduling.weeks.world import Job, World

WEEKS_AHEAD = 4
MOST_DAYS = 8
MOST_TAKERS = 8


@dataclass(frozen=True, slots=True)
class Fit:
    """A day that could take a booking. ``drive``: minutes of driving more than without
    it; ``start``: minute of the day; ``off``: days from the horses' target."""

    day: date
    farrier: int
    name: str
    drive: int
    start: int
    off: int

    @property
    def key(self) -> str:
        """As a form names it."""
        return f"{self.day} {self.farrier}"

    @property
    def words(self) -> str:
        """As whoever is asked reads it."""
        day = f"{self.day:%A} {self.day.day} {self.day:%B}"
        when = f"{day}, about {clock(self.start)}"
        if self.drive <= 0:
            return f"{when}: on our way"
        return f"{when}: {self.drive} min more driving for us"


@dataclass(frozen=True, slots=True)
class Taker:
    """Horses at a barn that could take a free place in a round. As in ``Fit``."""

    job: Job
    drive: int
    start: int
    off: int

    @property
    def horses(self) -> str:
        return ", ".join(horse.name for horse in self.job.horses)


def wish_of(fit: Fit) -> dict[str, object]:
    """What is kept of a day that was wished."""
    return {
        "day": fit.day.isoformat(),
        "farrier": fit.farrier,
        "minutes": fit.drive,
        "start": fit.start,
        "words": fit.words,
    }


def days_that_fit(
    *, booking: Booking, practice: Practice, today: date, most: int = MOST_DAYS
) -> list[Fit]:
    """Other days of the same farrier that could take the booking, the least added
    driving first; days outside the horses' window only where none within it fits.
    About fifteen queries; nothing when it can't be reckoned (no home, no position).
    """
    last = max(today, booking.day) + timedelta(weeks=WEEKS_AHEAD)
    world = _world(practice, booking.farrier, today + timedelta(days=1), last, today)
    key = str(booking.pk)
    if world is None or key not in world.jobs:
        return []
    plan = world.present()
    world = _resting_inside(world, plan, booking.day)
    instance = world.instance
    rows = [
        one
        for one in insertion_cost(instance, plan, key)
        if one.fits and one.day != booking.day
    ]
    rows.sort(key=lambda one: one.cost)
    found = []
    for one in rows[:most]:
        drive, start = _added(world, plan, key, one)
        found.append(
            Fit(
                day=one.day,
                farrier=int(one.farrier),
                name=world.farriers[one.farrier],
                drive=drive,
                start=start,
                off=(one.day - instance.visit_by_id[key].target).days,
            )
        )
    return sorted(found, key=lambda fit: (fit.drive, fit.day))


def who_could_take(
    *,
    practice: Practice,
    farrier: User,
    day: date,
    today: date,
    most: int = MOST_TAKERS,
) -> list[Taker]:
    """Due horses without a booking whose window holds the day and who fit into the
    farrier's round as it is, the least added driving first; not those of a barn that
    has called this day off. About fifteen queries.
    """
    world = _world(practice, farrier, day, day, today)
    if world is None or not world.instance.shifts:
        return []
    plan, found = world.present(), []
    called_off = set(
        Booking.objects.filter(
            farrier=farrier, day=day, status=Booking.Status.CALLED_OFF
        ).values_list("barn", flat=True)
    )
    for visit in world.instance.visits:
        if visit.booked is not None or world.jobs[visit.id].barn in called_off:
            continue
        for one in insertion_cost(world.instance, plan, visit.id):
            if one.fits:
                drive, start = _added(world, plan, visit.id, one)
                off = (day - visit.target).days
                found.append(Taker(world.jobs[visit.id], drive, start, off))
    found.sort(key=lambda one: (one.drive, -one.off, one.job.name))
    return found[:most]


def _resting_inside(world: World, plan: Plan, day: date) -> World:
    """The world in which a booking that takes its day, break and all, may take another
    that is still empty."""
    own = next((one for one in world.instance.shifts if one.day == day), None)
    if own is None or own.break_minutes:
        return world
    shifts = tuple(
        one if one.key in plan.orders else replace(one, break_minutes=0)
        for one in world.instance.shifts
    )
    return replace(world, instance=replace(world.instance, shifts=shifts))


def _world(
    practice: Practice, farrier: User, first: date, last: date, today: date
) -> World | None:
    asked = Asked(
        practice=practice, farriers=(farrier,), first=first, last=last, may_move="asked"
    )
    try:
        gathered = gather(asked, today=today)
    except Refused:
        return None
    travel = known_travel(gathered.points)
    return gathered.world(travel.minutes, travel.metres)


def _added(world: World, plan: Plan, key: str, one: Insertion) -> tuple[int, int]:
    """Minutes of driving that the visit adds there, and when it would start."""
    place = (one.day, one.farrier)
    without: Sequence[str] = plan.without(key).orders.get(place, ())
    with_it = put(plan, key, place, one.position).orders[place]
    timed = time_shift(world.instance, *place, with_it)
    before = (
        time_shift(world.instance, *place, without).drive_minutes if without else 0.0
    )
    start = next(stop.start for stop in timed.stops if stop.id == key)
    return round(timed.drive_minutes - before), start
