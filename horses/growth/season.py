"""How growth goes with the season: a factor a month, mean 1 over the year. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

Hemisphere = Literal["north", "south"]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

SEASON_SOURCE = (
    "faster in warm, long days: from memory; the sizes (spring 1.10, summer 1.05, "
    "autumn 0.95, winter 0.85 of the horse's own mean) are ours, not published"
)
_SPRING, _SUMMER, _AUTUMN, _WINTER = 1.10, 1.05, 0.95, 0.85
NORTH = (
    *(_WINTER, _WINTER, _SPRING, _SPRING, _SPRING, _SUMMER),
    *(_SUMMER, _SUMMER, _AUTUMN, _AUTUMN, _AUTUMN, _WINTER),
)
"""January to December, before they are brought to a mean of 1."""

LEAST_FACTOR, MOST_FACTOR = 0.3, 2.0
"""No month grows less or more than this share of the year's mean (ours)."""

_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=np.int64)
_BEFORE = np.concatenate(([0], np.cumsum(_DAYS)))


@dataclass(frozen=True, slots=True)
class Season:
    """Twelve factors, January first, whose mean over the days of a year is 1.

    ``corrects``: whether readings too are brought to the year's mean by them. The
    default table's sizes are nobody's measurement, so it acts on windows alone; one
    that was estimated from records, or set by the farrier, acts on both.
    """

    factors: tuple[float, ...]
    corrects: bool = False

    @classmethod
    def of(cls, factors: Sequence[float], *, corrects: bool = True) -> "Season":
        """From twelve factors in any scale, brought to the mean of 1. ValueError for
        another number of them, or for one that is no positive number.
        """
        given = np.asarray(factors, dtype=np.float64)
        if given.shape != (12,) or not np.all(np.isfinite(given)) or np.any(given <= 0):
            raise ValueError("A season has twelve positive factors.")
        mean = float(given @ _DAYS) / 365
        kept = np.clip(given / mean, LEAST_FACTOR, MOST_FACTOR)
        kept = kept / (float(kept @ _DAYS) / 365)
        return cls(tuple(float(one) for one in kept), corrects)

    @property
    def turned(self) -> "Season":
        """The same on the other half of the Earth: six months later."""
        moved = (*self.factors[6:], *self.factors[:6])
        return Season.of(moved, corrects=self.corrects)


@lru_cache(maxsize=2)
def default_season(hemisphere: Hemisphere = "north") -> Season:
    """``SEASON_SOURCE``, by hemisphere."""
    season = Season.of(NORTH, corrects=False)
    return season.turned if hemisphere == "south" else season


EVEN = Season((1.0,) * 12)
"""No season at all."""


def _year_and_day(ordinals: Ints) -> tuple[Ints, Ints]:
    """Calendar year, and the day within it from 0, of proleptic ordinals."""
    days = (ordinals - 719163).astype("datetime64[D]")
    years = days.astype("datetime64[Y]")
    first = years.astype("datetime64[D]")
    return (
        years.astype(np.int64) + 1970,
        (days - first).astype(np.int64),
    )


def months_of(ordinals: Ints) -> Ints:
    """The month of each day, January as 0."""
    days = (ordinals - 719163).astype("datetime64[D]")
    return days.astype("datetime64[M]").astype(np.int64) % 12


def _calendar(ordinals: Ints) -> tuple[Ints, Ints, Ints, Bools]:
    """Whole years passed, leap days in them, the day within a plain year from 0, and
    whether this year's leap day has passed.
    """
    year, day = _year_and_day(ordinals)
    is_leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    is_late = np.asarray(is_leap & (day > int(_BEFORE[2])))
    passed = year - 1
    leaps = passed // 4 - passed // 100 + passed // 400
    return passed, leaps, day - is_late, is_late


def weeks_until(ordinals: Ints, season: Season) -> Floats:
    """Weeks from a fixed day long ago to the start of each day, each day weighed by its
    month's factor. The difference of two is the growing time between them.
    """
    factors = np.array(season.factors)
    plain = np.concatenate(([0.0], np.cumsum(np.repeat(factors, _DAYS))))
    passed, leaps, day, is_late = _calendar(ordinals)
    within = plain[day] + is_late * factors[1]
    return np.asarray(passed * plain[-1] + leaps * factors[1] + within) / 7


def month_weeks(starts: Ints, ends: Ints) -> Floats:
    """How many weeks of each span lie in each month: one row a span, twelve columns."""
    plain = np.zeros((366, 12))
    plain[1:] = np.cumsum(np.repeat(np.eye(12), _DAYS, axis=0), axis=0)
    february = np.eye(12)[1]

    def days(ordinals: Ints) -> Floats:
        passed, leaps, day, is_late = _calendar(ordinals)
        late = (leaps + is_late)[:, None] * february
        return np.asarray(passed[:, None] * _DAYS + late + plain[day])

    return (days(ends) - days(starts)) / 7
