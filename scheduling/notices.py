"""When an owner is reminded of a due horse, and at which hour. Pure.

A window has two occasions: it *opens*, and its target is *near*. Each is told once, and
a horse whose window is about to open is told along with another of the same client
rather than in a mail of its own some days later.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

Occasion = Literal["opens", "near"]

OPENS: Occasion = "opens"
NEAR: Occasion = "near"

NEAR_DAYS = 3
"""So many days before the target the second reminder is due. Ours."""
GATHER_DAYS = 7
"""A window that opens within so many days is told along with another. Ours."""
APART_DAYS = 5
"""The second reminder waits so many days after the first. Ours."""
TOO_LATE_DAYS = 28
"""So long after its latest day nobody is reminded any more: people ring instead. Ours."""


@dataclass(frozen=True, slots=True)
class Span:
    """A due window's days."""

    earliest: date
    target: date
    latest: date


@dataclass(frozen=True, slots=True)
class Told:
    """What this client was told of this horse since its last visit."""

    occasion: Occasion
    day: date


def occasion_on(
    day: date, span: Span, *, told: tuple[Told, ...] = (), near_days: int = NEAR_DAYS
) -> Occasion | None:
    """What is to be told on ``day``, if anything.

    ``near`` stands for both: who is reminded first when the target is near, or past, is
    reminded once.
    """
    if day < span.earliest or day > span.latest + timedelta(days=TOO_LATE_DAYS):
        return None
    if any(one.occasion == NEAR for one in told):
        return None
    first = min((one.day for one in told), default=None)
    if day < span.target - timedelta(days=near_days):
        return OPENS if first is None else None
    if first is not None and day < first + timedelta(days=APART_DAYS):
        return None
    return NEAR


def goes_along(day: date, span: Span, *, told: tuple[Told, ...] = ()) -> bool:
    """Whether a horse that isn't to be told yet is told along with another today."""
    soon = day < span.earliest <= day + timedelta(days=GATHER_DAYS)
    return soon and not told


@dataclass(frozen=True, slots=True)
class Due:
    """A client's horse with its window and what the client was told of it."""

    key: int
    span: Span
    told: tuple[Told, ...] = ()


def told_on(
    day: date, horses: Sequence[Due], *, near_days: int = NEAR_DAYS
) -> dict[int, Occasion]:
    """What one client is told on ``day``, by horse: nothing, or all that is due and all
    that soon will be.
    """
    found: dict[int, Occasion] = {}
    for one in horses:
        what = occasion_on(day, one.span, told=one.told, near_days=near_days)
        if what:
            found[one.key] = what
    if not found:
        return {}
    along = {
        one.key: OPENS for one in horses if goes_along(day, one.span, told=one.told)
    }
    return along | found


def told_ahead(
    first: date, days: int, horses: Sequence[Due], *, near_days: int = NEAR_DAYS
) -> list[tuple[date, dict[int, Occasion]]]:
    """What one client will be told on each day from ``first`` on, if nothing is booked;
    days without a word are left out.
    """
    held, found = list(horses), []
    for number in range(days):
        day = first + timedelta(days=number)
        told = told_on(day, held, near_days=near_days)
        if told:
            found.append((day, told))
            held = [
                replace(one, told=(*one.told, Told(told[one.key], day)))
                if one.key in told
                else one
                for one in held
            ]
    return found


def is_quiet(at: time, *, quiet_from: time, quiet_until: time) -> bool:
    """Whether this local time lies in the quiet hours; the same time twice means none.

    ``quiet_from`` is in, ``quiet_until`` is out; they may cross midnight.
    """
    if quiet_from == quiet_until:
        return False
    if quiet_from < quiet_until:
        return quiet_from <= at < quiet_until
    return at >= quiet_from or at < quiet_until


def next_loud(
    now: datetime, *, zone: ZoneInfo, quiet_from: time, quiet_until: time
) -> datetime:
    """The first moment from ``now`` on that isn't quiet by the clock of ``zone``.

    Where the clock goes back over ``quiet_until``, the later of the two moments; where
    it jumps over it, the moment after the jump.

    Args:
        now: aware.
    """
    local = now.astimezone(zone)
    at = local.time().replace(tzinfo=None)
    if not is_quiet(at, quiet_from=quiet_from, quiet_until=quiet_until):
        return now
    day = local.date()
    if at >= quiet_until:  # it is evening: the quiet ends on the next day
        day += timedelta(days=1)
    # By way of UTC: a time that the clock jumps over comes out behind the jump.
    utc = ZoneInfo("UTC")
    ends = [
        datetime.combine(day, quiet_until, tzinfo=zone).replace(fold=fold)
        for fold in (0, 1)
    ]
    return max(end.astimezone(utc) for end in ends)
