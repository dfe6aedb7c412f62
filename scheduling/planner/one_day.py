"""One farrier's day: the order of the barns, the times, and what it breaks.

Pure. Times are whole minutes after the local midnight of the day. A round leaves
home at the start of the working day, attends each barn once and comes home. At a
barn the set-up comes first; the access hours bound the *start* of the work, which
may end after them. A break lies between stops and starts from 11:30 to 13:30; none
is needed when the round is home by 13:30.

What is sought, in this order: the fewest minutes outside the rules (access hours,
end of the day, a missing break), then the least driving, then the earliest return.
A day that can't be kept is still planned, as near as can be, and every rule that it
breaks is told in words: nothing is dropped in silence.

Up to EXACT_UPTO barns the order is the best there is: labels (minutes outside,
drive, time, break taken) over subsets, where a label goes only if another at the same
barns and place is no worse in all four. Leaving out is safe because being earlier is
never worse: a farrier can wait. Beyond that, cheapest insertion and moving of pieces
of the order until nothing improves: good, repeatable, not proven.
"""

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from practice.geo import Drive, Position, drive_estimate

BREAK_FROM: Final = 11 * 60 + 30
"""The earliest start of a break (11:30)."""
BREAK_UNTIL: Final = 13 * 60 + 30
"""The latest start of a break, and the return that needs none (13:30)."""
EXACT_UPTO: Final = 10
"""So many barns are put into the best order; more into a good one."""
MISSED_BREAK_MINUTES: Final = 120
"""What a day without its break weighs, in minutes outside the rules. Ours: a break is
given up only to save more than two hours of overtime or of closed gates."""


DriveBetween = Callable[[Position, Position], Drive]


@dataclass(frozen=True, slots=True)
class Call:
    """A barn to be attended.

    Args:
        key: the caller's own key of it.
        name: for the sentences.
        at: where it is; None where nobody has said.
        work_minutes: at the horses, set-up apart.
        setup_minutes: from arrival to the first horse.
        hours: pairs (from, until) in which the work may start; None: at any time;
            empty: closed on this day.
        typed_minutes: the drive there (and on from there) where `at` is None.
    """

    key: str
    name: str
    at: Position | None
    work_minutes: int
    setup_minutes: int = 0
    hours: tuple[tuple[int, int], ...] | None = None
    typed_minutes: int | None = None


@dataclass(frozen=True, slots=True)
class Day:
    """A working day: from, until and break in minutes; home, if anybody has said, or
    where else the day starts; `end_at`: where it ends if not there (a night away)."""

    start: int
    end: int
    break_minutes: int = 0
    home: Position | None = None
    end_at: Position | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """A barn in the round: the drive to it and the minutes of the day.

    `start` is when the work begins, after set-up (and any wait); `wait_minutes` is
    what lies idle between arrival and start. `drive_metres` is None if unknown.
    """

    key: str
    drive_minutes: int
    drive_metres: int | None
    arrive: int
    start: int
    end: int
    wait_minutes: int


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule that the plan doesn't keep. kind: `day`, `hours`, `closed`, `break`,
    `people`, `position` or `home`; the last two break no rule but make times uncertain."""

    kind: str
    key: str | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A timed round. home_minutes and home_metres: the drive back from the last stop.

    drive + work + wait + break minutes add up to `home_at` − `leave`; set-up counts
    as work.
    """

    stops: tuple[Stop, ...]
    leave: int
    home_at: int
    home_minutes: int
    home_metres: int | None
    break_start: int | None
    drive_minutes: int
    work_minutes: int
    wait_minutes: int
    broken: tuple[Broken, ...]
    exact: bool

    @property
    def fits(self) -> bool:
        """Whether every rule is kept."""
        return not any(
            b.kind in ("day", "hours", "closed", "break") for b in self.broken
        )


def plan_round(
    day: Day,
    calls: Sequence[Call],
    *,
    first: Sequence[str] = (),
    drive: DriveBetween = drive_estimate,
    exact_upto: int = EXACT_UPTO,
) -> Plan:
    """The best order of the day's barns, timed.

    `first`: keys that stay in front in this order (attended already). Barns without
    a position come last, in the order given. `drive`: the drive between two
    positions, the built-in estimate unless given. Raises ValueError for two calls of one
    key, a key in `first` that is none, and negative minutes.
    """
    # By key, so that the order given never decides between two equally good rounds.
    problem = _Problem(day, sorted(calls, key=lambda call: call.key), drive)
    head = tuple(problem.index(key) for key in first)
    placeless = (problem.index(call.key) for call in calls if call.at is None)
    tail = tuple(i for i in placeless if i not in head)
    middle = [i for i in range(len(calls)) if i not in head and i not in tail]
    order = problem.insert_and_improve(head, middle, tail)
    exact = len(middle) <= exact_upto
    if exact and len(middle) > 1:
        order = problem.best_order(head, middle, tail, order)
    return problem.timed(order, exact=exact)


def time_round(
    day: Day, calls: Sequence[Call], *, drive: DriveBetween = drive_estimate
) -> Plan:
    """The round in the order given, timed as early as may be, break put best."""
    return _Problem(day, calls, drive).timed(tuple(range(len(calls))), exact=False)


def clock(minutes: int) -> str:
    """Minutes after midnight as hours and minutes: '09:05'; '00:10 next day'."""
    days, rest = divmod(minutes, 24 * 60)
    text = f"{rest // 60:02d}:{rest % 60:02d}"
    return f"{text} next day" if days == 1 else f"{text} +{days} d" if days else text


# A label: minutes outside the rules, drive, time, whether the break is over, the order
# so far. As a plain tuple, because the search makes them by the hundred thousand.
_Label = tuple[int, int, int, bool, tuple[int, ...]]
_Score = tuple[int, int, int]


class _Problem:
    """The day and its barns in the search's own terms: barns by index, home last."""

    def __init__(self, day: Day, calls: Sequence[Call], drive: DriveBetween) -> None:
        _check(day, calls)
        self.drive_between = drive
        self.day = day
        self.calls = tuple(calls)
        self.home = len(calls)
        places = [*range(len(calls)), self.home]
        self.drives = [[self._drive(a, b) for b in places] for a in places]
        self.minutes = [[drive.minutes for drive, _ in row] for row in self.drives]

    def index(self, key: str) -> int:
        for i, call in enumerate(self.calls):
            if call.key == key:
                return i
        raise ValueError(f"There is no call '{key}' to put first.")

    def _drive(self, a: int, b: int) -> tuple[Drive, bool]:
        """The drive and whether its metres are known."""
        if a == b:
            return Drive(0, 0), True
        for i in (b, a):  # into a barn without position, else out of one
            if i != self.home and self.calls[i].at is None:
                return Drive(0, self.calls[i].typed_minutes or 0), False
        start, end = self._place(a), self._place(b)
        if b == self.home:
            end = self.day.end_at or end
        if start is None or end is None:  # nobody has said where home is
            return Drive(0, 0), False
        return self.drive_between(start, end), True

    def _place(self, i: int) -> Position | None:
        return self.day.home if i == self.home else self.calls[i].at

    # --- time ---------------------------------------------------------------------

    def opening(self, i: int, ready: int) -> tuple[int, int]:
        """When the work starts for one who is ready then, and how many minutes that
        lies outside the access hours. Never earlier for one who is ready later."""
        hours = self.calls[i].hours
        if not hours:  # always open; or closed all day, which no order can mend
            return ready, 0
        for opens, closes in hours:
            if ready <= closes:
                return max(ready, opens), 0
        return ready, ready - hours[-1][1]

    def legs(self, time: int, drive: int, *, taken: bool) -> Iterator[tuple[int, bool]]:
        """(arrival, or the end of a break taken there; break over) for one drive."""
        yield time + drive, taken
        if taken or not self.day.break_minutes:
            return
        arrival = time + drive
        if arrival <= BREAK_UNTIL:  # on arrival: never later than before leaving
            yield max(arrival, BREAK_FROM) + self.day.break_minutes, True
        elif time <= BREAK_UNTIL:
            yield max(time, BREAK_FROM) + self.day.break_minutes + drive, True

    def extend(self, label: _Label, i: int) -> Iterator[_Label]:
        outside, driven, time, taken, order = label
        drive = self.minutes[order[-1] if order else self.home][i]
        call = self.calls[i]
        for arrival, over in self.legs(time, drive, taken=taken):
            start, late = self.opening(i, arrival + call.setup_minutes)
            end = start + call.work_minutes
            yield outside + late, driven + drive, end, over, (*order, i)

    def finish(self, label: _Label) -> _Score:
        """Minutes outside the rules, drive, time at home."""
        outside, driven, time, taken, order = label
        drive = self.minutes[order[-1] if order else self.home][self.home]
        home = time + drive
        if self.needs_break(home) and not taken:
            if time <= BREAK_UNTIL:
                home = max(time, BREAK_FROM) + self.day.break_minutes + drive
            else:
                outside += MISSED_BREAK_MINUTES
        return outside + max(0, home - self.day.end), driven + drive, home

    def needs_break(self, home: int) -> bool:
        in_the_way = self.day.start <= BREAK_UNTIL < home
        return self.day.break_minutes > 0 and in_the_way

    def begin(self) -> _Label:
        return 0, 0, self.day.start, False, ()

    def along(self, labels: list[_Label], order: Sequence[int]) -> list[_Label]:
        for i in order:
            labels = _undominated(
                [new for label in labels for new in self.extend(label, i)]
            )
        return labels

    def score(self, order: Sequence[int]) -> _Score:
        return min(self.finish(label) for label in self.along([self.begin()], order))

    # --- order -----------------------------------------------------------------------

    def insert_and_improve(
        self, head: tuple[int, ...], middle: Sequence[int], tail: tuple[int, ...]
    ) -> tuple[int, ...]:
        """Cheapest insertion, then the first better neighbour until there is none."""

        def score(order: tuple[int, ...]) -> _Score:
            return self.score(head + order + tail)

        order: tuple[int, ...] = ()
        for i in middle:
            order = min(
                ((*order[:at], i, *order[at:]) for at in range(len(order) + 1)),
                key=score,
            )
        best, improved = score(order), True
        while improved:
            improved = False
            for other in _neighbours(order):
                found = score(other)
                if found < best:
                    best, order, improved = found, other, True
                    break
        return head + order + tail

    def best_order(
        self,
        head: tuple[int, ...],
        middle: Sequence[int],
        tail: tuple[int, ...],
        known: tuple[int, ...],
    ) -> tuple[int, ...]:
        """The best order of `middle` between head and tail.

        First among the orders that keep every rule (a small search); only if there
        is none among all, bounded by the score of the order known.
        """
        known_score = self.score(known)
        kept = (0, known_score[1] if known_score[0] == 0 else sys.maxsize, sys.maxsize)
        for bound in (kept, known_score):
            score, order = self._search(head, middle, tail, bound)
            if order is not None:
                return order if score < known_score else known
        return known

    def _search(
        self,
        head: tuple[int, ...],
        middle: Sequence[int],
        tail: tuple[int, ...],
        bound: _Score,
    ) -> tuple[_Score, tuple[int, ...] | None]:
        """The best order no worse than bound in minutes outside and drive, if any."""
        least = self._least_drives(middle, tail)
        layer: dict[tuple[frozenset[int], int], list[_Label]] = {
            (frozenset(middle), -1): self.along([self.begin()], head)
        }
        for _ in middle:
            following: dict[tuple[frozenset[int], int], list[_Label]] = {}
            for (left, _last), labels in layer.items():
                for i in sorted(left):
                    rest = left - {i}
                    new = [
                        found
                        for label in labels
                        for found in self.extend(label, i)
                        if self._hopes(found, rest, least) <= bound[:2]
                    ]
                    if new:
                        following.setdefault((rest, i), []).extend(new)
            layer = {key: _undominated(found) for key, found in following.items()}
        ended = [
            (self.finish(label), label[4])
            for labels in layer.values()
            for label in self.along(labels, tail)
        ]
        good = [(score, order) for score, order in ended if score[:2] <= bound[:2]]
        return min(good, default=(bound, None))

    def _hopes(
        self, label: _Label, rest: frozenset[int], least: dict[int | None, int]
    ) -> tuple[int, int]:
        """Minutes outside and drive that no way on from this label can undercut."""
        outside, driven, time = label[:3]
        home = time + least[None]
        for i in rest:
            call = self.calls[i]
            ready = time + least[i] + call.setup_minutes
            driven += least[i]
            home += least[i] + call.setup_minutes + call.work_minutes
            if call.hours:
                outside += max(0, ready - call.hours[-1][1])
        return outside + max(0, home - self.day.end), driven + least[None]

    def _least_drives(
        self, middle: Sequence[int], tail: tuple[int, ...]
    ) -> dict[int | None, int]:
        """No round drives less than this into each barn, nor (None) beyond the last."""
        sources = [*range(self.home), self.home]
        least: dict[int | None, int] = {
            i: min(self.minutes[j][i] for j in sources if j != i) for i in middle
        }
        if tail:
            least[None] = sum(self.minutes[self.home][i] for i in tail)
        else:
            least[None] = min(self.minutes[i][self.home] for i in middle)
        return least

    # --- the answer --------------------------------------------------------------------

    def timed(self, order: tuple[int, ...], *, exact: bool) -> Plan:
        """The plan of this order, with the break where it costs least."""
        _, pause = min(
            (self._walk(order, at)[0], -1 if at is None else at)
            for at in (None, *range(len(order) + 1))
        )
        _, stops, break_start, home_at = self._walk(order, None if pause < 0 else pause)
        home, known = self.drives[order[-1] if order else self.home][self.home]
        drive = sum(stop.drive_minutes for stop in stops) + home.minutes
        work = sum(
            self.calls[i].setup_minutes + self.calls[i].work_minutes for i in order
        )
        rest = self.day.break_minutes if break_start is not None else 0
        return Plan(
            stops=stops,
            leave=self.day.start,
            home_at=home_at,
            home_minutes=home.minutes,
            home_metres=home.metres if known else None,
            break_start=break_start,
            drive_minutes=drive,
            work_minutes=work,
            wait_minutes=home_at - self.day.start - drive - work - rest,
            broken=tuple(self._broken(order, stops, break_start, home_at)),
            exact=exact,
        )

    def _walk(
        self, order: tuple[int, ...], pause: int | None
    ) -> tuple[_Score, tuple[Stop, ...], int | None, int]:
        """The round with the break on one leg (or none): score, stops, break, home."""
        time, outside, stops = self.day.start, 0, []
        last, break_start = self.home, None
        for leg, i in enumerate(order):
            drive, known = self.drives[last][i]
            arrive = begins = time + drive.minutes
            if leg == pause:
                arrive, begins, break_start = self._pause(time, drive.minutes)
            call = self.calls[i]
            start, late = self.opening(i, begins + call.setup_minutes)
            outside += late
            wait = start - begins - call.setup_minutes
            if break_start is not None and leg == pause and begins > arrive:
                wait += begins - arrive - self.day.break_minutes
            metres = drive.metres if known else None
            time, last = start + call.work_minutes, i
            stops.append(
                Stop(call.key, drive.minutes, metres, arrive, start, time, wait)
            )
        drive_home = self.minutes[last][self.home]
        home = time + drive_home
        if pause == len(order):
            home, _, break_start = self._pause(time, drive_home, on_arrival=False)
        if self.needs_break(home) and break_start is None:
            outside += MISSED_BREAK_MINUTES
        score = outside + max(0, home - self.day.end), 0, home
        return score, tuple(stops), break_start, home

    def _pause(
        self, time: int, drive: int, *, on_arrival: bool = True
    ) -> tuple[int, int, int | None]:
        """(arrival, when set-up may begin, start of the break) for a leg with it."""
        rest = self.day.break_minutes
        if not rest or time > BREAK_UNTIL:
            return time + drive, time + drive, None
        if on_arrival and time + drive <= BREAK_UNTIL:
            start = max(time + drive, BREAK_FROM)
            return time + drive, start + rest, start
        start = max(time, BREAK_FROM)
        return start + rest + drive, start + rest + drive, start

    def _broken(
        self,
        order: tuple[int, ...],
        stops: tuple[Stop, ...],
        break_start: int | None,
        home_at: int,
    ) -> Iterator[Broken]:
        for i, stop in zip(order, stops, strict=True):
            yield from self._broken_at(self.calls[i], stop)
        if home_at > self.day.end:
            yield Broken(
                "day",
                None,
                f"The round doesn't fit the day: home at {clock(home_at)}, "
                f"{_span(home_at - self.day.end)} after its end at "
                f"{clock(self.day.end)}. Leave out a barn or take another day.",
            )
        if self.needs_break(home_at) and break_start is None:
            yield Broken(
                "break",
                None,
                f"No break of {self.day.break_minutes} minutes can start between "
                f"{clock(BREAK_FROM)} and {clock(BREAK_UNTIL)}.",
            )
        if self.day.home is None and order:
            yield Broken(
                "home",
                None,
                "Home has no position, so the drives from and to it are left out. "
                "Set it in the practice's settings.",
            )

    def _broken_at(self, call: Call, stop: Stop) -> Iterator[Broken]:
        if call.hours == ():
            yield Broken("closed", call.key, f"{call.name} is closed on this day.")
        elif self.opening(self.calls.index(call), stop.start)[1]:
            assert call.hours
            spans = " and ".join(f"{clock(a)}–{clock(b)}" for a, b in call.hours)
            yield Broken(
                "hours",
                call.key,
                f"{call.name} would start at {clock(stop.start)}, outside its access "
                f"hours ({spans}).",
            )
        if call.at is None:
            said = (
                f"{call.typed_minutes} minutes there, as typed"
                if call.typed_minutes is not None
                else "no drive counted: type its minutes"
            )
            yield Broken("position", call.key, f"{call.name} has no position: {said}.")


def _check(day: Day, calls: Sequence[Call]) -> None:
    if len({call.key for call in calls}) != len(calls):
        raise ValueError("A round attends each barn once: two calls have one key.")
    if day.start < 0 or day.end < day.start or day.break_minutes < 0:
        raise ValueError("A day starts at 0 or later and ends after its start.")
    for call in calls:
        if (
            call.work_minutes < 0
            or call.setup_minutes < 0
            or (call.typed_minutes or 0) < 0
        ):
            raise ValueError(f"{call.name}: minutes can't be negative.")
        spans = call.hours or ()
        flat = [minute for span in spans for minute in span]
        if flat != sorted(flat):
            raise ValueError(f"{call.name}: access hours must follow one another.")


def _undominated(labels: list[_Label]) -> list[_Label]:
    """Those that no other beats or equals in minutes outside, drive, time and break."""
    kept: list[_Label] = []
    for label in sorted(labels, key=lambda found: (found[:3], not found[3], found[4])):
        if not any(
            other[0] <= label[0]
            and other[1] <= label[1]
            and other[2] <= label[2]
            and other[3] >= label[3]
            for other in kept
        ):
            kept.append(label)
    return kept


def _neighbours(order: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """A piece turned round; a piece of one to three moved, either way round."""
    n = len(order)
    for a, b in combinations(range(n + 1), 2):
        if b - a >= 2:
            yield order[:a] + order[a:b][::-1] + order[b:]
    for length in (1, 2, 3):
        for a in range(n - length + 1):
            piece, rest = order[a : a + length], order[:a] + order[a + length :]
            for at in range(len(rest) + 1):
                if at != a:
                    yield rest[:at] + piece + rest[at:]
                    if length > 1:
                        yield rest[:at] + piece[::-1] + rest[at:]


def _span(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} minutes"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
