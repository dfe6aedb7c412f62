"""From the horses that are due at one barn to visits: who is attended together.

Pure. Days are whole numbers: 0 is the first day of the horizon, what is overdue has a
target before it.
Horses are put in the order of their targets and cut into pieces; each piece has days on
which every horse in it lies within its window, and takes no longer than a day holds.
Of all cuts the cheapest is found by dynamic programming: the cost of dates, as the
planner reckons it, plus what one more visit costs in driving.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from scheduling.planner.costs import late_cost
from scheduling.planner.weeks import BREAK_FROM, BREAK_UNTIL, Shift, Weights

ONE_MORE_VISIT: Final = 40.0
"""What a further visit to a barn weighs in the cut, in minutes of driving: a detour
there and back, and setting up. Ours: the search finds the true driving later."""
PLANNED: Final = Weights()
"""The planner's own, unless the practice says otherwise."""
LEAST_VISIT: Final = 60
"""No visit is cut shorter than this, however far the barn. Ours."""


@dataclass(frozen=True, slots=True)
class DueAnimal:
    """A horse to be attended: its window in days, its minutes of work.

    Args:
        key: the horse.
        earliest, target, latest: days; it may not be attended outside them.
        minutes: of work, set-up apart.
        may_treat: farriers who may; empty: all.
        preferred: the farrier whom the owner prefers, if any.
        needs_two: a second pair of hands is needed.
    """

    key: int
    earliest: int
    target: int
    latest: int
    minutes: int
    may_treat: frozenset[int] = frozenset()
    preferred: int | None = None
    needs_two: bool = False

    def __post_init__(self) -> None:
        if not self.earliest <= self.target <= self.latest:
            raise ValueError(
                f"Horse {self.key}: earliest, target and latest day in this order."
            )
        if self.minutes < 0:
            raise ValueError(f"Horse {self.key}: minutes can't be negative.")


@dataclass(frozen=True, slots=True)
class Piece:
    """Horses of one barn that are attended together, and their common window.

    ``target`` is the mean of theirs, within the window.
    """

    horses: tuple[DueAnimal, ...]
    earliest: int
    target: int
    latest: int

    @property
    def minutes(self) -> int:
        """Of work, set-up apart."""
        return sum(horse.minutes for horse in self.horses)


def date_cost(animal: DueAnimal, day: int, weights: Weights) -> float:
    """What attending this horse on that day costs, in minutes of driving."""
    early = animal.target - day
    if early >= 0:
        return weights.early * early
    return late_cost(-early, animal.latest - animal.target, weights)


def longest_visit(shifts: Iterable[Shift], *, drive: int, setup: int) -> int:
    """The most minutes of work that a day can hold at a barn so many minutes from home,
    driven there and back, the break before or after it: a longer visit would be left
    over whole."""
    most = LEAST_VISIT
    for shift in shifts:
        begin = shift.start + drive + setup
        finish = shift.end - drive
        if shift.break_minutes and begin <= BREAK_UNTIL <= finish:
            rested = BREAK_FROM + shift.break_minutes + setup
            most = max(most, BREAK_UNTIL - begin, finish - max(begin, rested))
        else:
            most = max(most, finish - begin)
    return most


def cut(
    animals: Sequence[DueAnimal], *, most_minutes: int, weights: Weights = PLANNED
) -> list[Piece]:
    """The cheapest cut of one barn's horses into visits.

    Args:
        most_minutes: of work in one visit; a single horse that takes longer is a visit
            of its own all the same, so that it is told as left over, not lost.
        weights: what a day early or late costs.

    Returns:
        pieces by their target day. Horses whom different farriers may treat, and those
        who need two people, are cut apart from the others.
    """
    pieces: list[Piece] = []
    for group in _alike(animals):
        pieces += _cut_alike(group, most_minutes, weights)
    return sorted(pieces, key=lambda piece: (piece.target, piece.horses[0].key))


def _alike(animals: Sequence[DueAnimal]) -> list[list[DueAnimal]]:
    groups: dict[tuple[object, ...], list[DueAnimal]] = {}
    for animal in sorted(animals, key=lambda a: (a.target, a.latest, a.key)):
        kind = (tuple(sorted(animal.may_treat)), animal.preferred, animal.needs_two)
        groups.setdefault(kind, []).append(animal)
    return list(groups.values())


def _cut_alike(
    group: list[DueAnimal], most_minutes: int, weights: Weights
) -> list[Piece]:
    """Best cost of the first n horses, and where the last piece of that cut begins."""
    costs = [0.0]
    begins = [0]
    made: dict[tuple[int, int], Piece] = {}
    for end in range(1, len(group) + 1):
        best, at = float("inf"), end - 1
        for begin in range(end - 1, -1, -1):
            found = _piece(group[begin:end], most_minutes, weights)
            if found is None:
                break  # more horses never widen the common window
            piece, cost = found
            total = costs[begin] + cost + ONE_MORE_VISIT
            if total < best - 1e-9:
                best, at = total, begin
                made[at, end] = piece
        costs.append(best)
        begins.append(at)
    pieces, end = [], len(group)
    while end:
        pieces.append(made[begins[end], end])
        end = begins[end]
    return pieces


def _piece(
    horses: Sequence[DueAnimal], most_minutes: int, weights: Weights
) -> tuple[Piece, float] | None:
    """These horses together on their best common day; None where there is none."""
    earliest = max(horse.earliest for horse in horses)
    latest = min(horse.latest for horse in horses)
    if earliest > latest:
        return None
    if len(horses) > 1 and sum(horse.minutes for horse in horses) > most_minutes:
        return None
    cost = min(
        sum(date_cost(horse, day, weights) for horse in horses)
        for day in range(min(max(earliest, 0), latest), latest + 1)
    )
    mean = round(sum(horse.target for horse in horses) / len(horses))
    target = min(max(mean, earliest), latest)
    return Piece(tuple(horses), earliest, target, latest), cost
