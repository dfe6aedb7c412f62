"""Who is due: horses due by a day, less those with a live booking."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import (
    Case,
    Exists,
    F,
    FloatField,
    Func,
    OuterRef,
    QuerySet,
    Value,
    When,
)
from django.db.models.fields import DateField
from django.db.models.functions import Greatest

from horses.models import DueWindow, Horse, Visit, VisitRecord
from practice.models import Area, Barn, User
from scheduling.models import BookedHorse, Booking
from scheduling.planner.costs import late_cost
from scheduling.planner.weeks import Weights
from scheduling.selectors.handling import Handling, handling_of, minutes_at
from scheduling.selectors.weights import weights_in_use

AHEAD_DAYS = 14
"""How far the list looks unless asked: two weeks of rounds can be filled from it."""


WAIT_DAYS = 7
"""The cost of waiting is that of another week."""


def cost_of_waiting(
    *, target: date, latest: date, today: date, weights: Weights
) -> float:
    """What leaving a horse for another week adds to what its lateness costs, in minutes
    of driving, as rounds are weighed."""
    slack, late = (latest - target).days, (today - target).days
    return late_cost(late + WAIT_DAYS, slack, weights) - late_cost(late, slack, weights)


@dataclass(frozen=True, slots=True)
class DueHorse:
    """A horse on the list. ``state``: 'late' (past its latest day), 'overdue' (past
    its target), 'due' (within its window), 'soon' (before its earliest day)."""

    horse: Horse
    earliest: date
    target: date
    latest: date
    state: str
    overdue_days: int
    how: str
    minutes: int
    cost_of_waiting: float


@dataclass(frozen=True, slots=True)
class DueBarn:
    """A barn with its due horses; ``barn`` is None for those that stand nowhere."""

    barn: Barn | None
    horses: tuple[DueHorse, ...]
    work_minutes: int
    overdue: int
    cost_of_waiting: float = 0.0

    @property
    def state(self) -> str:
        """That of its most pressing horse."""
        return self.horses[0].state


def due_horses(
    *,
    viewer: User | AnonymousUser,
    today: date,
    until: date | None = None,
    area: Area | None = None,
    farrier: User | None = None,
    barn: Barn | None = None,
    weights: Weights | None = None,
) -> QuerySet[Horse]:
    """Horses due by ``until``, the dearest to leave for another week first (of equals
    the one due first), with barn, area, window and usual work in the same query.

    Args:
        until: two weeks from today unless given.
        farrier: only horses that this farrier treated last.
        weights: what waiting costs; read unless given (one query).
    """
    weights = weights or weights_in_use()
    until = until or today + timedelta(days=AHEAD_DAYS)
    booked = BookedHorse.objects.filter(
        horse=OuterRef("pk"), booking__in=Booking.objects.live()
    )
    # A horse without a visit is due today whenever one looks, also before the night's
    # reckoning has moved its stored window on.
    due_day = Case(
        When(
            due_window__basis=DueWindow.Basis.NO_VISIT, then=Value(today, DateField())
        ),
        default=F("due_window__target"),
    )
    found = (
        Horse.objects.visible_to(viewer)
        .active()
        .annotate(due_day=due_day)
        .filter(~Exists(booked), due_day__lte=until)
        .annotate(waiting=_waiting(today, weights))
        .select_related("barn__area", "due_window", "usual_work")
        .order_by("-waiting", "due_day", "barn__name", "name", "pk")
    )
    if area:
        found = found.filter(barn__area=area)
    if barn:
        found = found.filter(barn=barn)
    if farrier:
        # As a set: to look for each horse's last visit takes a second for thousands.
        last = VisitRecord.objects.filter(
            visit__state=Visit.State.CLOSED,
            visit__farrier=farrier,
            visit__day=F("horse__due_window__last_visit_day"),
        )
        found = found.filter(pk__in=last.values("horse"))
    return found


class _DaysFrom(Func):
    """Whole days from the second day to the first, as a number."""

    function = ""
    template = "CAST((%(expressions)s) AS double precision)"
    arg_joiner = " - "
    output_field = FloatField()

    def as_sqlite(self, compiler: Any, connection: Any, **more: Any) -> Any:
        return super().as_sql(
            compiler,
            connection,
            template="(julianday(%(expressions)s))",
            arg_joiner=") - julianday(",
            **more,
        )


def _waiting(today: date, weights: Weights) -> Any:
    """``cost_of_waiting`` in the database, so that a page can be cut from the list. The
    pinned twin: a test holds both against each other."""
    zero = Value(0.0, FloatField())
    day = Value(today, DateField())
    slack = Greatest(
        Value(1.0, FloatField()),
        _DaysFrom(F("due_window__latest"), F("due_window__target")),
    )
    late = _DaysFrom(day, F("due_day"))

    def cost(days: Any) -> Any:
        return Value(float(weights.late)) * days * (Value(1.0) + days / slack)

    return cost(Greatest(zero, late + Value(float(WAIT_DAYS)))) - cost(
        Greatest(zero, late)
    )


def as_due(
    horse: Horse,
    *,
    today: date,
    handling: Mapping[int, Handling],
    weights: Weights,
) -> DueHorse:
    """One row of the list, from a horse that ``due_horses`` found. No query."""
    window = horse.due_window
    moved = window.basis == DueWindow.Basis.NO_VISIT
    target = today if moved else window.target
    latest = today + (window.latest - window.target) if moved else window.latest
    overdue = max(0, (today - target).days)
    if latest < today:
        state = "late"
    elif overdue:
        state = "overdue"
    else:
        state = "due" if moved or window.earliest <= today else "soon"
    return DueHorse(
        horse=horse,
        earliest=today if moved else window.earliest,
        target=target,
        latest=latest,
        state=state,
        overdue_days=overdue,
        how=how_due(window),
        minutes=minutes_at(horse, handling),
        cost_of_waiting=round(
            cost_of_waiting(target=target, latest=latest, today=today, weights=weights),
            1,
        ),
    )


_HOW = {
    DueWindow.Basis.SET_INTERVAL: "the horse's own interval",
    DueWindow.Basis.USUAL_INTERVAL: "the practice's usual interval",
    DueWindow.Basis.GROWTH: "by its own growth",
    DueWindow.Basis.USE: "as usual for its use and age",
    DueWindow.Basis.VET: "as its vet asked",
    DueWindow.Basis.NO_VISIT: "no visit yet",
}


def how_due(window: DueWindow) -> str:
    """How the due day came about, in words."""
    last, weeks = window.last_visit_day, window.weeks
    if last is None or weeks is None:
        return "no visit yet, so due today"
    said = f"{last.day} {last:%b %Y} + {weeks} {'week' if weeks == 1 else 'weeks'}"
    return f"{said}, {_HOW[DueWindow.Basis(window.basis)]}"


def due_list(
    *,
    viewer: User | AnonymousUser,
    today: date,
    until: date | None = None,
    area: Area | None = None,
    farrier: User | None = None,
    barn: Barn | None = None,
    at_most: int | None = None,
    weights: Weights | None = None,
) -> list[DueBarn]:
    """The due horses by barn, the dearest to leave for another week first. Five queries.

    Args:
        at_most: so many horses, the most pressing ones.
        weights: what waiting costs; read unless given.
    """
    weights = weights or weights_in_use()
    found = due_horses(
        viewer=viewer,
        today=today,
        until=until,
        area=area,
        farrier=farrier,
        barn=barn,
        weights=weights,
    )
    rows = found[:at_most] if at_most else found
    return by_barn(rows, today=today, weights=weights)


def by_barn(horses: QuerySet[Horse], *, today: date, weights: Weights) -> list[DueBarn]:
    """Horses that ``due_horses`` found, put together by barn: the barn that is dearest
    to leave for another week first."""
    barns: dict[int | None, Barn | None] = {}
    rows: dict[int | None, list[DueHorse]] = defaultdict(list)
    handling = handling_of(horses)
    for horse in horses:
        barns[horse.barn_id] = horse.barn
        row = as_due(horse, today=today, handling=handling, weights=weights)
        rows[horse.barn_id].append(row)
    found = [
        DueBarn(
            barn=barn,
            horses=tuple(rows[key]),
            work_minutes=sum(row.minutes for row in rows[key]),
            overdue=sum(row.overdue_days > 0 for row in rows[key]),
            cost_of_waiting=sum(row.cost_of_waiting for row in rows[key]),
        )
        for key, barn in barns.items()
    ]
    # Stable: of equals the barn with the most pressing horse.
    return sorted(found, key=lambda barn: -round(barn.cost_of_waiting, 6))


def due_count(*, viewer: User | AnonymousUser, today: date) -> dict[str, int]:
    """How many horses are due by today, and how many of them are overdue. Two queries."""
    yesterday = today - timedelta(days=1)

    def count(until: date) -> int:
        found = due_horses(viewer=viewer, today=today, until=until, weights=Weights())
        return found.count()  # in whatever order

    return {"due": count(today), "overdue": count(yesterday)}
