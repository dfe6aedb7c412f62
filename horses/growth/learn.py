"""What a practice's own records teach of growth: priors and the season. Pure.

Variances by the method of moments at each level (DerSimonian R, Laird N (1986) Control
Clin Trials 7:177-188, from memory), which is closed and needs no stopping rule; means
weighed by them. Few records move the defaults little, many move them all the way.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from horses.growth.estimates import Found, find
from horses.growth.priors import DEFAULT, Group, Prior, Priors
from horses.growth.season import (
    Bools,
    Floats,
    Ints,
    Season,
    default_season,
    month_weeks,
    weeks_until,
)
from horses.growth.terms import Record

HORSES_FOR_SPREAD, FEET_FOR_SPREAD = 10.0, 40.0
"""The default spreads count as much as this many of the practice's own: ours."""
LEAST_SPREAD = 0.02
"""No spread is believed to be smaller, in mm a week."""

LEAST_INTERVALS, LEAST_MONTH_WEEKS = 400, 150.0
"""Intervals, and foot-weeks in each month, before a season is estimated: ours."""
SEASON_SD = 0.1
"""How far a month's factor may lie from the default's, as a prior: ours."""
_ROUNDS = 3


@dataclass(frozen=True, slots=True)
class Levels:
    """Variances found, and each group's mean, by what was read alone."""

    visit_var: float
    foot_var: float
    horse_var: float
    feet_free: int
    horses_free: int


def _sums(group: Ints, weights: Floats, count: int) -> Floats:
    return np.bincount(group, weights, count).astype(np.float64)


def _moment(
    values: Floats, precision: Floats, group: Ints, count: int
) -> tuple[float, int, Floats, Floats]:
    """The variance beyond that of ``precision`` within groups, its degrees of freedom,
    and the groups' weighted means and summed precisions.
    """
    total = _sums(group, precision, count)
    mean = _sums(group, precision * values, count) / np.where(total > 0, total, 1)
    spread = float(np.sum(precision * (values - mean[group]) ** 2))
    squares = np.bincount(group, precision**2, count)
    many = np.bincount(group, minlength=count)
    free = int(np.sum(np.maximum(many - 1, 0)))
    shared = float(np.sum(total) - np.sum(squares / np.where(total > 0, total, 1)))
    variance = max((spread - free) / shared, 0.0) if shared > 0 else 0.0
    return variance, free, mean, total


def levels_of(found: Found, use: Bools) -> tuple[Levels, Floats, Floats, Ints]:
    """The three variances of the intervals in ``use``; and of each horse with any its
    mean, that mean's precision but for the horses' own spread, and its number.
    """
    slot = found.intervals.slot[use]
    rate, tape = found.intervals.rate[use], found.intervals.variance[use]
    slots = 4 * found.horses
    visit_var, _, _, _ = _moment(rate, 1 / tape, slot, slots)
    precision = 1 / (tape + visit_var)
    total = _sums(slot, precision, slots)
    mean = _sums(slot, precision * rate, slots) / np.where(total > 0, total, 1)
    feet = np.flatnonzero(total > 0).astype(np.int64)
    foot_var, feet_free, _, _ = _moment(
        mean[feet], total[feet], feet // 4, found.horses
    )
    seen = 1 / (foot_var + 1 / total[feet])
    by_horse = _sums(feet // 4, seen, found.horses)
    horses = np.flatnonzero(by_horse > 0).astype(np.int64)
    horse_sum = _sums(feet // 4, seen * mean[feet], found.horses)
    horse_mean = horse_sum[horses] / by_horse[horses]
    group = found.group[horses]
    horse_var, horses_free, _, _ = _moment(
        horse_mean, by_horse[horses], group, int(found.group.max(initial=0)) + 1
    )
    return (
        Levels(visit_var, foot_var, horse_var, feet_free, horses_free),
        horse_mean,
        by_horse[horses],
        horses,
    )


def _blend(usual: float, found: float, usual_counts: float, free: int) -> float:
    """A standard deviation between the usual one and the variance found."""
    variance = (usual_counts * usual**2 + free * found) / (usual_counts + free)
    return max(float(np.sqrt(variance)), LEAST_SPREAD)


def learn_priors(
    records: Sequence[Record],
    *,
    as_of: date,
    season: Season | None = None,
    length_sd_mm: float = 2.0,
    usual: Priors = DEFAULT,
) -> Priors:
    """The priors of this practice: ``usual`` where it has nothing to say.

    Questionable intervals are left out. ``horses``: how many had an interval.
    """
    if not records:
        return usual
    found = find(
        records,
        as_of=as_of,
        priors=usual,
        season=season or default_season(),
        length_sd_mm=length_sd_mm,
    )
    use = np.asarray(found.believed.weight > 0.5)
    if not use.any():
        return usual
    levels, means, seen, horses = levels_of(found, use)
    groups = list(usual.of)
    learnt: dict[Group, Prior] = {}
    for number, group in enumerate(groups):
        prior = usual.of[group]
        mine = found.group[horses] == number
        many = int(mine.sum())
        horse_sd = _blend(
            prior.horse_sd, levels.horse_var, HORSES_FOR_SPREAD, max(many - 1, 0)
        )
        weight = 1 / (horse_sd**2 + 1 / seen[mine])
        before = 1 / prior.mean_sd**2
        mean = (prior.mean * before + float(weight @ means[mine])) / (
            before + float(weight.sum())
        )
        learnt[group] = replace(
            prior,
            mean=mean,
            horse_sd=horse_sd,
            foot_sd=_blend(
                prior.foot_sd, levels.foot_var, FEET_FOR_SPREAD, levels.feet_free
            ),
            source=f"{prior.source}; and {many} horses of the practice"
            if many
            else prior.source,
        )
    free = int(use.sum()) - int(np.unique(found.intervals.slot[use]).size)
    visit_var = free * levels.visit_var / (free + FEET_FOR_SPREAD)
    return Priors(learnt, visit_sd=float(np.sqrt(visit_var)), horses=len(horses))


# ---- The season --------------------------------------------------------------------
def _factors(
    found: Found, months: Floats, season: Season, length_sd_mm: float, usual: Season
) -> Season:
    """Twelve factors by least squares on what grew, drawn toward the usual ones."""
    one = found.intervals
    good = found.believed.weight > 0.5
    if season.corrects:
        held = weeks_until(one.end_day, season) - weeks_until(one.start_day, season)
    else:
        held = (one.end_day - one.start_day) / 7
    pace = found.believed.rate[one.slot] * one.weeks / held
    rows = (months * pace[:, None])[good]
    error = 2 * length_sd_mm**2
    usual_factors = np.array(usual.factors)
    left = rows.T @ rows / error + np.eye(12) / SEASON_SD**2
    right = rows.T @ one.gain_mm[good] / error + usual_factors / SEASON_SD**2
    return Season.of(np.maximum(np.linalg.solve(left, right), 0.05))


def learn_season(
    records: Sequence[Record],
    *,
    as_of: date,
    priors: Priors = DEFAULT,
    usual: Season | None = None,
    length_sd_mm: float = 2.0,
) -> Season | None:
    """The season of this practice's own records, or None while they are too few.

    Args:
        usual: the default of its hemisphere, toward which few records are drawn.
    """
    if not records:
        return None
    usual = usual or default_season()
    season, months = usual, None
    for _ in range(_ROUNDS):
        found = find(
            records,
            as_of=as_of,
            priors=priors,
            season=season,
            length_sd_mm=length_sd_mm,
        )
        one = found.intervals
        if months is None:  # the spans are the same in each round
            if len(one.slot) < LEAST_INTERVALS:
                return None
            months = month_weeks(one.start_day, one.end_day)
            if months.sum(axis=0).min() < LEAST_MONTH_WEEKS:
                return None
        season = _factors(found, months, season, max(length_sd_mm, 1e-3), usual)
    return season
