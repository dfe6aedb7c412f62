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
from scheduling.planner.weeks import BREAK_FROM, BREAK_UNTIL, MIDNIGHT

SCALE: Final = 100
"""PyVRP reckons in whole numbers: so many a minute of driving."""
FORBIDDEN_MINUTES: Final = 10 * MIDNIGHT
"""The time of an arc into a visit that the shift may not have."""

Span = tuple[int, int]


class _Arcs:
    """A matrix that is made when PyVRP copies it, so that no two stand beside."""

    def __init__(self, base: np.ndarray[Any, Any], into: np.ndarray[Any, Any]) -> None:
        self.base, self.into = base, into

    def __array__(
        self, dtype: Any = None, copy: bool | None = None
    ) -> np.ndarray[Any, Any]:
        made = self.base + self.into
        np.fill_diagonal(made, 0)
        return made


@dataclass(frozen=True)
class Model:
    """PyVRP's data with the way back: which visit a client is, its allowed shifts."""

    data: Any
    visit_of: list[int]
    clients_of: list[list[int]]
    allowed: np.ndarray[Any, Any]
    spans: list[Span]

    def orders(self, solution: Any, shifts: int) -> list[list[int]]:
        """The visits by shift of PyVRP's solution."""
        found: list[list[int]] = [[] for _ in range(shifts)]
        for route in solution.routes():
            found[route.vehicle_type()] = [
                self.visit_of[stop.idx] for stop in route.schedule() if stop.is_client()
            ]
        return found

    def solution(self, orders: Sequence[Sequence[int]]) -> Any:
        """PyVRP's solution of these orders; visits that it doesn't know left out."""
        routes = []
        for s, order in enumerate(orders):
            chosen = [c for v in order if (c := self._client(v, s)) is not None]
            if chosen:
                routes.append(pyvrp.Route(self.data, chosen, s))
        return pyvrp.Solution(self.data, routes)

    def _client(self, v: int, s: int) -> int | None:
        return next((c for c in self.clients_of[v] if self.allowed[c, s]), None)


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
    data = _data(sheet, visit_of, clients_of, spans, allowed, keep_together)
    return Model(data, visit_of, clients_of, allowed, spans)


# --- hours without a break ----------------------------------------------------------------


def ends_at(sheet: Sheet, s: int) -> int:
    """The shift's end on the clock without a break."""
    end = sheet.shifts[s].end
    return end - sheet.rest[s] if end >= BREAK_UNTIL else end


def spans_of(sheet: Sheet, v: int, s: int) -> list[Span]:
    """When the visit's work may start on this shift, on the clock without a break."""
    real = sheet.windows[v][s]
    found = [(0, MIDNIGHT)] if real is None else list(real)
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
        found.append(((0, MIDNIGHT), rest))
    return sorted(found)


# --- PyVRP's data ---------------------------------------------------------------------------


def _data(
    sheet: Sheet,
    visit_of: list[int],
    clients_of: list[list[int]],
    spans: list[Span],
    allowed: np.ndarray[Any, Any],
    keep_together: float,
) -> Any:
    homes = sorted({*sheet.leaves, *sheet.home})
    depot_of = {place: i for i, place in enumerate(homes)}
    weights = sheet.instance.weights
    price = _Prices(sheet, visit_of, allowed, homes, weights.drive * keep_together)
    groups, group_of = _groups(clients_of)
    laden = any(shift.capacity is not None for shift in sheet.shifts)
    clients = [
        pyvrp.Client(
            location=len(homes) + c,
            delivery=[round(sheet.load[v] * SCALE)] if laden else [],
            service_duration=sheet.minutes[v],
            tw_early=max(0, spans[c][0]),
            tw_late=max(0, spans[c][1]),
            prize=0 if sheet.visits[v].fixed else max(0, round(sheet.left[v] * SCALE)),
            required=sheet.visits[v].fixed,
            group=group_of.get(c),
        )
        for c, v in enumerate(visit_of)
    ]
    vehicles = [
        pyvrp.VehicleType(
            num_available=1,
            capacity=[_capacity(sheet, s)] if laden else [],
            start_depot=depot_of[sheet.leaves[s]],
            end_depot=depot_of[sheet.home[s]],
            fixed_cost=round(weights.day * SCALE),
            tw_early=shift.start,
            tw_late=max(shift.start, ends_at(sheet, s)),
            profile=price.profile_of[s],
        )
        for s, shift in enumerate(sheet.shifts)
    ]
    return pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0)] * (len(homes) + len(clients)),
        clients=clients,
        depots=[pyvrp.Depot(i) for i in range(len(homes))],
        vehicle_types=vehicles,
        distance_matrices=price.distances,
        duration_matrices=price.durations,
        groups=groups,
    )


def _capacity(sheet: Sheet, s: int) -> int:
    most = sum(sheet.load)
    return round(min(sheet.capacity[s], most) * SCALE)


def _groups(clients_of: list[list[int]]) -> tuple[list[Any], dict[int, int]]:
    groups, group_of = [], {}
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
        places = np.array([*homes, *(sheet.place[v] for v in visit_of)], dtype=int)
        between = np.ix_(places, places)
        drive = np.rint(sheet.drives[between] * per_minute * SCALE).astype(np.int64)
        minutes = sheet.clocks[between] + self._setups(sheet, visit_of, len(homes))
        too_dear = 2 * round(max(sheet.left, default=0.0) * SCALE) + 100_000
        self.profile_of: list[int] = []
        self.distances: list[_Arcs] = []
        self.durations: list[_Arcs] = []
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
