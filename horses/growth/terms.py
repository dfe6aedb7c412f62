"""What growth is reckoned from, and what comes out: plain frozen values. Pure.

Lengths in millimetres along the toe wall, angles in degrees, rates in millimetres a
week, days as calendar days. A band is the middle 80 % of what is believed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, NamedTuple

from horses.hoof import FEET, Foot

RULES_VERSION = "growth 1"
"""Changes when a prior, a default or a formula of this package does."""

Z80 = 1.2815515655446004
"""Standard deviations from the middle of a normal to either end of its middle 80 %."""

Basis = Literal["growth", "use", "set", "vet"]
Limit = Literal["toe_gain", "lever_gain", "angle_loss"]
Bound = Literal["", "least", "most", "latest"]
Key = Literal["before_mm", "after_mm", "angle_after_deg", "day"]


class Reading(NamedTuple):
    """One foot at one visit: the toe before and after the trim, and its angle after.
    A tuple, since a practice has a hundred thousand of them.

    ``shod``: how the foot went since the visit before; None: as the horse goes now.
    ``lost_shoe``: a shoe came off in that time, so wear hides growth. A foot that was
    measured and left alone has the same figure before and after: one measurement.
    """

    foot: Foot
    day: date
    before_mm: float | None = None
    after_mm: float | None = None
    angle_after_deg: float | None = None
    shod: bool | None = None
    lost_shoe: bool = False


@dataclass(frozen=True, slots=True)
class Shape:
    """What else is known of a foot's shape; without it customary proportions serve."""

    length_mm: float | None = None
    widest_from_toe_mm: float | None = None
    heel_angle_deg: float | None = None


@dataclass(frozen=True, slots=True)
class HorseFacts:
    """``last_visit``: the last closed visit, also where nothing was measured."""

    use: str = ""
    foaled_year: int | None = None
    shod: bool = True
    last_visit: date | None = None
    feet: tuple[Foot, ...] = FEET
    shapes: Mapping[Foot, Shape] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Record:
    """One horse: its facts and its readings, in any order."""

    facts: HorseFacts
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class Questionable:
    """A reading that doesn't fit, and why. It weighs little or nothing."""

    foot: Foot
    day: date
    key: Key
    why: str


@dataclass(frozen=True, slots=True)
class FootEstimate:
    """How fast one foot grows, over a year (season factor 1), with its 80 % band.

    ``intervals``: how many of its own intervals were used; ``after_mm`` and
    ``angle_deg``: the last sound ones, None if never measured.
    """

    foot: Foot
    rate_mm_per_week: float
    low80: float
    high80: float
    sd: float
    intervals: int
    after_mm: float | None
    angle_deg: float | None
    is_guide: bool


@dataclass(frozen=True, slots=True)
class Estimate:
    """What is believed of one horse's feet. ``intervals`` are those of all its feet."""

    as_of: date
    facts: HorseFacts
    age_years: int | None
    last_visit: date | None
    feet: tuple[FootEstimate, ...]
    questionable: tuple[Questionable, ...]

    @property
    def guide(self) -> Foot | None:
        """The foot with the lowest dorsal angle (Moleman 2006), of equals the first in
        the order LF RF LH RH; None where no angle is known.
        """
        return next((one.foot for one in self.feet if one.is_guide), None)

    @property
    def intervals(self) -> int:
        return sum(one.intervals for one in self.feet)


@dataclass(frozen=True, slots=True)
class Limits:
    """How much may be gained or lost between two visits; None: no such limit."""

    toe_gain_mm: float | None = 12.0
    lever_gain_percent: float | None = None
    angle_loss_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Policy:
    """What the farrier asks: limits, and weeks least, most, and at the very latest.

    ``set_weeks``: fixed by the farrier, wins over growth; ``vet_weeks``: asked by a
    vet's plan, wins over all. ``worth_share``: the share of the limit at which a visit
    is worth its while. ``hard_latest_weeks``: the latest weeks where somebody has said
    them; they cap the window of set weeks too.
    """

    limits: Limits
    least_weeks: float
    most_weeks: float
    latest_weeks: float
    set_weeks: float | None = None
    vet_weeks: float | None = None
    worth_share: float = 2 / 3
    hard_latest_weeks: float | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """When the next visit is due, and by what.

    ``foot`` and ``limit``: which foot reaches which limit first; ``bound``: which of
    the weeks moved the target from the day that growth gives (``grown``). Rates are
    that foot's. ``weeks``: from ``start`` to the target, rounded. Without a visit it
    counts from the day of the estimate (``has_visit``).
    """

    start: date
    earliest: date
    target: date
    latest: date
    ready_by: date
    basis: Basis
    weeks: int
    bound: Bound
    grown: date
    foot: Foot
    guide: Foot | None
    limit: Limit
    limit_value: float
    gain_mm: float
    rate_mm_per_week: float
    low80: float
    high80: float
    asked_weeks: float | None = None
    has_visit: bool = True


@dataclass(frozen=True, slots=True)
class Band:
    """A figure with the ends of its middle 80 %."""

    value: float
    low80: float
    high80: float


@dataclass(frozen=True, slots=True)
class Left:
    """What a foot comes to if it is left alone to a day: length gained at the toe, the
    breakover lever's change, the angle lost.
    """

    foot: Foot
    gain_mm: Band
    lever_percent: Band
    angle_loss_deg: Band
