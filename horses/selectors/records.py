"""Visit records read whole: the record with its feet, the one before, its story."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from horses.entries import (
    MEASURES,
    FindingEntry,
    FootEntry,
    RecordEntry,
    ShoeEntry,
    from_document,
)
from horses.feet import Difference, FootLook, advice_for, differences, look_at
from horses.hoof import RULES, Rule
from horses.models import FootRecord, Horse, Photo, Shoe, Visit, VisitRecord
from practice.models import Change, Practice, User

SHOE_FIELDS = tuple(ShoeEntry.__dataclass_fields__)


def with_feet(records: QuerySet[VisitRecord]) -> QuerySet[VisitRecord]:
    """The records with visit, horse, work, feet, findings and shoes: three queries."""
    feet = FootRecord.objects.select_related("shoe").prefetch_related("findings")
    return records.select_related(
        "visit__barn", "visit__farrier", "horse", "work"
    ).prefetch_related(Prefetch("feet", queryset=feet))


def _shoe_of(foot: FootRecord) -> ShoeEntry | None:
    try:
        shoe = foot.shoe
    except Shoe.DoesNotExist:
        return None
    return ShoeEntry(**{name: getattr(shoe, name) for name in SHOE_FIELDS})


def _foot_of(row: FootRecord) -> FootEntry:
    measured: dict[str, Any] = {name: getattr(row, name) for name in MEASURES}
    return FootEntry(
        foot=row.foot,  # type: ignore[arg-type]  # a constraint holds it to the four
        work=row.work,
        findings=tuple(
            FindingEntry(seen.kind, seen.place, seen.grade, seen.note)
            for seen in row.findings.all()
        ),
        shoe=_shoe_of(row),
        note=row.note,
        **measured,
    )


def entry_of(record: VisitRecord) -> RecordEntry:
    """The record as plain values. No query where ``with_feet`` fetched it."""
    return RecordEntry(
        work=record.work_id,
        way_of_going=record.way_of_going,
        note=record.note,
        advice=record.advice,
        vet_advised=record.vet_advised,
        feet=tuple(_foot_of(row) for row in record.feet.all()),
    )


def last_record(record: VisitRecord) -> VisitRecord | None:
    """What was recorded the time before for the same horse, with its feet."""
    return (
        with_feet(VisitRecord.objects.filter(horse=record.horse_id, is_recorded=True))
        .filter(visit__day__lte=record.visit.day, visit__kind=Visit.Kind.ATTENDED)
        .exclude(pk=record.pk)
        .exclude(visit=record.visit_id)
        .order_by("-visit__day", "-visit_id")
        .first()
    )


@dataclass(frozen=True, slots=True)
class Amendment:
    """One change of a closed record: who, when, why, and what differed."""

    at: datetime
    by: str
    reason: str
    changed: tuple[Difference, ...]


def amendments(records: Iterable[UUID]) -> dict[UUID, list[Amendment]]:
    """The amendments of these records, oldest first. One query."""
    keys = [str(key) for key in records]
    found: dict[UUID, list[Amendment]] = {}
    rows = Change.objects.filter(
        label=VisitRecord._meta.label_lower, object_id__in=keys, action="amend"
    ).select_related("by")
    for row in rows.order_by("at", "pk"):
        found.setdefault(UUID(row.object_id), []).append(
            Amendment(
                at=row.at,
                by=row.by.name if row.by else "",
                reason=row.reason,
                changed=tuple(
                    differences(from_document(row.before), from_document(row.after))
                ),
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class Told:
    """One record as a timeline or report tells it."""

    record: VisitRecord
    entry: RecordEntry
    looks: tuple[FootLook, ...]
    advice: tuple[str, ...]
    amendments: tuple[Amendment, ...]
    photos: tuple[Photo, ...]

    @property
    def day(self) -> date:
        return self.record.visit.day

    @property
    def pairs(self) -> list[tuple[FootLook, ...]]:
        """The feet told of, fore over hind, left beside right."""
        pairs = [
            tuple(look for look in self.looks if look.foot.endswith(end))
            for end in ("F", "H")
        ]
        return [pair for pair in pairs if pair]

    @property
    def rules(self) -> list[Rule]:
        """The rules whose flags show on any foot, each once."""
        shown = {flag.rule.code for look in self.looks for flag in look.flags}
        return [rule for rule in RULES if rule.code in shown]


def tell(records: QuerySet[VisitRecord], *, practice: Practice | None) -> list[Told]:
    """These records with all that is shown of them: five queries, however many."""
    rows = list(with_feet(records).prefetch_related("photos"))
    mended = amendments(row.pk for row in rows)
    spread = (
        {
            "length_sd_mm": float(practice.length_sd_mm),
            "angle_sd_deg": float(practice.angle_sd_deg),
        }
        if practice
        else {}
    )
    told = []
    for row in rows:
        entry = entry_of(row)
        told.append(
            Told(
                record=row,
                entry=entry,
                looks=look_at(entry.feet, **spread),
                advice=tuple(advice_for(entry.feet)),
                amendments=tuple(mended.get(row.pk, ())),
                photos=tuple(row.photos.all()),
            )
        )
    return told


def timeline(
    *, horse: Horse, viewer: User, practice: Practice | None, limit: int = 12
) -> list[Told]:
    """The horse's visits for this viewer, newest first: what was seen and done.

    Visits that did not happen are left out. Include ``horses/_timeline.html`` with
    ``timeline`` set to it.
    """
    records = (
        VisitRecord.objects.visible_to(viewer)
        .filter(horse=horse)
        .filter(visit__kind__in=[Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN])
        .order_by("-visit__day", "-visit_id")
    )
    return tell(records[:limit], practice=practice)
