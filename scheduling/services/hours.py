"""The hours of a farrier: usual days, days that are otherwise, who rides along."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time

from django.db import transaction
from django.db.models import QuerySet

from practice.errors import Refused
from practice.models import Area, User
from practice.models.places import Weekday
from practice.services.changes import note_change
from scheduling.models import UsualDay, WorkingDay


@dataclass(frozen=True, slots=True)
class DayHours:
    """Hours of a weekday (ISO: Monday is 1)."""

    weekday: int
    starts: time
    ends: time
    break_minutes: int = 30
    area: Area | None = None
    rides_along: User | None = None


@transaction.atomic
def set_usual_days(*, farrier: User, days: Sequence[DayHours], by: User) -> None:
    """Sets the weekdays on which a farrier drives out; all others are days at home.

    Rounds that are booked already keep their times until they are planned anew.

    Raises:
        Refused: a weekday twice, one that ends before its start, or someone who can't
            ride along on it.
    """
    if len({day.weekday for day in days}) != len(days):
        raise Refused("Each weekday has one row of hours.")
    for day in days:
        if day.ends <= day.starts:
            raise Refused(
                f"{Weekday(day.weekday).label} ends before its start: "
                "give a later end.",
                field=f"ends_{day.weekday}",
            )
    _hold_all()
    for day in days:
        if day.rides_along:
            rows = UsualDay.objects.filter(weekday=day.weekday)
            on = f"on {Weekday(day.weekday).label}s"
            field = f"with_{day.weekday}"
            _check_company(farrier, day.rides_along, rows, on, field)
    before = _shown(farrier)
    UsualDay.objects.filter(farrier=farrier).exclude(
        weekday__in=[day.weekday for day in days]
    ).delete()
    for day in days:
        UsualDay.objects.update_or_create(
            farrier=farrier,
            weekday=day.weekday,
            defaults={
                "starts": day.starts,
                "ends": day.ends,
                "break_minutes": day.break_minutes,
                "area": day.area,
                "rides_along": day.rides_along,
            },
        )
    after = _shown(farrier)
    if after != before:
        note_change(
            by=by, obj=farrier, action="usual days set", before=before, after=after
        )


@transaction.atomic
def set_working_day(
    *,
    farrier: User,
    day: date,
    by: User,
    is_off: bool,
    starts: time | None = None,
    ends: time | None = None,
    break_minutes: int = 30,
    area: Area | None = None,
    note: str = "",
    rides_along: User | None = None,
    rides_alone: bool = False,
) -> WorkingDay:
    """Makes one day otherwise than usual: off, or other hours. Again: changes it.

    Args:
        rides_along: on this day; None: as usual, unless ``rides_alone``.

    Raises:
        Refused: hours missing or out of order on a day that is not off, or someone who
            can't ride along on it.
    """
    if not is_off and (starts is None or ends is None or ends <= starts):
        raise Refused(
            "Give a start and a later end, or mark the day as off.", field="ends"
        )
    _hold_all()
    if not is_off:
        _check_day(farrier, day, rides_along)
    row, _ = WorkingDay.objects.update_or_create(
        farrier=farrier,
        day=day,
        defaults={
            "is_off": is_off,
            "starts": None if is_off else starts,
            "ends": None if is_off else ends,
            "break_minutes": break_minutes,
            "area": None if is_off else area,
            "note": note,
            "rides_along": None if is_off else rides_along,
            "rides_alone": rides_alone and not is_off and rides_along is None,
        },
    )
    note_change(
        by=by,
        obj=farrier,
        action="day set",
        after={
            "day": day.isoformat(),
            "is_off": is_off,
            "area": area.name if area else "",
            "note": note,
            "rides_along": row.rides_along.name if row.rides_along else "",
            "rides_alone": row.rides_alone,
        },
    )
    return row


@transaction.atomic
def clear_working_day(*, farrier: User, day: date, by: User) -> None:
    """Makes the day as usual again; harmless when it is."""
    gone, _ = WorkingDay.objects.filter(farrier=farrier, day=day).delete()
    if gone:
        note_change(
            by=by, obj=farrier, action="day as usual", after={"day": day.isoformat()}
        )


def _hold_all() -> None:
    """Two farriers who name one person at once come one after the other."""
    members = User.objects.filter(role__in=[User.Role.FARRIER, User.Role.APPRENTICE])
    list(members.select_for_update().order_by("pk").values_list("pk"))


def _check_day(farrier: User, day: date, person: User | None) -> None:
    rows = WorkingDay.objects.filter(day=day)
    on = f"on {day:%A} {day.day} {day:%B}"
    other = rows.filter(rides_along=farrier).select_related("farrier").first()
    if other:
        raise Refused(
            f"{farrier.name} rides along with {other.farrier.name} {on}: change that "
            "day first.",
            field="day",
        )
    if person is None:
        return
    _check_company(farrier, person, rows, on, "rides_along")
    if rows.filter(farrier=person, is_off=False).exists():
        raise Refused(
            f"{person.name} has own hours {on}: make that day as usual first.",
            field="rides_along",
        )


def _check_company(
    farrier: User,
    person: User,
    rows: QuerySet[UsualDay] | QuerySet[WorkingDay],
    on: str,
    field: str,
) -> None:
    """``rows``: of all farriers on that weekday, or that day."""
    works = person.role in (User.Role.FARRIER, User.Role.APPRENTICE)
    if person.pk == farrier.pk or not person.is_active or not works:
        raise Refused(
            "Choose an apprentice or another farrier of the practice.", field=field
        )
    for row in rows.filter(rides_along__isnull=False).select_related("farrier"):
        if row.rides_along_id == person.pk and row.farrier_id != farrier.pk:
            raise Refused(
                f"{person.name} rides along with {row.farrier.name} {on} already: "
                "choose another person or day.",
                field=field,
            )
        if row.rides_along_id == farrier.pk:
            raise Refused(
                f"{farrier.name} rides along with {row.farrier.name} {on}, so nobody "
                f"rides along with {farrier.name}.",
                field=field,
            )
        if row.farrier_id == person.pk:
            raise Refused(
                f"{person.name} has somebody riding along {on}: take that back first.",
                field=field,
            )


def _shown(farrier: User) -> dict[str, str]:
    rows = UsualDay.objects.filter(farrier=farrier)
    return {
        row.get_weekday_display(): (
            f"{row.starts:%H:%M}–{row.ends:%H:%M}, break {row.break_minutes}"
            + (f", {row.area}" if row.area else "")
            + (f", with {row.rides_along.name}" if row.rides_along else "")
        )
        for row in rows.select_related("area", "rides_along")
    }
