"""Asking owners and barn contacts about a booking, and taking their answers in.

Locks: the booking's round, the booking, then its asks. Whoever answers while the weeks
are proposed anew, moved or called off comes before or after that, never in between.
"""

import hashlib
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from horses.models import Horse, Ownership
from practice import outbox
from practice.errors import Refused
from practice.models import BarnContact, Client, Message, Practice, User
from practice.services.changes import note_change
from scheduling.models import Ask, Away, BookedHorse, Booking
from scheduling.services.bookings import (
    call_off,
    lock_booking,
    replan_round_of,
    reschedule,
)

MAIL_KIND = "ask_day"
LONGEST_AWAY = timedelta(days=366)
OVER = (
    "This booking no longer stands: there is nothing to answer. Thank you all the same."
)


@dataclass(frozen=True, slots=True)
class Party:
    """Someone to ask: an owner of a booked horse, or a contact of the barn."""

    client: Client | None
    contact: User | None
    email: str

    @property
    def name(self) -> str:
        return str(self.client or self.contact)

    @property
    def key(self) -> str:
        """As a form names it."""
        return (
            f"c{self.client.pk}"
            if self.client
            else f"u{self.contact and self.contact.pk}"
        )


def parties_of(booking: Booking) -> list[Party]:
    """Whom a booking concerns: the barn's contacts, then the owners on its day. Two
    queries."""
    contacts = BarnContact.objects.filter(
        barn=booking.barn_id, user__is_active=True
    ).select_related("user")
    owners = (
        Ownership.objects.on(booking.day)
        .filter(horse__in=BookedHorse.objects.filter(booking=booking).values("horse"))
        .select_related("client")
        .order_by("client__name", "client_id")
    )
    found = [Party(None, one.user, one.user.email) for one in contacts]
    clients = {one.client_id: one.client for one in owners}
    return [*found, *(Party(one, None, one.email) for one in clients.values())]


@transaction.atomic
def ask_about(
    *,
    booking: Booking,
    by: User | None,
    only: Iterable[str] | None = None,
) -> list[Ask]:
    """Asks whoever a booking concerns, by e-mail where they have one; the booking is
    asked for then. Whoever was asked about it already is not asked again.

    Args:
        only: keys of ``Party``; None: all of them.

    Returns:
        the asks that were made now.

    Raises:
        Refused: the booking is agreed or over, has no time, or concerns nobody.
    """
    booking = lock_booking(booking)
    if booking.status not in (Booking.Status.PENCILLED, Booking.Status.ASKED):
        raise Refused(
            f"{booking.barn.name} is {booking.get_status_display()}: nothing to ask."
        )
    wanted = None if only is None else set(only)
    everyone = parties_of(booking)
    parties = [one for one in everyone if wanted is None or one.key in wanted]
    if not parties:
        raise Refused(f"{booking.barn.name}: there is nobody to ask. Enter an owner.")
    _tidy_up()
    standing = Ask.objects.filter(booking=booking).standing()
    asked = {(one.client_id, one.contact_id) for one in standing}
    made = [
        _ask(booking, party)
        for party in parties
        if (
            party.client.pk if party.client else None,
            party.contact.pk if party.contact else None,
        )
        not in asked
    ]
    _set_status(booking, Booking.Status.ASKED, by=by)
    return made


def _ask(booking: Booking, party: Party) -> Ask:
    token = secrets.token_urlsafe(32)
    practice = Practice.objects.the_one()
    ask = Ask.objects.create(
        booking=booking,
        client=party.client,
        contact=party.contact,
        email=party.email,
        day=booking.day,
        starts_at=booking.starts_at,
        token_sha256=digest(token),
        expires_at=_end_of(booking.day, practice),
    )
    if party.email:
        words = {
            "ask": ask,
            "name": party.name,
            "booking": booking,
            "horses": horses_of(ask),
            "practice": practice,
            "starts": booking.starts_at
            and timezone.localtime(booking.starts_at, practice.zone),
            "address": settings.SITE_URL + reverse("scheduling:asked", args=[token]),
        }
        outbox.queue_mail(
            kind=MAIL_KIND,
            to=party.email,
            subject=render_to_string("mail/ask_day/subject.txt", words),
            body=render_to_string("mail/ask_day/text.txt", words),
            key=f"ask-{ask.pk}",
            client=party.client,
        )
    return ask


def digest(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def ask_of(token: str) -> Ask | None:
    """The ask behind a link, while it can be answered; None else. One query."""
    return (
        Ask.objects.standing()
        .filter(token_sha256=digest(token), expires_at__gt=timezone.now())
        .select_related("booking__barn", "booking__farrier", "client", "contact")
        .first()
    )


def horses_of(ask: Ask) -> list[Horse]:
    """The booked horses that the asked one may know of: an owner's own, a contact's
    all. One query."""
    horses = Horse.objects.filter(
        pk__in=BookedHorse.objects.filter(booking=ask.booking_id).values("horse")
    ).order_by("name", "pk")
    if ask.client_id is None:
        return list(horses)
    day = ask.booking.day
    return list(
        horses.filter(
            pk__in=Ownership.objects.on(day)
            .filter(client_id=ask.client_id)
            .values("horse")
        )
    )


# --- answers -------------------------------------------------------------------------------


@transaction.atomic
def agree(*, ask: Ask, noted_by: User | None = None) -> Ask:
    """The day suits. Again: the same. The booking is agreed once the barn's contact
    has agreed, or each owner who was asked.

    Raises:
        Refused: the booking no longer stands on that day.
    """
    booking, ask = _held(ask)
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
    Away.objects.filter(ask=ask).delete()
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
    keys = [
        f"c{one.client_id}" if one.client_id else f"u{one.contact_id}" for one in others
    ]
    reschedule(booking=booking, day=day, farrier=farrier, by=by, today=today)
    booking = lock_booking(booking)
    ask = Ask.objects.select_for_update(of=("self",)).get(pk=ask.pk)
    ask.booking, ask.day, ask.starts_at = booking, booking.day, booking.starts_at
    ask.expires_at = _end_of(booking.day, Practice.objects.the_one())
    ask.save(update_fields=["day", "starts_at", "expires_at", "changed_at"])
    _answer(ask, Ask.State.AGREED, by)
    if keys:
        ask_about(booking=booking, by=by, only=keys)
        booking.refresh_from_db()
    else:
        _set_status(booking, Booking.Status.ASKED, by=by)
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
    """Agreed once the barn's contact agrees, or all owners who were asked and are not
    away."""
    if booking.status != Booking.Status.ASKED:
        return
    asks = list(Ask.objects.filter(booking=booking).standing())
    contacts = [one for one in asks if one.contact_id]
    owners = [one for one in asks if one.client_id and one.state != Ask.State.AWAY]
    agreed = Ask.State.AGREED
    if any(one.state == agreed for one in contacts) or (
        owners and all(one.state == agreed for one in owners)
    ):
        _set_status(booking, Booking.Status.AGREED, by=None)


def _set_status(booking: Booking, status: str, *, by: User | None) -> None:
    if booking.status == status:
        return
    before = booking.status
    booking.status, booking.told_at = status, timezone.now()
    booking.save(update_fields=["status", "told_at", "changed_at"])
    note_change(
        by=by,
        obj=booking,
        action="asked" if status == Booking.Status.ASKED else "agreed",
        before={"status": before},
        after={"status": status},
    )


def _end_of(day: date, practice: Practice) -> datetime:
    return datetime.combine(day + timedelta(days=1), time(0), tzinfo=practice.zone)


def _tidy_up() -> None:
    """Blanks the mails of links that have ended, so that no token stays readable."""
    now = timezone.now()
    ended = Ask.objects.filter(
        Q(expires_at__lt=now) | Q(state=Ask.State.WITHDRAWN),
        created_at__gt=now - timedelta(days=120),
    )
    keys = [f"ask-{pk}" for pk in ended.values_list("pk", flat=True)]
    Message.objects.filter(
        key__in=keys, state__in=[Message.State.SENT, Message.State.LET_GO]
    ).exclude(body="").update(body="", changed_at=now)
