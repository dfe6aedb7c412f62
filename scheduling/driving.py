"""Drives between places: the built-in estimate, and what the practice's own drives
teach it. Pure.

The estimate knows no roads: great circle × circuity for the metres, three bands of
speed for the minutes (`practice.geo.SPEED_CLASSES`), a minute for gate and yard. It is
symmetric and keeps the triangle inequality as long as no band is slower than the one
before it, because time is then concave in distance; `Pace` holds to that.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from statistics import median
from typing import Final

import numpy as np
from numpy.typing import NDArray

from practice.geo import (
    CIRCUITY,
    EARTH_RADIUS_METRES,
    SPEED_CLASSES,
    START_AND_STOP_MINUTES,
    Drive,
    Position,
    drive_estimate,
)

SOURCES: Final = ("none", "estimate", "roads", "engine")
"""Where a figure comes from: nowhere (the diagonal), the estimate, the uploaded road
map, the road engine. A cell of `TravelMatrix.source` is an index in this."""
NONE, ESTIMATE, ROADS, ENGINE = range(4)

SAME_PLACE_METRES: Final = 25
"""Nothing nearer is a drive, as in `practice.geo.drive_estimate`."""
LEAST_DRIVES: Final = 5
"""So many drives of a band, or known roads, before they are judged. Ours."""
LEAST_STRAIGHT_METRES: Final = 500
"""A nearer pair says little of the roads: where the gates lie counts for more. Ours."""
CIRCUITY_RANGE: Final = (1.0, 4.0)
FACTOR_RANGE: Final = (0.4, 3.0)
"""No learnt factor leaves this: beyond it the positions or the clock are wrong. Ours."""

Minutes = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Pace:
    """How roads are here. circuity: road length over great circle. factors: what the
    minutes of each band (the first 5 road km, the next 15, the rest) are multiplied by.
    stop_minutes: gate and yard, on each drive.

    Raises ValueError for figures out of range, or a later band slower than one before.
    """

    circuity: float = CIRCUITY
    factors: tuple[float, float, float] = (1.0, 1.0, 1.0)
    stop_minutes: float = START_AND_STOP_MINUTES

    def __post_init__(self) -> None:
        shortest, longest = CIRCUITY_RANGE
        if not shortest <= self.circuity <= longest:
            raise ValueError("Roads are 1 to 4 times as long as the crow flies.")
        low, high = FACTOR_RANGE
        if not all(low <= factor <= high for factor in self.factors):
            raise ValueError(f"A factor of minutes lies between {low} and {high}.")
        if not 0 <= self.stop_minutes <= 15:
            raise ValueError("Gate and yard take 0 to 15 minutes.")
        paces = minutes_a_km(self.factors)
        if any(later > before + 1e-9 for before, later in pairwise(paces)):
            raise ValueError("A longer drive's road can't be slower than a lane.")


def minutes_a_km(factors: Sequence[float]) -> tuple[float, ...]:
    """Minutes for a kilometre in each band, with these factors."""
    return tuple(
        60 / speed * factor
        for (_, speed), factor in zip(SPEED_CLASSES, factors, strict=True)
    )


@dataclass(frozen=True, eq=False)
class TravelMatrix:
    """Drives from each point to each: whole minutes (rounded up), road metres, and
    where each figure comes from (`SOURCES`)."""

    points: tuple[Position, ...]
    minutes: NDArray[np.int32]
    metres: NDArray[np.int32]
    source: NDArray[np.int8]
    pace: Pace = Pace()
    _at: dict[Position, int] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        at = {point: i for i, point in reversed(list(enumerate(self.points)))}
        object.__setattr__(self, "_at", at)

    def drive(self, a: Position, b: Position) -> Drive:
        """The drive from a to b; estimated where one of them is none of the points."""
        i, j = self._at.get(a), self._at.get(b)
        if i is None or j is None:
            return estimate(a, b, self.pace)
        return Drive(metres=int(self.metres[i, j]), minutes=int(self.minutes[i, j]))

    def source_of(self, a: Position, b: Position) -> str:
        """Where the drive from a to b comes from."""
        i, j = self._at.get(a), self._at.get(b)
        if i is None or j is None:
            return SOURCES[ESTIMATE]
        return SOURCES[int(self.source[i, j])]

    def counted(self) -> dict[str, int]:
        """Cells by source, the diagonal left out."""
        counts = np.bincount(self.source.ravel(), minlength=len(SOURCES))
        return {name: int(counts[i]) for i, name in enumerate(SOURCES) if i != NONE}


def straight_metres(points: Sequence[Position]) -> NDArray[np.float64]:
    """Great-circle metres from each point to each (haversine, mean radius)."""
    lat = np.radians([point.lat for point in points])
    lon = np.radians([point.lon for point in points])
    h = (
        np.sin((lat[:, None] - lat) / 2) ** 2
        + np.cos(lat)[:, None] * np.cos(lat) * np.sin((lon[:, None] - lon) / 2) ** 2
    )
    result: NDArray[np.float64] = (
        2 * EARTH_RADIUS_METRES * np.arcsin(np.minimum(1.0, np.sqrt(h)))
    )
    return result


def bands(road_metres: NDArray[np.float64]) -> NDArray[np.float64]:
    """Minutes at the wheel in each band of speed, before any factor; bands last."""
    parts, start = [], 0.0
    for upto, speed in SPEED_CLASSES:
        end = road_metres if upto == 0 else np.minimum(road_metres, upto)
        parts.append(np.maximum(0.0, end - start) / 1000 / speed * 60)
        start = float(upto)
    return np.stack(parts, axis=-1)


def estimate_matrix(points: Sequence[Position], pace: Pace = Pace()) -> TravelMatrix:
    """The estimate between all of these points. With `Pace()` each cell is that of
    `practice.geo.drive_estimate`."""
    straight = straight_metres(points) if points else np.zeros((0, 0))
    road = straight * pace.circuity
    exact = pace.stop_minutes + bands(road) @ np.asarray(pace.factors)
    here = straight < SAME_PLACE_METRES
    minutes = np.where(here, 0, np.ceil(np.round(exact, 6))).astype(np.int32)
    metres = np.where(here, 0, np.rint(road)).astype(np.int32)
    source = np.full(minutes.shape, ESTIMATE, dtype=np.int8)
    np.fill_diagonal(source, NONE)
    return TravelMatrix(tuple(points), minutes, metres, source, pace)


def estimate(a: Position, b: Position, pace: Pace = Pace()) -> Drive:
    """One drive by the estimate; `practice.geo.drive_estimate` in the practice's pace."""
    if pace == Pace():
        return drive_estimate(a, b)
    matrix = estimate_matrix([a, b], pace)
    return Drive(metres=int(matrix.metres[0, 1]), minutes=int(matrix.minutes[0, 1]))


def filled(
    base: TravelMatrix,
    *,
    seconds: NDArray[np.float64],
    metres: NDArray[np.float64],
    source: int,
) -> TravelMatrix:
    """The matrix with known drives in it: NaN in `seconds` leaves a cell as it is.

    `metres` may be NaN by itself where only the time is known: then the cell keeps the
    estimate's. The stop's minutes are added, as in the estimate: neither an engine nor
    a map knows gates.
    """
    known = ~np.isnan(seconds)
    np.fill_diagonal(known, val=False)
    far = known & (base.minutes > 0)
    with np.errstate(invalid="ignore"):
        whole = np.ceil(np.round(seconds / 60 + base.pace.stop_minutes, 6))
        minutes = np.where(far, whole, base.minutes).astype(np.int32)
        given = far & ~np.isnan(metres)
        kept = np.where(given, np.rint(metres), base.metres).astype(np.int32)
    cells = np.where(known, source, base.source).astype(np.int8)
    return replace(base, minutes=minutes, metres=kept, source=cells)


# --- what the practice's own drives teach ---------------------------------------------


@dataclass(frozen=True, slots=True)
class ConfirmedDrive:
    """A drive as it was: from, to, minutes from gate to gate. metres: of road, where
    they are known."""

    start: Position
    end: Position
    minutes: float
    metres: float | None = None


@dataclass(frozen=True, slots=True)
class RoadLesson:
    """What roads of known length say. roads: how many could be judged. ratio: the median
    of road over great circle, with its middle half (low, high). circuity: proposed;
    None when they are too few."""

    roads: int = 0
    ratio: float | None = None
    low: float | None = None
    high: float | None = None
    circuity: float | None = None


def learn_circuity(
    straight: NDArray[np.float64], road: NDArray[np.float64]
) -> RoadLesson:
    """How much longer than the crow's flight roads are here, from pairs of places whose
    road is known: the median of road over great circle, which does not mind up to half
    of them being wrong.

    Args:
        straight, road: metres of each pair; NaN in `road` where nobody knows.
    """
    judged = (straight >= LEAST_STRAIGHT_METRES) & ~np.isnan(road)
    ratios = road[judged] / straight[judged]
    if not len(ratios):
        return RoadLesson()
    low, middle, high = (float(one) for one in np.percentile(ratios, [25, 50, 75]))
    proposed = None
    if len(ratios) >= LEAST_DRIVES:
        shortest, longest = CIRCUITY_RANGE
        proposed = round(min(max(middle, shortest), longest), 3)
    return RoadLesson(len(ratios), middle, low, high, proposed)


@dataclass(frozen=True, slots=True)
class BandLesson:
    """What the drives of one band say. factor: proposed for the band; None when there
    is nothing to propose. is_own: from its own drives; else, since it has too few, from
    the band before it or from all drives together. ratio: the median of actual over estimated, with its middle half (low, high)."""

    name: str
    drives: int
    ratio: float | None
    low: float | None
    high: float | None
    factor: float | None
    is_own: bool = False


@dataclass(frozen=True, slots=True)
class Calibration:
    """A pace proposed from drives and roads. `drives`: those that could be judged.
    `roads`: what the circuity was learnt from.

    `error_before` and `error_after`: the median of |actual − estimated| in minutes,
    with the pace of now and with the one proposed.
    """

    pace: Pace
    bands: tuple[BandLesson, ...]
    drives: int
    error_before: float | None
    error_after: float | None
    roads: RoadLesson = RoadLesson()

    @property
    def teaches(self) -> bool:
        """Whether there is anything to take up."""
        learnt = any(band.factor is not None for band in self.bands)
        return learnt or self.roads.circuity is not None


NO_ROADS: Final = RoadLesson()
BAND_NAMES: Final = ("up to 5 km of road", "5 to 20 km", "beyond 20 km")


def calibrate(
    drives: Sequence[ConfirmedDrive], pace: Pace, roads: RoadLesson = NO_ROADS
) -> Calibration:
    """A pace from the practice's own drives, robust to breaks, closed roads and
    forgotten taps.

    First the circuity, from roads of known length; minutes alone can't tell a longer
    road from a slower one, so without any it stays as it is and the factors of speed
    take up both. Then the factors, on the road as it is known, else as estimated.

    Band by band from the shortest: the factor of a band is the weighted median, over
    the drives that end in it, of the minutes which the bands before it don't explain
    over those that the band would take at factor 1; the weight is the latter, which
    makes it the line of least absolute error. A median does not mind up to half of the
    drives being wrong. A band of fewer than LEAST_DRIVES takes the factor of the one
    before it if that was learnt, else what all drives together say, if they are that
    many.
    """
    target = pace
    if roads.circuity is not None:
        target = replace(pace, circuity=roads.circuity)
    judged = [drive for drive in drives if drive.minutes > 0]
    straight = np.array([_straight(drive) for drive in judged])
    far = straight >= SAME_PLACE_METRES
    if not far.any():
        empty = tuple(
            BandLesson(name, 0, None, None, None, None) for name in BAND_NAMES
        )
        return Calibration(target, empty, 0, None, None, roads)
    straight = straight[far]
    took = np.array([drive.minutes for drive in judged], dtype=float)[far]
    road = _roads([drive.metres for drive in judged], straight, far, target)
    parts = bands(road)
    now = _minutes(straight, pace)
    ends_in = np.searchsorted([upto for upto, _ in SPEED_CLASSES[:-1]], road)
    together: float | None = None
    if len(road) >= LEAST_DRIVES:
        wheel = parts @ np.asarray(pace.factors)
        together = float(np.median((took - pace.stop_minutes) / wheel))
    factors: list[float] = []
    lessons = []
    learnt: float | None = None
    for band, name in enumerate(BAND_NAMES):
        mine = ends_in == band
        is_own = int(mine.sum()) >= LEAST_DRIVES
        factor = learnt
        if is_own:
            before = parts[mine][:, :band] @ np.asarray(factors[:band], dtype=float)
            rest = took[mine] - pace.stop_minutes - before
            own = parts[mine, band]
            factor = learnt = _weighted_median(rest / own, own)
        elif factor is None and together is not None:
            factor = pace.factors[band] * together
        usual = pace.factors[band] if factor is None else factor
        factors.append(_bounded(band, factors, usual))
        told = None if factor is None else factors[-1]
        lessons.append(_lesson(name, took[mine] / now[mine], told, is_own=is_own))
    proposed = replace(target, factors=(factors[0], factors[1], factors[2]))
    after = _minutes(straight, proposed)
    return Calibration(
        pace=proposed,
        bands=tuple(lessons),
        drives=len(road),
        error_before=float(np.median(np.abs(took - now))),
        error_after=float(np.median(np.abs(took - after))),
        roads=roads,
    )


def _roads(
    metres: Sequence[float | None],
    straight: NDArray[np.float64],
    far: NDArray[np.bool_],
    pace: Pace,
) -> NDArray[np.float64]:
    """Road metres of each drive: as known, else as estimated; a length that no road
    between the two places can have is a slip of the keys."""
    said = np.array([one or np.nan for one in metres])[far]
    shortest, longest = CIRCUITY_RANGE
    with np.errstate(invalid="ignore"):
        good = (said >= 0.98 * shortest * straight) & (said <= longest * straight)
    return np.where(good, said, straight * pace.circuity)


def _minutes(straight: NDArray[np.float64], pace: Pace) -> NDArray[np.float64]:
    """What the estimate says of these drives, not rounded up."""
    found: NDArray[np.float64] = pace.stop_minutes + bands(
        straight * pace.circuity
    ) @ np.asarray(pace.factors)
    return found


def _bounded(band: int, factors: Sequence[float], factor: float) -> float:
    """Within the range, and no slower by the kilometre than the band before."""
    low, high = FACTOR_RANGE
    if band:
        speeds = [speed for _, speed in SPEED_CLASSES]
        high = min(high, factors[band - 1] * speeds[band] / speeds[band - 1])
    # Down to a thousandth, so that rounding never makes it slower than the one before.
    return max(low, math.floor(min(factor, high) * 1000 + 1e-6) / 1000)


def _weighted_median(
    values: NDArray[np.float64], weights: NDArray[np.float64]
) -> float:
    """The value at which half of the weight lies below."""
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(below, below[-1] / 2)])


def _lesson(
    name: str, ratios: NDArray[np.float64], factor: float | None, *, is_own: bool
) -> BandLesson:
    if not len(ratios):
        return BandLesson(name, 0, None, None, None, factor)
    low, high = np.percentile(ratios, [25, 75])
    return BandLesson(
        name=name,
        drives=len(ratios),
        ratio=float(median(ratios)),
        low=float(low),
        high=float(high),
        factor=factor,
        is_own=is_own,
    )


def _straight(drive: ConfirmedDrive) -> float:
    return float(straight_metres([drive.start, drive.end])[0, 1])
