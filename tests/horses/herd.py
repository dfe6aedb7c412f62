"""Herds whose truth is known, for tests and studies of growth."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from horses.growth import EVEN, HorseFacts, Reading, Record, Season
from horses.growth.season import weeks_until
from horses.hoof import FEET

AS_OF = date(2026, 3, 1)


@dataclass(frozen=True)
class Herd:
    """Records, and each foot's true rate: one row a horse, feet in the order of FEET."""

    records: tuple[Record, ...]
    rates: np.ndarray


def make_herd(
    horses,
    *,
    visits=6,
    mean=2.1,
    horse_sd=0.4,
    foot_sd=0.12,
    tape_mm=2.0,
    season=EVEN,
    seed=1,
    gaps=(35, 60),
    facts=None,
) -> Herd:
    """Horses trimmed to about 80 mm at each visit and read with the tape's error."""
    rng = np.random.default_rng(seed)
    records, rates = [], np.empty((horses, 4))
    for number in range(horses):
        own = rng.normal(mean, horse_sd)
        rates[number] = rng.normal(own, foot_sd, 4)
        back = np.cumsum(rng.integers(*gaps, visits))[::-1]
        days = (AS_OF.toordinal() - back).astype(np.int64)
        weeks = weeks_until(days, season)
        readings = []
        for foot, rate in zip(FEET, rates[number], strict=True):
            kept = rng.normal(80, 2)
            before = kept + rate * np.diff(weeks, prepend=weeks[0] - 6)
            before = before + rng.normal(0, tape_mm, visits)
            after = kept + rng.normal(0, tape_mm, visits)
            readings += [
                Reading(foot, date.fromordinal(int(day)), float(b), float(a), 51.0)
                for day, b, a in zip(days, before, after, strict=True)
            ]
        records.append(Record(facts or HorseFacts(), tuple(readings)))
    return Herd(tuple(records), rates)


def seasonal() -> Season:
    """A true season that is not the default's."""
    return Season.of([0.7, 0.75, 1, 1.2, 1.3, 1.25, 1.1, 1.05, 1, 0.95, 0.85, 0.75])
