"""How fast feet grew, month by month, as the records say. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from horses.growth.estimates import find
from horses.growth.priors import DEFAULT, Priors
from horses.growth.season import Season, default_season, month_weeks
from horses.growth.terms import Record

LEAST_WEEKS = 12.0
"""Foot-weeks below which a month isn't told, three weeks of one horse: ours."""


@dataclass(frozen=True, slots=True)
class MonthGrowth:
    """Growth in one month (1 to 12), in mm a week, over so many foot-weeks.

    ``expected``: what the season in use makes of the mean over the months told.
    """

    month: int
    rate_mm_per_week: float
    foot_weeks: float
    expected: float


def growth_by_month(
    records: Sequence[Record],
    *,
    as_of: date,
    since: date,
    priors: Priors = DEFAULT,
    season: Season | None = None,
    length_sd_mm: float = 2.0,
) -> tuple[MonthGrowth, ...]:
    """Each month's growth from the intervals that ended from ``since`` to ``as_of``:
    every interval's gain is shared among its months by their days. Questionable
    intervals are left out; months with too little to say are too.
    """
    if not records:
        return ()
    season = season or default_season()
    found = find(
        records, as_of=as_of, priors=priors, season=season, length_sd_mm=length_sd_mm
    )
    one = found.intervals
    use = np.asarray((found.believed.weight > 0.5) & (one.end_day >= since.toordinal()))
    if not use.any():
        return ()
    weeks = month_weeks(one.start_day[use], one.end_day[use])
    pace = one.gain_mm[use] / weeks.sum(axis=1)
    held = weeks.sum(axis=0)
    rates = (weeks * pace[:, None]).sum(axis=0) / np.maximum(held, 1e-9)
    told = np.flatnonzero(held >= LEAST_WEEKS)
    if not told.size:
        return ()
    factors = np.array(season.factors)
    mean = float((rates * held)[told].sum() / (factors * held)[told].sum())
    return tuple(
        MonthGrowth(
            int(month) + 1,
            float(rates[month]),
            float(held[month]),
            mean * float(factors[month]),
        )
        for month in told
    )
