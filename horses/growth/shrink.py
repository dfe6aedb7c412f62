"""Practice, horse, foot: a two-level normal model in closed form, weighed robustly. Pure.

A foot's rate strays from its horse's by ``foot_sd``, a horse's from its group's by
``horse_sd``; an observed rate strays from its foot's by the tape's error. What is
believed after the readings is then a weighted mean at either level, and exact for
these variances. All horses are reckoned at once, as arrays.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from horses.growth.intervals import Intervals, group_of
from horses.growth.priors import Priors
from horses.growth.season import Bools, Floats, Ints
from horses.growth.terms import Record

HAMPEL = (2.5, 4.0, 7.0)
"""Standard deviations up to which an observed rate counts in full, then with a
constant pull, then less and less, then not at all: the three-part weights of
Hampel FR (1974) J Am Stat Assoc 69:383-393, from memory; the figures are ours."""

QUESTIONED_SDS = 3.2
"""An interval further than this from what its foot's others say is shown: ours."""
SWAPPED_SDS = 2.2
"""One further than this that would fit with two digits changed round is shown: ours."""

_ROUNDS = 5


@dataclass(frozen=True, slots=True)
class Spreads:
    """The priors of each horse, as arrays."""

    mean: Floats
    horse_var: Floats
    foot_var: Floats


@dataclass(frozen=True, slots=True)
class Believed:
    """Mean and variance of each slot's rate, the weight and the distance in standard
    deviations of each interval, and each horse's own mean.
    """

    rate: Floats
    variance: Floats
    weight: Floats
    distance: Floats
    horse_rate: Floats
    horse_variance: Floats


def spreads_of(records: Sequence[Record], as_of_year: int, priors: Priors) -> Spreads:
    """What the priors say of each horse as it is now."""
    rows = []
    for record in records:
        prior = priors.of[group_of(record, as_of_year)]
        rows.append((prior.mean, prior.horse_sd**2, prior.foot_sd**2))
    columns = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return Spreads(columns[:, 0], columns[:, 1], columns[:, 2])


def hampel(distance: Floats) -> Floats:
    """The weight of an observation so many standard deviations off."""
    a, b, c = HAMPEL
    off = np.maximum(np.abs(distance), 1e-12)
    fading = a / off * np.clip((c - off) / (c - b), 0.0, 1.0)
    return np.where(off <= a, 1.0, np.where(off <= b, a / off, fading))


def posterior(
    slot: Ints, rate: Floats, precision: Floats, spreads: Spreads
) -> tuple[Floats, Floats, Floats, Floats]:
    """Slot means and variances, horse means and variances, for given precisions.

    With P a foot's summed precision and τ² = foot_var: the horse sees that foot's mean
    with weight 1 / (τ² + 1/P); the foot keeps the share τ²P / (τ²P + 1) of its own.
    """
    horses = len(spreads.mean)
    total = np.bincount(slot, precision, 4 * horses)
    mean = np.bincount(slot, precision * rate, 4 * horses) / np.where(
        total > 0, total, 1.0
    )
    foot_var = np.repeat(spreads.foot_var, 4)
    seen = total / (1 + foot_var * total)
    horse_precision = 1 / spreads.horse_var + seen.reshape(-1, 4).sum(axis=1)
    horse_mean = (
        spreads.mean / spreads.horse_var + (seen * mean).reshape(-1, 4).sum(axis=1)
    ) / horse_precision
    kept = foot_var * total / (1 + foot_var * total)
    of_horse = np.repeat(horse_mean, 4)
    rates = kept * mean + (1 - kept) * of_horse
    variances = foot_var * (1 - kept) + (1 - kept) ** 2 * np.repeat(
        1 / horse_precision, 4
    )
    return rates, variances, horse_mean, 1 / horse_precision


def _weighted_median(
    values: Floats, weights: Floats, group: Ints, count: int
) -> Floats:
    """The weighted median of each group; each group has a value."""
    order = np.lexsort((values, group))
    ordered, held, at = values[order], weights[order], group[order]
    total = np.bincount(group, weights, count)
    until = np.cumsum(held)
    ends = np.searchsorted(at, np.arange(count), side="right") - 1
    before = until[ends] - total
    passed = (until - before[at]) >= 0.5 * total[at] - 1e-12
    first = np.full(count, len(at), dtype=np.int64)
    np.minimum.at(first, at[passed], np.flatnonzero(passed))
    return np.asarray(ordered[first])


def _start(intervals: Intervals, noise: Floats, spreads: Spreads) -> Floats:
    """Where weighing begins: each horse's weighted median, the prior among the votes."""
    horses = len(spreads.mean)
    horse = intervals.slot // 4
    votes = 1 / (noise + spreads.foot_var[horse])
    return _weighted_median(
        np.concatenate((intervals.rate, spreads.mean)),
        np.concatenate((votes, 1 / spreads.horse_var)),
        np.concatenate((horse, np.arange(horses))),
        horses,
    )


def believe(intervals: Intervals, spreads: Spreads, *, visit_sd: float) -> Believed:
    """Weighs what stands apart down, and shrinks. A fixed number of rounds, so that
    the answer doesn't depend on a stopping rule.
    """
    horses = len(spreads.mean)
    slot = intervals.slot
    noise = intervals.variance + visit_sd**2
    foot_var = np.repeat(spreads.foot_var, 4)
    centre = np.repeat(_start(intervals, noise, spreads), 4)
    votes = np.bincount(slot // 4, 1 / (noise + foot_var[slot]), horses)
    spread = np.repeat(1 / (1 / spreads.horse_var + votes), 4) + foot_var
    weight = np.ones(len(slot))
    distance = np.zeros(len(slot))
    rates = variances = horse_mean = horse_variance = np.zeros(0)
    for _ in range(_ROUNDS):
        distance = (intervals.rate - centre[slot]) / np.sqrt(noise + spread[slot])
        weight = hampel(distance)
        rates, variances, horse_mean, horse_variance = posterior(
            slot, intervals.rate, weight / noise, spreads
        )
        centre, spread = rates, variances
    return Believed(rates, variances, weight, distance, horse_mean, horse_variance)


def without(
    intervals: Intervals,
    spreads: Spreads,
    believed: Believed,
    dropped: Bools,
    *,
    visit_sd: float,
) -> Believed:
    """The same with these intervals left out and the others weighed as they were."""
    if not dropped.any():
        return believed
    weight = np.where(dropped, 0.0, believed.weight)
    rates, variances, horse_mean, horse_variance = posterior(
        intervals.slot,
        intervals.rate,
        weight / (intervals.variance + visit_sd**2),
        spreads,
    )
    return Believed(
        rates, variances, weight, believed.distance, horse_mean, horse_variance
    )
