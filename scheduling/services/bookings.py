"""What becomes of a booking: changed, attended, called off."""

from collections.abc import Sequence
from datetime import date, datetime, time

from django.db import transaction
from django.utils import timezone

from horses.models import Horse, Visit
from horses.services.visits import open_visit, record_no_show
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change
from scheduling.models import BookedHorse, Booking, Round, Stop
from scheduling.selectors.underway import driven_minutes, shared_road
from scheduling.services.ask_links import withdraw_asks
from scheduling.services.plans import replan
from scheduling.services.rounds import (
    add_horses,
    check_free,
    check_place,
    hold,
    locked_round,
)

MOVED = "Someone moved this booking meanwhile. Load the page anew."


@transaction.atomic
def change_booking(
    *,
    booking: Booking,
    status: str,
    horses: Sequence[Horse],
    note: str,
    typed_minutes: int | None,
    by: User,
) -> Booking:
    """Changes an open booking and times its round anew.

    Raises:
        Refused: it is attended or called off, or would be left without a horse.
    """
    booking = lock_booking(booking)
    if not booking.is_open:
        raise Refused(
            f"This booking is {booking.get_status_display()} and no longer changes."
        )
    if status not in Booking.OPEN:
        raise Refused("Choose pencilled, asked or agreed.", field="status")
    if not horses:
        raise Refused(
            "A booking needs a horse. Call it off if none is to be attended.",
            field="horse",
        )
    hold(horse.pk for horse in horses)
    check_free(horses, booking.barn, but=booking.pk)
    before = _told(booking)
    booking.status, booking.note = status, note
    booking.typed_minutes = typed_minutes
    booking.told_at = timezone.now()
    booking.save(
        update_fields=["status", "note", "typed_minutes", "told_at", "changed_at"]
    )
    BookedHorse.objects.filter(booking=booking).exclude(horse__in=horses).delete()
    add_horses(booking, horses)
    after = _told(booking)
    if after != before:
        note_change(by=by, obj=booking, action="changed", before=before, after=after)
    replan_round_of(booking)
    return booking


@transaction.atomic
def reschedule(
    *, booking: Booking, day: date, farrier: User, by: User, today: date
) -> Round:
    """Moves an open booking to another day or farrier; both rounds are timed anew.

    What was asked about the old day is taken back, and an asked booking is pencilled
    again.

    Returns:
        the round that it lies in now. Again: the same.

    Raises:
        Refused: it is attended or called off, the day is over or years ahead, or the
            barn is booked there already.
    """
    check_place(farrier, day, today)
    seen = Booking.objects.select_related("farrier").get(pk=booking.pk)
    here, there = (seen.farrier, seen.day), (farrier, day)
    rounds = {
        place: locked_round(*place) for place in sorted({here, there}, key=_by_day)
    }
    booking = _held(booking)
    if not booking.is_open:
        raise Refused(
            f"This booking is {booking.get_status_display()} and no longer changes."
        )
    if (booking.farrier, booking.day) not in {here, there}:
        raise Refused(MOVED)
    here = (booking.farrier, booking.day)
    if here == there:
        return rounds[there]
    _check_barn_is_free(booking, farrier, day)
    before = {"day": booking.day.isoformat(), "farrier": booking.farrier.name}
    Stop.objects.filter(booking=booking).delete()
    booking.farrier, booking.day = farrier, day
    if withdraw_asks(booking=booking) and booking.status == Booking.Status.ASKED:
        # Nobody has been asked about the new day.
        booking.status = Booking.Status.PENCILLED
    booking.save(update_fields=["farrier", "day", "status", "changed_at"])
    after = {"day": day.isoformat(), "farrier": farrier.name}
    note_change(by=by, obj=booking, action="moved", before=before, after=after)
    for place in (here, there):
        replan(rounds[place], keep_order=rounds[place].by_hand)
    return rounds[there]


def _by_day(place: tuple[User, date]) -> tuple[date, int]:
    """One order of locking for all, so that two moves never wait for each other."""
    return place[1], place[0].pk


def _check_barn_is_free(booking: Booking, farrier: User, day: date) -> None:
    taken = Booking.objects.filter(barn=booking.barn, farrier=farrier, day=day)
    if taken.exclude(status=Booking.Status.CALLED_OFF).exists():
        raise Refused(
            f"{booking.barn.name} is booked with {farrier.name} on that day already: "
            "add the horses to that booking instead.",
            field="day",
        )


@transaction.atomic
def attend(*, booking: Booking, by: User, today: date) -> Visit:
    """Opens the visit of a stop. Again: the same visit.

    The visit keeps the road to it, which billing will want: as driven where that was
    tapped, else as planned; and the whole round's, with the number of its barns.

    Raises:
        Refused: it is called off, lies in the future or has no horse.
    """
    booking = lock_booking(booking)
    if booking.visit:
        return booking.visit
    if not booking.is_open:
        raise Refused("This stop is called off. Book it anew to attend it.")
    if booking.day > today:
        raise Refused(
            f"This stop is on {booking.day:%A} {booking.day.day} {booking.day:%B}: "
            "start it on its day."
        )
    stop = Stop.objects.filter(booking=booking).select_related("round").first()
    driven = driven_minutes(booking)
    planned = stop.drive_minutes if stop else booking.typed_minutes
    visit = open_visit(
        key=booking.pk,
        barn=booking.barn,
        farrier=booking.farrier,
        day=booking.day,
        horses=_horses(booking),
        by=by,
        travel_minutes=planned if driven is None else driven,
        travel_metres=stop.drive_metres if stop else None,
        **(shared_road(stop.round) if stop else {}),
        start_time=_time_told(booking),
    )
    booking.status = Booking.Status.ATTENDED
    booking.visit = visit
    booking.told_at = timezone.now()
    booking.save(update_fields=["status", "visit", "told_at", "changed_at"])
    note_change(by=by, obj=booking, action="attended", after={"visit": str(visit.pk)})
    return visit


@transaction.atomic
def call_off(
    *,
    booking: Booking,
    by: User | None,
    reason: str = "",
    kind: str = "",
) -> Round | None:
    """Calls a booking off; its horses are due again and the round closes up.

    Args:
        kind: '' in good time; ``Visit.Kind.LATE_CALL_OFF`` or ``Visit.Kind.NO_SHOW``
            leaves a visit of that kind, so that billing sees it.

    Returns:
        the round, or None when nothing of it is left. Again: harmless.

    Raises:
        Refused: it is attended already.
    """
    booking = lock_booking(booking)
    if booking.is_attended:
        raise Refused("This stop is attended already and can't be called off.")
    if not booking.is_open:
        return _round_of(booking)
    before = _told(booking)
    booking.status, booking.reason = Booking.Status.CALLED_OFF, reason
    booking.sequence += 1
    booking.told_at = timezone.now()
    booking.save(
        update_fields=["status", "reason", "sequence", "told_at", "changed_at"]
    )
    if kind:
        record_no_show(
            key=booking.pk,
            barn=booking.barn,
            farrier=booking.farrier,
            day=booking.day,
            horses=_horses(booking),
            kind=kind,
            by=by,
            notice_minutes=_notice_minutes(booking, timezone.now()),
            start_time=_time_told(booking),
        )
    note_change(
        by=by,
        obj=booking,
        action="called off",
        before=before,
        after={"kind": kind},
        reason=reason,
    )
    withdraw_asks(booking=booking)
    Stop.objects.filter(booking=booking).delete()
    return replan_round_of(booking)


def _time_told(booking: Booking) -> time | None:
    """The time of day for which the booking was planned, which billing may ask."""
    if booking.starts_at is None:
        return None
    zone = Practice.objects.the_one().zone
    return timezone.localtime(booking.starts_at, zone).time()


def _notice_minutes(booking: Booking, now: datetime) -> int | None:
    """How long before its start it is called off; 0 from then on."""
    if booking.starts_at is None:
        return None
    return max(0, int((booking.starts_at - now).total_seconds() // 60))


def lock_booking(booking: Booking) -> Booking:
    """The booking as it stands, held to the transaction's end, its round first.

    Whoever waited for the round may find the booking moved away meanwhile: then both
    are let go and the round that it lies in now comes first, or two would end in a
    deadlock, one with the round, one with the booking.
    """
    while True:
        place = Booking.objects.values_list("farrier", "day").get(pk=booking.pk)
        mark = transaction.savepoint()
        # Unordered: the usual order joins the farrier, who would be locked as well.
        list(
            Round.objects.select_for_update()
            .filter(farrier=place[0], day=place[1])
            .order_by()
            .values_list("pk")
        )
        held = _held(booking)
        if (held.farrier_id, held.day) == place:
            transaction.savepoint_commit(mark)
            return held
        transaction.savepoint_rollback(mark)


def _held(booking: Booking) -> Booking:
    """The booking's row, held alone, for one who holds its rounds already.

    The visit is not joined: PostgreSQL reads a joined row as it was before the wait
    for the lock, so a visit opened meanwhile would be missed.
    """
    return (
        Booking.objects.select_for_update(of=("self",))
        .select_related("barn", "farrier")
        .get(pk=booking.pk)
    )


def _horses(booking: Booking) -> list[Horse]:
    rows = BookedHorse.objects.filter(booking=booking).select_related("horse")
    return [row.horse for row in rows]


def _told(booking: Booking) -> dict[str, object]:
    return {
        "status": booking.status,
        "note": booking.note,
        "typed_minutes": booking.typed_minutes,
        "horses": [horse.name for horse in _horses(booking)],
    }


def _round_of(booking: Booking) -> Round | None:
    return (
        Round.objects.select_for_update(of=("self",))
        .select_related("farrier")
        .filter(farrier=booking.farrier, day=booking.day)
        .first()
    )


def replan_round_of(booking: Booking) -> Round | None:
    """Times the round of a booking anew, in the caller's transaction."""
    round_ = _round_of(booking)
    return replan(round_, keep_order=round_.by_hand) if round_ else None
