"""Rounds as the pages show them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.contrib.auth.models import AnonymousUser
from django.db.models import Count, Prefetch, QuerySet, Sum

from horses.models import Horse, Visit
from practice.geo import Position
from practice.models import Practice, User
from scheduling.drawing import Mark, draw_map
from scheduling.models import BookedHorse, Booking, Round, Stop
from scheduling.selectors.hours import WorkHours, work_hours
from scheduling.selectors.plans import home_of, position_of

_HOURS_OF_BARN = "booking__barn__access_hours"


@dataclass(frozen=True, slots=True)
class StopCard:
    """A stop with what the farrier wants to know at the gate."""

    stop: Stop
    booking: Booking
    horses: tuple[Horse, ...]
    hours: str

    @property
    def at(self) -> Position | None:
        return position_of(self.booking.barn)

    @property
    def arrived(self) -> datetime | None:
        """When the farrier tapped there."""
        actual = getattr(self.booking, "actual", None)
        return actual.arrived_at if actual else None

    @property
    def late(self) -> int:
        """Minutes that it is said to run late."""
        actual = getattr(self.booking, "actual", None)
        return actual.late if actual else 0

    @property
    def left(self) -> datetime | None:
        """When the farrier tapped off."""
        actual = getattr(self.booking, "actual", None)
        return actual.left_at if actual else None


@dataclass(frozen=True, slots=True)
class WeekCell:
    """One farrier's day in the week's view."""

    farrier: User
    hours: WorkHours
    round: Round | None


@dataclass(frozen=True, slots=True)
class WeekDay:
    """A day with a cell for each farrier."""

    day: date
    is_today: bool
    cells: tuple[WeekCell, ...]


def with_stops(rounds: QuerySet[Round]) -> QuerySet[Round]:
    """Rounds with farrier, stops, bookings, barns and horses: six queries in all."""
    horses = BookedHorse.objects.select_related("horse__usual_work")
    stops = (
        Stop.objects.select_related(
            "booking__barn__area", "booking__visit", "booking__actual"
        )
        .prefetch_related(_HOURS_OF_BARN, Prefetch("booking__booked", queryset=horses))
        .order_by("position")
    )
    return rounds.select_related("farrier", "actual").prefetch_related(
        Prefetch("stops", queryset=stops)
    )


def cards(round_: Round) -> list[StopCard]:
    """The stops of a round that came through ``with_stops``. No query."""
    return [
        StopCard(
            stop=stop,
            booking=stop.booking,
            horses=tuple(row.horse for row in stop.booking.booked.all()),
            hours=_hours_in_words(stop.booking, round_.day),
        )
        for stop in round_.stops.all()
    ]


def _hours_in_words(booking: Booking, day: date) -> str:
    rows = list(booking.barn.access_hours.all())
    if not rows:
        return ""
    today = [row for row in rows if row.weekday == day.isoweekday()]
    if not today:
        return "closed on this day"
    return ", ".join(f"{row.opens:%H:%M}–{row.closes:%H:%M}" for row in today)


def map_of(stops: Iterable[StopCard], practice: Practice) -> str:
    """The round as SVG; empty when no place is known. No query."""
    home = home_of(practice)
    placed = [(card, card.at) for card in stops]
    marks = [
        Mark(
            key=str(card.booking.pk),
            at=at,
            number=str(card.stop.position),
            label=card.booking.barn.name,
            tone="attended" if card.booking.is_attended else "open",
            href=f"#stop-{card.stop.position}",
        )
        for card, at in placed
        if at
    ]
    ends = [home] if home else []
    return draw_map(
        marks,
        home=home,
        route=[*ends, *(mark.at for mark in marks), *ends],
        unit=practice.road_unit,
    )


def week(*, viewer: User | AnonymousUser, monday: date, today: date) -> list[WeekDay]:
    """Seven days from ``monday`` with each farrier's hours and round. Four queries."""
    days = [monday + timedelta(days=n) for n in range(7)]
    farriers = list(User.objects.farriers())
    rounds = {
        (round_.farrier_id, round_.day): round_
        for round_ in summaries(viewer).filter(day__range=(days[0], days[-1]))
    }
    for key in rounds:
        if key[0] not in {farrier.pk for farrier in farriers}:
            farriers.append(rounds[key].farrier)  # has left, the round has not
    hours = work_hours(farriers=farriers, days=days)
    return [
        WeekDay(
            day=day,
            is_today=day == today,
            cells=tuple(
                WeekCell(
                    farrier=farrier,
                    hours=hours[farrier.pk, day],
                    round=rounds.get((farrier.pk, day)),
                )
                for farrier in farriers
            ),
        )
        for day in days
    ]


def summaries(viewer: User | AnonymousUser) -> QuerySet[Round]:
    """Rounds with farrier and the number of their stops and horses. One query."""
    return (
        Round.objects.visible_to(viewer)
        .select_related("farrier")
        .annotate(
            stop_count=Count("stops", distinct=True),
            horse_count=Count("stops__booking__booked", distinct=True),
        )
    )


def left_open(viewer: User | AnonymousUser, *, today: date) -> QuerySet[Booking]:
    """Bookings of days gone by that nobody attended or called off: their horses stay
    off the due list until somebody says."""
    return (
        Booking.objects.visible_to(viewer)
        .open()
        .filter(day__lt=today)
        .select_related("barn", "farrier")
        .order_by("day", "starts_at")
    )


def open_visits(viewer: User | AnonymousUser) -> QuerySet[Visit]:
    """Visits that nobody has closed yet, the oldest first."""
    return (
        Visit.objects.visible_to(viewer)
        .open()
        .select_related("barn", "farrier")
        .order_by("day", "pk")
    )


def drive_totals(rounds: QuerySet[Round]) -> dict[str, int]:
    """Minutes of driving and work of these rounds together. One query."""
    found = rounds.aggregate(drive=Sum("drive_minutes"), work=Sum("work_minutes"))
    return {name: value or 0 for name, value in found.items()}
