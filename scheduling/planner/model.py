"""The instance as PyVRP reads it, and its answer back. Pure; imports PyVRP.

One client a visit (more where its hours differ from shift to shift, exclusive of one
another), one vehicle a shift, all days on one clock of minutes after midnight. What a
visit costs on a shift (date, move, wish) lies on each arc into it, in the matrix of
that shift; a shift that may not have it asks a forbidding price and time.

PyVRP knows no break. The clock that it sees therefore runs without one: a shift of
which the round needs a break ends so much sooner, and a span of hours is shifted by
the break where the break must be over by then. A span in which both may be is kept in
both forms; the judge finds the few orders for which no break fits after all.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyvrp

from scheduling.planner.sheet import Sheet
from scheduling.planner.weeks import BREAK_FROM, BREAK_UNTIL, LONGEST

SCALE: Final = 100
"""PyVRP reckons in whole numbers: so many a minute of driving."""
FORBIDDEN_MINUTES: Final = 10 * LONGEST
"""The time of an arc into a visit that the shift may not have."""

Span = tuple[int, int]


class _Arcs:
    """A matrix that is made when PyVRP copies it, so that no two stand beside."""

    def __init__(self, base: np.ndarray[Any, Any], into: np.ndarray[Any, Any]) -> None:
        self.base, self.into = base, into

    def __array__(
        self, dtype: Any = None, copy: bool | None = None
    ) -> np.ndarray[Any, Any]:
        made: np.ndarray[Any, Any] = self.base + self.into
        np.fill_diagonal(made, 0)
        return made


@dataclass(frozen=True)
class Model:
    """PyVRP's data with the way back: which visit a client is, its allowed shifts, and
    which shifts (all alike) a type of vehicle stands for."""

    sheet: Sheet
    data: Any
    shifts_of: list[list[int]]
    visit_of: list[int]
    clients_of: list[list[int]]
    allowed: np.ndarray[Any, Any]
    spans: list[Span]

    def orders(self, solution: Any, shifts: int) -> list[list[int]]:
        """The visits by shift of PyVRP's solution."""
        found: list[list[int]] = [[] for _ in range(shifts)]
        free = [list(same) for same in self.shifts_of]
        for route in solution.routes():
            found[free[route.vehicle_type()].pop(0)] = [
                self.visit_of[stop.idx] for stop in route.schedule() if stop.is_client()
            ]
        return found

    def solution(self, orders: Sequence[Sequence[int]]) -> Any:
        """PyVRP's solution of these orders; visits that it doesn't know left out."""
        routes = []
        type_of = {s: i for i, same in enumerate(self.shifts_of) for s in same}
        for s, order in enumerate(orders):
            clients = self._clients(s, order)
            if clients:
                routes.append(pyvrp.Route(self.data, clients, type_of[s]))
        return pyvrp.Solution(self.data, routes)

    def _clients(self, s: int, order: Sequence[int]) -> list[int]:
        """Of each visit the client that can be earliest there, on the clock without a
        break."""
        sheet, found = self.sheet, []
        time, last, site = sheet.shifts[s].start, sheet.leaves[s], -1
        for v in order:
            setup = 0 if sheet.site[v] == site else sheet.setup[v]
            ready = time + sheet.clock[last][sheet.place[v]] + setup
            mine = [c for c in self.clients_of[v] if self.allowed[c, s]]
            if not mine:
                continue
            chosen = min(
                mine,
                key=lambda c, r=ready: _start(self.spans[c], r),  # type: ignore[misc]
            )
            found.append(chosen)
            start = max(ready, self.spans[chosen][0])
            time, last, site = start + sheet.minutes[v], sheet.place[v], sheet.site[v]
        return found


def _start(span: Span, ready: int) -> tuple[bool, int]:
    """Whether the span is past for one who is ready then, and when it would start."""
    return ready > span[1], max(ready, span[0])


def build(sheet: Sheet, *, keep_together: float = 1.0) -> Model:
    """The model of an instance. keep_together multiplies the price of driving."""
    visit_of: list[int] = []
    clients_of: list[list[int]] = []
    spans: list[Span] = []
    rows: list[np.ndarray[Any, Any]] = []
    for v in range(sheet.n):
        mine = []
        for span, shifts in variants(sheet, v):
            mine.append(len(visit_of))
            visit_of.append(v)
            spans.append(span)
            row = np.zeros(sheet.m, dtype=bool)
            row[shifts] = True
            rows.append(row)
        clients_of.append(mine)
    allowed = np.array(rows, dtype=bool).reshape(len(rows), sheet.m)
    homes = sorted({*sheet.leaves, *sheet.home})
    per_minute = sheet.instance.weights.drive * keep_together
    prices = _Prices(sheet, visit_of, allowed, homes, per_minute)
    shifts_of = _alike(sheet, prices)
    groups, group_of = _groups(clients_of)
    laden = any(shift.capacity is not None for shift in sheet.shifts)
    data = pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0)] * (len(homes) + len(visit_of)),
        clients=[
            _client(sheet, v, spans[c], len(homes) + c, group_of.get(c), laden=laden)
            for c, v in enumerate(visit_of)
        ],
        depots=[pyvrp.Depot(i) for i in range(len(homes))],
        vehicle_types=[
            _vehicle(sheet, same, prices, laden=laden) for same in shifts_of
        ],
        distance_matrices=prices.distances,
        duration_matrices=prices.durations,
        groups=groups,
    )
    return Model(sheet, data, shifts_of, visit_of, clients_of, allowed, spans)


# --- hours without a break ----------------------------------------------------------------


def ends_at(sheet: Sheet, s: int) -> int:
    """The shift's end on the clock without a break."""
    end = sheet.shifts[s].end
    return end - sheet.rest[s] if end >= BREAK_UNTIL else end


def spans_of(sheet: Sheet, v: int, s: int) -> list[Span]:
    """When the visit's work may start on this shift, on the clock without a break."""
    real = sheet.windows[v][s]
    found = [(0, LONGEST)] if real is None else list(real)
    rest = sheet.rest[s]
    if rest and sheet.shifts[s].end >= BREAK_UNTIL:
        minutes, setup = sheet.minutes[v], sheet.setup[v]
        found = [
            *((a, min(b, BREAK_UNTIL - minutes)) for a, b in found),
            *((max(a - rest, BREAK_FROM + setup), b - rest) for a, b in found),
        ]
    return _joined(iter(found))


def _joined(spans: Iterator[Span]) -> list[Span]:
    """Spans in order, those that touch made one, empty ones left out."""
    found: list[Span] = []
    for a, b in sorted(span for span in spans if span[0] <= span[1]):
        if found and a <= found[-1][1] + 1:
            found[-1] = found[-1][0], max(found[-1][1], b)
        else:
            found.append((a, b))
    return found


def variants(sheet: Sheet, v: int) -> list[tuple[Span, list[int]]]:
    """The clients that a visit becomes: a span of hours and the shifts that it holds
    on. One, wherever the hours leave the whole of each shift open or are the same."""
    by_span: dict[Span, list[int]] = {}
    open_on: list[tuple[int, Span]] = []
    booked = sheet.visits[v].booked
    if sheet.visits[v].fixed and booked is not None:
        s = sheet.shift_no[booked.day, booked.farrier]
        spans = spans_of(sheet, v, s) or [(booked.start, booked.start)]
        return [((spans[0][0], spans[-1][1]), [s])]
    for s in range(sheet.m):
        if not sheet.allow[v][s]:
            continue
        least, most = _reach(sheet, v, s)
        spans = [x for x in spans_of(sheet, v, s) if x[0] <= most and least <= x[1]]
        if least <= most and any(a <= least and most <= b for a, b in spans):
            open_on.append((s, (least, most)))
            continue
        for span in spans if least <= most else ():
            by_span.setdefault(span, []).append(s)
    return _gathered(by_span, open_on)


def _reach(sheet: Sheet, v: int, s: int) -> Span:
    """The earliest and latest start on the shift, were the visit alone there."""
    place = sheet.place[v]
    least = sheet.shifts[s].start + sheet.clock[sheet.leaves[s]][place]
    most = ends_at(sheet, s) - sheet.minutes[v] - sheet.clock[place][sheet.home[s]]
    return least, most


def _gathered(
    by_span: dict[Span, list[int]], open_on: list[tuple[int, Span]]
) -> list[tuple[Span, list[int]]]:
    """Shifts that are open all along join a span that covers them, else one of their
    own."""
    rest = []
    for s, need in open_on:
        cover = next((x for x in by_span if x[0] <= need[0] and need[1] <= x[1]), None)
        if cover is None:
            rest.append(s)
        else:
            by_span[cover].append(s)
    found = [(span, sorted(shifts)) for span, shifts in by_span.items()]
    if rest:
        found.append(((0, LONGEST), rest))
    return sorted(found)


# --- PyVRP's data ---------------------------------------------------------------------------


def _client(
    sheet: Sheet, v: int, span: Span, location: int, group: int | None, *, laden: bool
) -> Any:
    fixed = sheet.visits[v].fixed
    return pyvrp.Client(
        location=location,
        delivery=[round(sheet.load[v] * SCALE)] if laden else [],
        service_duration=sheet.minutes[v],
        tw_early=max(0, span[0]),
        tw_late=max(0, span[1]),
        prize=0 if fixed else max(0, round(sheet.left[v] * SCALE)),
        required=fixed,
        group=group,
    )


def _vehicle(sheet: Sheet, same: list[int], prices: "_Prices", *, laden: bool) -> Any:
    s = same[0]
    shift = sheet.shifts[s]
    return pyvrp.VehicleType(
        num_available=len(same),
        capacity=[_capacity(sheet, s)] if laden else [],
        start_depot=prices.homes.index(sheet.leaves[s]),
        end_depot=prices.homes.index(sheet.home[s]),
        fixed_cost=round(sheet.instance.weights.day * SCALE),
        tw_early=shift.start,
        tw_late=max(shift.start, ends_at(sheet, s)),
        profile=prices.profile_of[s],
    )


def _alike(sheet: Sheet, prices: "_Prices") -> list[list[int]]:
    """Shifts that are the same for PyVRP, in the order of the first of each."""
    found: dict[tuple[Any, ...], list[int]] = {}
    for s, shift in enumerate(sheet.shifts):
        hours = shift.start, ends_at(sheet, s), sheet.capacity[s]
        key = (prices.profile_of[s], sheet.leaves[s], sheet.home[s], *hours)
        found.setdefault(key, []).append(s)
    return list(found.values())


def _capacity(sheet: Sheet, s: int) -> int:
    most = sum(sheet.load)
    return round(min(sheet.capacity[s], most) * SCALE)


def _groups(clients_of: list[list[int]]) -> tuple[list[Any], dict[int, int]]:
    groups: list[Any] = []
    group_of: dict[int, int] = {}
    for mine in clients_of:
        if len(mine) > 1:
            group_of.update(dict.fromkeys(mine, len(groups)))
            groups.append(pyvrp.ClientGroup(mine, required=False))
    return groups, group_of


class _Prices:
    """Arc costs and minutes, one matrix for all shifts on which they are the same."""

    def __init__(
        self,
        sheet: Sheet,
        visit_of: list[int],
        allowed: np.ndarray[Any, Any],
        homes: list[int],
        per_minute: float,
    ) -> None:
        self.homes = homes
        places = np.array([*homes, *(sheet.place[v] for v in visit_of)], dtype=int)
        between = np.ix_(places, places)
        drive = np.rint(sheet.drives[between] * per_minute * SCALE).astype(np.int64)
        minutes = sheet.clocks[between] + self._setups(sheet, visit_of, len(homes))
        too_dear = 2 * round(max(sheet.left, default=0.0) * SCALE) + 100_000
        self.profile_of: list[int] = []
        self.distances: list[Any] = []
        self.durations: list[Any] = []
        known: dict[bytes, int] = {}
        for s in range(sheet.m):
            extra = np.where(allowed[:, s], sheet.extra[visit_of, s], 0.0)
            price = np.zeros(len(places), dtype=np.int64)
            price[len(homes) :] = np.where(
                allowed[:, s], np.rint(extra * SCALE), too_dear
            )
            if price.tobytes() not in known:
                known[price.tobytes()] = len(self.distances)
                late = np.zeros(len(places), dtype=np.int64)
                late[len(homes) :] = np.where(allowed[:, s], 0, FORBIDDEN_MINUTES)
                self.distances.append(_Arcs(drive, price))
                self.durations.append(_Arcs(minutes, late))
            self.profile_of.append(known[price.tobytes()])

    @staticmethod
    def _setups(sheet: Sheet, visit_of: list[int], homes: int) -> np.ndarray[Any, Any]:
        setup = np.array([sheet.setup[v] for v in visit_of], dtype=np.int64)
        site = np.array([sheet.site[v] for v in visit_of], dtype=np.int64)
        found = np.zeros((homes + len(setup),) * 2, dtype=np.int64)
        found[:, homes:] = setup
        found[homes:, homes:][site[:, None] == site[None, :]] = 0
        return found
