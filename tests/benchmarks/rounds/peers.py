"""The other engines and the hand's way on the same instance, cost and seconds.

Each gives orders by shift; whoever made them, they pass through the same mending (what
breaks a rule is taken out, what would be cheaper left over stays out) and the same
judge. OR-Tools begins with our own cheapest insertion and knows breaks; VROOM knows
breaks, and serves as many visits as it can before it looks at cost.
"""

from datetime import timedelta

import numpy as np
import vroom
from ortools.constraint_solver import pywrapcp, routing_enums_pb2

from scheduling.planner.judge import agreed_order
from scheduling.planner.polish import Polish, mended
from scheduling.planner.sheet import Sheet
from scheduling.planner.weeks import BREAK_FROM, BREAK_UNTIL, Plan

SCALE = 100
DAY = 24 * 60


def pruned(sheet: Sheet, orders) -> list[list[int]]:
    """Mended, and without the visits that cost more than to leave them over."""
    found = mended(sheet, orders)
    for s in range(sheet.m):
        while (rest := _cheaper(sheet, s, found[s])) is not None:
            found[s] = rest
    return found


def _cheaper(sheet: Sheet, s: int, order) -> list[int] | None:
    for v in order:
        rest = [u for u in order if u != v]
        saved = sheet.round_cost(s, order) - sheet.round_cost(s, rest)
        if saved > sheet.left[v] and not sheet.visits[v].fixed and sheet.fits(s, rest):
            return rest
    return None


def agreed(sheet: Sheet) -> list[list[int]]:
    """The agreed bookings alone."""
    orders: list[list[int]] = [[] for _ in range(sheet.m)]
    for v in sheet.fixed:
        booked = sheet.visits[v].booked
        orders[sheet.shift_no[booked.day, booked.farrier]].append(v)
    return [agreed_order(sheet, order) for order in orders]


def greedy(sheet: Sheet, seconds: float = 0) -> list[list[int]]:
    """Cheapest insertion, cheapest against leaving over first."""
    polish = Polish(sheet, agreed(sheet))
    polish.fill()
    return polish.orders


def by_weekday(sheet: Sheet, seconds: float = 0) -> list[list[int]]:
    """By hand: the region is cut into as many areas as there are working weekdays and
    farriers, each has its weekday; a visit goes on the day of its area nearest to its
    target on which it still fits, where it lengthens the round least."""
    keys = sorted({(shift.day.weekday(), shift.farrier) for shift in sheet.shifts})
    places = list(range(sheet.n))
    drive = sheet.drives[np.ix_(sheet.place, sheet.place)]
    seeds = [0]
    while len(seeds) < min(len(keys), sheet.n):
        seeds.append(max(places, key=lambda v: min(drive[v][u] for u in seeds)))
    area = [min(range(len(seeds)), key=lambda i: drive[v][seeds[i]]) for v in places]
    orders = agreed(sheet)
    placed = set(sheet.fixed)
    for v in sorted(places, key=lambda v: (sheet.visits[v].target, v)):
        if v in placed:
            continue
        visit = sheet.visits[v]
        mine = [
            s
            for s in range(sheet.m)
            if sheet.allow[v][s]
            and (sheet.shifts[s].day.weekday(), sheet.shifts[s].farrier)
            == keys[area[v]]
        ]
        for s in sorted(mine, key=lambda s: abs(sheet.shifts[s].day - visit.target)):
            order = orders[s]
            ways = [[*order[:i], v, *order[i:]] for i in range(len(order) + 1)]
            ways = [way for way in ways if sheet.fits(s, way)]
            if ways:
                orders[s] = min(ways, key=lambda way: sheet.driven(s, way))
                break
    return orders


# --- OR-Tools ---------------------------------------------------------------------------


def _nodes(sheet: Sheet):
    """(visit, windows, shifts) of each node: one for each distinct set of one span."""
    nodes = []
    for v in range(sheet.n):
        by_span: dict[tuple[int, int], list[int]] = {}
        for s in range(sheet.m):
            if sheet.allow[v][s]:
                for span in sheet.windows[v][s] or ((0, DAY),):
                    by_span.setdefault(span, []).append(s)
        nodes += [(v, span, shifts) for span, shifts in by_span.items()]
    return nodes


class OrTools:
    """Routing model: visits as optional nodes, shifts as vehicles, breaks as intervals.
    Built once; `solve` for each number of seconds."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.nodes = _nodes(sheet)
        homes = sorted({*sheet.leaves, *sheet.home})
        self.h = len(homes)
        places = [*homes, *(sheet.place[v] for v, _, _ in self.nodes)]
        n = len(places)
        starts = [homes.index(p) for p in sheet.leaves]
        ends = [homes.index(p) for p in sheet.home]
        self.manager = pywrapcp.RoutingIndexManager(n, sheet.m, starts, ends)
        self.model = pywrapcp.RoutingModel(self.manager)
        between = np.ix_(places, places)
        self._costs(np.rint(sheet.drives[between] * SCALE).astype(int), n)
        self._time(sheet.clocks[between].copy(), n)
        self._choices()

    def _costs(self, drive, n) -> None:
        sheet, model = self.sheet, self.model
        visits = [v for v, _, _ in self.nodes]
        known: dict[bytes, int] = {}
        for s in range(sheet.m):
            extra = np.where(
                np.isfinite(sheet.extra[visits, s]), sheet.extra[visits, s], 0
            )
            into = np.concatenate([np.zeros(self.h), np.rint(extra * SCALE)])
            into = into.astype(int)
            if into.tobytes() not in known:
                rows = (drive * int(sheet.instance.weights.drive) + into).tolist()
                known[into.tobytes()] = model.RegisterTransitMatrix(rows)
            model.SetArcCostEvaluatorOfVehicle(known[into.tobytes()], s)
            day = round(sheet.instance.weights.day * SCALE)
            model.SetFixedCostOfVehicle(day, s)

    def _time(self, minutes, n) -> None:
        sheet, model, h = self.sheet, self.model, self.h
        visits = [v for v, _, _ in self.nodes]
        site = np.array([sheet.site[v] for v in visits])
        setup = np.zeros((n, n), dtype=int)
        setup[:, h:] = [sheet.setup[v] for v in visits]
        setup[h:, h:][site[:, None] == site[None, :]] = 0
        work = np.array([0] * h + [sheet.minutes[v] for v in visits])
        transit = (minutes + setup + work[:, None]).tolist()
        index = model.RegisterTransitMatrix(transit)
        model.AddDimension(index, 2 * DAY, 2 * DAY, False, "time")  # noqa: FBT003
        self.time = model.GetDimensionOrDie("time")
        solver = model.solver()
        visit_minutes = [0] * model.Size()
        for i in range(model.Size()):
            if not model.IsStart(i):
                visit_minutes[i] = int(work[self.manager.IndexToNode(i)])
        for s, shift in enumerate(sheet.shifts):
            self.time.CumulVar(model.Start(s)).SetRange(shift.start, shift.end)
            self.time.CumulVar(model.End(s)).SetRange(shift.start, shift.end)
            if sheet.rest[s] and shift.end >= BREAK_UNTIL:
                rest = solver.FixedDurationIntervalVar(
                    BREAK_FROM,
                    BREAK_UNTIL,
                    sheet.rest[s],
                    False,  # noqa: FBT003
                    f"b{s}",
                )
                self.time.SetBreakIntervalsOfVehicle([rest], s, visit_minutes)

    def _choices(self) -> None:
        sheet, model, manager = self.sheet, self.model, self.manager
        self.index_of: dict[int, list[tuple[int, list[int]]]] = {}
        for i, (v, span, shifts) in enumerate(self.nodes):
            index = manager.NodeToIndex(self.h + i)
            self.time.CumulVar(index).SetRange(*span)
            model.VehicleVar(index).SetValues([-1, *shifts])
            self.index_of.setdefault(v, []).append((index, shifts))
        for v, mine in self.index_of.items():
            fixed = sheet.visits[v].fixed
            price = 10**8 if fixed else round(sheet.left[v] * SCALE)
            model.AddDisjunction([index for index, _ in mine], price)

    def solve(self, start, seconds: float) -> list[list[int]]:
        """The best orders found in so many seconds from `start`, or by its own first
        solution where it won't take `start`."""
        model = self.model
        options = pywrapcp.DefaultRoutingSearchParameters()
        options.first_solution_strategy = (
            routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
        )
        options.local_search_metaheuristic = (
            routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
        )
        options.time_limit.FromMilliseconds(max(1, int(seconds * 1000)))
        routes = [
            [
                next(i for i, shifts in self.index_of[v] if s in shifts)
                for v in order
                if v in self.index_of
            ]
            for s, order in enumerate(start)
        ]
        model.CloseModelWithParameters(options)
        first = model.ReadAssignmentFromRoutes(routes, True)  # noqa: FBT003
        found = None
        if first is not None:
            found = model.SolveFromAssignmentWithParameters(first, options)
        if found is None:
            found = model.SolveWithParameters(options)
        if found is None:
            return [list(order) for order in start]
        orders = []
        for s in range(self.sheet.m):
            order, at = [], found.Value(model.NextVar(model.Start(s)))
            while not model.IsEnd(at):
                order.append(self.nodes[self.manager.IndexToNode(at) - self.h][0])
                at = found.Value(model.NextVar(at))
            orders.append(order)
        return orders


def or_tools(sheet: Sheet, seconds: float) -> list[list[int]]:
    """Built outside the seconds, which are the search's own."""
    return pruned(sheet, OrTools(sheet).solve(greedy(sheet), seconds))


# --- VROOM ------------------------------------------------------------------------------


def vroom_(sheet: Sheet, seconds: float) -> list[list[int]]:
    """VROOM through pyvroom, all days on one clock, exploration level 5 or the time."""
    days = sorted({shift.day for shift in sheet.shifts})
    offset = {day: i * DAY * 60 for i, day in enumerate(days)}
    homes = sorted({*sheet.leaves, *sheet.home})
    h = len(homes)
    visits = [v for v in range(sheet.n) if any(sheet.allow[v])]
    places = [*homes, *(sheet.place[v] for v in visits)]
    n = len(places)
    between = np.ix_(places, places)
    setup = np.zeros((n, n), dtype=np.int64)
    setup[:, h:] = [sheet.setup[v] for v in visits]
    site = np.array([sheet.site[v] for v in visits])
    if visits:
        setup[h:, h:][site[:, None] == site[None, :]] = 0
    durations = ((sheet.clocks[between] + setup) * 60).astype(np.uint32)
    drive = np.rint(sheet.drives[between] * SCALE).astype(np.int64)
    may = [
        frozenset(sheet.shifts[s].farrier for s in range(sheet.m) if sheet.allow[v][s])
        for v in visits
    ]
    skill_of = {names: i + 1 for i, names in enumerate(sorted(set(may), key=sorted))}
    problem = vroom.Input()
    for s, shift in enumerate(sheet.shifts):
        profile = f"s{s}"
        extra = sheet.extra[visits, s]
        into = np.where(np.isfinite(extra), np.rint(extra * SCALE), 0)
        costs = drive + np.concatenate([np.zeros(h), into]).astype(np.int64)
        problem.set_durations_matrix(profile, durations)
        problem.set_costs_matrix(profile, costs.astype(np.uint32))
        t = offset[shift.day]
        breaks = []
        if sheet.rest[s] and shift.end >= BREAK_UNTIL:
            window = vroom.TimeWindow(t + BREAK_FROM * 60, t + BREAK_UNTIL * 60)
            breaks = [vroom.Break(s + 1, [window], sheet.rest[s] * 60)]
        problem.add_vehicle(
            vroom.Vehicle(
                s + 1,
                start=homes.index(sheet.leaves[s]),
                end=homes.index(sheet.home[s]),
                profile=profile,
                skills={k for names, k in skill_of.items() if shift.farrier in names},
                time_window=vroom.TimeWindow(t + shift.start * 60, t + shift.end * 60),
                breaks=breaks,
                costs=vroom.VehicleCosts(
                    fixed=round(sheet.instance.weights.day * SCALE)
                ),
            )
        )
    # Days come by the windows, farriers by a skill for each set of them.
    for i, v in enumerate(visits):
        windows = {
            (offset[sheet.shifts[s].day] + a * 60, offset[sheet.shifts[s].day] + b * 60)
            for s in range(sheet.m)
            if sheet.allow[v][s]
            for a, b in sheet.windows[v][s] or ((0, DAY - 1),)
        }
        problem.add_job(
            vroom.Job(
                i + 1,
                location=h + i,
                skills={skill_of[may[i]]},
                default_service=sheet.minutes[v] * 60,
                priority=100 if sheet.visits[v].fixed else 0,
                time_windows=[vroom.TimeWindow(a, b) for a, b in sorted(windows)],
            )
        )
    solution = problem.solve(5, 1, timedelta(seconds=seconds))
    orders: list[list[int]] = [[] for _ in range(sheet.m)]
    for row in solution.routes.to_dict("records"):
        if row["type"] == "job":
            orders[int(row["vehicle_id"]) - 1].append(visits[int(row["id"]) - 1])
    return pruned(sheet, with_agreed(sheet, orders))


def with_agreed(sheet: Sheet, orders) -> list[list[int]]:
    """What the engine lost of the agreed bookings stands again, before mending."""
    held = set(sheet.fixed)
    found = [
        [v for v in order if v not in held or sheet.allow[v][s]]
        for s, order in enumerate(orders)
    ]
    there = {v for order in found for v in order}
    for s, order in enumerate(agreed(sheet)):
        missing = [v for v in order if v not in there]
        if missing:
            found[s] = [*missing, *found[s]]
    return found


def plan_of(sheet: Sheet, orders) -> Plan:
    """The plan of orders by number."""
    return Plan.of(
        {
            sheet.shifts[s].key: [sheet.visits[v].id for v in order]
            for s, order in enumerate(orders)
        }
    )
