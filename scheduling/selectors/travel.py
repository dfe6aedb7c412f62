"""Drives between places from what is known already: no network, no writes.

What reckons with arrays is imported where it is used: a page that asks for no drive
does not load it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from django.conf import settings

from practice.geo import Position
from scheduling.models import DrivenRoad, KeptDrives, RoadMap, TravelSettings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scheduling.driving import Calibration, ConfirmedDrive, Pace, TravelMatrix

MOST_DRIVES = 2000
"""So many of the latest drives teach; what lies before them was another road."""


@dataclass(frozen=True, slots=True)
class Source:
    """Somebody who knows drives. key: what figures are kept under. kind: `engine`
    or `roads`. map_id: the road map's."""

    key: str
    kind: str
    map_id: str = ""


def pace_in_use() -> "Pace":
    """How the estimate reckons. One query."""
    from scheduling.driving import Pace

    row = TravelSettings.objects.filter(pk=1).first()
    return pace_of(row) if row else Pace()


def pace_of(row: TravelSettings) -> "Pace":
    """The settings as the estimate takes them."""
    from scheduling.driving import Pace

    factors = (row.factor_lanes, row.factor_roads, row.factor_main)
    return Pace(row.circuity, factors, row.stop_minutes)


def sources() -> list[Source]:
    """Who is asked before the estimate, the best first. One query."""
    found = []
    if settings.ROAD_ENGINE and settings.ROAD_ENGINE_URL:
        address = f"{settings.ROAD_ENGINE}:{settings.ROAD_ENGINE_URL}"
        found.append(Source(address[:80], "engine"))
    ready = RoadMap.objects.filter(state=RoadMap.State.READY).first()
    if ready:
        found.append(Source(f"roads:{ready.sha256}", "roads", str(ready.pk)))
    return found


def road_file(map_id: str) -> Path:
    """Where a road map's graph is kept."""
    return Path(settings.ROADS_ROOT) / f"{map_id}.npz"


def known_travel(points: Sequence[Position]) -> "TravelMatrix":
    """Drives between these points: what was asked for once, the rest estimated.

    Three queries at the most.
    """
    from scheduling.driving import estimate_matrix

    base = estimate_matrix(points, pace_in_use())
    for source in sources():
        base, _ = with_kept(base, source)
    return base


def with_kept(
    base: "TravelMatrix", source: Source
) -> "tuple[TravelMatrix, NDArray[np.bool_]]":
    """The matrix with one source's kept figures where it has only estimates, and which
    of its cells were ever asked of that source. One query."""
    import numpy as np

    from scheduling.driving import ESTIMATE, SOURCES, filled

    asked, seconds, metres = _kept(base.points, source)
    seconds[base.source != ESTIMATE] = np.nan
    kind = SOURCES.index(source.kind)
    return filled(base, seconds=seconds, metres=metres, source=kind), asked


def _kept(
    points: Sequence[Position], source: Source
) -> "tuple[NDArray[np.bool_], NDArray[np.float64], NDArray[np.float64]]":
    """From each point to each: whether the source was ever asked, seconds and metres
    (NaN where it doesn't know). One query."""
    import numpy as np

    from scheduling.travel.packing import key_of, looked_up, unpack

    keys = [key_of(point) for point in points]
    count = len(keys)
    asked = np.zeros((count, count), dtype=bool)
    seconds, metres = (np.full((count, count), np.nan) for _ in range(2))
    rows = KeptDrives.objects.filter(
        source=source.key,
        lat_e5__in={lat for lat, _ in keys},
        lon_e5__in={lon for _, lon in keys},
    ).values_list("lat_e5", "lon_e5", "cells")
    kept = {(lat, lon): bytes(cells) for lat, lon, cells in rows}
    for at, key in enumerate(keys):
        if key in kept:
            asked[at], seconds[at], metres[at] = looked_up(unpack(kept[key]), keys)
    return asked, seconds, metres


def kept_roads(points: Sequence[Position]) -> "NDArray[np.float64]":
    """Road metres from each point to each as the best source gave them; NaN where none
    knows. Three queries at the most."""
    import numpy as np

    found = np.full((len(points), len(points)), np.nan)
    for source in sources():
        _, _, metres = _kept(points, source)
        found = np.where(np.isnan(found), metres, found)
    np.fill_diagonal(found, np.nan)
    return found


def drives_driven(limit: int = MOST_DRIVES) -> "list[ConfirmedDrive]":
    """The practice's own drives, the latest first, those left out apart. One query."""
    from scheduling.driving import ConfirmedDrive

    rows = DrivenRoad.objects.filter(is_left_out=False).order_by("-day", "-pk")[:limit]
    return [
        ConfirmedDrive(
            start=Position(float(row.start_latitude), float(row.start_longitude)),
            end=Position(float(row.end_latitude), float(row.end_longitude)),
            minutes=row.minutes,
            metres=row.road_metres,
        )
        for row in rows
    ]


def learnt_pace(places: Sequence[Position], pace: "Pace") -> "Calibration":
    """What the practice's drives, and the roads of known length between these places
    and of its drives, say of how roads are here. Four queries at the most."""
    import numpy as np

    from scheduling.driving import calibrate, learn_circuity, straight_metres

    drives = drives_driven()
    roads = kept_roads(places)
    above = np.triu_indices(len(places), 1)  # each pair once, the better known way
    there, back = roads[above], roads.T[above]
    by_source = np.where(np.isnan(there), back, there)
    straight = straight_metres(places)[above] if places else np.zeros(0)
    known = [one for one in drives if one.metres]
    own = [straight_metres([one.start, one.end])[0, 1] for one in known]
    lesson = learn_circuity(
        np.concatenate([straight, np.array(own, dtype=float)]),
        np.concatenate(
            [by_source, np.array([one.metres for one in known], dtype=float)]
        ),
    )
    at = {place: number for number, place in reversed(list(enumerate(places)))}
    return calibrate([_with_road(one, at, roads) for one in drives], pace, lesson)


def _with_road(
    drive: "ConfirmedDrive", at: Mapping[Position, int], roads: "NDArray[np.float64]"
) -> "ConfirmedDrive":
    """The drive with the road's length as it was kept, unless the odometer told it."""
    start, end = at.get(drive.start), at.get(drive.end)
    if drive.metres or start is None or end is None:
        return drive
    metres = float(roads[start, end])
    return drive if math.isnan(metres) else replace(drive, metres=metres)
