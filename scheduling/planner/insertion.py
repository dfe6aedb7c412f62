"""What one more visit would cost, where it would fit, and why one was left over. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from scheduling.planner import costs
from scheduling.planner.judge import Breach, minutes_outside, time_shift
from scheduling.planner.sheet import Sheet, forbidden, sheet_of
from scheduling.planner.weeks import Instance, Plan, Visit


@dataclass(frozen=True, slots=True)
class Insertion:
    """A visit put at a position (0: first) of a shift's round.

    `cost`: what the plan costs more than without the visit, left over: below 0 where
    putting it there pays. `broken`: what that breaks; empty where it fits.
    """

    day: date
    farrier: str
    position: int
    cost: float
    broken: tuple[Breach, ...]

    @property
    def fits(self) -> bool:
        """Whether every rule is kept."""
        return not self.broken


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a visit is left over, and the least change that would fit it.

    code: `window` (nobody works within it), `farrier`, `people`, `closed`, `hours`
    (not even alone on a day), `full`, `dear` (fits, and costs more than to leave it),
    `later` (can wait until after the horizon). `change`: minutes or days of the
    mend, as its sentence says; None where there is none.
    """

    code: str
    sentence: str
    mend: str
    change: int | None = None


def insertion_cost(
    instance: Instance, plan: Plan, visit: str, *, every_position: bool = False
) -> tuple[Insertion, ...]:
    """The visit (taken out of the plan first) put into each shift: at its best
    position there, or at each. Best: one that fits before one that doesn't, then the
    cheapest. In the order of the shifts. Raises KeyError for an unknown visit."""
    sheet = sheet_of(instance)
    v = sheet.visit_no[visit]
    orders = _orders(sheet, plan, v)
    found: list[Insertion] = []
    for s in range(sheet.m):
        places = [
            (not allowed, cost, at)
            for at, cost, allowed in _places(sheet, v, s, orders[s])
        ]
        chosen = places if every_position else [min(places)]
        for misfit, cost, at in chosen:
            broken = _broken(sheet, s, orders[s], v, at) if misfit else ()
            shift = sheet.shifts[s]
            found.append(Insertion(shift.day, shift.farrier, at, cost, broken))
    return tuple(found)


def why_left(instance: Instance, plan: Plan, visit: str) -> Reason:
    """Why this visit is in no round of the plan. Raises KeyError for an unknown id."""
    sheet = sheet_of(instance)
    v = sheet.visit_no[visit]
    orders = _orders(sheet, plan, v)
    open_shifts = [s for s in range(sheet.m) if sheet.allow[v][s]]
    if not open_shifts:
        return _nowhere(sheet, v)
    alone = [s for s in open_shifts if sheet.fits(s, [v])]
    if not alone:
        return _not_even_alone(sheet, v, open_shifts)
    fitting = [
        (cost, s)
        for s in alone
        for _, cost, allowed in _places(sheet, v, s, orders[s])
        if allowed
    ]
    if not fitting:
        return _full(sheet, v, alone, orders)
    cost, s = min(fitting)
    return _dear(sheet, v, s, cost)


def _orders(sheet: Sheet, plan: Plan, v: int) -> list[list[int]]:
    """The plan by shift number, without v; what the instance doesn't know is left."""
    orders: list[list[int]] = [[] for _ in range(sheet.m)]
    for one in plan.rounds:
        s = sheet.shift_no.get(one.key)
        if s is not None:
            known = (sheet.visit_no.get(id_) for id_ in one.visits)
            orders[s] = [u for u in known if u is not None and u != v]
    return orders


def _places(
    sheet: Sheet, v: int, s: int, order: list[int]
) -> Iterator[tuple[int, float, bool]]:
    """(position, cost against leaving v over, whether it fits there)."""
    instance, weights = sheet.instance, sheet.instance.weights
    visit, shift = sheet.visits[v], sheet.shifts[s]
    latest = costs.latest_of(instance, visit)
    flat = (
        costs.date_cost(visit, shift.day, latest, weights)
        + costs.move_cost(visit, shift, weights)
        + costs.wish_cost(visit, shift, weights)
        - sheet.left[v]
    )
    if not order:
        flat += weights.day
    before = sheet.driven(s, order)
    for at in range(len(order) + 1):
        longer = [*order[:at], v, *order[at:]]
        detour = weights.drive * (sheet.driven(s, longer) - before)
        yield at, flat + detour, sheet.allow[v][s] and sheet.fits(s, longer)


def _broken(
    sheet: Sheet, s: int, order: list[int], v: int, at: int
) -> tuple[Breach, ...]:
    shift = sheet.shifts[s]
    ids = [sheet.visits[u].id for u in (*order[:at], v, *order[at:])]
    return time_shift(sheet.instance, shift.day, shift.farrier, ids).broken


# --- reasons ----------------------------------------------------------------------------

_SAID = {
    "farrier": "Nobody who may treat it works in its window",
    "people": "No day in its window on which two ride together",
    "closed": "The barn is closed on each working day in its window",
    "fixed": "Its agreed round is not among the days",
}


def _nowhere(sheet: Sheet, v: int) -> Reason:
    """No shift may take it: the reason of the shifts in its window that came furthest,
    and the nearest shift beside the window that could."""
    visit = sheet.visits[v]
    latest, last = costs.latest_of(sheet.instance, visit), sheet.instance.last_day
    if last is not None and visit.earliest > last:
        sentence = f"Its window begins on {visit.earliest}, after the last day."
        return Reason("later", sentence, *_outside_window(sheet, visit, latest))
    codes = set()
    for shift in sheet.shifts:
        if visit.earliest <= shift.day <= latest:
            why = forbidden(sheet.instance, visit, shift)
            codes.add("closed" if why is None else why[0])
    code = next((c for c in ("closed", "people", "farrier", "fixed") if c in codes), "")
    if code:
        sentence = f"{_SAID[code]} ({visit.earliest} to {latest})."
    else:
        code = "window"
        sentence = f"Nobody works in its window ({visit.earliest} to {latest})."
    mend, days = _outside_window(sheet, visit, latest)
    if code == "people":
        mend = "Set who rides along on one of its days, under Hours."
        return Reason(code, sentence, mend)
    return Reason(code, sentence, mend, days)


def _outside_window(sheet: Sheet, visit: Visit, latest: date) -> tuple[str, int | None]:
    """The nearest shift beside the window that would otherwise take it alone."""
    near: list[tuple[int, int]] = []
    for s, shift in enumerate(sheet.shifts):
        why = forbidden(sheet.instance, visit, shift)
        spans = sheet.windows[sheet.visit_no[visit.id]][s]
        if why is None or why[0] != "window" or spans == ():
            continue
        off = max((visit.earliest - shift.day).days, (shift.day - latest).days)
        near.append((off, s))
    if not near:
        return (
            "No day of the horizon could take it: ask the barn for other hours.",
            None,
        )
    days, s = min(near)
    shift = sheet.shifts[s]
    way = "later" if shift.day > latest else "earlier"
    said = f"{days} day{'s' if days > 1 else ''}"
    return f"{said} {way}, on {shift.day} with {shift.farrier}, could take it.", days


def _not_even_alone(sheet: Sheet, v: int, shifts: list[int]) -> Reason:
    over, s = min((minutes_outside(sheet, s, [v]), s) for s in shifts)
    shift = sheet.shifts[s]
    if sheet.load[v] > max(sheet.capacity[one] for one in shifts):
        return Reason("load", "It is more than any van takes.", "Split the visit.")
    return Reason(
        "hours",
        "Even alone it fits no day: the drive, its minutes and its hours don't go "
        "together.",
        f"{over} minutes more on {shift.day} with {shift.farrier} would fit it.",
        over,
    )


def _full(sheet: Sheet, v: int, shifts: list[int], orders: list[list[int]]) -> Reason:
    over, s = min(
        (minutes_outside(sheet, s, [*orders[s][:at], v, *orders[s][at:]]), s)
        for s in shifts
        for at in range(len(orders[s]) + 1)
    )
    shift, visit = sheet.shifts[s], sheet.visits[v]
    latest = costs.latest_of(sheet.instance, visit)
    mend = f"{over} minutes more on {shift.day} with {shift.farrier} would fit it."
    if not over:
        mend = f"A larger van on {shift.day} with {shift.farrier} would fit it."
    sentence = f"Each round that could take it is full ({visit.earliest} to {latest})."
    return Reason("full", sentence, mend, over)


def _dear(sheet: Sheet, v: int, s: int, cost: float) -> Reason:
    visit, shift = sheet.visits[v], sheet.shifts[s]
    last = sheet.instance.last_day
    assert last is not None
    extra = max(0, round(cost))
    mend = (
        f"It fits on {shift.day} with {shift.farrier}, for {extra} minutes of driving "
        "more than leaving it."
    )
    if costs.latest_of(sheet.instance, visit) > last:
        following = last + timedelta(days=1)
        sentence = f"It can wait until after the horizon ({following} or later)."
        return Reason("later", sentence, mend, extra)
    sentence = "To fit it costs more than to leave it."
    return Reason("dear", sentence, mend, extra)
