"""When a horse is next due, from how its feet grow and what the farrier asks. Pure.

Of each foot: the target is the day on which the first limit is expected to be
reached; earliest, when the gain is worth a visit; latest, when even the slow end of
the 80 % band reaches the limit; the fast end's day is when it could be ready. Of the
horse: the first of each over its feet. Set weeks win over growth, a vet's over all.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from horses.growth.effects import Capsules, after_gain, capsules_of, gains_at_limits
from horses.growth.season import Floats, Ints, Season, default_season, weeks_until
from horses.growth.terms import (
    Band,
    Basis,
    Bound,
    Estimate,
    FootEstimate,
    HorseFacts,
    Left,
    Limit,
    Policy,
    Window,
)

DAYS_BEFORE, DAYS_AFTER = 7, 14
"""Around set weeks: from when a visit is worth while, and after it at the most. Around
a vet's weeks: nothing after. Common practice, no source."""

FURTHEST_DAYS = 1500
"""Further ahead no day is looked for: every policy's weeks end sooner."""

_NAMES: tuple[Limit, ...] = ("toe_gain", "lever_gain", "angle_loss")


@dataclass(frozen=True, slots=True)
class _Feet:
    """All feet of all horses in one row: whose each is, and the days that growth
    gives, counted from the start.
    """

    horse: Ints
    gain: Floats
    limit: Ints
    value: Floats
    target: Floats
    earliest: Floats
    latest: Floats
    ready: Floats


def days_to_gain(start: Ints, weeks: Floats, season: Season) -> Floats:
    """Days after ``start`` until so many weeks of mean growth have passed, the part of
    the last day included; ``FURTHEST_DAYS`` at most.
    """
    begun = weeks_until(start, season)
    low = np.zeros(len(start), dtype=np.int64)
    high = np.full(len(start), FURTHEST_DAYS, dtype=np.int64)
    while np.any(high - low > 1):
        middle = (low + high) // 2
        reached = weeks_until(start + middle, season) - begun >= weeks
        high = np.where(reached, middle, high)
        low = np.where(reached, low, middle)
    until = weeks_until(start + low, season) - begun
    per_day = weeks_until(start + low + 1, season) - begun - until
    part = np.clip((weeks - until) / per_day, 0.0, 1.0)
    return np.asarray(np.where(weeks <= 0, 0.0, low + part))


def _feet(
    estimates: Sequence[Estimate],
    policies: Sequence[Policy],
    starts: Sequence[date],
    season: Season,
) -> _Feet:
    flat = [
        (number, foot) for number, one in enumerate(estimates) for foot in _telling(one)
    ]
    horse = np.array([number for number, _ in flat], dtype=np.int64)
    feet = [foot for _, foot in flat]
    limits = [policies[number].limits for number, _ in flat]
    capsules = capsules_of(feet, [estimates[number].facts for number, _ in flat])
    gains = np.vstack(gains_at_limits(capsules, limits))
    limit = gains.argmin(axis=0)
    # Where no limit is ever reached, the weeks of the policy decide.
    gain = np.minimum(gains.min(axis=0), 1e6)
    rate, low, high = (
        np.array([getattr(foot, name) for foot in feet], dtype=np.float64)
        for name in ("rate_mm_per_week", "low80", "high80")
    )
    share = np.array([policies[number].worth_share for number, _ in flat])
    start = np.array([starts[number].toordinal() for number, _ in flat], np.int64)

    def days(mm: Floats, pace: Floats) -> Floats:
        return days_to_gain(start, mm / np.maximum(pace, 1e-6), season)

    return _Feet(
        horse=horse,
        gain=gain,
        limit=limit,
        value=np.array(
            [
                getattr(
                    one, ("toe_gain_mm", "lever_gain_percent", "angle_loss_deg")[at]
                )
                or 0.0
                for one, at in zip(limits, limit.tolist(), strict=True)
            ]
        ),
        target=days(gain, rate),
        earliest=days(gain * share, rate),
        latest=days(gain, low),
        ready=days(gain, high),
    )


def _telling(estimate: Estimate) -> tuple[FootEstimate, ...]:
    """The feet that have something to say: those with an interval of their own; of a
    horse with none, all.
    """
    own = tuple(foot for foot in estimate.feet if foot.intervals)
    return own or estimate.feet


def _first(values: Floats, horse: Ints, count: int) -> Floats:
    found = np.full(count, float(FURTHEST_DAYS))
    np.minimum.at(found, horse, values)
    return found


def _bounded(
    days: tuple[float, float, float, float], policy: Policy
) -> tuple[int, int, int, int, Bound]:
    """Earliest, target, latest, ready in whole days, within the policy's weeks."""
    earliest, target, latest, ready = days
    least, most, hard = (
        round(7 * weeks)
        for weeks in (policy.least_weeks, policy.most_weeks, policy.latest_weeks)
    )
    grown = int(target + 0.5)
    aim = min(max(grown, least), most, hard)
    bound: Bound = ""
    if aim > grown:
        bound = "least"
    elif aim < grown:
        bound = "most" if most <= hard else "latest"
    last = min(max(int(latest), aim), max(hard, aim))
    could = min(max(int(ready + 0.5), min(least, aim)), aim)
    first = min(max(int(earliest + 0.999), min(least, aim)), could)
    return first, aim, last, could, bound


def _asked(
    weeks: float, hard_latest_weeks: float | None, *, by_vet: bool
) -> tuple[int, int, int]:
    """Earliest, target and latest of weeks that somebody asked for, in days."""
    aim = max(round(7 * weeks), 1)
    last = aim if by_vet else aim + min(DAYS_AFTER, aim // 2)
    if hard_latest_weeks is not None:
        last = min(last, max(round(7 * hard_latest_weeks), aim))
    return aim - min(DAYS_BEFORE, aim // 2), aim, last


def start_of(estimate: Estimate) -> date:
    """The day from which the next window counts: the last visit, or without any the
    day of the estimate.
    """
    return estimate.last_visit or estimate.as_of


def windows_all(
    estimates: Sequence[Estimate],
    policies: Sequence[Policy],
    *,
    season: Season | None = None,
    starts: Sequence[date | None] | None = None,
) -> list[Window]:
    """Each horse's window, in order. ``starts``: where it counts from; None: from the
    last visit. The season is the northern default if left out. ValueError for an
    estimate without any foot.
    """
    if not estimates:
        return []
    if not all(one.feet for one in estimates):
        raise ValueError("A window needs at least one foot.")
    season = season or default_season()
    given = starts or [None] * len(estimates)
    begins = [
        start or start_of(one) for start, one in zip(given, estimates, strict=True)
    ]
    feet = _feet(estimates, policies, begins, season)
    count = len(estimates)
    firsts = [
        _first(one, feet.horse, count).tolist()
        for one in (feet.earliest, feet.target, feet.latest, feet.ready)
    ]
    leads = _leads(feet, estimates)
    return [
        _window(
            estimate,
            policy,
            start,
            (firsts[0][at], firsts[1][at], firsts[2][at], firsts[3][at]),
            leads[at],
            feet,
        )
        for at, (estimate, policy, start) in enumerate(
            zip(estimates, policies, begins, strict=True)
        )
    ]


def _leads(feet: _Feet, estimates: Sequence[Estimate]) -> list[int]:
    """For each horse the row of the foot that is due first; of equals the guide, then
    the first in the order of feet.
    """
    target = feet.target.tolist()
    found: list[int] = []
    row = 0
    for one in estimates:
        feet_of = _telling(one)
        rows = range(row, row + len(feet_of))
        found.append(
            min(
                rows,
                key=lambda at, own=feet_of, begin=row: (  # type: ignore[misc]  # defaults bind the loop
                    round(target[at], 6),
                    not own[at - begin].is_guide,
                    at,
                ),
            )
        )
        row += len(feet_of)
    return found


def _window(
    estimate: Estimate,
    policy: Policy,
    start: date,
    days: tuple[float, float, float, float],
    lead: int,
    feet: _Feet,
) -> Window:
    first, aim, last, could, bound = _bounded(days, policy)
    grown = int(days[1] + 0.5)
    basis: Basis = "growth" if estimate.intervals else "use"
    asked = policy.set_weeks if policy.vet_weeks is None else policy.vet_weeks
    if asked is not None:
        basis, bound = ("set" if policy.vet_weeks is None else "vet"), ""
        first, aim, last = _asked(
            asked, policy.hard_latest_weeks, by_vet=basis == "vet"
        )
        could = min(max(int(days[3] + 0.5), first), aim)
    begin = int(np.searchsorted(feet.horse, feet.horse[lead]))
    foot = _telling(estimate)[lead - begin]
    return Window(
        start=start,
        earliest=start + timedelta(days=first),
        target=start + timedelta(days=aim),
        latest=start + timedelta(days=last),
        ready_by=start + timedelta(days=could),
        basis=basis,
        weeks=round(aim / 7),
        bound=bound,
        grown=start + timedelta(days=grown),
        foot=foot.foot,
        guide=estimate.guide,
        limit=_NAMES[int(feet.limit[lead])],
        limit_value=float(feet.value[lead]),
        gain_mm=float(feet.gain[lead]),
        rate_mm_per_week=foot.rate_mm_per_week,
        low80=foot.low80,
        high80=foot.high80,
        asked_weeks=asked,
        has_visit=estimate.last_visit is not None,
    )


def window(
    estimate: Estimate,
    policy: Policy,
    *,
    season: Season | None = None,
    start: date | None = None,
) -> Window:
    """One horse's window: ``windows_all`` of it alone."""
    return windows_all([estimate], [policy], season=season, starts=[start])[0]


# ---- Left to a day -----------------------------------------------------------------
def left_to(
    estimate: Estimate,
    day: date,
    *,
    season: Season | None = None,
    start: date | None = None,
) -> tuple[Left, ...]:
    """What each foot comes to if it is left alone from the last visit to ``day``; a day
    before the start gives nothing gained.
    """
    season = season or default_season()
    begin = start or start_of(estimate)
    span = np.array([begin.toordinal(), max(day, begin).toordinal()], dtype=np.int64)
    until = weeks_until(span, season)
    weeks = float(until[1] - until[0])
    facts: list[HorseFacts] = [estimate.facts] * len(estimate.feet)
    capsules: Capsules = capsules_of(estimate.feet, facts)
    ends = []
    for name in ("rate_mm_per_week", "low80", "high80"):
        gain = weeks * np.array([getattr(foot, name) for foot in estimate.feet])
        ends.append((gain, *after_gain(capsules, gain)))
    return tuple(
        Left(
            foot.foot,
            *(Band(*(float(end[which][at]) for end in ends)) for which in range(3)),
        )
        for at, foot in enumerate(estimate.feet)
    )
