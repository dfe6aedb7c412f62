"""Small exact steps: filling, moving and exchanging visits under the real rules. Pure.

PyVRP searches without the break; here every step is asked of the sheet, which knows it.
Prices of all places at once come from a table of arcs, dearest saving first, and only
what would save is tried against the rules.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final

import numpy as np

from scheduling.planner.sheet import Sheet

LEAST_GAIN: Final = 1e-6
"""Less than this in minutes is no gain, or rounding would never end."""
TRIES: Final = 25
"""So many of the best places are tried against the rules for one visit."""

Orders = list[list[int]]


def never() -> bool:
    """Nothing stops."""
    return False


class Polish:
    """Orders by shift, changed in place by steps that keep every rule and only gain."""

    def __init__(
        self,
        sheet: Sheet,
        orders: Sequence[Sequence[int]],
        *,
        stop: Callable[[], bool] = never,
    ) -> None:
        self.sheet = sheet
        self.orders: Orders = [list(order) for order in orders]
        self.stop = stop
        weights = sheet.instance.weights
        self.price = sheet.drives * weights.drive
        self.day = weights.day
        self.place = np.array(sheet.place, dtype=int)
        self.left = np.array(sheet.left)
        self.held = set(sheet.fixed)
        self.placeable = {v for v in range(sheet.n) if any(sheet.allow[v])}
        self._lay_out()

    # --- the table of arcs -------------------------------------------------------------

    def _lay_out(self) -> None:
        """All arcs of all rounds: from, to, shift, position; empty shifts have one."""
        sheet = self.sheet
        tails: list[int] = []
        heads: list[int] = []
        shifts: list[int] = []
        spots: list[int] = []
        for s, order in enumerate(self.orders):
            stops = [sheet.leaves[s], *(sheet.place[v] for v in order), sheet.home[s]]
            tails += stops[:-1]
            heads += stops[1:]
            shifts += [s] * (len(order) + 1)
            spots += range(len(order) + 1)
        self.tail, self.head = np.array(tails, dtype=int), np.array(heads, dtype=int)
        self.shift, self.spot = np.array(shifts, dtype=int), np.array(spots, dtype=int)
        # An empty round drives nowhere, and its first visit opens the day.
        empty = np.array([not order for order in self.orders], dtype=bool)[self.shift]
        along = self.price[self.tail, self.head] if len(tails) else np.zeros(0)
        self.flat = np.where(empty, self.day, -along)
        self.opens = empty
        self.arcs_of = {}
        start = 0
        for s, order in enumerate(self.orders):
            self.arcs_of[s] = slice(start, start + len(order) + 1)
            start += len(order) + 1

        self.spare = np.array([self._spare(s) for s in range(sheet.m)])[self.shift]
        self._lay_out_stops()

    def _spare(self, s: int) -> int:
        """Minutes of the shift in which nobody drives or works."""
        sheet, order = self.sheet, self.orders[s]
        busy, last = 0, sheet.leaves[s]
        for v in order:
            busy += sheet.clock[last][sheet.place[v]] + sheet.minutes[v]
            last = sheet.place[v]
        if order:
            busy += sheet.clock[last][sheet.home[s]]
        return sheet.shifts[s].end - sheet.shifts[s].start - busy

    def _lay_out_stops(self) -> None:
        """All stops that may be moved: visit, shift, position, the places on both
        sides, and what the plan saves without it."""
        rows = [
            (v, s, at)
            for s, order in enumerate(self.orders)
            for at, v in enumerate(order)
            if v not in self.held
        ]
        table = np.array(rows, dtype=int).reshape(len(rows), 3)
        self.stop_v, self.stop_s, self.stop_at = table[:, 0], table[:, 1], table[:, 2]
        starts = np.array([self.arcs_of[s].start for s in range(self.sheet.m)])
        arc = starts[self.stop_s] + self.stop_at if rows else self.stop_s
        self.before, self.after = self.tail[arc], self.head[arc + 1]
        lone = np.array([len(order) == 1 for order in self.orders])[self.stop_s]
        self.around = np.where(lone, self.day, -self.price[self.before, self.after])
        self.saves = self._through(self.place[self.stop_v])
        self.saves += self.sheet.extra[self.stop_v, self.stop_s]
        self.arc_starts = starts
        self.least: np.ndarray[Any, Any] | None = None

    def _through(self, place: Any) -> np.ndarray[Any, Any]:
        """What a stop at this place costs between the neighbours of each stop."""
        found: np.ndarray[Any, Any] = (
            self.price[self.before, place] + self.price[place, self.after] + self.around
        )
        return found

    def least_into(self) -> np.ndarray[Any, Any]:
        """For each visit the least that any arc could add; rules are not asked."""
        if self.least is None:
            place = self.place[:, None]
            added = self.price[self.tail, place] + self.price[place, self.head]
            added += self.flat + self.sheet.extra[:, self.shift]
            self.least = np.minimum(added.min(axis=1, initial=np.inf), self.left)
        return self.least

    def into(self, v: int) -> np.ndarray[Any, Any]:
        """What v would add on each arc: detour, date, move; infinite where not allowed."""
        place = self.place[v]
        detour = self.price[self.tail, place] + self.price[place, self.head] + self.flat
        added: np.ndarray[Any, Any] = detour + self.sheet.extra[v, self.shift]
        return added

    def _longer(self, v: int) -> np.ndarray[Any, Any]:
        """By how many minutes v lengthens drive and work on each arc, at the least."""
        place, clocks = self.place[v], self.sheet.clocks
        along = np.where(self.opens, 0, clocks[self.tail, self.head])
        longer: np.ndarray[Any, Any] = (
            clocks[self.tail, place] + clocks[place, self.head] - along
        ) + self.sheet.minutes[v]
        return longer

    def taken_out(self, s: int, at: int) -> float:
        """What the plan saves when this stop is taken out, its being left over apart."""
        order = self.orders[s]
        rest = order[:at] + order[at + 1 :]
        return self.sheet.round_cost(s, order) - self.sheet.round_cost(s, rest)

    def loose(self) -> list[int]:
        """Visits in no round that some shift may have, dearest first."""
        out = self.placeable.difference(*self.orders)
        return sorted(out, key=lambda v: (-self.sheet.left[v], v))

    def cost(self) -> float:
        """The whole plan's."""
        return self.sheet.cost(self.orders)

    # --- steps ---------------------------------------------------------------------------

    def best_place(
        self, v: int, bound: float, *, skip: Sequence[int] = ()
    ) -> tuple[float, int, int] | None:
        """The cheapest place below `bound` where v fits; on none of the shifts `skip`."""
        added = self.into(v)
        for s in skip:
            added[self.arcs_of[s]] = np.inf
        added[self._longer(v) > self.spare] = np.inf
        worth = np.flatnonzero(added < bound - LEAST_GAIN)
        if len(worth) > TRIES:
            worth = worth[np.argpartition(added[worth], TRIES)[:TRIES]]
        for arc in sorted(worth.tolist(), key=lambda arc: (added[arc], arc)):
            s, at = int(self.shift[arc]), int(self.spot[arc])
            order = self.orders[s]
            if self.sheet.fits(s, [*order[:at], v, *order[at:]]):
                return float(added[arc]), s, at
        return None

    def fill(self) -> bool:
        """Put in what is left over, cheapest against leaving it first, while it pays.

        What a visit found is kept until its shift changes; when nothing is left of it,
        all are asked once more.
        """
        known: dict[int, tuple[float, int, int] | None] = {}
        filled, asked_all = False, True
        while not self.stop():
            loose = self.loose()
            for v in loose:
                if v not in known:
                    known[v] = self.best_place(v, self.sheet.left[v])
            found = [
                (place[0] - self.sheet.left[v], v, place[1], place[2])
                for v in loose
                if (place := known[v]) is not None
            ]
            if found:
                touched = self._put_in(sorted(found))
                for v, place in list(known.items()):
                    if place is not None and place[1] in touched:
                        del known[v]
                filled, asked_all = True, False
            elif asked_all:
                break
            else:
                known, asked_all = {}, True
        return filled

    def _put_in(self, found: list[tuple[float, int, int, int]]) -> set[int]:
        """The best visit of each shift, at once; the shifts that changed."""
        touched: set[int] = set()
        for _, v, s, at in found:
            if s not in touched:
                touched.add(s)
                self.orders[s].insert(at, v)
        self._lay_out()
        return touched

    def move(self) -> bool:
        """Each visit to a better place in another round, or out of the plan."""
        moved = False
        for v in range(self.sheet.n):
            if v in self.held or self.stop():
                continue
            spot = self._find(v)
            if spot is None:
                continue
            s, at = spot
            saved = self.taken_out(s, at)
            rest = self.orders[s][:at] + self.orders[s][at + 1 :]
            place = self.best_place(v, min(saved, self.sheet.left[v]), skip=(s,))
            out = saved > self.sheet.left[v] + LEAST_GAIN
            if (place is None and not out) or not self.sheet.fits(s, rest):
                continue
            self.orders[s] = rest
            if place is not None:
                self.orders[place[1]].insert(place[2], v)
            self._lay_out()
            moved = True
        return moved

    def _find(self, v: int) -> tuple[int, int] | None:
        for s, order in enumerate(self.orders):
            if v in order:
                return s, order.index(v)
        return None

    def turn(self) -> bool:
        """Within each round: one visit to another place, or a piece turned round."""
        turned = False
        for s in range(self.sheet.m):
            while not self.stop() and (better := self._shorter(s)) is not None:
                self.orders[s] = better
                turned = True
        if turned:
            self._lay_out()
        return turned

    def _shorter(self, s: int) -> list[int] | None:
        sheet, order = self.sheet, self.orders[s]
        driven = sheet.driven(s, order)
        for other in _reordered(order):
            if sheet.driven(s, other) < driven - LEAST_GAIN and sheet.fits(s, other):
                return other
        return None

    def exchange(self, *, deep: bool = True) -> bool:
        """A visit (not deep: one left over) in place of another, which goes elsewhere
        or stays out."""
        changed = False
        for u in [*self.loose(), *(range(self.sheet.n) if deep else ())]:
            if u in self.held or self.stop():
                continue
            changed |= self._exchange(u)
        return changed

    def _exchange(self, u: int) -> bool:
        spot = self._find(u)
        saved = self.sheet.left[u] if spot is None else self.taken_out(*spot)
        if not len(self.stop_v):
            return False
        beside = np.minimum.reduceat(self.into(u), self.arc_starts)[self.stop_s]
        instead = self._through(self.place[u]) + self.sheet.extra[u, self.stop_s]
        gain = saved + self.saves - np.minimum(beside, instead)
        gain -= self.least_into()[self.stop_v]
        if spot is not None:
            gain[self.stop_s == spot[0]] = -np.inf
        worth = np.flatnonzero(gain > LEAST_GAIN)
        for i in sorted(worth.tolist(), key=lambda i: (-gain[i], i))[:TRIES]:
            if self._replace(u, spot, int(self.stop_s[i]), int(self.stop_at[i]), saved):
                return True
        return False

    def _replace(
        self, u: int, spot: tuple[int, int] | None, s: int, at: int, saved: float
    ) -> bool:
        """u into s in place of the visit there, if some way of doing it gains."""
        sheet, order = self.sheet, self.orders[s]
        v, without = order[at], order[:at] + order[at + 1 :]
        fitting = [
            (sheet.driven(s, other), other)
            for i in range(len(without) + 1)
            if sheet.fits(s, other := [*without[:i], u, *without[i:]])
        ]
        if not fitting:
            return False
        new = min(fitting)[1]
        gain = saved + sheet.round_cost(s, order) - sheet.round_cost(s, new)
        skip, rest = [s], None
        if spot is not None:
            t, i = spot
            rest = self.orders[t][:i] + self.orders[t][i + 1 :]
            skip.append(t)
            if not sheet.fits(t, rest):
                return False
        place = self.best_place(v, min(gain, sheet.left[v]), skip=skip)
        if place is None and gain <= sheet.left[v] + LEAST_GAIN:
            return False
        self.orders[s] = new
        if spot is not None and rest is not None:
            self.orders[spot[0]] = rest
        if place is not None:
            self.orders[place[1]].insert(place[2], v)
        self._lay_out()
        return True

    def run(self, *, deep: bool = True) -> Orders:
        """All steps until none gains; not deep: for what is left over alone."""
        again = True
        while again and not self.stop():
            again = self.fill()
            if deep:
                again |= self.move()
                again |= self.turn()
            again |= self.exchange(deep=deep)
        return self.orders


def mended(sheet: Sheet, orders: Sequence[Sequence[int]]) -> Orders:
    """The orders with what no shift may have, and what breaks a shift's rules, out.

    Of a round that can't be kept, the visits that were agreed stay, then as many of the
    others as fit, dearest to leave out first, each where it was or else nearest to it.
    """
    found: Orders = []
    seen: set[int] = set()
    for s, order in enumerate(orders):
        kept = [v for v in dict.fromkeys(order) if sheet.allow[v][s] and v not in seen]
        seen.update(kept)
        if not sheet.fits(s, kept):
            kept = _thinned(sheet, s, kept)
        found.append(kept)
    return found


def _thinned(sheet: Sheet, s: int, order: list[int]) -> list[int]:
    rank = {v: i for i, v in enumerate(order)}
    fixed = set(sheet.fixed)
    kept: list[int] = []
    for v in sorted(order, key=lambda v: (v not in fixed, -sheet.left[v], v)):
        at = sum(1 for u in kept if rank[u] < rank[v])
        spots = sorted(range(len(kept) + 1), key=lambda i: (abs(i - at), i))
        for i in spots:
            longer = [*kept[:i], v, *kept[i:]]
            if sheet.fits(s, longer):
                kept = longer
                break
    return kept


def _reordered(order: list[int]) -> Iterator[list[int]]:
    n = len(order)
    for a in range(n):
        rest = order[:a] + order[a + 1 :]
        for at in range(n):
            if at != a:
                yield [*rest[:at], order[a], *rest[at:]]
    for a in range(n - 2):
        for b in range(a + 3, n + 1):
            yield order[:a] + order[a:b][::-1] + order[b:]
