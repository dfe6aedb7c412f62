"""Marks on a photo: kept, moved later, and their figures put into the foot record."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.db import transaction

from horses.entries import LENGTHS, MEASURES, FootEntry, RecordEntry
from horses.hoof import FEET
from horses.landmarks.reading import BadMarks, check, read, recorded
from horses.landmarks.spots import SPOTS, spots
from horses.models import Landmark, Photo, VisitRecord
from horses.selectors.marks import marked, points_of
from horses.selectors.records import entry_of, with_feet
from horses.services.records import Conflict, Saved, amend_record, save_record
from horses.services.visits import lock
from practice.errors import Refused
from practice.models import User
from practice.services.changes import note_change

Points = Mapping[str, tuple[Decimal, Decimal]]
_SIXTH = Decimal("0.000001")


def _held(photo: Photo, by: User) -> Photo:
    """The photo's row as it is now, held with its visit until the transaction ends.

    Raises:
        Refused: the role may not.
    """
    if not by.treats:
        raise Refused("Farriers and apprentices mark photos.")
    lock(photo.record.visit)
    return (
        Photo.objects.select_for_update(of=("self",))
        .select_related("record__visit", "record__horse")
        .get(pk=photo.pk)
    )


def _action(photo: Photo, by: User, reason: str) -> str:
    """The word for the audit trail.

    Raises:
        Refused: the visit is closed, and it is not a farrier who says why.
    """
    if not photo.record.visit.is_closed:
        return "mark"
    if not by.is_farrier:
        raise Refused("This visit is closed: a farrier amends it.")
    if not reason.strip():
        raise Refused("This visit is closed: say why it is amended.", field="reason")
    return "amend"


def _told(points: Points, known_mm: Decimal | None) -> dict[str, Any]:
    return {
        "known_mm": None if known_mm is None else f"{known_mm:.1f}",
        "points": {name: [f"{x}", f"{y}"] for name, (x, y) in sorted(points.items())},
    }


@transaction.atomic
def tell_photo(
    *, photo: Photo, foot: str, view: str, by: User, reason: str = ""
) -> Photo:
    """Says which foot a photo shows, and from where. Harmless to repeat.

    Marks that the new view hasn't got go; the scale stays, and the audit trail keeps
    all of them.

    Raises:
        Refused: the role may not, no such foot or view, closed without a reason.
    """
    held = _held(photo, by)
    if foot not in FEET:
        raise Refused("Choose the foot that the photo shows.", field="foot")
    if view not in SPOTS:
        raise Refused("Choose from where it was taken.", field="view")
    if (held.foot, held.view) == (foot, view):
        return held
    action = _action(held, by, reason)
    before = {"foot": held.foot, "view": held.view}
    if view != held.view:
        before |= _told(points_of(held), held.known_mm)
        names = [spot.name for spot in spots(view)]  # type: ignore[arg-type]  # refused above otherwise
        Landmark.objects.filter(photo=held).exclude(name__in=names).delete()
    held.foot, held.view = foot, view
    held.marks_revision += 1
    held.save(update_fields=["foot", "view", "marks_revision", "changed_at"])
    note_change(
        by=by,
        obj=held,
        action=action,
        before=before,
        after={"foot": foot, "view": view},
        reason=reason.strip()[:300],
    )
    return held


@transaction.atomic
def save_marks(
    *,
    photo: Photo,
    points: Points,
    known_mm: Decimal | None,
    base_revision: int | None,
    by: User,
    reason: str = "",
) -> Photo:
    """Keeps all marks of a photo and its scale; those not named are taken off.

    Args:
        points: fractions of the picture by landmark name.
        base_revision: ``marks_revision`` as its maker saw it. The same marks again
            change nothing, whatever it says.

    Raises:
        Refused: the role may not, closed without a reason, or marks that can't be.
        Conflict: someone else moved them since.
    """
    held = _held(photo, by)
    tidy = {n: (x.quantize(_SIXTH), y.quantize(_SIXTH)) for n, (x, y) in points.items()}
    try:
        check(marked(held, tidy, known_mm))
    except BadMarks as bad:
        raise Refused(str(bad)) from bad
    stands = points_of(held)
    if stands == tidy and held.known_mm == known_mm:
        return held
    action = _action(held, by, reason)
    if base_revision != held.marks_revision:
        raise Conflict(
            "Someone moved the marks after you opened the photo. Save again to put yours "
            "in their place.",
            held.marks_revision,
        )
    before = _told(stands, held.known_mm)
    _place(held, stands, tidy, by)
    held.known_mm = known_mm
    held.marks_revision += 1
    held.save(update_fields=["known_mm", "marks_revision", "changed_at"])
    note_change(
        by=by,
        obj=held,
        action=action,
        before=before,
        after=_told(tidy, known_mm),
        reason=reason.strip()[:300],
    )
    return held


def _place(photo: Photo, stands: Points, wanted: Points, by: User) -> None:
    gone = stands.keys() - wanted.keys()
    Landmark.objects.filter(photo=photo, name__in=gone).delete()
    for name, (x, y) in wanted.items():
        if stands.get(name) != (x, y):
            Landmark.objects.update_or_create(
                photo=photo, name=name, defaults={"x": x, "y": y, "by": by}
            )


@transaction.atomic
def use_figures(
    *,
    photo: Photo,
    chosen: Mapping[str, Decimal | None],
    by: User,
    reason: str = "",
) -> Saved:
    """Writes chosen figures of the kept marks into the record of the photo's foot.

    Args:
        chosen: by name, what the record said when the viewer chose. A value that was
            typed meanwhile is never written over.

    Raises:
        Refused: the role may not, nothing chosen, no such figure, the record says
            something else by now, closed without a reason.
        Conflict: someone else saved the record at the same moment.
    """
    held = _held(photo, by)
    if not held.is_measurable:
        raise Refused("Say first which foot the photo shows, and from where.")
    if not chosen:
        raise Refused("Tick the figures that go into the record.", field="use")
    record = with_feet(VisitRecord.objects.filter(pk=held.record_id)).get()
    entry = entry_of(record)
    foot = next(foot for foot in entry.all_feet() if foot.foot == held.foot)
    values = _values(held, foot, chosen)
    written: FootEntry = replace(foot, **values)  # type: ignore[arg-type]  # measures
    feet = tuple(written if f.foot == foot.foot else f for f in entry.all_feet())
    whole = replace(entry, feet=tuple(f for f in feet if not f.is_empty))
    saved = _save(record, whole, reason, by)
    if saved.outcome != "replay":
        note_change(
            by=by,
            obj=held,
            action="use figures",
            before={name: _text(getattr(foot, name)) for name in values},
            after={name: _text(value) for name, value in values.items()},
            reason=reason.strip()[:300],
        )
    return saved


def _save(record: VisitRecord, entry: RecordEntry, reason: str, by: User) -> Saved:
    if record.visit.is_closed:
        return amend_record(
            record=record,
            entry=entry,
            reason=reason,
            base_revision=record.revision,
            by=by,
        )
    return save_record(
        key=record.pk,
        visit=record.visit,
        horse=record.horse,
        entry=entry,
        base_revision=record.revision,
        by=by,
    )


def _values(
    photo: Photo, foot: FootEntry, chosen: Mapping[str, Decimal | None]
) -> dict[str, Decimal]:
    reading = read(marked(photo, points_of(photo), photo.known_mm))
    figures = {figure.name: figure.value for figure in reading.figures}
    values = {}
    for name, stood in chosen.items():
        if name not in MEASURES or name not in figures:
            raise Refused(
                "The marks don't give one of the chosen figures.", field="use"
            )
        stands: Decimal | None = getattr(foot, name)
        value = recorded(figures[name])
        if stands not in (stood, value):
            unit = "mm" if name in LENGTHS else "°"
            raise Refused(
                f"The record's {MEASURES[name]} was changed meanwhile to {stands} {unit}: "
                "look at both and tick it again.",
                field="use",
            )
        values[name] = value
    return values


def _text(value: Decimal | None) -> str | None:
    return None if value is None else f"{value:.1f}"
