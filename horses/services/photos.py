"""Photos of a record: cleaned, kept below the media folder, removed with their row."""

import hashlib
import secrets
from pathlib import Path
from typing import BinaryIO
from uuid import UUID, uuid5

from django.conf import settings
from django.db import transaction

from horses.models import Photo, VisitRecord
from horses.photos import cleaned, small_path
from horses.services.visits import lock
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change

MOST_A_RECORD = 24


def add_photo(
    *,
    record: VisitRecord,
    upload: BinaryIO,
    foot: str = "",
    view: str = Photo.View.OTHER,
    caption: str = "",
    by: User,
    key: UUID | None = None,
) -> Photo:
    """Keeps one photo of an open visit's record.

    The same picture sent again is the photo that is there; without ``key`` its
    content names it.

    Raises:
        Refused: no photo, too many, the visit is closed, or the role may not.
    """
    if not by.treats:
        raise Refused("Farriers and apprentices add photos.")
    clean = cleaned(upload)
    name = key or uuid5(record.pk, hashlib.sha256(clean.content).hexdigest())
    path = f"photos/{secrets.token_hex(1)}/{secrets.token_hex(16)}.jpg"
    with transaction.atomic():
        if lock(record.visit).is_closed:
            raise Refused("This visit is closed: photos belong to an open one.")
        there = Photo.objects.filter(pk=name).first()
        if there is not None:
            if there.record_id != record.pk:
                raise Refused("This key belongs to another photo.", field="key")
            return there
        if Photo.objects.filter(record=record).count() >= MOST_A_RECORD:
            raise Refused(f"A record takes {MOST_A_RECORD} photos at most.")
        _write(path, clean.content)
        _write(small_path(path), clean.small)
        photo = Photo.objects.create(
            pk=name,
            record=record,
            foot=foot,
            view=view,
            path=path,
            width_px=clean.width_px,
            height_px=clean.height_px,
            caption=caption,
        )
        note_change(by=by, obj=photo, action="add", after={"record": str(record.pk)})
    return photo


def _write(path: str, content: bytes) -> None:
    place = Path(settings.MEDIA_ROOT) / path
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(content)


@transaction.atomic
def remove_photo(*, photo: Photo, by: User) -> None:
    """Takes a photo off the record of an open visit, and its files after that.

    Raises:
        Refused: the visit is closed, or the role may not.
    """
    if not by.treats:
        raise Refused("Farriers and apprentices remove photos.")
    if lock(photo.record.visit).is_closed:
        raise Refused("This visit is closed: its photos stay.")
    files = [photo.path, small_path(photo.path)]
    note_change(
        by=by, obj=photo, action="remove", before={"record": str(photo.record_id)}
    )
    photo.delete()
    transaction.on_commit(lambda: _unlink(files))


def _unlink(files: list[str]) -> None:
    for file in files:
        (Path(settings.MEDIA_ROOT) / file).unlink(missing_ok=True)
