"""Visits: opened at a barn, filled horse by horse, closed by a farrier."""

from collections.abc import Iterable, Mapping
from datetime import date, time
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from horses.models import Horse, Visit, VisitRecord, Work
from horses.services.horses import practice_day, refresh_due_windows
from practice.errors import Refused
from practice.models import Barn, User
from practice.services.changes import note_change

MISSED = frozenset({Visit.Kind.NO_SHOW, Visit.Kind.LATE_CALL_OFF})


@transaction.atomic
def open_visit(
    *,
    key: UUID,
    barn: Barn | None,
    farrier: User | None,
    day: date,
    horses: Iterable[Horse],
    by: User | None,
    travel_minutes: int | None = None,
    travel_metres: int | None = None,
    round_minutes: int | None = None,
    round_metres: int | None = None,
    round_stops: int | None = None,
    start_time: time | None = None,
) -> Visit:
    """The visit under ``key``, with a record waiting for each of these horses.

    The same key gives the same visit. So does another key for the same farrier, barn
    and day while that visit is open: a visit is one attendance. Horses that are not
    on it yet are added.

    Raises:
        Refused: the key belongs to a visit to another barn or on another day.
    """
    if barn is not None:  # two that open one attendance at once wait for each other
        Barn.objects.select_for_update().only("pk").get(pk=barn.pk)
    visit = Visit.objects.filter(pk=key).first()
    if visit is None and barn is not None and farrier is not None:
        visit = (
            Visit.objects.open()
            .filter(barn=barn, farrier=farrier, day=day, kind=Visit.Kind.ATTENDED)
            .first()
        )
    if visit is None:
        visit, is_new = Visit.objects.get_or_create(
            pk=key,
            defaults={
                "barn": barn,
                "farrier": farrier,
                "day": day,
                "travel_minutes": travel_minutes,
                "travel_metres": travel_metres,
                "start_time": start_time,
            },
        )
        if is_new:
            note_change(by=by, obj=visit, action="open", after={"day": day.isoformat()})
    if visit.barn_id != (barn.pk if barn else None) or visit.day != day:
        raise Refused(
            "This key belongs to a visit to another barn or on another day. "
            "Start the visit anew.",
            field="key",
        )
    if not visit.is_closed:
        road = {
            "travel_minutes": travel_minutes,
            "travel_metres": travel_metres,
            "round_minutes": round_minutes,
            "round_metres": round_metres,
            "round_stops": round_stops,
        }
        _fill_travel(visit, road)
        _wait_for(visit, horses)
    return visit


def _fill_travel(visit: Visit, road: Mapping[str, int | None]) -> None:
    """What the road says is kept where the visit doesn't know it yet."""
    missing = [
        name
        for name, value in road.items()
        if value is not None and getattr(visit, name) is None
    ]
    for name in missing:
        setattr(visit, name, road[name])
    if missing:
        visit.save(update_fields=[*missing, "changed_at"])


def _wait_for(visit: Visit, horses: Iterable[Horse], work: Work | None = None) -> None:
    """A record for each horse that has none here: its usual work, not recorded yet."""
    VisitRecord.objects.bulk_create(
        [
            VisitRecord(
                visit=visit,
                horse=horse,
                work_id=work.pk if work else horse.usual_work_id,
            )
            for horse in dict.fromkeys(horses)
        ],
        ignore_conflicts=True,
    )


def lock(visit: Visit) -> Visit:
    """The visit's row as it is now, held until the transaction ends."""
    return Visit.objects.select_for_update().get(pk=visit.pk)


def _open(visit: Visit) -> Visit:
    held = lock(visit)
    if held.is_closed:
        raise Refused("This visit is closed: amend the record of the horse instead.")
    return held


@transaction.atomic
def add_horse(*, visit: Visit, horse: Horse, by: User | None) -> VisitRecord:
    """Puts a horse on an open visit; one that is there already stays as it is.

    Raises:
        Refused: the visit is closed.
    """
    held = _open(visit)
    _wait_for(held, [horse])
    record = VisitRecord.objects.get(visit=held, horse=horse)
    if record.revision == 0:
        note_change(by=by, obj=held, action="add horse", after={"horse": horse.pk})
    return record


@transaction.atomic
def take_horse_off(*, visit: Visit, horse: Horse, by: User | None) -> None:
    """Takes a horse that was not treated off an open visit. Harmless to repeat.

    Raises:
        Refused: the visit is closed, or the horse has been recorded.
    """
    held = _open(visit)
    record = VisitRecord.objects.filter(visit=held, horse=horse).first()
    if record is None:
        return
    if record.is_recorded:
        raise Refused(
            f"{horse.name} is recorded already. Change its record rather than taking "
            "it off the visit."
        )
    record.delete()
    note_change(by=by, obj=held, action="take horse off", before={"horse": horse.pk})


@transaction.atomic
def note_visit(
    *,
    visit: Visit,
    note: str,
    travel_minutes: int | None,
    travel_metres: int | None,
    by: User | None,
    start_time: time | None = None,
) -> Visit:
    """Keeps the visit's own note, the road to it and when it began, where known.

    Raises:
        Refused: the visit is closed.
    """
    held = _open(visit)
    before = _told(held)
    held.note = note
    held.travel_minutes = travel_minutes
    held.travel_metres = travel_metres
    held.start_time = start_time
    after = _told(held)
    if after != before:
        held.save(
            update_fields=[
                *("note", "travel_minutes", "travel_metres", "start_time"),
                "changed_at",
            ]
        )
        note_change(by=by, obj=held, action="note", before=before, after=after)
    return held


def _told(visit: Visit) -> dict[str, object]:
    return {
        "note": visit.note,
        "travel_minutes": visit.travel_minutes,
        "travel_metres": visit.travel_metres,
        "start_time": visit.start_time and visit.start_time.isoformat("minutes"),
    }


@transaction.atomic
def close_visit(*, visit: Visit, by: User | None) -> Visit:
    """Locks the visit and moves its horses' due windows. Harmless to repeat.

    A horse that nobody recorded keeps its usual work alone.

    Raises:
        Refused: not by a farrier, or there is no horse on it.
    """
    held = lock(visit)
    if held.is_closed:
        return held
    if by is not None and not by.is_farrier:
        raise Refused("A farrier closes the visit: ask one of the practice.")
    horses = list(
        VisitRecord.objects.filter(visit=held).values_list("horse_id", flat=True)
    )
    if not horses:
        raise Refused("No horse is on this visit: add one before closing it.")
    _close(held, by)
    refresh_due_windows(horses=horses, today=practice_day())
    return held


def _close(visit: Visit, by: User | None) -> None:
    visit.state = Visit.State.CLOSED
    visit.closed_at = timezone.now()
    visit.closed_by = by
    visit.save(update_fields=["state", "closed_at", "closed_by", "changed_at"])
    note_change(by=by, obj=visit, action="close")


@transaction.atomic
def record_no_show(
    *,
    key: UUID,
    barn: Barn | None,
    farrier: User | None,
    day: date,
    horses: Iterable[Horse],
    kind: str,
    by: User | None,
    notice_minutes: int | None = None,
    start_time: time | None = None,
) -> Visit:
    """A visit that did not happen: ``no_show`` or ``late_call_off``, closed at once,
    so that billing sees it, with how long before it was called off. Due windows stay
    as they are. The same key gives the same visit.

    Raises:
        Refused: another kind, or the key belongs to something else.
    """
    if kind not in MISSED:
        raise Refused("A missed visit is a no-show or a late call-off.", field="kind")
    visit, is_new = Visit.objects.get_or_create(
        pk=key,
        defaults={
            "barn": barn,
            "farrier": farrier,
            "day": day,
            "kind": kind,
            "notice_minutes": notice_minutes,
            "start_time": start_time,
        },
    )
    if visit.kind != kind or visit.day != day:
        raise Refused("This key belongs to another visit.", field="key")
    if is_new:
        work = Work.objects.filter(kind=kind).order_by("position").first()
        _wait_for(visit, horses, work)
        VisitRecord.objects.filter(visit=visit).update(
            work=work, changed_at=timezone.now()
        )
        _close(visit, by)
    return visit
