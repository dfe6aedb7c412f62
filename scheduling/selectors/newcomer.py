"""What a new client at a place would add to the rounds, before saying yes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median
from typing import TYPE_CHECKING

from django.db.models import Q

from practice.geo import Position
from practice.models import Barn, Practice, User
from scheduling.models import Round
from scheduling.running import Course, Leg
from scheduling.selectors.handling import (
    NO_LIMITS,
    BarnLimits,
    barn_limits,
    lodgings,
)
from scheduling.selectors.hours import work_hours
from scheduling.selectors.plans import (
    home_of,
    open_hours,
    position_of,
    within_limits,
)
from scheduling.selectors.travel import known_travel

if TYPE_CHECKING:
    from scheduling.driving import TravelMatrix

MOST_BARNS = 500
WEEKS_BACK, WEEKS_AHEAD = 8, 8
MOST_DAYS_SHOWN = 10
MOST_FREE_SHOWN = 6
SETUP_MINUTES = 10
"""At a barn that nobody knows yet: what a new barn begins with."""


@dataclass(frozen=True, slots=True)
class DayFor:
    """A day on which a newcomer could be attended. added: minutes of driving more.
    round: the round it would join; None: a day without any so far."""

    day: date
    farrier: str
    added: int
    start: int
    fits: bool
    round: Round | None


@dataclass(frozen=True, slots=True)
class FreeDay:
    """A working day ahead without a round so far, with the area it is meant for."""

    day: date
    farrier: str
    area: str


@dataclass(frozen=True, slots=True)
class Newcomer:
    """What a new client would add. days: the best ahead. free: those without a round,
    on which it would cost `alone` by itself. a_visit: minutes of driving a
    visit, the median over weeks of the best day of each week that had rounds (the last
    weeks and those ahead); None without any. weeks: how many such weeks; fitting: in how
    many of them a day had room. alone: there and back from home."""

    at: Position
    work_minutes: int
    alone: int
    alone_metres: int
    near: tuple[tuple[Barn, int], ...]
    days: tuple[DayFor, ...]
    free: tuple[FreeDay, ...]
    a_visit: int | None
    weeks: int
    fitting: int
    interval_weeks: int

    @property
    def a_year(self) -> int | None:
        """Minutes of driving in a year, at that interval."""
        if self.a_visit is None:
            return None
        return round(self.a_visit * 52 / self.interval_weeks)


def newcomer(
    *, at: Position, horses: int, minutes: int, interval_weeks: int, today: date
) -> Newcomer | None:
    """What attending so many horses at a place would add to the rounds of the last and
    the next weeks, their orders kept. None where nobody has said where home is.

    About twelve queries, however many rounds.
    """
    practice = Practice.objects.the_one()
    home = home_of(practice)
    if home is None:
        return None
    first = today - timedelta(weeks=WEEKS_BACK)
    rounds = _rounds(first, today + timedelta(weeks=WEEKS_AHEAD))
    beds = lodgings({one.farrier for one in rounds}, {one.day for one in rounds})
    barns = list(Barn.objects.active().filter(latitude__isnull=False)[:MOST_BARNS])
    known = [(barn, place) for barn in barns if (place := position_of(barn))]
    ends = [place for pair in beds.values() for place in pair if place]
    placed = {
        stop.booking.barn_id: stop.booking.barn
        for one in rounds
        for stop in one.stops.all()
    }
    stops = [place for barn in placed.values() if (place := position_of(barn))]
    travel = known_travel(
        list(dict.fromkeys([home, at, *ends, *stops, *(p for _, p in known)]))
    )
    leg = Leg(
        key="new",
        name="new",
        drive_minutes=0,
        setup_minutes=SETUP_MINUTES,
        work_minutes=horses * minutes,
    )
    limits = barn_limits(placed.values(), first, today + timedelta(weeks=WEEKS_AHEAD))
    found = []
    for one in rounds:
        start, end = beds.get((one.farrier_id, one.day), (None, None))
        told = _joined(one, leg, at, start or home, end or home, travel, limits)
        if told:
            found.append(told)
    out, back = travel.drive(home, at), travel.drive(at, home)
    weeks = _best_of_weeks(found)
    near = sorted(
        ((barn, travel.drive(place, at).minutes) for barn, place in known),
        key=lambda pair: (pair[1], pair[0].name),
    )
    ahead = [one for one in found if one.day > today and one.fits]
    ahead.sort(key=lambda one: (one.added, one.day, one.farrier))
    return Newcomer(
        at=at,
        work_minutes=horses * minutes,
        alone=out.minutes + back.minutes,
        alone_metres=out.metres + back.metres,
        near=tuple(near[:5]),
        days=tuple(ahead[:MOST_DAYS_SHOWN]),
        free=_free(rounds, today),
        a_visit=round(median(weeks)) if weeks else None,
        weeks=len({one.day.isocalendar()[:2] for one in found}),
        fitting=len(weeks),
        interval_weeks=interval_weeks,
    )


def _free(rounds: Sequence[Round], today: date) -> tuple[FreeDay, ...]:
    """The next working days without a round. Three queries."""
    farriers = list(User.objects.farriers())
    days = [today + timedelta(days=n) for n in range(1, 7 * WEEKS_AHEAD)]
    hours = work_hours(farriers=farriers, days=days)
    taken = {(one.farrier_id, one.day) for one in rounds}
    free = [
        FreeDay(day, farrier.name, hours[farrier.pk, day].area)
        for day in days
        for farrier in farriers
        if hours[farrier.pk, day].drives_out and (farrier.pk, day) not in taken
    ]
    return tuple(free[:MOST_FREE_SHOWN])


def _rounds(first: date, last: date) -> list[Round]:
    """Rounds with stops, barns and access hours. Four queries."""
    return list(
        Round.objects.filter(day__range=(first, last))
        .select_related("farrier")
        .prefetch_related("stops__booking__barn__access_hours")
        .order_by("day", "farrier__name")
    )


def _joined(  # one round with all that bounds it
    one: Round,
    leg: Leg,
    at: Position,
    start: Position,
    end: Position,
    travel: "TravelMatrix",
    limits: Mapping[int, BarnLimits],
) -> DayFor | None:
    from scheduling.areas import cheapest

    rows = list(one.stops.all())
    places = [start, *(position_of(row.booking.barn) for row in rows), end, at]
    legs, time = [], one.leave
    for row in rows:
        barn, work = row.booking.barn, row.end - row.start
        hours = within_limits(
            open_hours(barn, one.day), limits.get(barn.pk, NO_LIMITS), one.day, work
        )
        legs.append(
            Leg(
                key=str(row.pk),
                name=barn.name,
                drive_minutes=max(0, row.arrive - time),
                setup_minutes=max(0, row.start - row.wait_minutes - row.arrive),
                work_minutes=work,
                hours=hours,
            )
        )
        time = row.end
    shift_end = one.ends.hour * 60 + one.ends.minute
    # Where the break lies is in the times already.
    course = Course(one.leave, shift_end, 0, max(0, one.home_at - time))

    def minutes(a: int, b: int) -> int:
        here, there = places[a], places[b]
        assert here
        assert there
        return travel.drive(here, there).minutes

    numbers = [i if place else None for i, place in enumerate(places[:-1])]
    best = cheapest(course, legs, numbers, leg, len(places) - 1, minutes)
    if best is None:
        return None
    return DayFor(one.day, one.farrier.name, best.added, best.start, best.fits, one)


def _best_of_weeks(days: Sequence[DayFor]) -> list[int]:
    """The least added driving of each week in which some day had room."""
    weeks: dict[tuple[int, int], int] = {}
    for one in days:
        if one.fits:
            week = one.day.isocalendar()[:2]
            weeks[week] = min(one.added, weeks.get(week, one.added))
    return list(weeks.values())


def place_of_post_code(text: str) -> tuple[Position, list[Barn]] | None:
    """The middle of the barns with this post code, or with its first part; None where
    there is none. We know no others: there is no list of post codes in the house. One
    query."""
    code = " ".join(text.upper().split())
    if not code:
        return None
    placed = Barn.objects.filter(latitude__isnull=False)
    rows = list(
        placed.filter(
            Q(post_code__iexact=code)
            | Q(post_code__istartswith=f"{code.split(' ')[0]} ")
            | Q(post_code__iexact=code.split(" ")[0])
        )[:MOST_BARNS]
    )
    exact = [barn for barn in rows if barn.post_code.upper() == code]
    chosen = exact or rows
    places = [place for barn in chosen if (place := position_of(barn))]
    if not places:
        return None
    lat = sum(place.lat for place in places) / len(places)
    lon = sum(place.lon for place in places) / len(places)
    return Position(lat, lon), chosen
