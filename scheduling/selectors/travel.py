"""Drives between places from what is known already: no network, no writes.

What reckons with arrays is imported where it is used: a page that asks for no drive
does not load it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from django.conf import settings

from practice.geo import Position
from scheduling.models import DrivenRoad, KeptDrives, RoadMap, TravelSettings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scheduling.driving import ConfirmedDrive, Pace, TravelMatrix

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
    from scheduling.travel.packing import key_of, looked_up, unpack

    keys = [key_of(point) for point in base.points]
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
    seconds[base.source != ESTIMATE] = np.nan
    kind = SOURCES.index(source.kind)
    return filled(base, seconds=seconds, metres=metres, source=kind), asked


def drives_driven(limit: int = MOST_DRIVES) -> "list[ConfirmedDrive]":
    """The practice's own drives, the latest first, those left out apart. One query."""
    from scheduling.driving import ConfirmedDrive

    rows = DrivenRoad.objects.filter(is_left_out=False).order_by("-day", "-pk")[:limit]
    return [
        ConfirmedDrive(
            start=Position(float(row.start_latitude), float(row.start_longitude)),
            end=Position(float(row.end_latitude), float(row.end_longitude)),
            minutes=row.minutes,
        )
        for row in rows
    ]
