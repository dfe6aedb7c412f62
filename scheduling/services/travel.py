"""Drives between places: asked of who knows them, kept, set right by the practice."""

import logging
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import transaction

from practice.errors import Refused
from practice.geo import Position, distance_metres
from practice.models import User
from practice.services.changes import note_change
from scheduling.models import DrivenRoad, KeptDrives, TravelSettings
from scheduling.selectors.travel import (
    Source,
    pace_in_use,
    road_file,
    sources,
    with_kept,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scheduling.driving import Pace, TravelMatrix

logger = logging.getLogger(__name__)

GoOn = Callable[[], bool]


def travel_matrix(
    points: Sequence[Position], *, go_on: GoOn = lambda: True
) -> "TravelMatrix":
    """Drives between these points. What was never asked for is asked of the road
    engine, then of the road map, and kept; what neither knows is estimated, and marked.

    For jobs: it may wait for the engine, and must not be called inside a transaction.
    ``go_on``: False stops the asking; what is known by then is given.
    """
    from scheduling.driving import estimate_matrix

    matrix = estimate_matrix(points, pace_in_use())
    for source in sources():
        matrix, asked = with_kept(matrix, source)
        missing = ~asked & (matrix.minutes > 0)
        if missing.any():
            _ask(source, matrix.points, missing, go_on)
            matrix, _ = with_kept(matrix, source)
    return matrix


def _ask(
    source: Source,
    points: tuple[Position, ...],
    missing: "NDArray[np.bool_]",
    go_on: GoOn,
) -> None:
    """Asks for the missing drives: whole rows of new places, then new columns."""
    import numpy as np

    fresh = missing.sum(axis=1) > len(points) / 2
    columns = missing[~fresh].any(axis=0)
    every = np.ones(len(points), dtype=bool)
    for rows, cols in ((fresh, every), (~fresh, columns)):
        if not (rows.any() and cols.any()):
            continue
        starts = [point for point, take in zip(points, rows, strict=True) if take]
        ends = [point for point, take in zip(points, cols, strict=True) if take]
        (seconds, metres), wrong = _drives(source, starts, ends, go_on)
        keep_drives(
            source=source.key,
            starts=starts,
            ends=ends,
            seconds=seconds,
            metres=metres,
            all_asked=not wrong,
        )
        if wrong:
            logger.warning("road engine: %s", wrong)
            return


def _drives(
    source: Source, starts: list[Position], ends: list[Position], go_on: GoOn
) -> "tuple[tuple[NDArray[np.float64], NDArray[np.float64]], str]":
    import numpy as np

    from scheduling.travel.engines import Engine, in_blocks

    none = np.full((len(starts), len(ends)), np.nan)
    if source.kind == "engine":
        try:
            engine = Engine(settings.ROAD_ENGINE, settings.ROAD_ENGINE_URL)
        except ValueError as error:
            return (none, none), str(error)
        return in_blocks(engine, starts, ends, go_on=go_on)
    from scheduling.travel.roads import RoadGraph, drives

    try:
        graph = RoadGraph.load(road_file(source.map_id))
    except (OSError, ValueError) as error:
        return (none, none), f"the road map can't be read ({type(error).__name__})"
    found = drives(graph, starts, ends, go_on=go_on)
    return found, "" if go_on() else "it was stopped"


@transaction.atomic
def keep_drives(
    *,
    source: str,
    starts: Sequence[Position],
    ends: Sequence[Position],
    seconds: "NDArray[np.float64]",
    metres: "NDArray[np.float64]",
    all_asked: bool = True,
) -> None:
    """Keeps drives under their source.

    ``all_asked``: NaN means that the source knows no such drive; else it may only not
    have been asked, and such a drive is not kept, so that it is asked for again.
    """
    import numpy as np

    from scheduling.travel.packing import cells_to, key_of, merged, pack, unpack

    for row, start in enumerate(starts):
        told = np.full(len(ends), fill_value=True)
        if not all_asked:
            told = ~np.isnan(seconds[row])
        if not told.any():
            continue
        lat, lon = key_of(start)
        places = [end for end, take in zip(ends, told, strict=True) if take]
        fresh = cells_to(places, seconds[row][told], metres[row][told])
        kept, is_new = KeptDrives.objects.select_for_update().get_or_create(
            source=source, lat_e5=lat, lon_e5=lon, defaults={"cells": pack(fresh)}
        )
        if not is_new:
            kept.cells = pack(merged(unpack(bytes(kept.cells)), fresh))
            kept.save(update_fields=["cells", "changed_at"])


@transaction.atomic
def forget_drives(*, by: User) -> int:
    """Drops all kept figures, so that the next planning asks anew; their number."""
    gone, _ = KeptDrives.objects.all().delete()
    if gone:
        note_change(by=by, obj=by, action="drives forgotten", after={"rows": gone})
    return gone


@transaction.atomic
def set_pace(*, pace: "Pace", drives: int, by: User, roads: int = 0) -> TravelSettings:
    """Makes the estimate reckon like this from now on; rounds that are planned keep
    their times until they are planned anew. Again: harmless.

    Args:
        drives: of how many drives it was learnt; 0: set by hand.
        roads: of how many roads of known length the circuity was.
    """
    row, _ = TravelSettings.objects.select_for_update().get_or_create(pk=1)
    before = _told(row)
    row.circuity, row.stop_minutes = pace.circuity, pace.stop_minutes
    row.factor_lanes, row.factor_roads, row.factor_main = pace.factors
    row.drives, row.roads, row.set_by = drives, roads, by
    row.save()
    if _told(row) != before:
        note_change(by=by, obj=row, action="pace set", before=before, after=_told(row))
    return row


def _told(row: TravelSettings) -> dict[str, float]:
    names = ("circuity", "factor_lanes", "factor_roads", "factor_main", "stop_minutes")
    return {name: getattr(row, name) for name in names}


@transaction.atomic
def keep_odometer(*, drive: DrivenRoad, metres: int | None, by: User) -> None:
    """How long the road of a drive was by the odometer; None takes it back.

    Raises:
        Refused: shorter than the crow flies, or beyond a day's drive.
    """
    start = Position(float(drive.start_latitude), float(drive.start_longitude))
    end = Position(float(drive.end_latitude), float(drive.end_longitude))
    if metres is not None and metres < max(1.0, 0.98 * distance_metres(start, end)):
        raise Refused(
            f"No road from {drive.start_name} to {drive.end_name} is that short: it is "
            "further as the crow flies. Look at the figure again.",
            field="road",
        )
    if metres is not None and metres > 1_000_000:
        raise Refused("That is further than a day's drive.", field="road")
    before = drive.road_metres
    if before == metres:
        return
    drive.road_metres = metres
    drive.save(update_fields=["road_metres", "changed_at"])
    note_change(
        by=by,
        obj=drive,
        action="odometer kept",
        before={"metres": before},
        after={"metres": metres},
    )


@transaction.atomic
def leave_drive_out(*, drive: DrivenRoad, out: bool, by: User) -> None:
    """Whether a drive teaches: a break or a detour may have lain in it."""
    if drive.is_left_out == out:
        return
    drive.is_left_out = out
    drive.save(update_fields=["is_left_out", "changed_at"])
    note_change(by=by, obj=drive, action="drive left out" if out else "drive taken in")
