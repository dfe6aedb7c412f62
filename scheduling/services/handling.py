"""What planning has to know of horses, barns and nights away: kept, taken back."""

from collections.abc import Mapping, Sequence
from datetime import date, time

from django.db import transaction

from horses.models import Horse, Work
from practice.errors import Refused
from practice.geo import Position
from practice.models import Barn, User
from practice.models.places import Weekday
from practice.services.changes import note_change
from scheduling.models import (
    BarnClosure,
    BarnFinish,
    HorseHandling,
    HorseMinutes,
    Lodging,
)


@transaction.atomic
def set_handling(
    *,
    horse: Horse,
    by: User,
    farrier: User | None = None,
    may_treat: Sequence[User] = (),
    needs_two: bool = False,
    minutes: int | None = None,
    by_work: Mapping[Work, int | None] | None = None,
) -> HorseHandling:
    """Says who treats a horse, by how many, and how long it takes. Again: the same.

    Args:
        minutes: at this horse whatever the work; None: as each work usually takes.
        by_work: minutes with these works, None to take them back; works that are not
            among them keep what is said.

    Raises:
        Refused: the preferred farrier is not among those who may treat it, or fewer
            than five or more than 480 minutes.
    """
    if farrier and may_treat and farrier not in may_treat:
        raise Refused(
            f"{farrier.name} is preferred but not among those who may treat "
            f"{horse.name}: add {farrier.name}, or name nobody.",
            field="may_treat",
        )
    _check_minutes(minutes, "minutes")
    for work, own in (by_work or {}).items():
        _check_minutes(own, f"minutes_{work.pk}")
    row, _ = HorseHandling.objects.select_for_update().get_or_create(horse=horse)
    before = _told(row)
    row.farrier, row.needs_two, row.minutes = farrier, needs_two, minutes
    row.save(update_fields=["farrier", "needs_two", "minutes", "changed_at"])
    row.may_treat.set(may_treat)
    _keep_minutes(horse, by_work or {})
    after = _told(row)
    if after != before:
        note_change(by=by, obj=horse, action="handling set", before=before, after=after)
    return row


@transaction.atomic
def set_minutes(*, horse: Horse, work: Work, minutes: int, by: User) -> None:
    """Plans this horse with so many minutes for this work. Again: the same.

    Raises:
        Refused: fewer than five or more than 480 minutes.
    """
    _check_minutes(minutes, "minutes")
    Horse.objects.select_for_update().get(pk=horse.pk)
    before = _by_work(horse)
    _keep_minutes(horse, {work: minutes})
    after = _by_work(horse)
    if after != before:
        note_change(by=by, obj=horse, action="minutes set", before=before, after=after)


def _check_minutes(minutes: int | None, field: str) -> None:
    if minutes is not None and not 5 <= minutes <= 480:
        raise Refused("Give 5 to 480 minutes.", field=field)


def _keep_minutes(horse: Horse, by_work: Mapping[Work, int | None]) -> None:
    for work, minutes in by_work.items():
        if minutes is None:
            HorseMinutes.objects.filter(horse=horse, work=work).delete()
        else:
            HorseMinutes.objects.update_or_create(
                horse=horse, work=work, defaults={"minutes": minutes}
            )


def _by_work(horse: Horse) -> dict[str, int]:
    rows = HorseMinutes.objects.filter(horse=horse).select_related("work")
    return {row.work.name: row.minutes for row in rows}


def _told(row: HorseHandling) -> dict[str, object]:
    return {
        "farrier": row.farrier.name if row.farrier else "",
        "may_treat": sorted(one.name for one in row.may_treat.all()),
        "needs_two": row.needs_two,
        "minutes": row.minutes,
        "by_work": _by_work(row.horse),
    }


@transaction.atomic
def set_finish_by(*, barn: Barn, by: User, times: Mapping[int, time | None]) -> None:
    """Until when the work must be over, by ISO weekday; weekdays left out or None have
    no such hour."""
    before = _finish(barn)
    wanted = {day: at for day, at in times.items() if at is not None}
    BarnFinish.objects.filter(barn=barn).exclude(weekday__in=wanted).delete()
    for weekday, at in wanted.items():
        BarnFinish.objects.update_or_create(
            barn=barn, weekday=weekday, defaults={"finish_by": at}
        )
    after = _finish(barn)
    if after != before:
        note_change(by=by, obj=barn, action="finish-by set", before=before, after=after)


def _finish(barn: Barn) -> dict[str, str]:
    rows = BarnFinish.objects.filter(barn=barn)
    return {Weekday(row.weekday).label: f"{row.finish_by:%H:%M}" for row in rows}


@transaction.atomic
def close_barn(
    *, barn: Barn, first: date, last: date, by: User, why: str = ""
) -> BarnClosure:
    """Days on which a barn can't be attended. Bookings on them stay; their rounds say so
    once they are planned anew. Again: the same.

    Raises:
        Refused: the last day lies before the first.
    """
    if last < first:
        raise Refused("The last day lies before the first.", field="last")
    row, made = BarnClosure.objects.get_or_create(
        barn=barn, first=first, last=last, defaults={"why": why}
    )
    if made:
        note_change(
            by=by,
            obj=barn,
            action="closed days added",
            after={"first": first.isoformat(), "last": last.isoformat(), "why": why},
        )
    return row


@transaction.atomic
def open_barn(*, closure: BarnClosure, by: User) -> None:
    """Takes closed days back; harmless when they are gone."""
    gone, _ = BarnClosure.objects.filter(pk=closure.pk).delete()
    if gone:
        note_change(
            by=by,
            obj=closure.barn,
            action="closed days taken back",
            before={
                "first": closure.first.isoformat(),
                "last": closure.last.isoformat(),
            },
        )


@transaction.atomic
def keep_lodging(
    *, farrier: User, night: date, name: str, position: Position, by: User
) -> Lodging:
    """Where a farrier sleeps on a night away. Again: changes it. Rounds that are
    planned already keep their times until they are planned anew."""
    row, _ = Lodging.objects.update_or_create(
        farrier=farrier,
        night=night,
        defaults={
            "name": name,
            "latitude": round(position.lat, 6),
            "longitude": round(position.lon, 6),
        },
    )
    note_change(
        by=by,
        obj=farrier,
        action="night away",
        after={"night": night.isoformat(), "name": name},
    )
    return row


@transaction.atomic
def drop_lodging(*, farrier: User, night: date, by: User) -> None:
    """The night is spent at home after all; harmless when it was."""
    gone, _ = Lodging.objects.filter(farrier=farrier, night=night).delete()
    if gone:
        note_change(
            by=by,
            obj=farrier,
            action="night at home",
            after={"night": night.isoformat()},
        )
