"""Records: what was found and done for one horse, saved whole, amended openly."""

from dataclasses import asdict, dataclass
from typing import Any, Literal
from uuid import UUID

from django.db import transaction

from horses.entries import (
    RecordEntry,
    as_document,
    digest,
    faults,
    tidy,
)
from horses.models import (
    Finding,
    FootRecord,
    Horse,
    Shoe,
    Visit,
    VisitRecord,
    Work,
)
from horses.selectors.records import entry_of
from horses.services.horses import practice_day, refresh_due_windows
from horses.services.visits import lock
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change

Outcome = Literal["new", "saved", "replay"]


class Conflict(Refused):
    """Someone else saved this record meanwhile; ``revision`` is the one that stands."""

    def __init__(self, sentence: str, revision: int) -> None:
        super().__init__(sentence)
        self.revision = revision


@dataclass(frozen=True, slots=True)
class Saved:
    """A record as it stands, and whether this made it, changed it or repeated it."""

    record: VisitRecord
    outcome: Outcome


@transaction.atomic
def save_record(
    *,
    key: UUID,
    visit: Visit,
    horse: Horse,
    entry: RecordEntry,
    base_revision: int | None,
    by: User,
) -> Saved:
    """Saves the whole record of one horse at an open visit.

    Args:
        key: UUIDv7 made by the maker. The same key with the same content is a replay
            and changes nothing, also after the visit was closed.
        base_revision: the revision that the maker had seen; None for a new record.

    Raises:
        Refused: the visit is closed, the role may not, or something in it can't be.
        Conflict: another content was saved since ``base_revision``.
    """
    if not by.treats:
        raise Refused("Farriers and apprentices record visits.")
    held = lock(visit)
    record = _record(key, held, horse)
    said = digest(entry)
    if record.is_recorded and record.body_sha256 == said:
        return Saved(record, "replay")
    if held.is_closed:
        raise Refused("This visit is closed: amend the record instead.")
    _check(entry)
    if record.is_recorded and base_revision != record.revision:
        raise _conflict(record)
    was_recorded = record.is_recorded
    before = as_document(entry_of(record)) if was_recorded else {}
    _write(record, entry, said)
    note_change(
        by=by, obj=record, action="record", before=before, after=as_document(entry)
    )
    return Saved(record, "saved" if was_recorded else "new")


def _record(key: UUID, visit: Visit, horse: Horse) -> VisitRecord:
    """The record under this key, taking the place of one that only waits."""
    # By its key alone: the usual order joins visit and horse, and would lock them too.
    found = VisitRecord.objects.select_for_update().filter(pk=key).order_by("pk")
    record = found.first()
    if record is not None:
        if record.visit_id != visit.pk or record.horse_id != horse.pk:
            raise Conflict(
                "This key belongs to the record of another horse or visit.",
                record.revision,
            )
        return record
    other = VisitRecord.objects.filter(visit=visit, horse=horse).first()
    if other is not None and other.is_recorded:
        raise _conflict(other)
    if visit.is_closed:
        raise Refused("This visit is closed: amend the record instead.")
    if other is not None:
        other.delete()
    return VisitRecord.objects.create(pk=key, visit=visit, horse=horse)


def _conflict(record: VisitRecord) -> Conflict:
    return Conflict(
        "Someone saved this record after you opened it. Look at what stands there, "
        "then save again to put yours in its place; the old values are kept.",
        record.revision,
    )


def _check(entry: RecordEntry) -> None:
    for path, sentence in faults(entry):
        raise Refused(sentence, field=path)
    if entry.work is not None and not Work.objects.filter(pk=entry.work).exists():
        raise Refused("Choose the work from the list.", field="work")


def _write(record: VisitRecord, entry: RecordEntry, said: str) -> None:
    record.work_id = entry.work
    record.way_of_going = entry.way_of_going
    record.note = entry.note
    record.advice = entry.advice
    record.vet_advised = entry.vet_advised
    record.is_recorded = True
    record.revision += 1
    record.body_sha256 = said
    record.save(
        update_fields=[
            "work",
            "way_of_going",
            "note",
            "advice",
            "vet_advised",
            "is_recorded",
            "revision",
            "body_sha256",
            "changed_at",
        ]
    )
    FootRecord.objects.filter(record=record).delete()
    for foot in tidy(entry).feet:
        values: dict[str, Any] = asdict(foot)
        seen, shoe = values.pop("findings"), values.pop("shoe")
        row = FootRecord.objects.create(record=record, **values)
        Finding.objects.bulk_create(Finding(foot_record=row, **one) for one in seen)
        if shoe is not None:
            Shoe.objects.create(foot_record=row, **shoe)


@transaction.atomic
def amend_record(
    *,
    record: VisitRecord,
    entry: RecordEntry,
    reason: str,
    base_revision: int,
    by: User,
) -> Saved:
    """Changes the record of a closed visit; the old values stay in the audit trail.

    Raises:
        Refused: not by a farrier, without a reason, or the visit is still open.
        Conflict: someone else amended it since ``base_revision``.
    """
    if not by.is_farrier:
        raise Refused("A farrier amends a closed visit.")
    if not reason.strip():
        raise Refused("Say why it is amended.", field="reason")
    held = lock(record.visit)
    if not held.is_closed:
        raise Refused("This visit is still open: change the record itself.")
    now = VisitRecord.objects.select_for_update().get(pk=record.pk)
    said = digest(entry)
    if now.body_sha256 == said:
        return Saved(now, "replay")
    _check(entry)
    if now.revision != base_revision:
        raise _conflict(now)
    before = as_document(entry_of(now))
    _write(now, entry, said)
    note_change(
        by=by,
        obj=now,
        action="amend",
        before=before,
        after=as_document(entry),
        reason=reason.strip()[:300],
    )
    # What was measured there decides when the horse is due.
    refresh_due_windows(horses=[now.horse_id], today=practice_day())
    return Saved(now, "saved")
