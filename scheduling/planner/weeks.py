"""The weeks ahead: what is to be planned, and what a plan is. Pure.

A shift is one farrier's working day, a visit is one attendance of horses at a barn
that is due within a window of days, a plan says which visits each shift attends and in
what order. Times are whole minutes after the local midnight of the day, so a change of
the clocks never enters; places are indexes of the matrix of drives. A drive may have a
fraction of a minute: it costs what it is, and the clock rounds it up to a whole
minute at its end.

Two people for a difficult horse: the visit then goes only on a shift on which two
ride together (`people`). Two farriers who meet at a barn from two rounds are not
modelled, because a delay of the one would strand the other.
"""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Literal

if TYPE_CHECKING:
    import numpy as np

BREAK_FROM: Final = 11 * 60 + 30
"""The earliest start of a break (11:30)."""
BREAK_UNTIL: Final = 13 * 60 + 30
"""The latest start of a break; a round that is home before it needs none (13:30)."""
LONGEST: Final = 100_000
"""No time and no drive is longer, in minutes. Far beyond a day, so that published
instances with other clocks can be planned too; a practice's forms end at midnight."""

Status = Literal["pencilled", "asked", "agreed"]


class BadInstance(ValueError):
    """Something that can't be planned with.

    Args:
        field: `shifts`, `visits`, `minutes` or `weights`, then what of it.
        key: which one: the visit's id, or day and farrier of the shift.
        sentence: what is wrong, and what mends it.
    """

    def __init__(self, field: str, key: str, sentence: str) -> None:
        self.field = field
        self.key = key
        self.sentence = sentence
        super().__init__(sentence)


@dataclass(frozen=True, slots=True)
class Booking:
    """Where a visit stands already. Agreed: day, farrier and start are fixed.

    `start`: of the work, after set-up. Pencilled and asked ones may move at a price,
    to another day or farrier; another hour of the same round costs nothing.
    """

    day: date
    start: int
    farrier: str
    status: Status = "agreed"


@dataclass(frozen=True, slots=True)
class Shift:
    """One farrier's working day: leaves at `start` at the earliest, back by `end`.

    Args:
        leaves_from, returns_to: places; a lodging on a two-day trip stands here.
            None for the latter: where the round left from.
        break_minutes: lies between stops and starts from 11:30 to 13:30.
        people: who ride together; a visit that needs two goes only on such a day.
        capacity: how much load the van takes; None: never full.
        area: wished for on this day.
    """

    day: date
    farrier: str
    start: int
    end: int
    leaves_from: int
    returns_to: int | None = None
    break_minutes: int = 0
    people: int = 1
    capacity: float | None = None
    area: str | None = None

    @property
    def home(self) -> int:
        """The place where the round ends."""
        return self.leaves_from if self.returns_to is None else self.returns_to

    @property
    def key(self) -> tuple[date, str]:
        """Day and farrier: no two shifts share both."""
        return self.day, self.farrier


@dataclass(frozen=True, slots=True)
class Visit:
    """One attendance at a barn, due within [earliest, latest], best on target.

    Args:
        minutes: at the horses; setup_minutes: from arrival to the first horse, not
            spent again right after another visit at the same `site`.
        weight: what a day early or late weighs: the number of horses, as a rule.
        hours: by weekday (Monday 0) the spans in which the work may start; None:
            always open; a weekday that is absent is closed.
        finish_by: by weekday, when the work must be over.
        farriers: who may treat; None: anyone.
        load: of the van's capacity.
        prefers, area: wishes, which count only where `Weights` prices them.
        site: what tells one barn from another; the place unless given.
    """

    id: str
    place: int
    minutes: int
    earliest: date
    target: date
    latest: date
    setup_minutes: int = 0
    weight: float = 1.0
    hours: Mapping[int, tuple[tuple[int, int], ...]] | None = None
    finish_by: Mapping[int, int] = field(default_factory=dict)
    not_on: frozenset[date] = frozenset()
    farriers: frozenset[str] | None = None
    booked: Booking | None = None
    people: int = 1
    load: float = 0.0
    prefers: str | None = None
    area: str | None = None
    site: Hashable | None = None

    @property
    def fixed(self) -> bool:
        """Whether day, farrier and start are agreed."""
        return self.booked is not None and self.booked.status == "agreed"


@dataclass(frozen=True, slots=True)
class Weights:
    """What weighs how much, in minutes of driving. Ours; each practice may change them.

    Args:
        drive: a minute at the wheel. day: a round driven.
        early: a day before target, per weight. late: see `judge.date_cost`.
        left_over, left_over_each, left_over_late: a visit whose window ends within the
            horizon and that fits nowhere: fixed part, per weight, and times what its
            latest day would cost, whichever is more.
        beyond: the same for one that can wait until after the horizon.
        pencilled, asked: such a booking put on another day or farrier.
        other_farrier, other_area: a wish not met; nothing unless set.
        keep_together: multiplies driving in the search only, never in the cost.
    """

    drive: float = 1.0
    day: float = 30.0
    early: float = 0.5
    late: float = 2.0
    left_over: float = 240.0
    left_over_each: float = 60.0
    left_over_late: float = 1.2
    beyond: float = 30.0
    pencilled: float = 30.0
    asked: float = 120.0
    other_farrier: float = 0.0
    other_area: float = 0.0
    keep_together: float = 1.0


@dataclass(frozen=True, slots=True)
class Round:
    """One shift's visits by id, in the order in which they are attended."""

    day: date
    farrier: str
    visits: tuple[str, ...]

    @property
    def key(self) -> tuple[date, str]:
        """Day and farrier."""
        return self.day, self.farrier


@dataclass(frozen=True, slots=True)
class Plan:
    """The rounds by day and farrier; shifts without a visit have none."""

    rounds: tuple[Round, ...] = ()

    @classmethod
    def of(cls, orders: Mapping[tuple[date, str], Iterable[str]]) -> "Plan":
        """The plan of these orders, sorted by day and farrier, empty ones left out."""
        found = ((key, tuple(ids)) for key, ids in orders.items())
        return cls(tuple(Round(*key, ids) for key, ids in sorted(found) if ids))

    @property
    def orders(self) -> dict[tuple[date, str], tuple[str, ...]]:
        """The visits' ids by day and farrier."""
        return {one.key: one.visits for one in self.rounds}

    def shift_of(self, visit: str) -> tuple[date, str] | None:
        """On which day and by whom the visit is attended; None if left over."""
        return next((one.key for one in self.rounds if visit in one.visits), None)

    def without(self, visit: str) -> "Plan":
        """The plan with this visit taken out, the rest as it was."""
        return Plan.of(
            {key: [v for v in ids if v != visit] for key, ids in self.orders.items()}
        )


@dataclass(frozen=True, eq=False)
class Instance:
    """What is to be planned. `minutes[i][j]`: the drive from place i to place j.

    Raises BadInstance where shifts or visits contradict themselves. Whether the agreed
    bookings can all be kept is found by `judge.impossible`.
    """

    shifts: tuple[Shift, ...]
    visits: tuple[Visit, ...]
    minutes: "Sequence[Sequence[float]] | np.ndarray[Any, Any]"
    weights: Weights = Weights()

    def __post_init__(self) -> None:
        import numpy as np  # not for those who only name an instance

        drives = np.asarray(self.minutes, dtype=float)
        if drives.size == 0:
            drives = drives.reshape(0, 0)
        _check_drives(drives)
        _check_shifts(self.shifts, len(drives))
        _check_visits(self.visits, len(drives))

    def __getstate__(self) -> dict[str, Any]:
        names = ("shifts", "visits", "minutes", "weights")
        return {name: self.__dict__[name] for name in names}

    @cached_property
    def visit_by_id(self) -> dict[str, Visit]:
        """The visits by their ids."""
        return {visit.id: visit for visit in self.visits}

    @cached_property
    def first_day(self) -> date | None:
        """The first day of the horizon; None without a shift."""
        return min((shift.day for shift in self.shifts), default=None)

    @cached_property
    def last_day(self) -> date | None:
        """The last day of the horizon; None without a shift."""
        return max((shift.day for shift in self.shifts), default=None)


def _check_drives(drives: "np.ndarray[Any, Any]") -> None:
    import numpy as np

    if drives.ndim != 2 or drives.shape[0] != drives.shape[1]:
        raise BadInstance("minutes", "", "The drives are no square matrix.")
    if not np.isfinite(drives).all() or (drives < 0).any():
        raise BadInstance("minutes", "", "A drive is a number of minutes, 0 or more.")
    if (drives > LONGEST).any():
        raise BadInstance("minutes", "", "A drive is far too long.")


def _check_shifts(shifts: tuple[Shift, ...], places: int) -> None:
    seen: set[tuple[date, str]] = set()
    for shift in shifts:
        key = f"{shift.day} {shift.farrier}"
        if shift.key in seen:
            raise BadInstance("shifts", key, f"{key} stands twice.")
        seen.add(shift.key)
        if not 0 <= shift.start <= shift.end <= LONGEST:
            raise BadInstance(
                "shifts", key, f"{key}: the day must end after its start."
            )
        if not 0 <= shift.break_minutes <= LONGEST:
            raise BadInstance("shifts", key, f"{key}: a break has 0 minutes or more.")
        if not (0 <= shift.leaves_from < places and 0 <= shift.home < places):
            raise BadInstance("shifts", key, f"{key}: no drives are known from home.")


def _check_visits(visits: tuple[Visit, ...], places: int) -> None:
    seen: set[str] = set()
    for visit in visits:
        for wrong, sentence in (
            (visit.id in seen, "stands twice"),
            (not 0 <= visit.place < places, "has no place among the drives"),
            (visit.minutes < 0 or visit.setup_minutes < 0, "has minutes below 0"),
            (
                not visit.earliest <= visit.target <= visit.latest,
                "needs earliest ≤ target ≤ latest",
            ),
            (not 0 <= visit.weight < float("inf"), "needs a weight of 0 or more"),
            (visit.load < 0, "has a load below 0"),
            (not _follow(visit), "has access hours that do not follow one another"),
        ):
            if wrong:
                raise BadInstance("visits", visit.id, f"{visit.id} {sentence}.")
        seen.add(visit.id)


def _follow(visit: Visit) -> bool:
    for spans in (visit.hours or {}).values():
        flat = [minute for span in spans for minute in span]
        if flat != sorted(flat):
            return False
    return True
