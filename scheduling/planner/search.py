"""Proposing rounds for the weeks ahead. Pure: a timer stops it, no calendar is asked.

Start: today's plan, the bookings, or cheapest insertion, whichever is best. Then PyVRP's
local search for each seed (`ils`), several at once if asked, each on its own core, and at
the end the best of them polished. The judge has the last word: what breaks a rule or costs more than the
plan before is not offered.
"""

import contextlib
import multiprocessing
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from scheduling.planner.judge import agreed_order, check_agreed, evaluate
from scheduling.planner.polish import Orders, Polish, mended
from scheduling.planner.sheet import Sheet, sheet_of
from scheduling.planner.weeks import Instance, Plan

if TYPE_CHECKING:
    from scheduling.planner.ils import Search

PATIENCE: Final = (4000, 100)
"""A search ends after so many steps without a better plan, and so many more for each
visit. Ours: on small regions nothing better came later (docs/rounds.md)."""


SMALL: Final = 40
"""So many visits are searched for LEAST_BUNDLES bundles however late it is, with one
seed: that takes some tenths of a second, and no stalled machine leaves a poor plan."""
LEAST_BUNDLES: Final = 4
MIDDLING: Final = 200
"""So many visits are searched for one bundle in any case."""


LAG_SECONDS: Final = 0.2
"""So long a child's answer is waited for after the time is over."""
MOST_BYTES: Final = 350_000_000
"""PyVRP holds two matrices for each kind of shift. An instance for which they could be
larger than this is only filled and polished, which needs no such room."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a search is: seconds since it began, steps made, the best plan so far
    and its cost in minutes of driving."""

    seconds: float
    steps: int
    plan: Plan
    cost: float


@dataclass(slots=True)
class _Rule:
    """When to stop: a moment of the timer, a number of bundles, or when told."""

    until: float
    bundles: int | None
    timer: Callable[[], float]
    told: bool = False

    def __call__(self) -> bool:
        return self.told or self.timer() >= self.until

    def is_told(self) -> bool:
        """The rule for what is done however late it is."""
        return self.told

    def at_least(self, sheet: Sheet) -> Callable[[], bool]:
        """The rule for what is done in any case: up to a middling instance time is
        not asked."""
        return self.is_told if sheet.n <= MIDDLING else self

    def to_begin(self, sheet: Sheet) -> Callable[[], bool]:
        """The rule for the first filling, some tenths of a second in all but the
        largest instances: not to be cut short by a stalled machine."""
        return self.is_told if sheet.n * sheet.m <= 10_000 else self


def propose(
    instance: Instance,
    *,
    start: Plan | None = None,
    seed: int = 1,
    seconds: float | None = None,
    iterations: int | None = None,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    workers: int = 1,
    timer: Callable[[], float] = time.perf_counter,
) -> Plan:
    """A plan that keeps every rule and costs no more than `start`.

    Args:
        seconds: in all, from the call on. iterations: steps of each seed, in whole
            bundles of `ils.BUNDLE`; the same iterations, seed and workers always give
            the same plan. Without either, the search goes on until it is calm.
        progress, cancelled: called in this thread, a few times a second. What was best
            when `cancelled` says so is returned.
        workers: seeds searched at once, each further one in a child of this process,
            on a core of its own: for callers with no other thread and no open
            connection that a child might disturb (`apart` gives such a place to all
            others). One where systems can't fork.

    Raises BadInstance for an agreed booking that can't be kept.
    """
    began = timer()
    check_agreed(instance)
    if not instance.shifts:
        return Plan()
    sheet = sheet_of(instance)
    until = began + (float("inf") if seconds is None else seconds)
    rule = _Rule(until, _bundles(iterations), timer)
    first = _first(sheet, start, rule.to_begin(sheet))
    team = _Team(sheet, rule, began, progress, cancelled)
    found = team.search(first, seed, workers if hasattr(os, "fork") else 1)
    return _judged(instance, start, found, first)


def _bundles(iterations: int | None) -> int | None:
    from scheduling.planner.ils import BUNDLE  # PyVRP is loaded by those who search

    return None if iterations is None else -(-max(0, iterations) // BUNDLE)


def _judged(
    instance: Instance, start: Plan | None, found: Orders, first: Orders
) -> Plan:
    """The cheapest of found, first and start that the judge lets pass."""
    sheet = sheet_of(instance)
    plans = [plan_of(sheet, found), plan_of(sheet, first)]
    if start is not None:
        plans.insert(0, Plan.of(start.orders))
    best, cost = Plan(), float("inf")
    for plan in plans:
        verdict = evaluate(instance, plan)
        if verdict.kept and verdict.cost.total < cost - 1e-9:
            best, cost = plan, verdict.cost.total
    assert cost < float("inf")
    return best


def plan_of(sheet: Sheet, orders: Sequence[Sequence[int]]) -> Plan:
    """The plan of orders by number."""
    return Plan.of(
        {
            sheet.shifts[s].key: [sheet.visits[v].id for v in order]
            for s, order in enumerate(orders)
        }
    )


# --- where the search begins --------------------------------------------------------------


def _first(sheet: Sheet, start: Plan | None, stop: Callable[[], bool]) -> Orders:
    """The best of: the plan given, the bookings as they stand, the agreed alone; each
    mended where it must be, and filled by cheapest insertion."""
    agreed, booked = _booked(sheet)
    begin = [agreed, booked] if booked != agreed else [agreed]
    if start is not None:
        begin.append(mended(sheet, _known(sheet, start)))
    best, best_cost = agreed, sheet.cost(agreed)
    for orders in begin:
        if any(v not in order for v in sheet.fixed for order in [_where(orders, v)]):
            continue  # mending lost an agreed one: not to be begun with
        cost = sheet.cost(orders)
        if cost < best_cost:
            best, best_cost = orders, cost
        polish = Polish(sheet, orders, stop=stop)
        polish.fill()
        polish.move()
        polish.turn()
        if polish.cost() < best_cost:
            best, best_cost = polish.orders, polish.cost()
    return best


def _where(orders: Orders, v: int) -> list[int]:
    return next((order for order in orders if v in order), [])


def _booked(sheet: Sheet) -> tuple[Orders, Orders]:
    """The agreed alone, and with the pencilled and asked ones where they fit."""
    agreed: Orders = [[] for _ in range(sheet.m)]
    others: list[tuple[int, int, int]] = []
    for v, visit in enumerate(sheet.visits):
        if visit.booked is None:
            continue
        s = sheet.shift_no.get((visit.booked.day, visit.booked.farrier))
        if s is not None and visit.fixed:
            agreed[s].append(v)
        elif s is not None and sheet.allow[v][s]:
            others.append((s, visit.booked.start, v))
    agreed = [agreed_order(sheet, order) for order in agreed]
    booked = [list(order) for order in agreed]
    for s, start, v in sorted(others):
        at = sum(1 for u in booked[s] if _start(sheet, u) <= start)
        longer = [*booked[s][:at], v, *booked[s][at:]]
        if sheet.fits(s, longer):
            booked[s] = longer
    return agreed, booked


def _start(sheet: Sheet, v: int) -> int:
    booked = sheet.visits[v].booked
    assert booked is not None
    return booked.start


def _known(sheet: Sheet, plan: Plan) -> Orders:
    """The plan's orders by number; ids and shifts that are gone are passed over."""
    orders: Orders = [[] for _ in range(sheet.m)]
    seen: set[int] = set()
    for one in plan.rounds:
        s = sheet.shift_no.get(one.key)
        for id_ in one.visits if s is not None else ():
            v = sheet.visit_no.get(id_)
            if s is not None and v is not None and v not in seen:
                seen.add(v)
                orders[s].append(v)
    return orders


def _one_kind(sheet: Sheet) -> bool:
    """Whether all shifts are the same to all visits (published instances)."""
    return bool((sheet.extra == sheet.extra[:, :1]).all())


# --- seeds side by side ---------------------------------------------------------------------


class _Team:
    """The searches of several seeds, the first of them in the caller's thread."""

    def __init__(
        self,
        sheet: Sheet,
        rule: _Rule,
        began: float,
        progress: Callable[[Progress], None] | None,
        cancelled: Callable[[], bool] | None,
    ) -> None:
        self.sheet, self.rule, self.began = sheet, rule, began
        self.progress, self.cancelled = progress, cancelled
        self.searches: list[Search] = []

    def search(self, first: Orders, seed: int, workers: int) -> Orders:
        """The best orders found from here."""
        sheet = self.sheet
        least = self.rule.at_least(sheet)
        if self._told() or least() or self.rule.bundles == 0:
            return first
        if 1.3 * sheet.n**2 * sheet.m * 16 > MOST_BYTES and not _one_kind(sheet):
            return Polish(sheet, first, stop=least).run()
        from scheduling.planner.ils import Search
        from scheduling.planner.model import build

        keep = sheet.instance.weights.keep_together
        model = build(sheet, keep_together=keep)
        if not any(model.clients_of):
            return first
        self.searches = [
            Search(sheet, model, first, seed + 1_000_003 * i)
            for i in range(1 if sheet.n <= SMALL else max(1, workers))
        ]
        self._run()
        best = min(
            range(len(self.searches)),
            key=lambda i: (round(self.searches[i].best_cost, 6), i),
        )
        stop = least if sheet.n <= SMALL else self.rule
        polish = Polish(sheet, self.searches[best].best, stop=stop)
        return polish.run()

    def _run(self) -> None:
        children: list[_Child] = []
        try:
            children.extend(_Child(one, self._as_child) for one in self.searches[1:])
            self._work(self.searches[0], lambda: self._watch(children))
            for child in children:
                while child.hear(0.05):
                    self._watch(children)
                    if self.rule.told or (
                        self.rule() and not child.speaks_within(LAG_SECONDS)
                    ):
                        break
        finally:
            for child in children:
                child.end()

    def _as_child(self, search: "Search", say: Callable[[], None]) -> None:
        """A child's whole life. One whose parent was killed ends with its bundle."""
        parent = os.getppid()

        def after() -> None:
            self.rule.told = os.getppid() != parent
            say()

        self._work(search, after)
        say()

    def _work(self, search: "Search", after: Callable[[], None]) -> None:
        """Bundle after bundle, until the rule, calm, or enough."""
        from scheduling.planner.ils import BUNDLE

        patience = PATIENCE[0] + PATIENCE[1] * self.sheet.n
        least = (LEAST_BUNDLES if self.sheet.n <= SMALL else 1) * BUNDLE
        while search.bundle(
            self.rule.at_least(self.sheet) if search.steps < least else self.rule
        ):
            after()
            done = search.steps // BUNDLE
            if self.rule.bundles is not None and done >= self.rule.bundles:
                break
            if search.calm >= patience:
                break

    def _told(self) -> bool:
        if self.cancelled is not None and self.cancelled():
            self.rule.told = True
        return self.rule.told

    def _watch(self, children: Sequence["_Child"] = ()) -> None:
        for child in children:
            child.hear()
        if self._told() or self.progress is None:
            return
        best = min(self.searches, key=lambda one: one.best_cost)
        self.progress(
            Progress(
                seconds=self.rule.timer() - self.began,
                steps=sum(one.steps for one in self.searches),
                plan=plan_of(self.sheet, best.best),
                cost=best.best_cost,
            )
        )


class _Child:
    """One seed's search in a child of this process, which tells how far it is."""

    def __init__(
        self,
        search: "Search",
        work: Callable[["Search", Callable[[], None]], None],
    ) -> None:
        self.search = search
        context = multiprocessing.get_context("fork")
        self.pipe, theirs = context.Pipe(duplex=False)
        self.process = context.Process(
            target=self._live, args=(work, theirs), daemon=True
        )
        self.process.start()
        theirs.close()

    def _live(self, work: Any, pipe: Any) -> None:
        search = self.search
        told = search.best_cost

        def say() -> None:
            nonlocal told
            is_better = search.best_cost < told
            told = search.best_cost
            pipe.send((search.steps, told, search.best if is_better else None))

        with contextlib.suppress(BrokenPipeError):  # nobody listens any more
            work(search, say)

    def speaks_within(self, seconds: float) -> bool:
        """Whether there is something to hear, also its end."""
        return bool(self.pipe.poll(seconds))

    def hear(self, seconds: float = 0.0) -> bool:
        """Take over what it has said, waiting so long for the first word. Whether it
        may say more; what a child that died had said is kept."""
        search = self.search
        try:
            while self.speaks_within(seconds):
                search.steps, search.best_cost, best = self.pipe.recv()
                search.best = search.best if best is None else best
                seconds = 0.0
        except (EOFError, OSError):
            return False
        return True

    def end(self) -> None:
        """Kill it, if it still runs."""
        self.pipe.close()
        self.process.kill()
        self.process.join()
