"""A break between two horses of one stop, for a day that has no other place for it. Pure.

The day's planner rests between stops. Where a barn takes the whole day that leaves no
break at all, and the farrier eats between two horses: the stop is then timed as two
halves at one place, one right after the other, and told as one stop again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from scheduling.planner.one_day import (
    Call,
    Day,
    DriveBetween,
    Plan,
    Stop,
    time_round,
)

_REST = "\N{NULL}rest"


def with_break_inside(
    day: Day,
    calls: Sequence[Call],
    plan: Plan,
    parts: Mapping[str, Sequence[int]],
    *,
    drive: DriveBetween,
) -> Plan:
    """The plan with its break inside a stop, where it has none and one can be made.

    Args:
        plan: of these calls; its order stays.
        parts: the minutes of each horse by the call's key, in the order of work.

    Returns:
        the plan itself where it keeps its break, or where no stop can be parted so that
        every rule is kept.
    """
    # Without a place for it the break is missed, or taken so that the day ends late.
    if plan.fits or not day.break_minutes:
        return plan
    by_key = {call.key: call for call in calls}
    order = [by_key[stop.key] for stop in plan.stops]
    found = [
        timed
        for call in order
        for halves in _halves(call, parts.get(call.key, ()))
        if (timed := _timed(day, order, call, halves, drive)).fits
    ]
    return min(found, key=lambda one: one.home_at, default=plan)


def _halves(call: Call, parts: Sequence[int]) -> list[tuple[Call, Call]]:
    """The call in two, after each of its horses but the last."""
    return [
        (
            replace(call, work_minutes=sum(parts[:at])),
            replace(
                call,
                key=call.key + _REST,
                work_minutes=call.work_minutes - sum(parts[:at]),
                setup_minutes=0,
                # The work has begun within the access hours; it goes on.
                hours=None,
                typed_minutes=0,
            ),
        )
        for at in range(1, len(parts))
        if sum(parts[:at]) <= call.work_minutes
    ]


def _timed(
    day: Day,
    order: Sequence[Call],
    call: Call,
    halves: tuple[Call, Call],
    drive: DriveBetween,
) -> Plan:
    """The round in its order with this call in halves, told as one stop again."""
    rows: list[Call] = []
    for one in order:
        rows += halves if one is call else [one]
    timed = time_round(day, rows, drive=drive)
    stops: list[Stop] = []
    for stop in timed.stops:
        if stop.key.endswith(_REST):
            before = stops.pop()
            waits = before.wait_minutes + stop.wait_minutes
            stops.append(replace(before, end=stop.end, wait_minutes=waits))
        else:
            stops.append(stop)
    return replace(timed, stops=tuple(stops))
