"""The uploaded road map: kept, read by the worker, put in use, dropped; and drives
between all barns asked for ahead of need.

The upload waits below the data folder and is gone once it is read: what stays is the
graph of its roads, some tens of bytes a junction.
"""

import hashlib
import logging
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO
from uuid import UUID, uuid4

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.geo import Position
from practice.models import Barn, Practice, User
from practice.services.changes import note_change
from scheduling.models import KeptDrives, RoadMap
from scheduling.selectors.driving import road_map_key
from scheduling.selectors.plans import home_of, position_of
from scheduling.selectors.travel import road_file, sources
from scheduling.services.travel import travel_matrix

logger = logging.getLogger(__name__)

MOST_BYTES = 700 * 1024 * 1024
"""A county or region in `.osm.pbf` has a tenth of this; a country may have more."""
MOST_PLACES = 600
_PIECE = 1024 * 1024

State = RoadMap.State


def upload_file(map_id: str) -> Path:
    """Where an upload waits for the worker."""
    return Path(settings.ROADS_ROOT) / f"{map_id}.osm.pbf"


def receive_map(*, name: str, upload: BinaryIO, by: User) -> RoadMap:
    """Takes an extract; the worker reads it. The same file again, while the first is
    waiting or in use, is the first.

    Raises:
        Refused: it is no `.osm.pbf`, or too large.
    """
    from scheduling.travel.extract import looks_like_extract

    head = upload.read(64)
    if not looks_like_extract(head):
        raise Refused(
            "This is no OpenStreetMap extract: it ends in .osm.pbf and comes from a "
            "site that cuts OpenStreetMap into regions.",
            field="file",
        )
    row = RoadMap(name=name[:120], uploaded_by=by)
    place = upload_file(str(row.pk))
    place.parent.mkdir(parents=True, exist_ok=True)
    try:
        row.sha256, row.size_bytes = _write(place, head, upload)
        kept = _keep(row, by)
    except BaseException:
        place.unlink(missing_ok=True)
        raise
    if kept.pk != row.pk:
        place.unlink(missing_ok=True)
    return kept


@transaction.atomic
def _keep(row: RoadMap, by: User) -> RoadMap:
    same = RoadMap.objects.filter(
        sha256=row.sha256, state__in=[State.WAITING, State.READING, State.READY]
    ).first()
    if same:
        return same
    row.save()
    note_change(by=by, obj=row, action="uploaded", after={"name": row.name})
    outbox.queue_job(
        kind="read_road_map",
        payload={"pk": str(row.pk)},
        key=road_map_key(row.pk),
    )
    return row


def _write(place: Path, head: bytes, upload: BinaryIO) -> tuple[str, int]:
    digest, size = hashlib.sha256(head), len(head)
    with place.open("wb") as file:
        file.write(head)
        while piece := upload.read(_PIECE):
            size += len(piece)
            if size > MOST_BYTES:
                raise Refused(
                    f"The file is larger than {MOST_BYTES // 2**20} MB: take the "
                    "extract of your county or region.",
                    field="file",
                )
            digest.update(piece)
            file.write(piece)
    return digest.hexdigest(), size


@transaction.atomic
def drop_map(*, road_map: RoadMap, by: User) -> None:
    """Takes a road map away, with the drives that came from it; harmless when gone."""
    held = RoadMap.objects.select_for_update().filter(pk=road_map.pk).first()
    if held is None:
        return
    note_change(by=by, obj=held, action="dropped", before={"name": held.name})
    KeptDrives.objects.filter(source=f"roads:{held.sha256}").delete()
    files = [road_file(str(held.pk)), upload_file(str(held.pk))]
    held.delete()
    transaction.on_commit(lambda: _unlink(files))


def _unlink(files: list[Path]) -> None:
    for file in files:
        file.unlink(missing_ok=True)


def read_job(*, pk: str, alive: Callable[[], bool]) -> None:
    """The outbox's long job: reads an upload and puts it in use. Safe to repeat; a map
    that was dropped meanwhile is left alone."""
    from scheduling.travel.extract import BadExtract, Stopped, read_extract

    mine = RoadMap.objects.filter(pk=UUID(pk), state__in=RoadMap.UNFINISHED)

    def tell(percent: int) -> bool:
        now = timezone.now()
        said = {"state": State.READING, "percent": percent, "changed_at": now}
        return bool(mine.update(**said)) and alive()

    try:
        if not tell(1):
            return
        graph = read_extract(upload_file(pk), tell=tell)
        if not tell(90):
            return
        graph.save(road_file(pk))
    except BadExtract as error:
        mine.update(state=State.FAILED, answer=str(error)[:300])
        _unlink([upload_file(pk)])
        return
    except Stopped:
        return
    _put_in_use(pk, junctions=len(graph.lat), stretches=len(graph.start))
    _unlink([upload_file(pk)])


@transaction.atomic
def _put_in_use(pk: str, *, junctions: int, stretches: int) -> None:
    row = RoadMap.objects.select_for_update().filter(pk=UUID(pk)).first()
    if row is None or row.state == State.READY:
        return
    old = list(RoadMap.objects.filter(state=State.READY))
    for one in old:
        one.state = State.REPLACED
        one.save(update_fields=["state", "changed_at"])
        if one.sha256 != row.sha256:
            KeptDrives.objects.filter(source=f"roads:{one.sha256}").delete()
    row.state, row.percent, row.answer = State.READY, 100, ""
    row.junctions, row.stretches = junctions, stretches
    row.save(
        update_fields=[
            "state",
            "percent",
            "answer",
            "junctions",
            "stretches",
            "changed_at",
        ]
    )
    files = [road_file(str(one.pk)) for one in old]
    transaction.on_commit(lambda: _unlink(files))
    queue_fetch()


# --- drives ahead of need -----------------------------------------------------------------


def queue_fetch() -> None:
    """Has the worker ask for the drives between all barns, in the caller's
    transaction."""
    outbox.queue_job(kind="fetch_drives", payload={}, key=f"fetch-drives-{uuid4()}")


def fetch_job(*, alive: Callable[[], bool], day: str = "") -> None:
    """The outbox's long job: asks for what is missing between home and active barns;
    by night too, for barns that came in by day."""
    places = everywhere()
    if sources() and places:
        travel_matrix(places, go_on=alive)


def everywhere() -> list[Position]:
    """Home and the active barns that have a position, at most MOST_PLACES. Two
    queries."""
    home = home_of(Practice.objects.the_one())
    barns = Barn.objects.active().filter(latitude__isnull=False)[:MOST_PLACES]
    places = [position_of(barn) for barn in barns]
    return [place for place in (home, *places) if place]
