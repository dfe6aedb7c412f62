"""An instance in the search's terms: visits and shifts by number, costs looked up.

Pure. Everything that the judge, the insertion and the search ask by the ten thousand is
reckoned here once: which visit may go on which shift and when its work may start there,
what that costs, and whether an order of visits keeps every rule of its shift.
"""

import math
from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import Any, Final

import numpy as np

from scheduling.planner import costs
from scheduling.planner.weeks import (
    BREAK_FROM,
    BREAK_UNTIL,
    Instance,
    Shift,
    Visit,
)

NEVER: Final = 10**9
"""A minute that no day has."""

Windows = tuple[tuple[int, int], ...]


def forbidden(instance: Instance, visit: Visit, shift: Shift) -> tuple[str, str] | None:
    """Why the visit may not be on this shift at all, whatever the hour: a code and a
    sentence. None where it may."""
    day = shift.day
    if visit.farriers is not None and shift.farrier not in visit.farriers:
        return "farrier", f"{shift.farrier} may not treat {visit.id}."
    if visit.people > shift.people:
        return "people", f"{visit.id} needs {visit.people} people on the round."
    if day in visit.not_on:
        return "closed", f"{visit.id} is not to be visited on {day}."
    if visit.hours is not None and not visit.hours.get(day.weekday()):
        return "closed", f"{visit.id} is closed on {day:%A}s."
    if not visit.earliest <= day <= costs.latest_of(instance, visit):
        return "window", f"{visit.id} is due outside {day}."
    booked = visit.booked
    if visit.fixed and booked is not None and (booked.day, booked.farrier) != shift.key:
        return (
            "fixed",
            f"{visit.id} is agreed for {booked.day} with {booked.farrier}.",
        )
    return None


def starts(visit: Visit, day: date) -> Windows | None:
    """The spans in which the work may start on this day; None: at any time.

    From access hours, the hour by which it must be over, and the agreed start.
    """
    spans = None if visit.hours is None else visit.hours.get(day.weekday(), ())
    over = visit.finish_by.get(day.weekday())
    if over is not None:
        spans = _clipped(spans, 0, over - visit.minutes)
    if visit.fixed and visit.booked is not None:
        spans = _clipped(spans, visit.booked.start, visit.booked.start)
    return spans


def _clipped(spans: Windows | None, least: int, most: int) -> Windows:
    found = ((least, most),) if spans is None else spans
    cut = ((max(a, least), min(b, most)) for a, b in found)
    return tuple((a, b) for a, b in cut if a <= b)


@lru_cache(maxsize=4)
def sheet_of(instance: Instance) -> "Sheet":
    """The sheet of an instance, made once while it is in use."""
    return Sheet(instance)


class Sheet:
    """Numbers for an instance. Read-only after it is made."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.shifts, self.visits = instance.shifts, instance.visits
        self.n, self.m = len(self.visits), len(self.shifts)
        self.drives = np.asarray(instance.minutes, dtype=float)
        self._index()
        self._times()
        self._prices()

    def _index(self) -> None:
        self.visit_no = {visit.id: v for v, visit in enumerate(self.visits)}
        self.shift_no = {shift.key: s for s, shift in enumerate(self.shifts)}
        self.place = [visit.place for visit in self.visits]
        self.leaves = [shift.leaves_from for shift in self.shifts]
        self.home = [shift.home for shift in self.shifts]
        sites: dict[Any, int] = {}
        self.site = [
            sites.setdefault(
                ("place", visit.place) if visit.site is None else ("site", visit.site),
                len(sites),
            )
            for visit in self.visits
        ]

    def _times(self) -> None:
        clock = np.ceil(np.round(self.drives, 6)).astype(np.int64)
        self.drive: list[list[float]] = self.drives.tolist()
        self.clock: list[list[int]] = clock.tolist()
        self.clocks = clock
        self.minutes = [visit.minutes for visit in self.visits]
        self.setup = [visit.setup_minutes for visit in self.visits]
        self.load = [visit.load for visit in self.visits]
        self.rest = [
            shift.break_minutes if shift.start <= BREAK_UNTIL else 0
            for shift in self.shifts
        ]
        self.capacity = [
            math.inf if shift.capacity is None else shift.capacity
            for shift in self.shifts
        ]

    def _prices(self) -> None:
        instance, weights = self.instance, self.instance.weights
        self.left = [costs.left_over_cost(instance, visit) for visit in self.visits]
        self.extra = np.full((self.n, self.m), np.inf)
        self.windows: list[list[Windows | None]] = []
        for v, visit in enumerate(self.visits):
            latest = costs.latest_of(instance, visit)
            by_day: dict[date, Windows | None] = {}
            row: list[Windows | None] = []
            for s, shift in enumerate(self.shifts):
                day = shift.day
                if day not in by_day:
                    by_day[day] = starts(visit, day)
                row.append(by_day[day])
                if forbidden(instance, visit, shift) or by_day[day] == ():
                    continue
                self.extra[v, s] = (
                    costs.date_cost(visit, day, latest, weights)
                    + costs.move_cost(visit, shift, weights)
                    + costs.wish_cost(visit, shift, weights)
                )
            self.windows.append(row)
        self.allow: list[list[bool]] = np.isfinite(self.extra).tolist()
        self.extras: list[list[float]] = self.extra.tolist()
        self.fixed = [v for v, visit in enumerate(self.visits) if visit.fixed]

    # --- one round ------------------------------------------------------------------

    def opening(self, v: int, s: int, ready: int) -> int:
        """When the work starts for one who is ready then; NEVER if not that day."""
        spans = self.windows[v][s]
        if spans is None:
            return ready
        for opens, closes in spans:
            if ready <= closes:
                return ready if ready > opens else opens
        return NEVER

    def ends(self, s: int, order: Sequence[int]) -> int:
        """When the round of these visits is home at the earliest; NEVER if it breaks a
        rule of its shift (hours, end, break, load; visits not allowed are not asked).

        Two times go along the order, since to be earlier is never worse: with the
        break still to come, and with the break over.
        """
        shift, rest = self.shifts[s], self.rest[s]
        time, over = shift.start, NEVER
        last, site = self.leaves[s], -1
        for v in order:
            place = self.place[v]
            drive = self.clock[last][place]
            setup = 0 if self.site[v] == site else self.setup[v]
            arrive = over + drive
            if rest and time <= BREAK_UNTIL:
                arrive = min(arrive, max(time + drive, BREAK_FROM) + rest)
            time = self._after(v, s, time + drive + setup)
            over = self._after(v, s, arrive + setup)
            if time >= NEVER and over >= NEVER:
                return NEVER
            last, site = place, self.site[v]
        return self._back(s, time, over, self.clock[last][self.home[s]])

    def _after(self, v: int, s: int, ready: int) -> int:
        return NEVER if ready >= NEVER else self.opening(v, s, ready) + self.minutes[v]

    def _back(self, s: int, time: int, over: int, drive: int) -> int:
        rest, end = self.rest[s], self.shifts[s].end
        home = time + drive
        if rest and home >= BREAK_UNTIL:
            home = over + drive
            if time <= BREAK_UNTIL:
                home = min(home, max(time + drive, BREAK_FROM) + rest)
        return home if home <= end else NEVER

    def fits(self, s: int, order: Sequence[int]) -> bool:
        """Whether these visits in this order keep every rule of the shift."""
        capacity = self.capacity[s]
        if capacity < math.inf and self.laden(order) > capacity:
            return False
        return self.ends(s, order) < NEVER

    def laden(self, order: Sequence[int]) -> float:
        """The load of these visits."""
        return math.fsum(self.load[v] for v in order)

    def driven(self, s: int, order: Sequence[int]) -> float:
        """Minutes of driving of this round, from home to home; 0 for none."""
        if not order:
            return 0.0
        total, last = 0.0, self.leaves[s]
        for v in order:
            total += self.drive[last][self.place[v]]
            last = self.place[v]
        return total + self.drive[last][self.home[s]]

    def round_cost(self, s: int, order: Sequence[int]) -> float:
        """Drive, day, dates, moves and wishes of this round; 0 for none."""
        if not order:
            return 0.0
        weights = self.instance.weights
        return (
            weights.drive * self.driven(s, order)
            + weights.day
            + sum(self.extras[v][s] for v in order)
        )

    def cost(self, orders: Sequence[Sequence[int]]) -> float:
        """The whole plan's, visits left over included."""
        out = set(range(self.n))
        total = 0.0
        for s, order in enumerate(orders):
            total += self.round_cost(s, order)
            out.difference_update(order)
        return total + sum(self.left[v] for v in sorted(out))
