"""What owners and barn contacts answer, taken in.

Locks: the booking's round, the booking, then its asks. Whoever answers while the weeks
are proposed anew, moved or called off comes before or after that, never in between.
"""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from horses.models import Horse
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.changes import note_change
from scheduling.models import Ask, Away, BookedHorse, Booking
from scheduling.services.asks import (
    ask_about,
    end_of,
    horses_of,
    parties_of,
    set_status,
)
from scheduling.services.bookings import (
    call_off,
    lock_booking,
    replan_round_of,
    reschedule,
)

LONGEST_AWAY = timedelta(days=366)
OVER = (
    "This booking no longer stands: there is nothing to answer. Thank you all the same."
)


@transaction.atomic
def agree(*, ask: Ask, noted_by: User | None = None) -> Ask:
    """The day suits. Again: the same. The booking is agreed once the barn's contact
    has agreed, or each owner who was asked.

    Raises:
        Refused: the booking no longer stands on that day, or this one is away on it.
    """
    booking, ask = _held(ask)
    _check_not_away(ask)
    if ask.state != Ask.State.AGREED:
        _answer(ask, Ask.State.AGREED, noted_by)
    _settle(booking)
    return ask


@transaction.atomic
def wish_other_day(
    *,
    ask: Ask,
    wishes: Sequence[dict[str, object]],
    note: str = "",
    noted_by: User | None = None,
) -> Ask:
    """Another day would suit better. The booking stays until the practice moves it.

    Raises:
        Refused: the booking no longer stands on that day, or is agreed by now.
    """
    booking, ask = _held(ask)
    _check_not_away(ask)
    _check_not_agreed(booking)
    if not wishes and not note:
        raise Refused("Choose a day, or say which would suit.", field="wish")
    _answer(
        ask, Ask.State.OTHER_DAY, noted_by, wishes=list(wishes), note=note, until=None
    )
    return ask


@transaction.atomic
def away(
    *,
    ask: Ask,
    until: date,
    today: date,
    note: str = "",
    noted_by: User | None = None,
) -> Ask:
    """Away up to and with a day: the horses leave the booking, and are proposed for no
    day before that one is over. The booking is called off when none is left.

    Raises:
        Refused: the booking no longer stands on that day, is agreed by now, or the day
            is before it or more than a year ahead.
    """
    booking, ask = _held(ask)
    _check_not_agreed(booking)
    if ask.state == Ask.State.AWAY and ask.away_until == until:
        return ask
    if until < booking.day:
        raise Refused(
            f"Give {booking.day.day} {booking.day:%B} or a later day.", field="until"
        )
    if until > today + LONGEST_AWAY:
        raise Refused("Give a day within a year.", field="until")
    horses = horses_of(ask)
    _answer(ask, Ask.State.AWAY, noted_by, wishes=[], note=note, until=until)
    # Away for longer than was said at first: those horses have left the booking already.
    Away.objects.filter(ask=ask).update(until=until)
    Away.objects.bulk_create(Away(horse=one, until=until, ask=ask) for one in horses)
    BookedHorse.objects.filter(booking=booking, horse__in=horses).delete()
    if BookedHorse.objects.filter(booking=booking).exists():
        replan_round_of(booking)
        _settle(booking)
    else:
        call_off(booking=booking, by=noted_by, reason=f"{ask.who} is away")
    return ask


@transaction.atomic
def take_wish(*, ask: Ask, day: date, farrier: User, by: User, today: date) -> Booking:
    """Moves the booking to a day that the asked one wished: agreed by that one, asked
    anew of the others.

    Raises:
        Refused: the booking can't be moved there.
    """
    booking = Booking.objects.select_related("barn", "farrier").get(pk=ask.booking_id)
    others = Ask.objects.filter(booking=booking).standing().exclude(pk=ask.pk)
    asked = {
        f"c{one.client_id}" if one.client_id else f"u{one.contact_id}" for one in others
    }
    # Who has no horse in it any more, being away, is not asked about the new day.
    keys = asked & {party.key for party in parties_of(booking)}
    reschedule(booking=booking, day=day, farrier=farrier, by=by, today=today)
    booking = lock_booking(booking)
    ask = Ask.objects.select_for_update(of=("self",)).get(pk=ask.pk)
    ask.booking, ask.day, ask.starts_at = booking, booking.day, booking.starts_at
    ask.expires_at = end_of(booking.day, Practice.objects.the_one())
    ask.save(update_fields=["day", "starts_at", "expires_at", "changed_at"])
    _answer(ask, Ask.State.AGREED, by)
    if keys:
        ask_about(booking=booking, by=by, only=keys)
        booking.refresh_from_db()
    else:
        set_status(booking, Booking.Status.ASKED, by=by)
    _settle(booking)
    return booking


@transaction.atomic
def call_off_own(
    *, ask: Ask, reason: str = "", noted_by: User | None = None
) -> Booking:
    """Whoever was asked calls the own horses off, agreed or not: they leave the booking,
    which is called off when none is left.

    Raises:
        Refused: the booking no longer stands.
    """
    booking, ask = _held(ask)
    horses = horses_of(ask)
    _answer(ask, Ask.State.OTHER_DAY, noted_by, wishes=[], note=reason or "called off")
    return take_horses_off(
        booking=booking, horses=horses, reason=f"{ask.who}: {reason}", by=noted_by
    )


@transaction.atomic
def take_horses_off(
    *, booking: Booking, horses: Sequence[Horse], reason: str, by: User | None
) -> Booking:
    """Takes horses out of an open booking; without any left it is called off.

    Raises:
        Refused: the booking is attended or called off.
    """
    booking = lock_booking(booking)
    if not booking.is_open:
        raise Refused(OVER)
    held = BookedHorse.objects.filter(booking=booking)
    if not held.exclude(horse__in=horses).exists():
        call_off(booking=booking, by=by, reason=reason[:300])
        booking.refresh_from_db()
        return booking
    names = [horse.name for horse in horses]
    if held.filter(horse__in=horses).delete()[0]:
        note_change(
            by=by,
            obj=booking,
            action="horses taken off",
            before={"horses": names},
            reason=reason[:300],
        )
    replan_round_of(booking)
    _settle(booking)
    return booking


def _held(ask: Ask) -> tuple[Booking, Ask]:
    """Booking and ask, locked in this order; refused where nothing can be answered."""
    booking = lock_booking(Booking(pk=ask.booking_id))
    ask = Ask.objects.select_for_update(of=("self",)).get(pk=ask.pk)
    ask.booking = booking
    stands = booking.is_open and booking.day == ask.day
    if not stands or ask.state == Ask.State.WITHDRAWN:
        raise Refused(OVER)
    return booking, ask


def _check_not_away(ask: Ask) -> None:
    if ask.state == Ask.State.AWAY:
        raise Refused(
            "You are noted as away on this day. If that has changed, please telephone."
        )


def _check_not_agreed(booking: Booking) -> None:
    if booking.status == Booking.Status.AGREED:
        raise Refused(
            "This day is agreed by now. If it no longer suits, call it off below, or "
            "telephone."
        )


def _answer(
    ask: Ask,
    state: str,
    noted_by: User | None,
    *,
    wishes: list[dict[str, object]] | None = None,
    note: str = "",
    until: date | None = None,
) -> None:
    before = ask.state
    ask.state, ask.answered_at, ask.noted_by = state, timezone.now(), noted_by
    ask.wishes, ask.note, ask.away_until = wishes or [], note[:300], until
    ask.save(
        update_fields=[
            *("state", "answered_at", "noted_by", "wishes", "note", "away_until"),
            "changed_at",
        ]
    )
    note_change(
        by=noted_by,
        obj=ask.booking,
        action="answered",
        before={"state": before},
        after={"who": ask.who, "state": state, "note": note[:300]},
    )


def _settle(booking: Booking) -> None:
    """Agreed once the barn's contact agrees, or all owners who were asked, are not away
    and still have a horse in it."""
    if booking.status != Booking.Status.ASKED:
        return
    asks = list(Ask.objects.filter(booking=booking).standing())
    contacts = [one for one in asks if one.contact_id]
    held = {party.client.pk for party in parties_of(booking) if party.client}
    owners = [
        one for one in asks if one.client_id in held and one.state != Ask.State.AWAY
    ]
    agreed = Ask.State.AGREED
    if any(one.state == agreed for one in contacts) or (
        owners and all(one.state == agreed for one in owners)
    ):
        set_status(booking, Booking.Status.AGREED, by=None)
