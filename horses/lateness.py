"""A season of lateness: intervals kept against wanted, lost shoes against time. Pure.

What costs call-backs shows in the records: which horses drift late, and how often a
shoe comes off for every hundred horse-weeks, by the shoe and by how long it was on.
A horse-week is four shod feet for a week. Counts are small, so each rate has its exact
95 % interval.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import exp, lgamma, log
from statistics import median

from horses.hoof import Foot

LEVEL = 0.95
INTERVAL_SOURCE = (
    "the exact interval of a Poisson count: Garwood F (1936) Biometrika 28:437-442"
)
LONGEST_DAYS = 196
"""Visits more than 28 weeks apart are no interval: the horse was away, or somebody
else came. Ours."""

ON_TIME_DAYS = 7
DRIFT_LAST, DRIFT_LATE_DAYS, DRIFT_MORE_DAYS = 3, 7, 3
DRIFT_SOURCE = (
    "ours: of the last three intervals at least two more than a week over what is "
    "wanted, and three days longer than those before in the mean"
)
_ROUNDS = 200


# ---- Intervals ---------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Kept:
    """One interval of one horse (by its key), and the days that are wanted."""

    horse: int
    start: date
    end: date
    wanted_days: int

    @property
    def days(self) -> int:
        return (self.end - self.start).days

    @property
    def late_days(self) -> int:
        """Days over what was wanted; negative: sooner."""
        return self.days - self.wanted_days


@dataclass(frozen=True, slots=True)
class Share:
    """How many intervals fell into one band of lateness, and which share of all."""

    label: str
    count: int
    percent: float


BANDS = (
    ("over a week early", -10_000, -ON_TIME_DAYS - 1),
    ("on time", -ON_TIME_DAYS, ON_TIME_DAYS),
    ("1 to 2 weeks late", ON_TIME_DAYS + 1, 14),
    ("over 2 weeks late", 15, 10_000),
)
"""Within a week either way counts as on time: ours."""


def shares(kept: Sequence[Kept]) -> tuple[Share, ...]:
    """The intervals by lateness, every band; nothing for none."""
    if not kept:
        return ()
    found = []
    for label, least, most in BANDS:
        count = sum(least <= one.late_days <= most for one in kept)
        found.append(Share(label, count, 100 * count / len(kept)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Drift:
    """A horse whose intervals grow: wanted, before, and its last ones, in days."""

    horse: int
    wanted_days: int
    before_days: float
    last: tuple[int, ...]

    @property
    def last_days(self) -> float:
        """The middle of the last ones: one long gap is no drift."""
        return median(self.last)

    @property
    def late_days(self) -> float:
        return self.last_days - self.wanted_days


def drifting(kept: Iterable[Kept]) -> tuple[Drift, ...]:
    """Horses that drift late (``DRIFT_SOURCE``), the latest first. It takes four
    intervals to say so.
    """
    by_horse: dict[int, list[Kept]] = defaultdict(list)
    for one in sorted(kept, key=lambda one: one.end):
        by_horse[one.horse].append(one)
    found = []
    for horse, mine in by_horse.items():
        if len(mine) <= DRIFT_LAST:
            continue
        before = [one.days for one in mine[:-DRIFT_LAST]]
        drift = Drift(
            horse,
            mine[-1].wanted_days,
            sum(before) / len(before),
            tuple(one.days for one in mine[-DRIFT_LAST:]),
        )
        more = drift.last_days - drift.before_days
        if drift.late_days > DRIFT_LATE_DAYS and more > DRIFT_MORE_DAYS:
            found.append(drift)
    return tuple(sorted(found, key=lambda one: (-one.late_days, one.horse)))


# ---- Rates -------------------------------------------------------------------------
def _at_most(count: int, mean: float) -> float:
    """The chance of ``count`` or fewer events where ``mean`` are expected."""
    if count < 0:
        return 0.0
    if mean <= 0:
        return 1.0
    return min(
        sum(exp(i * log(mean) - mean - lgamma(i + 1)) for i in range(count + 1)), 1.0
    )


def exact_interval(count: int, level: float = LEVEL) -> tuple[float, float]:
    """The exact interval of the mean of a Poisson count (``INTERVAL_SOURCE``): each end
    is the mean at which so many, or so few, have half of the chance left over.
    """
    tail = (1 - level) / 2

    def mean_at(events: int, chance: float) -> float:
        low, high = 0.0, 2.0 * events + 40.0
        for _ in range(_ROUNDS):
            middle = (low + high) / 2
            if _at_most(events, middle) > chance:
                low = middle
            else:
                high = middle
            if high - low < 1e-12 * high:
                break
        return (low + high) / 2

    least = mean_at(count - 1, 1 - tail) if count else 0.0
    return least, mean_at(count, tail)


@dataclass(frozen=True, slots=True)
class Rate:
    """Lost shoes for every hundred horse-weeks, with the ends of the 95 % interval."""

    label: str
    lost: int
    horse_weeks: float
    per_100: float
    low: float
    high: float


def rate(label: str, lost: int, horse_weeks: float) -> Rate:
    """``horse_weeks`` must be more than 0."""
    low, high = exact_interval(lost)
    per = 100 / horse_weeks
    return Rate(label, lost, horse_weeks, lost * per, low * per, high * per)


# ---- Shoes -------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Worn:
    """A shoe on one foot from one visit to the next: which shoe, since when it was on,
    and whether it was found to be lost.
    """

    horse: int
    foot: Foot
    shoe: str
    nailed_on: date
    seen: date
    until: date
    is_lost: bool


WEEK_BANDS: tuple[tuple[str, int, int], ...] = (
    ("first 4 weeks", 0, 28),
    ("5th and 6th week", 28, 42),
    ("7th and 8th week", 42, 56),
    ("after 8 weeks", 56, 100_000),
)
"""How long a shoe has been on, in days from and to. A loss counts where it was found."""

LEAST_SHOWN_WEEKS = 0.5


def by_weeks_on(worn: Sequence[Worn]) -> tuple[Rate, ...]:
    """Losses by how long the shoe had been on; bands without exposure are left out."""
    found = []
    for label, start, end in WEEK_BANDS:
        days, lost = 0, 0
        for one in worn:
            first = (one.seen - one.nailed_on).days
            last = (one.until - one.nailed_on).days
            days += max(min(last, end) - max(first, start), 0)
            lost += one.is_lost and start < last <= end
        weeks = days / 28
        if weeks > 0:
            found.append(rate(label, lost, weeks))
    return tuple(found)


def by_shoe(worn: Sequence[Worn]) -> tuple[Rate, ...]:
    """Losses by shoe, the most worn first."""
    days: dict[str, int] = defaultdict(int)
    lost: dict[str, int] = defaultdict(int)
    for one in worn:
        days[one.shoe] += (one.until - one.seen).days
        lost[one.shoe] += one.is_lost
    rows = [
        rate(label, lost[label], length / 28)
        for label, length in days.items()
        if length / 28 >= LEAST_SHOWN_WEEKS or lost[label]
    ]
    return tuple(sorted(rows, key=lambda row: (-row.horse_weeks, row.label)))


def overall(worn: Sequence[Worn]) -> Rate | None:
    """All losses together; None where no shoe was worn."""
    days = sum((one.until - one.seen).days for one in worn)
    if not days:
        return None
    return rate("all shoes", sum(one.is_lost for one in worn), days / 28)
