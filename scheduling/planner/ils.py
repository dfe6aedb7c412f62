"""One seed's search: PyVRP's local search, step by step, judged by the sheet. Pure.

The loop is an iterated local search with late acceptance (Burke and Bykov 2017, EJOR
258(1):70–78), written out here instead of PyVRP's own ``solve`` for three reasons: it
can be stopped and watched, the best found is turned into real rounds in between (with
the break, which PyVRP doesn't know) and goes back into the search when that made it
better, and a longer search then finds whatever a shorter one found.
"""

from collections.abc import Callable, Sequence
from statistics import median
from typing import Any, Final

import numpy as np
from pyvrp import (
    Activity,
    ActivityType,
    CostEvaluator,
    RandomNumberGenerator,
    Solution,
)
from pyvrp.RingBuffer import RingBuffer
from pyvrp.search import (
    OPERATORS,
    LocalSearch,
    PerturbationManager,
    PerturbationParams,
    compute_neighbours,
)

from scheduling.planner.model import SCALE, Model
from scheduling.planner.polish import Orders, Polish, mended
from scheduling.planner.sheet import Sheet

NEIGHBOURS: Final = 40
"""So many other visits are tried beside each one. Measured (docs/rounds.md)."""
BUNDLE: Final = 250
"""So many steps between two judgements; a search is so many whole bundles long."""
RESTART: Final = 1000
"""After so many steps without a better plan the search begins anew from the best."""
HISTORY: Final = 100
UPDATE: Final = 100
"""After so many steps the penalties follow what was found."""
TARGET_KEPT: Final = 0.65
"""So much of what the search tries should keep the rules. As in PyVRP."""


class Search:
    """One seed on one model. `best`: the orders found so far that keep every rule."""

    def __init__(
        self, sheet: Sheet, model: Model, start: Sequence[Sequence[int]], seed: int
    ) -> None:
        self.sheet, self.model = sheet, model
        self.best: Orders = [list(order) for order in start]
        self.best_cost = sheet.cost(self.best)
        self.steps = 0
        self.calm = 0
        data = model.data
        self.rng = RandomNumberGenerator(seed=seed % 2**32)
        # Where all shifts are the same to all visits (one day, many vans), PyVRP's own
        # settings are better; ours are for days that differ.
        ours = data.num_profiles > 1
        self.restart = RESTART if ours else 50 * RESTART
        perturb = PerturbationParams(1, 5) if ours else PerturbationParams()
        near = neighbours(sheet, model) if ours else compute_neighbours(data)
        self.ls = LocalSearch(data, self.rng, near, PerturbationManager(perturb))
        for operator in OPERATORS:
            if operator.supports(data):
                self.ls.add_operator(operator(data))
        dear = median(
            [x for x, row in zip(sheet.left, sheet.allow, strict=True) if any(row)]
        )
        self.penalties = _Penalties(data.num_load_dimensions, dear)
        self.exact = not any(sheet.rest)
        self.history: Any = RingBuffer(HISTORY if ours else 3 * HISTORY)
        self.current = self.found = self.first = self._improved(start)

    def _improved(self, start: Sequence[Sequence[int]]) -> Any:
        """The start after one full local search, or itself if that broke a rule."""
        solution = self.model.solution(start)
        better = self.ls(solution, self.penalties.evaluator(), exhaustive=True)
        return better if better.is_feasible() else solution

    def bundle(self, stop: Callable[[], bool]) -> bool:
        """Search on for one bundle, or until told to stop, and judge what was found.
        Whether it came to its end."""
        before = self.found if self.steps else None
        for _ in range(BUNDLE):
            if stop():
                break
            self._step()
            self.steps += 1
        if self.found is not before:
            self._judge(stop)
        return not stop()

    def _step(self) -> None:
        evaluator = self.penalties.evaluator()
        new = self.ls(self.current, evaluator, exhaustive=False)
        self.penalties.register(new)
        self.calm += 1
        if evaluator.cost(new) < evaluator.cost(self.found):
            self.found, self.calm = new, 0
            new = self.ls(new, evaluator, exhaustive=True)
            if new.is_feasible():
                self.found = new
        self._accept(new, evaluator)
        if self.calm and self.calm % self.restart == 0:
            self._restart()

    def _restart(self) -> None:
        """From the best once more, with a fifth of its rounds taken apart."""
        routes = self.found.routes()
        for _ in range(1 + len(routes) // 5 if len(routes) > 1 else 0):
            del routes[self.rng.randint(len(routes))]
        self.current = self.first = Solution(self.model.data, routes)
        self.history.clear()

    def _accept(self, new: Any, evaluator: Any) -> None:
        """Late acceptance: better than some steps ago, or than now, is good enough."""
        cost = evaluator.penalised_cost(new)
        now = evaluator.penalised_cost(self.current)
        late = self.history.peek()
        late_cost = evaluator.penalised_cost(self.first if late is None else late)
        if cost < late_cost or cost < now:
            self.current, now = new, cost
        if now < late_cost or late is None:
            self.history.append(self.current)
        else:
            self.history.skip()

    def _judge(self, stop: Callable[[], bool]) -> None:
        orders = mended(self.sheet, self.model.orders(self.found, self.sheet.m))
        polish = Polish(self.sheet, orders, stop=stop)
        if not self.exact:
            polish.run(deep=False)
        cost = polish.cost()
        if cost < self.best_cost - 1e-9:
            self.best, self.best_cost = polish.orders, cost
        self._feed(polish.orders)

    def _feed(self, orders: Orders) -> None:
        """Polished orders go back, where PyVRP can have them and finds them better."""
        solution = self.model.solution(orders)
        evaluator = self.penalties.evaluator()
        if solution.is_feasible() and evaluator.cost(solution) < evaluator.cost(
            self.found
        ):
            self.found = self.current = self.first = solution
            self.history.clear()


class _Penalties:
    """What a unit of load or time too much weighs: more while too few of the last
    plans kept the rules, less while more did than needed. As PyVRP's own, but quiet
    where a day simply can't be kept."""

    def __init__(self, loads: int, dear: float) -> None:
        """dear: what leaving a visit over costs, as a rule: a quarter of an hour too
        much weighs as much, at first."""
        first = max(20.0, dear / 15)
        self.weights = [first] * loads + [first * SCALE]
        self.kept = [0] * (loads + 1)
        self.seen = 0

    def register(self, solution: Any) -> None:
        """Count a plan; every UPDATE plans the weights follow."""
        for i, excess in enumerate((*solution.excess_load(), solution.time_warp())):
            self.kept[i] += excess == 0
        self.seen += 1
        if self.seen < UPDATE:
            return
        for i, kept in enumerate(self.kept):
            off = TARGET_KEPT - kept / self.seen
            if abs(off) >= 0.05:
                weight = self.weights[i] * (1.5 if off > 0 else 0.9)
                self.weights[i] = min(max(weight, 0.1), 1e7)
        self.kept, self.seen = [0] * len(self.kept), 0

    def evaluator(self) -> CostEvaluator:
        """PyVRP's evaluator with these weights; distance is never bounded."""
        *loads, minutes = self.weights
        return CostEvaluator(loads, minutes, 1.0)


def neighbours(sheet: Sheet, model: Model) -> dict[Activity, list[Activity]]:
    """For each client the nearest others that share a shift with it."""
    visit = np.array(model.visit_of, dtype=int)
    if not len(visit):
        return {}
    place = np.array(sheet.place, dtype=int)[visit]
    far = sheet.drives[np.ix_(place, place)]
    far = np.minimum(far, far.T)
    allowed = model.allowed.astype(np.int32)
    apart = (allowed @ allowed.T) == 0
    apart |= visit[:, None] == visit[None, :]
    far = np.where(apart, np.inf, far)
    near = np.argsort(far, axis=1, kind="stable")[:, :NEIGHBOURS]
    clients = [Activity(ActivityType.CLIENT, c) for c in range(len(visit))]
    return {
        clients[c]: [clients[o] for o in near[c].tolist() if far[c, o] < np.inf]
        for c in range(len(visit))
    }
