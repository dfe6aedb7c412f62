"""Keeping a plan: the one place that writes stops and the times of bookings."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Prefetch
from django.utils import timezone

from practice.models import Practice
from scheduling.models import BookedHorse, Booking, Round, Stop
from scheduling.selectors.asks import agreed_starts
from scheduling.selectors.plans import Outlook, Wish, look_ahead
from scheduling.selectors.underway import as_it_goes


def replan(
    round_: Round, *, keep_order: bool = False, by_hand: bool | None = None
) -> Round | None:
    """Plans the round anew from its bookings and stores order and times, in the
    caller's transaction.

    What is attended keeps its place in front; what was tapped on the day, and how late
    it is said to run, is heeded. ``keep_order``: the order of the stops stays (new ones
    come last). ``by_hand``: whether it counts as set by hand, if otherwise than kept. A
    round without bookings is taken away: None.
    """
    bookings = _bookings(round_)
    if not bookings:
        round_.delete()
        return None
    practice = Practice.objects.the_one()
    agreed = agreed_starts(bookings, practice.zone)
    wishes = [_wish(booking, agreed.get(booking.pk)) for booking in bookings]
    outlook = look_ahead(
        practice=practice,
        farrier=round_.farrier,
        day=round_.day,
        wishes=wishes,
        keep_order=keep_order,
    )
    outlook = as_it_goes(outlook, round_, bookings, practice.zone)
    hand = keep_order if by_hand is None else by_hand
    _store_round(round_, outlook, by_hand=hand)
    by_barn = {str(booking.barn_id): booking for booking in bookings}
    Stop.objects.filter(round=round_).delete()
    Stop.objects.bulk_create(
        Stop(
            round=round_,
            booking=by_barn[row.stop.key],
            position=row.number,
            drive_minutes=row.stop.drive_minutes,
            drive_metres=row.stop.drive_metres,
            arrive=row.stop.arrive,
            start=row.stop.start,
            end=row.stop.end,
            wait_minutes=row.stop.wait_minutes,
        )
        for row in outlook.stops
    )
    for row in outlook.stops:
        _store_times(by_barn[row.stop.key], row.stop.start, row.stop.end, practice.zone)
    return round_


def at_minute(day: date, minute: int, zone: ZoneInfo) -> datetime:
    """That minute of the day by the clock on the wall (after midnight: the next day),
    in UTC. In the hour that a change to summer time leaves out, the moment of the
    change.
    """
    days, rest = divmod(minute, 24 * 60)
    clock = time(rest // 60, rest % 60)
    local = datetime.combine(day + timedelta(days=days), clock, tzinfo=zone)
    before, after = (local.replace(fold=fold).utcoffset() for fold in (0, 1))
    assert before is not None
    assert after is not None
    if before < after:  # PEP 495: such a clock is never shown
        moment = local.replace(fold=1).astimezone(UTC)
        return _change_after(moment, zone)
    return local.astimezone(UTC)


def _change_after(moment: datetime, zone: ZoneInfo) -> datetime:
    """The first minute after ``moment`` at which the zone's offset is another."""
    offset = moment.astimezone(zone).utcoffset()
    while moment.astimezone(zone).utcoffset() == offset:
        moment += timedelta(minutes=1)
    return moment


def _bookings(round_: Round) -> list[Booking]:
    """In the order of the stops as they are; new ones last."""
    horses = BookedHorse.objects.select_related("horse__usual_work")
    rows = (
        Booking.objects.filter(farrier=round_.farrier_id, day=round_.day)
        .exclude(status=Booking.Status.CALLED_OFF)
        .select_related("barn", "stop", "actual")
        .prefetch_related("barn__access_hours", Prefetch("booked", queryset=horses))
    )
    return sorted(rows, key=_place)


def _place(booking: Booking) -> tuple[int, str]:
    stop = getattr(booking, "stop", None)
    return (stop.position if stop else 10_000, str(booking.pk))


def _wish(booking: Booking, agreed_at: int | None) -> Wish:
    actual = getattr(booking, "actual", None)
    return Wish(
        barn=booking.barn,
        horses=tuple(row.horse for row in booking.booked.all()),
        typed_minutes=booking.typed_minutes,
        attended=booking.is_attended or bool(actual and actual.arrived_at),
        agreed_at=agreed_at,
    )


def _store_round(round_: Round, outlook: Outlook, *, by_hand: bool) -> None:
    plan, hours = outlook.plan, outlook.hours
    fields = {
        "starts": hours.starts,
        "ends": hours.ends,
        "break_minutes": hours.break_minutes,
        "by_hand": by_hand,
        "leave": plan.leave,
        "home_at": plan.home_at,
        "home_minutes": plan.home_minutes,
        "home_metres": plan.home_metres,
        "break_start": plan.break_start,
        "drive_minutes": plan.drive_minutes,
        "work_minutes": plan.work_minutes,
        "wait_minutes": plan.wait_minutes,
        "broken": [
            {"kind": one.kind, "barn": one.key, "sentence": one.sentence}
            for one in outlook.warnings
        ],
    }
    for name, value in fields.items():
        setattr(round_, name, value)
    round_.save(update_fields=[*fields, "changed_at"])


def _store_times(booking: Booking, start: int, end: int, zone: ZoneInfo) -> None:
    """What has changed for whoever reads the calendar gets a new sequence number."""
    starts_at = at_minute(booking.day, start, zone)
    ends_at = at_minute(booking.day, end, zone)
    if booking.is_attended or (booking.starts_at, booking.ends_at) == (
        starts_at,
        ends_at,
    ):
        return
    if booking.starts_at is not None:
        booking.sequence += 1
    booking.starts_at, booking.ends_at = starts_at, ends_at
    booking.told_at = timezone.now()
    booking.save(
        update_fields=["starts_at", "ends_at", "sequence", "told_at", "changed_at"]
    )
