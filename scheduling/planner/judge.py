"""The judge of plans: what a plan costs, when each stop is, which rules it breaks. Pure.

Every plan, whoever made it, passes here before it is offered; the costs are those of
``costs``. A round leaves home at the start of its shift and is timed as early as may
be. Each drive ends on a whole minute. A break lies on the way from one stop to the
next (also from or to home): the next arrival is after it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from scheduling.planner import costs
from scheduling.planner.one_day import clock
from scheduling.planner.sheet import Sheet, forbidden, sheet_of
from scheduling.planner.weeks import (
    BREAK_FROM,
    BREAK_UNTIL,
    BadInstance,
    Instance,
    Plan,
)

MISSED_BREAK: Final = 120
"""What a missing break weighs where no way of timing a round keeps every rule, in
minutes outside. Ours: only decides which broken timing is shown."""


@dataclass(frozen=True, slots=True)
class Cost:
    """The parts, in minutes of driving. `wishes`: nothing unless they are priced."""

    drive: float
    days: float
    dates: float
    left_over: float
    moved: float
    wishes: float = 0.0

    @property
    def total(self) -> float:
        """All of it."""
        parts = (self.drive, self.days, self.dates, self.left_over, self.moved)
        return sum(parts) + self.wishes


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that a plan breaks.

    kind: `shift`, `unknown`, `twice`, `farrier`, `people`, `closed`, `window`,
    `fixed`, `hours`, `day`, `break` or `load`.
    """

    kind: str
    sentence: str
    visit: str | None = None
    day: date | None = None
    farrier: str | None = None


@dataclass(frozen=True, slots=True)
class TimedStop:
    """A visit in its round. `start`: after set-up. `wait_minutes`: idle on the way to
    this start, the break apart. `slack_minutes`: how much later it may start with
    everything after it still kept; below 0 where something is not."""

    id: str
    drive_minutes: float
    arrive: int
    start: int
    end: int
    wait_minutes: int
    slack_minutes: int


@dataclass(frozen=True, slots=True)
class TimedRound:
    """A round with its hours. Work is set-up and horses. Drive, work, wait and break
    add up to `home_at` − `leave`, but for the part of a minute by which drives are
    rounded up, which counts as wait."""

    day: date
    farrier: str
    leave: int
    stops: tuple[TimedStop, ...]
    break_start: int | None
    home_at: int
    drive_minutes: float
    work_minutes: int
    wait_minutes: float
    broken: tuple[Breach, ...]

    @property
    def kept(self) -> bool:
        """Whether every rule is kept."""
        return not self.broken


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the judge says of a plan."""

    cost: Cost
    broken: tuple[Breach, ...]
    rounds: tuple[TimedRound, ...]
    left_over: tuple[str, ...]

    @property
    def kept(self) -> bool:
        """Whether every rule is kept."""
        return not self.broken


def evaluate(instance: Instance, plan: Plan) -> Verdict:
    """Cost, hours and broken rules of a plan.

    Ids and shifts that the instance doesn't know are told and otherwise passed over;
    a visit outside its window is priced by the same formula and told.
    """
    sheet = sheet_of(instance)
    broken, orders = _read(sheet, plan)
    rounds = tuple(_timed(sheet, s, order) for s, order in sorted(orders.items()))
    for one in rounds:
        broken.extend(one.broken)
    planned = {v for order in orders.values() for v in order}
    left = [v for v in range(sheet.n) if v not in planned]
    broken.extend(
        Breach("fixed", f"{sheet.visits[v].id} is agreed and was left over.", id_)
        for v in left
        if sheet.visits[v].fixed
        for id_ in (sheet.visits[v].id,)
    )
    return Verdict(
        cost=_cost(sheet, orders, left),
        broken=tuple(broken),
        rounds=tuple(sorted(rounds, key=lambda one: (one.day, one.farrier))),
        left_over=tuple(sheet.visits[v].id for v in left),
    )


def time_shift(
    instance: Instance, day: date, farrier: str, visits: Sequence[str]
) -> TimedRound:
    """One round alone, timed, with what it breaks. Raises KeyError for an unknown id
    or shift."""
    sheet = sheet_of(instance)
    order = [sheet.visit_no[one] for one in visits]
    return _timed(sheet, sheet.shift_no[day, farrier], order)


def cost_of(instance: Instance, visit: str, day: date, farrier: str) -> float:
    """What the visit's day and farrier cost apart from the road: date, move, wish."""
    sheet = sheet_of(instance)
    one, shift = instance.visit_by_id[visit], sheet.shifts[sheet.shift_no[day, farrier]]
    latest = costs.latest_of(instance, one)
    weights = instance.weights
    return (
        costs.date_cost(one, day, latest, weights)
        + costs.move_cost(one, shift, weights)
        + costs.wish_cost(one, shift, weights)
    )


def check_agreed(instance: Instance) -> None:
    """Raise BadInstance for the first agreed booking that can't be kept beside the
    others of its round."""
    sheet = sheet_of(instance)
    by_shift: dict[int, list[int]] = {}
    for v in sheet.fixed:
        visit = sheet.visits[v]
        booked = visit.booked
        assert booked is not None
        s = sheet.shift_no.get((booked.day, booked.farrier))
        if s is None:
            raise BadInstance(
                "visits",
                visit.id,
                f"{visit.id} is agreed for {booked.day} with {booked.farrier}, who "
                "doesn't work on that day.",
            )
        why = forbidden(instance, visit, sheet.shifts[s])
        if why is not None:
            raise BadInstance("visits", visit.id, f"Agreed, but {why[1]}")
        by_shift.setdefault(s, []).append(v)
    for s, found in sorted(by_shift.items()):
        _check_together(sheet, s, found)


def agreed_order(sheet: Sheet, visits: Iterable[int]) -> list[int]:
    """Agreed visits by their start; at one moment the shorter goes first."""

    def moment(v: int) -> tuple[int, int]:
        booked = sheet.visits[v].booked
        assert booked is not None
        return booked.start, sheet.minutes[v]

    return sorted(visits, key=moment)


def _check_together(sheet: Sheet, s: int, visits: list[int]) -> None:
    order = agreed_order(sheet, visits)
    for upto in range(1, len(order) + 1):
        if not sheet.fits(s, order[:upto]):
            id_ = sheet.visits[order[upto - 1]].id
            found = _timed(sheet, s, order[:upto])
            why = found.broken[0].sentence if found.broken else "it doesn't fit."
            raise BadInstance(
                "visits", id_, f"{id_} is agreed and can't be kept: {why}"
            )


# --- reading and costing --------------------------------------------------------------


def _read(sheet: Sheet, plan: Plan) -> tuple[list[Breach], dict[int, list[int]]]:
    broken: list[Breach] = []
    orders: dict[int, list[int]] = {}
    seen: set[int] = set()
    for one in plan.rounds:
        s = sheet.shift_no.get(one.key)
        if s is None or s in orders:
            said = "doesn't work then" if s is None else "has two rounds"
            sentence = f"{one.farrier} {said} ({one.day})."
            broken.append(Breach("shift", sentence, None, one.day, one.farrier))
            continue
        order = orders.setdefault(s, [])
        for id_ in one.visits:
            v = sheet.visit_no.get(id_)
            if v is None or v in seen:
                kind = "unknown" if v is None else "twice"
                said = "is not asked for" if v is None else "is visited twice"
                broken.append(Breach(kind, f"{id_} {said}.", id_, *one.key))
                continue
            seen.add(v)
            order.append(v)
    return broken, {s: order for s, order in orders.items() if order}


def _cost(sheet: Sheet, orders: dict[int, list[int]], left: list[int]) -> Cost:
    instance, weights = sheet.instance, sheet.instance.weights
    dates = moved = wishes = 0.0
    for s, order in sorted(orders.items()):
        shift = sheet.shifts[s]
        for v in order:
            visit = sheet.visits[v]
            latest = costs.latest_of(instance, visit)
            dates += costs.date_cost(visit, shift.day, latest, weights)
            moved += costs.move_cost(visit, shift, weights)
            wishes += costs.wish_cost(visit, shift, weights)
    driven = sum(sheet.driven(s, order) for s, order in sorted(orders.items()))
    return Cost(
        drive=weights.drive * driven,
        days=weights.day * len(orders),
        dates=dates,
        left_over=sum(sheet.left[v] for v in left),
        moved=moved,
        wishes=wishes,
    )


# --- time -----------------------------------------------------------------------------


@dataclass(slots=True)
class _Walk:
    """One way of timing a round: with the break on one leg, or without."""

    outside: int
    home_at: int
    break_leg: int | None
    break_start: int | None
    arrive: list[int]
    start: list[int]
    idle: list[int]


def minutes_outside(sheet: Sheet, s: int, order: list[int]) -> int:
    """By how many minutes the round of these visits misses hours, break or end."""
    return _best_walk(sheet, s, order).outside


def _timed(sheet: Sheet, s: int, order: list[int]) -> TimedRound:
    shift = sheet.shifts[s]
    walk = _best_walk(sheet, s, order)
    latest = _latest(sheet, s, order, walk)
    stops, last = [], sheet.leaves[s]
    for i, v in enumerate(order):
        start = walk.start[i]
        stops.append(
            TimedStop(
                id=sheet.visits[v].id,
                drive_minutes=sheet.drive[last][sheet.place[v]],
                arrive=walk.arrive[i],
                start=start,
                end=start + sheet.minutes[v],
                wait_minutes=walk.idle[i],
                slack_minutes=latest[i] - start,
            )
        )
        last = sheet.place[v]
    drive = sheet.driven(s, order)
    work = sum(sheet.minutes[v] for v in order) + sum(_setups(sheet, order))
    rest = sheet.rest[s] if walk.break_start is not None else 0
    return TimedRound(
        day=shift.day,
        farrier=shift.farrier,
        leave=shift.start,
        stops=tuple(stops),
        break_start=walk.break_start,
        home_at=walk.home_at,
        drive_minutes=drive,
        work_minutes=work,
        wait_minutes=walk.home_at - shift.start - drive - work - rest,
        broken=tuple(_broken(sheet, s, order, walk)),
    )


def _setups(sheet: Sheet, order: Sequence[int]) -> list[int]:
    """Each visit's set-up, nothing right after another at the same site."""
    sites = [-1, *(sheet.site[v] for v in order)]
    return [
        0 if sheet.site[v] == sites[i] else sheet.setup[v] for i, v in enumerate(order)
    ]


def _best_walk(sheet: Sheet, s: int, order: list[int]) -> _Walk:
    """The timing with the fewest minutes outside the rules, then home earliest, then
    with the break between two stops."""
    legs: list[int | None] = [None]
    if sheet.rest[s]:
        legs += range(len(order) + 1)
    walks = [walk for leg in legs if (walk := _walk(sheet, s, order, leg))]
    n = len(order)
    return min(
        walks,
        key=lambda walk: (
            walk.outside,
            walk.home_at,
            walk.break_leg in (0, n),
            -1 if walk.break_leg is None else walk.break_leg,
        ),
    )


def _walk(sheet: Sheet, s: int, order: list[int], leg: int | None) -> _Walk | None:
    """The round with its break on this leg; None if it can't start in time there."""
    shift, rest = sheet.shifts[s], sheet.rest[s]
    walk = _Walk(0, 0, leg, None, [], [], [])
    time, last = shift.start, sheet.leaves[s]
    setups = _setups(sheet, order)
    for i, place in enumerate([*(sheet.place[v] for v in order), sheet.home[s]]):
        arrive, idle = time + sheet.clock[last][place], 0
        if i == leg:
            if time > BREAK_UNTIL:
                return None
            walk.break_start = max(time, BREAK_FROM)
            idle = max(0, BREAK_FROM - arrive)
            arrive += idle + rest
        last = place
        if i == len(order):
            walk.home_at = arrive
            break
        v = order[i]
        start, outside = _opening(sheet, v, s, arrive + setups[i])
        walk.outside += outside
        walk.arrive.append(arrive)
        walk.start.append(start)
        walk.idle.append(idle + start - arrive - setups[i])
        time = start + sheet.minutes[v]
    walk.outside += max(0, walk.home_at - shift.end)
    if rest and leg is None and order and walk.home_at >= BREAK_UNTIL:
        walk.outside += MISSED_BREAK
    return walk


def _opening(sheet: Sheet, v: int, s: int, ready: int) -> tuple[int, int]:
    """When the work starts, and how many minutes outside its hours that is."""
    spans = sheet.windows[v][s]
    if not spans:
        return ready, 0
    for opens, closes in spans:
        if ready <= closes:
            return max(ready, opens), 0
    return ready, ready - spans[-1][1]


def _latest(sheet: Sheet, s: int, order: list[int], walk: _Walk) -> list[int]:
    """The latest start of each stop that keeps everything after it."""
    shift, rest = sheet.shifts[s], sheet.rest[s]
    due = shift.end
    if rest and walk.break_leg is None:
        due = min(due, BREAK_UNTIL - 1)
    setups, following, found = _setups(sheet, order), sheet.home[s], []
    for i in range(len(order) - 1, -1, -1):
        v = order[i]
        leave = due - sheet.clock[sheet.place[v]][following]
        if walk.break_leg == i + 1:
            leave = min(leave - rest, BREAK_UNTIL)
        start = leave - sheet.minutes[v]
        for opens, closes in sheet.windows[v][s] or ():
            if opens <= walk.start[i] <= closes:
                start = min(start, closes)
        found.append(start)
        due, following = start - setups[i], sheet.place[v]
    return found[::-1]


def _broken(sheet: Sheet, s: int, order: list[int], walk: _Walk) -> Iterator[Breach]:
    shift = sheet.shifts[s]
    for i, v in enumerate(order):
        yield from _broken_at(sheet, s, v, walk.start[i])
    if walk.home_at > shift.end:
        sentence = (
            f"Home at {clock(walk.home_at)}, {walk.home_at - shift.end} minutes after "
            f"the day's end at {clock(shift.end)}."
        )
        yield Breach("day", sentence, None, *shift.key)
    missed = order and sheet.rest[s] and walk.break_leg is None
    if missed and walk.home_at >= BREAK_UNTIL:
        sentence = (
            f"No break of {sheet.rest[s]} minutes can start between "
            f"{clock(BREAK_FROM)} and {clock(BREAK_UNTIL)}."
        )
        yield Breach("break", sentence, None, *shift.key)
    if sheet.laden(order) > sheet.capacity[s]:
        sentence = f"The van takes {shift.capacity:g}, the round needs more."
        yield Breach("load", sentence, None, *shift.key)


def _broken_at(sheet: Sheet, s: int, v: int, start: int) -> Iterator[Breach]:
    visit, shift = sheet.visits[v], sheet.shifts[s]
    why = forbidden(sheet.instance, visit, shift)
    if why is not None:
        yield Breach(why[0], why[1], visit.id, *shift.key)
        return
    spans = sheet.windows[v][s]
    if spans is None or any(a <= start <= b for a, b in spans):
        return
    said = " and ".join(
        clock(a) if a == b else f"{clock(a)}–{clock(b)}" for a, b in spans
    )
    kind = "fixed" if visit.fixed else "hours"
    sentence = f"{visit.id} would start at {clock(start)}, but may " + (
        f"only at {said}." if said else "at no hour of that day."
    )
    yield Breach(kind, sentence, visit.id, *shift.key)
