"""What proposing weeks reads of the practice's rows, and digests of what stands."""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

from django.db.models import Prefetch, QuerySet

from horses.models import Horse
from practice.geo import Position
from practice.models import Barn, Practice, User
from scheduling.models import Away, BookedHorse, Booking
from scheduling.planner.weeks import Weights
from scheduling.selectors.handling import BarnLimits, Handling
from scheduling.selectors.hours import WorkHours, work_hours


@dataclass(frozen=True, slots=True)
class Asked:
    """What weeks are proposed: days, farriers, which bookings may move, the slider."""

    practice: Practice
    farriers: tuple[User, ...]
    first: date
    last: date
    may_move: str
    together: int = 1

    @property
    def days(self) -> list[date]:
        return [
            self.first + timedelta(days=n)
            for n in range((self.last - self.first).days + 1)
        ]


@dataclass(frozen=True, slots=True)
class Window:
    """Earliest, target and latest day, as they count in these weeks."""

    earliest: date
    target: date
    latest: date


@dataclass(frozen=True, slots=True)
class Rows:
    """What was read, by key."""

    hours: Mapping[tuple[int, date], WorkHours]
    horses: Sequence[Horse]
    bookings: Sequence[Booking]
    handling: Mapping[int, Handling]
    limits: Mapping[int, BarnLimits]
    beds: Mapping[tuple[int, date], tuple[Position | None, Position | None]]
    away: Mapping[int, date]
    weights: Weights


def day_digests(*, farriers: Iterable[User], first: date, last: date) -> dict[str, str]:
    """A digest of what stands on each day: bookings with their horses, hours. A day
    with the same digest is as it was. Four queries.
    """
    farriers = list(farriers)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    rows: dict[tuple[int, date], list[object]] = {}
    horses = BookedHorse.objects.order_by("horse_id")
    for booking in (
        Booking.objects.filter(farrier__in=farriers, day__range=(first, last))
        .exclude(status=Booking.Status.CALLED_OFF)
        .order_by("pk")
        .prefetch_related(Prefetch("booked", queryset=horses))
    ):
        held = [one.horse_id for one in booking.booked.all()]
        # Asked or agreed meanwhile, a booking still stands where it stood.
        rows.setdefault((booking.farrier_id, booking.day), []).append(
            [str(booking.pk), booking.is_attended, held]
        )
    found = {}
    for place, hours in work_hours(farriers=farriers, days=days).items():
        said = [
            rows.get(place, []),
            [str(hours.starts), str(hours.ends), hours.break_minutes, hours.drives_out],
            *([hours.people] if hours.people > 1 else []),
        ]
        text = json.dumps(said, sort_keys=True).encode()
        found[f"{place[0]} {place[1]}"] = hashlib.sha256(text).hexdigest()[:16]
    return found


def bookings_in(asked: Asked) -> QuerySet[Booking]:
    """What stands on these days of these farriers, attended or open. Three queries."""
    horses = BookedHorse.objects.select_related(
        "horse__usual_work", "horse__due_window"
    )
    return (
        Booking.objects.filter(
            farrier__in=asked.farriers, day__range=(asked.first, asked.last)
        )
        .exclude(status=Booking.Status.CALLED_OFF)
        .select_related("barn__area")
        .prefetch_related("barn__access_hours", Prefetch("booked", queryset=horses))
        .order_by("day", "starts_at", "pk")
    )


def due_in(asked: Asked) -> QuerySet[Horse]:
    """Active horses at a barn whose window opens within the horizon and who have no
    live booking anywhere."""
    live = BookedHorse.objects.filter(booking__in=Booking.objects.live())
    return (
        Horse.objects.active()
        .filter(barn__is_active=True, due_window__earliest__lte=asked.last)
        .exclude(pk__in=live.values("horse"))
        .select_related("barn__area", "due_window", "usual_work")
        .prefetch_related("barn__access_hours")
        .order_by("barn_id", "pk")
    )


def back_on(horses: Iterable[Horse], *, today: date) -> dict[int, date]:
    """The first day on which each can be attended again, of those who are away."""
    rows = Away.objects.filter(horse__in=horses, until__gte=today).order_by("until")
    return {row.horse_id: row.until + timedelta(days=1) for row in rows}


def open_hours_of(barn: Barn) -> dict[int, tuple[tuple[int, int], ...]] | None:
    """The access hours as the planner takes them: weekdays from Monday 0; None where
    the barn is always open. Reads ``barn.access_hours.all()``: prefetch it."""
    rows = list(barn.access_hours.all())
    if not rows:
        return None
    found: dict[int, list[tuple[int, int]]] = {}
    for row in rows:
        span = (minute_of(row.opens), minute_of(row.closes))
        found.setdefault(row.weekday - 1, []).append(span)
    return {weekday: tuple(sorted(spans)) for weekday, spans in found.items()}


def only_on(day: date) -> Window:
    """The window of that day alone."""
    return Window(day, day, day)


def minute_of(at: time) -> int:
    """Minutes after midnight."""
    return at.hour * 60 + at.minute


def said_day(day: date) -> str:
    """As a sentence says it: 'Tuesday 3 March'."""
    return f"{day:%A} {day.day} {day:%B}"


def may_treat(
    handling: Mapping[int, Handling], horses: Iterable[Horse]
) -> frozenset[str] | None:
    """Who may treat all of them, by key; None: everyone."""
    sets = [
        said.may_treat
        for horse in horses
        if (said := handling.get(horse.pk)) and said.may_treat
    ]
    if not sets:
        return None
    return frozenset(str(key) for key in frozenset.intersection(*sets))


def preferred(handling: Mapping[int, Handling], horses: Iterable[Horse]) -> str | None:
    """The farrier whom most of them prefer, by key."""
    wanted = [
        said.preferred
        for horse in horses
        if (said := handling.get(horse.pk)) and said.preferred
    ]
    return str(max(wanted, key=wanted.count)) if wanted else None


def people_for(handling: Mapping[int, Handling], horses: Iterable[Horse]) -> int:
    """How many people the most difficult of them needs."""
    said = (handling.get(horse.pk) for horse in horses)
    return 2 if any(one and one.needs_two for one in said) else 1
