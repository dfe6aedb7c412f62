"""Areas: barns that lie near each other by their drives, what an outline holds, and
what a newcomer adds. Pure."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from practice.geo import METRES_PER_DEGREE, Position
from scheduling.running import Course, Leg, retime

MOST_AREAS: Final = 24
"""So many areas are proposed at the most; beyond it nobody keeps them apart. Ours."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """Places near each other. members: their indexes, the middle one first. spread:
    the drive from the middle one to the farthest, in minutes."""

    members: tuple[int, ...]
    spread: int

    @property
    def middle(self) -> int:
        return self.members[0]


def clusters(
    minutes: NDArray[np.int32], apart: float, *, most: int = MOST_AREAS
) -> tuple[Cluster, ...]:
    """Places put together while the mean drive between two groups is `apart` minutes or
    less (agglomerative, average linkage: Sokal & Michener's UPGMA, by scipy), the
    largest group first. More than `most` groups are put together further.

    `minutes`: the drives, square; the longer of there and back counts.
    """
    count = len(minutes)
    if count == 0:
        return ()
    both = np.maximum(minutes, minutes.T).astype(float)
    np.fill_diagonal(both, 0.0)
    if count == 1:
        return (Cluster((0,), 0),)
    from scipy.cluster.hierarchy import fcluster, linkage
    from scipy.spatial.distance import squareform

    tree = linkage(squareform(both, checks=False), method="average")
    labels = fcluster(tree, t=apart, criterion="distance")
    if labels.max() > most:
        labels = fcluster(tree, t=most, criterion="maxclust")
    found = []
    for label in range(1, int(labels.max()) + 1):
        inside = np.flatnonzero(labels == label)
        within = both[np.ix_(inside, inside)]
        middle = int(within.sum(axis=1).argmin())
        order = np.argsort(within[middle], kind="stable")
        order = np.concatenate([[middle], order[order != middle]])
        members = tuple(int(inside[i]) for i in order)
        found.append(Cluster(members, int(within[middle].max())))
    found.sort(key=lambda one: (-len(one.members), one.members))
    return tuple(found)


APARTS: Final = (10, 15, 20, 25, 30, 40, 50, 60, 90, 120)


def usual_apart(minutes: NDArray[np.int32]) -> int:
    """The least of APARTS that gives a handful of areas: no more than one above the
    square root of the places' number. Ours."""
    handful = 1 + round(len(minutes) ** 0.5)
    return next(
        (apart for apart in APARTS if len(clusters(minutes, apart)) <= handful),
        APARTS[-1],
    )


# --- outlines ------------------------------------------------------------------------------

Outline = tuple[Position, ...]
"""Corners in order, the last joined to the first by a straight line on the map."""

LEAST_CORNERS: Final = 3
MOST_CORNERS: Final = 200
ROUND_METRES: Final = 1000.0
"""So far outside its barns an outline is put round them. Ours."""


def inside(at: Position, corners: Outline) -> bool:
    """Whether a place lies within an outline, by the rule of odd crossings (a part that
    the line goes round twice is outside). Of the edges' own points some are in, some
    out, so that of two outlines with a common edge one at the most holds them.

    Degrees will do: the map's plane only stretches them, and no point changes its side
    of a line by that. Longitudes are taken from the place's, so 180° may lie within.
    """
    within = False
    for i, one in enumerate(corners):
        x1, x2 = _east(one, at), _east(corners[i - 1], at)
        y1, y2 = one.lat - at.lat, corners[i - 1].lat - at.lat
        # The edge crosses the parallel, and does so east of the place.
        if (y1 > 0) != (y2 > 0) and x1 + (x2 - x1) * y1 / (y1 - y2) > 0:
            within = not within
    return within


def around(places: Sequence[Position], metres: float = ROUND_METRES) -> Outline:
    """The outline round places, convex, with every corner so many metres or a little
    less outside them; empty without any place."""
    if not places:
        return ()
    from shapely import MultiPoint, Polygon

    first = places[0]
    north = METRES_PER_DEGREE
    east = north * max(0.05, math.cos(math.radians(first.lat)))
    flat = MultiPoint(
        [
            (_east(one, first) * east, (one.lat - first.lat) * north)
            for one in dict.fromkeys(places)
        ]
    )
    # Corners cut in two: an outline is to be moved by its corners, so few of them.
    ring = flat.convex_hull.buffer(metres, quad_segs=2).simplify(metres / 10)
    assert isinstance(ring, Polygon)
    return tuple(
        Position(
            min(90.0, max(-90.0, first.lat + y / north)),
            (first.lon + x / east + 180) % 360 - 180,
        )
        for x, y in ring.exterior.coords[:-1]
    )


def _east(one: Position, of: Position) -> float:
    """Degrees of longitude by which one lies east of another, in [−180, 180)."""
    return (one.lon - of.lon + 180) % 360 - 180


# --- what a newcomer adds ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Joining:
    """The cheapest place of a newcomer in a round. added: minutes of driving more.
    after: how many stops come before it. fits: no rule is broken that was kept before.
    start: when its work would begin, minutes after midnight."""

    added: int
    after: int
    fits: bool
    start: int


Minutes = Callable[[int, int], int]
"""Drive between two places by their numbers."""


def cheapest(
    course: Course,
    legs: Sequence[Leg],
    places: Sequence[int | None],
    newcomer: Leg,
    at: int,
    minutes: Minutes,
) -> Joining | None:
    """Where a newcomer adds the least driving to a round whose order stays; a place
    that fits comes before one that doesn't. None where no gap's ends are known.

    places: numbers of start, stops and end, so two more than legs; None: unknown.
    The newcomer's own `drive_minutes` is not looked at.
    """
    before = retime(course, legs).outside
    found = []
    for gap in range(len(legs) + 1):
        a, b = places[gap], places[gap + 1]
        if a is None or b is None:
            continue
        there, on, straight = minutes(a, at), minutes(at, b), minutes(a, b)
        more = [*legs[:gap], replace(newcomer, drive_minutes=there), *legs[gap:]]
        frame = course
        if gap < len(legs):
            drive = max(on, legs[gap].drive_minutes - straight + on)
            more[gap + 1] = replace(legs[gap], drive_minutes=drive)
        else:
            home = max(on, course.home_minutes - straight + on)
            frame = replace(course, home_minutes=home)
        running = retime(frame, more)
        fits = running.outside <= before
        start = running.legs[gap].start
        found.append(Joining(there + on - straight, gap, fits, start))
    return min(
        found, key=lambda one: (not one.fits, one.added, one.after), default=None
    )
