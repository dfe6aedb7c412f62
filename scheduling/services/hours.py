"""The hours of a farrier: usual days, and days that are otherwise."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time

from django.db import transaction

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


@transaction.atomic
def set_usual_days(*, farrier: User, days: Sequence[DayHours], by: User) -> None:
    """Sets the weekdays on which a farrier drives out; all others are days at home.

    Rounds that are booked already keep their times until they are planned anew.

    Raises:
        Refused: a weekday twice, or one that ends before its start.
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
) -> WorkingDay:
    """Makes one day otherwise than usual: off, or other hours. Again: changes it.

    Raises:
        Refused: hours missing or out of order on a day that is not off.
    """
    if not is_off and (starts is None or ends is None or ends <= starts):
        raise Refused(
            "Give a start and a later end, or mark the day as off.", field="ends"
        )
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


def _shown(farrier: User) -> dict[str, str]:
    return {
        row.get_weekday_display(): (
            f"{row.starts:%H:%M}–{row.ends:%H:%M}, break {row.break_minutes}"
            + (f", {row.area}" if row.area else "")
        )
        for row in UsualDay.objects.filter(farrier=farrier).select_related("area")
    }
