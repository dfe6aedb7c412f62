"""A day under way: the rest of a round timed anew from what has happened so far, and
how much each stop may slip. Pure; minutes after the local midnight, like the planner.

What was tapped stands: an arrival, a leaving. What is still to come follows from the
last thing known, with the minutes that somebody said it runs late. The order stays.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

BREAK_FROM: Final = 11 * 60 + 30
BREAK_UNTIL: Final = 13 * 60 + 30
"""As in the planner: a break starts between these; none once the round is home."""
MISSED_BREAK_MINUTES: Final = 120

Spans = tuple[tuple[int, int], ...] | None


@dataclass(frozen=True, slots=True)
class Leg:
    """A stop with the drive to it.

    hours: when work may start (None: always; empty: closed, which lateness can't mend).
    late_arriving, late_leaving: said on the day. arrived, left: tapped.
    """

    key: str
    name: str
    drive_minutes: int
    setup_minutes: int
    work_minutes: int
    hours: Spans = None
    late_arriving: int = 0
    late_leaving: int = 0
    arrived: int | None = None
    left: int | None = None

    @property
    def is_done(self) -> bool:
        return self.left is not None


@dataclass(frozen=True, slots=True)
class Course:
    """The frame of the day. leave: planned or tapped. end: of the shift."""

    leave: int
    end: int
    break_minutes: int
    home_minutes: int


@dataclass(frozen=True, slots=True)
class LegTime:
    """A stop's times. slack: how many minutes later than this the farrier may arrive
    before a rule is broken; 0 when one is broken already; None when it is done."""

    key: str
    arrive: int
    start: int
    end: int
    wait_minutes: int
    outside: int
    slack: int | None = None


@dataclass(frozen=True, slots=True)
class Running:
    """The day as it will go. outside: minutes beyond the rules in all, of what is to
    come. break_start: None for none."""

    legs: tuple[LegTime, ...]
    home_at: int
    break_start: int | None
    outside: int
    misses_break: bool
    slack: int
    """How much later than reckoned the farrier may come home before the shift ends."""


def retime(course: Course, legs: Sequence[Leg]) -> Running:
    """The stops in this order, from what is known; the break where it costs the least
    minutes outside the rules, then brings home the earliest.

    Raises ValueError where a stop was left before it was arrived at.
    """
    for leg in legs:
        if leg.arrived is not None and leg.left is not None and leg.left < leg.arrived:
            raise ValueError(f"{leg.name}: left before arriving.")
    first_open = next(
        (i for i, leg in enumerate(legs) if leg.arrived is None and leg.left is None),
        len(legs),
    )
    choices = [_timed(course, legs, None)]
    if course.break_minutes:
        choices += [
            found
            for at in range(first_open, len(legs) + 1)
            for found in _with_break(course, legs, at)
        ]
    best = min(choices, key=lambda one: (one.outside, one.home_at))
    return replace(best, legs=_slacks(course, legs, best))


def _with_break(course: Course, legs: Sequence[Leg], at: int) -> list[Running]:
    """The break before the drive to stop `at`, and on arrival there."""
    found = []
    for on_arrival in (False, True):
        if on_arrival and at == len(legs):
            continue
        one = _timed(course, legs, at, on_arrival=on_arrival)
        if one.break_start is not None:
            found.append(one)
    return found


def _timed(
    course: Course,
    legs: Sequence[Leg],
    break_at: int | None,
    *,
    on_arrival: bool = False,
) -> Running:
    time, outside, break_start = course.leave, 0, None
    times = []
    for i, leg in enumerate(legs):
        arrive = time + leg.drive_minutes + leg.late_arriving
        ready = arrive
        if i == break_at:
            begin = max(arrive if on_arrival else time, BREAK_FROM)
            if begin <= BREAK_UNTIL:
                break_start = begin
                ready = begin + course.break_minutes
                if not on_arrival:
                    arrive = ready = ready + leg.drive_minutes + leg.late_arriving
        one = _attended(leg, arrive, ready)
        outside += one.outside
        time = one.end
        times.append(one)
    if break_at == len(legs) and max(time, BREAK_FROM) <= BREAK_UNTIL:
        break_start = max(time, BREAK_FROM)
        time = break_start + course.break_minutes
    home_at = time + course.home_minutes
    misses = (
        course.break_minutes > 0
        and break_start is None
        and course.leave <= BREAK_UNTIL < home_at
    )
    outside += max(0, home_at - course.end) + (MISSED_BREAK_MINUTES if misses else 0)
    slack = max(0, course.end - home_at)
    return Running(tuple(times), home_at, break_start, outside, misses, slack)


def _attended(leg: Leg, arrive: int, ready: int) -> LegTime:
    """The stop for one who is there at `arrive` and free to begin at `ready`."""
    if leg.arrived is not None:
        arrive = ready = leg.arrived
    start, outside = _opening(leg.hours, ready + leg.setup_minutes)
    end = start + leg.work_minutes + leg.late_leaving
    if leg.left is not None:
        arrive = min(arrive, leg.left)
        end = leg.left
        start, outside = min(start, end), 0
    wait = max(0, start - ready - leg.setup_minutes)
    return LegTime(leg.key, arrive, start, end, wait, outside)


def _opening(hours: Spans, ready: int) -> tuple[int, int]:
    if not hours:
        return ready, 0
    for opens, closes in hours:
        if ready <= closes:
            return max(ready, opens), 0
    return ready, ready - hours[-1][1]


def _slacks(
    course: Course, legs: Sequence[Leg], running: Running
) -> tuple[LegTime, ...]:
    """Each stop's slack, from the last backwards: waiting takes lateness up, the end
    of its access hours and whatever follows bound it.

    A break taken between two stops moves with them, as far as it may still start.
    """
    found: list[LegTime] = []
    # How much later the farrier may leave the stop before.
    leaving = max(0, course.end - running.home_at)
    last = len(legs)
    if course.break_minutes and running.break_start is None:
        # Home before it is due: later than that, there must be one.
        leaving = min(leaving, max(0, BREAK_UNTIL - running.home_at))
    if _break_after(running, last - 1, last):
        leaving = min(leaving, _break_room(running))
    for i in reversed(range(last)):
        one, leg = running.legs[i], legs[i]
        room = leaving
        for opens, closes in leg.hours or ():
            if opens <= one.start <= closes:
                room = min(room, closes - one.start)
        if one.outside:
            room = 0
        slack = max(0, room) + one.wait_minutes
        if _break_after(running, i - 1, i) and one.arrive <= (running.break_start or 0):
            slack = min(slack, _break_room(running))  # the break is taken on arrival
        if leg.is_done:
            found.append(one)
        else:
            found.append(replace(one, slack=slack))
        leaving = slack
        if _break_after(running, i - 1, i):
            leaving = min(leaving, _break_room(running))
    return tuple(reversed(found))


def _break_after(running: Running, before: int, after: int) -> bool:
    """Whether the break lies between these two stops."""
    begin = running.break_start
    if begin is None:
        return False
    left = running.legs[before].end if before >= 0 else 0
    start = (
        running.legs[after].start if after < len(running.legs) else running.home_at + 1
    )
    return left <= begin < start


def _break_room(running: Running) -> int:
    return BREAK_UNTIL - (running.break_start or BREAK_UNTIL)


# --- what a day teaches of the work -----------------------------------------------------


@dataclass(frozen=True, slots=True)
class Done:
    """A work at a horse, by their keys. planned: minutes at this horse. usual: those
    that the work takes where a horse has none of its own."""

    work: int
    horse: int
    planned: int
    usual: int


@dataclass(frozen=True, slots=True)
class Stay:
    """A stay at a barn: set-up, minutes from arrival to leaving, what was done there.
    horses: how many were there to be attended, also where nobody said with what."""

    setup_minutes: int
    minutes: int
    horses: int
    done: tuple[Done, ...]

    @property
    def at_work(self) -> int:
        """Minutes at the horses."""
        return self.minutes - self.setup_minutes

    @property
    def planned(self) -> int:
        """Minutes that were planned at the horses."""
        return sum(one.planned for one in self.done)

    @property
    def teaches(self) -> bool:
        """Whether there was work, and time for it."""
        return self.planned > 0 and self.at_work > 0


@dataclass(frozen=True, slots=True)
class WorkLesson:
    """What stays say of a work. key: the work's. stays: how many. median, low, high:
    minutes a horse (the middle half lies from low to high)."""

    key: int
    stays: int
    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class HorseLesson:
    """What stays at which a horse was the only one say of it with a work. As in
    ``WorkLesson``; planned: minutes that it is planned with now."""

    horse: int
    work: int
    planned: int
    stays: int
    median: float
    low: float
    high: float


LEAST_STAYS: Final = 5
"""So many stays before a work is judged. Ours."""
LEAST_OF_A_HORSE: Final = 4
"""So many stays before a horse is judged: what most are seen in half a year. A median
of four bears one that went wrong. Ours."""


def lessons(stays: Sequence[Stay]) -> tuple[WorkLesson, ...]:
    """Minutes a horse that each work takes, by the median over stays.

    A stay with several works is shared out between them as they were planned; so a
    horse that takes twice its time makes all works of that stay slow, which the median
    over many stays puts right. A horse that is planned with minutes of its own says by
    how much its stay went over or under those, so that slow horses that are known don't
    make their work slow for all. Stays without work or with no time left after set-up
    teach nothing.
    """
    per_work: dict[int, list[float]] = {}
    for stay in stays:
        if not stay.teaches:
            continue
        usual = {one.work: one.usual for one in stay.done}
        for key, minutes in usual.items():
            per_work.setdefault(key, []).append(minutes * stay.at_work / stay.planned)
    return tuple(
        WorkLesson(key, len(found), *_middle(found))
        for key, found in sorted(per_work.items())
        if len(found) >= LEAST_STAYS
    )


def horse_lessons(stays: Sequence[Stay]) -> tuple[HorseLesson, ...]:
    """Minutes that single horses take with each work, by the median over stays.

    Only stays with one horse count: of several together nobody can say whose minutes
    they were, and a quick one beside a slow one would be called slow.
    """
    alone: dict[tuple[int, int], list[Stay]] = {}
    for stay in stays:
        if len(stay.done) == stay.horses == 1 and stay.teaches:
            (one,) = stay.done
            alone.setdefault((one.horse, one.work), []).append(stay)
    return tuple(
        HorseLesson(
            horse,
            work,
            found[0].planned,
            len(found),
            *_middle([stay.at_work for stay in found]),
        )
        for (horse, work), found in sorted(alone.items())
        if len(found) >= LEAST_OF_A_HORSE
    )


def _middle(values: Sequence[float]) -> tuple[float, float, float]:
    """Median and quartiles (the median of either half, as in a box plot)."""
    ordered = sorted(values)
    half = len(ordered) // 2
    low, high = ordered[:half], ordered[-half:]
    return _median(ordered), _median(low), _median(high)


def _median(ordered: Sequence[float]) -> float:
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2
