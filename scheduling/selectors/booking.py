"""What the page for booking a round shows: who may come along, and how it would be."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch

from horses.models import Horse
from practice.geo import Position, distance_metres
from practice.models import Barn, Practice, User
from scheduling.drawing import Mark, draw_map
from scheduling.models import BookedHorse, Booking, Round
from scheduling.planner.weeks import Weights
from scheduling.selectors.asks import agreed_starts
from scheduling.selectors.due import (
    DueHorse,
    as_due,
    due_list,
)
from scheduling.selectors.handling import Handling, handling_of, minutes_at
from scheduling.selectors.plans import (
    Outlook,
    Wish,
    grouped,
    home_of,
    look_ahead,
    position_of,
)
from scheduling.selectors.weights import weights_in_use

CANDIDATES = 150
"""Horses offered beside the chosen ones, the most pressing; the due list has them all."""
BEYOND_DAYS = 7
"""Horses due within a week after the round's day are worth taking along."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A barn offered for the round. ``metres`` to the nearest chosen barn or home;
    None without a position."""

    barn: Barn
    horses: tuple[DueHorse, ...]
    chosen: frozenset[int]
    metres: float | None
    overdue: int

    @property
    def is_chosen(self) -> bool:
        return bool(self.chosen)

    @property
    def needs_minutes(self) -> bool:
        return not self.barn.has_position

    @property
    def typed_name(self) -> str:
        """The form's field for the minutes to a barn without position."""
        return f"typed_{self.barn.pk}"


def booked_wishes(*, farrier: User, day: date) -> list[Wish]:
    """What is in the farrier's round on that day already, in its order. Five queries at the most."""
    horses = BookedHorse.objects.select_related("horse__usual_work")
    rows = list(
        Booking.objects.filter(farrier=farrier, day=day)
        .exclude(status=Booking.Status.CALLED_OFF)
        .select_related("barn", "stop")
        .prefetch_related("barn__access_hours", Prefetch("booked", queryset=horses))
        .order_by("stop__position", "pk")
    )
    agreed = agreed_starts(rows, Practice.objects.the_one().zone)
    return [
        Wish(
            barn=row.barn,
            horses=tuple(booked.horse for booked in row.booked.all()),
            typed_minutes=row.typed_minutes,
            attended=row.is_attended,
            agreed_at=agreed.get(row.pk),
        )
        for row in rows
    ]


def chosen_wishes(
    horses: Iterable[Horse], typed: Mapping[int, int | None]
) -> list[Wish]:
    """Chosen horses by barn; ``typed`` minutes by the barn's key. No query."""
    return [
        Wish(barn=barn, horses=tuple(rows), typed_minutes=typed.get(barn.pk))
        for barn, rows in grouped(horses).items()
    ]


def outlook_of(
    *, practice: Practice, farrier: User, day: date, wishes: Sequence[Wish]
) -> Outlook:
    """The round with these barns beside those that are booked already."""
    merged = {wish.barn.pk: wish for wish in booked_wishes(farrier=farrier, day=day)}
    for wish in wishes:
        merged[wish.barn.pk] = _joined(merged.get(wish.barn.pk), wish)
    by_hand = Round.objects.filter(farrier=farrier, day=day, by_hand=True).exists()
    return look_ahead(
        practice=practice,
        farrier=farrier,
        day=day,
        wishes=list(merged.values()),
        keep_order=by_hand,
    )


def _joined(there: Wish | None, wish: Wish) -> Wish:
    if there is None:
        return wish
    typed = wish.typed_minutes
    return Wish(
        barn=wish.barn,
        horses=tuple(dict.fromkeys((*there.horses, *wish.horses))),
        typed_minutes=there.typed_minutes if typed is None else typed,
        attended=there.attended,
    )


def candidates(
    *,
    viewer: User,
    practice: Practice,
    today: date,
    day: date,
    chosen: Sequence[Horse],
) -> list[Candidate]:
    """Barns to choose from: the chosen ones first, then the nearest to them."""
    until = max(day, today) + timedelta(days=BEYOND_DAYS)
    rows: dict[Barn, list[DueHorse]] = {}
    weights = weights_in_use()
    for found in due_list(
        viewer=viewer, today=today, until=until, at_most=CANDIDATES, weights=weights
    ):
        if found.barn:
            rows[found.barn] = list(found.horses)
    listed = {row.horse.pk for several in rows.values() for row in several}
    others = [horse for horse in chosen if horse.pk not in listed]
    handling = handling_of(others)
    for barn in grouped(chosen):
        rows.setdefault(barn, [])
    for barn, horses in grouped(others).items():
        rows[barn] += [_as_chosen(horse, today, handling, weights) for horse in horses]
    keys = frozenset(horse.pk for horse in chosen)
    near = [position_of(barn) for barn in grouped(chosen)] or [home_of(practice)]
    offered = [
        _candidate(barn, horses, keys, [place for place in near if place])
        for barn, horses in rows.items()
    ]
    return sorted(
        offered,
        key=lambda one: (not one.is_chosen, one.metres is None, one.metres or 0),
    )


def _candidate(
    barn: Barn, rows: list[DueHorse], keys: frozenset[int], near: list[Position]
) -> Candidate:
    at = position_of(barn)
    return Candidate(
        barn=barn,
        horses=tuple(rows),
        chosen=keys & {row.horse.pk for row in rows},
        metres=min(distance_metres(at, place) for place in near)
        if at and near
        else None,
        overdue=sum(row.overdue_days > 0 for row in rows),
    )


def _has_window(horse: Horse) -> bool:
    return getattr(horse, "due_window", None) is not None


def _as_chosen(
    horse: Horse, today: date, handling: Mapping[int, Handling], weights: Weights
) -> DueHorse:
    """A horse that was chosen, also where nothing says when it is due."""
    if _has_window(horse):
        return as_due(horse, today=today, handling=handling, weights=weights)
    minutes = minutes_at(horse, handling)
    return DueHorse(horse, today, today, today, "soon", 0, "not due", minutes, 0.0)


def map_of_choice(
    outlook: Outlook | None, offered: Sequence[Candidate], practice: Practice
) -> str:
    """The barns of the round by number and the other due barns by their horses."""
    home = home_of(practice)
    stops = outlook.stops if outlook else ()
    marks, route = [], []
    for row in stops:
        at = position_of(row.wish.barn)
        if at:
            route.append(at)
            marks.append(_mark(row.wish.barn, at, str(row.number), "chosen"))
    inside = {row.wish.barn.pk for row in stops}
    for one in offered:
        at = position_of(one.barn)
        if at and one.barn.pk not in inside:
            tone = "overdue" if one.overdue else "due"
            marks.append(_mark(one.barn, at, str(len(one.horses)), tone))
    ends = [home] if home and route else []
    return draw_map(
        marks,
        home=home,
        route=[*ends, *route, *ends],
        unit=practice.road_unit,
        title="Map of the barns that are due",
        height=460,
    )


def _mark(barn: Barn, at: Position, number: str, tone: str) -> Mark:
    return Mark(
        key=str(barn.pk),
        at=at,
        number=number,
        label=barn.name,
        tone=tone,
        href=f"#barn-{barn.pk}",
    )
