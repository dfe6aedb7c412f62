"""Asking owners and barn contacts about a booking.

Their answers: ``scheduling.services.answers``.
"""

import hashlib
import secrets
from collections.abc import Iterable
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
from scheduling.models import Ask, BookedHorse, Booking
from scheduling.services.bookings import (
    lock_booking,
)
from scheduling.words import ask_mail

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
    def phone(self) -> str:
        """As typed; empty without one."""
        person = self.client or self.contact
        return person.phone if person else ""

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
    set_status(booking, Booking.Status.ASKED, by=by)
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
        expires_at=end_of(booking.day, practice),
    )
    if party.email:
        starts = booking.starts_at
        said = ask_mail(
            practice.language_to(party.client),
            name=party.name,
            practice=practice.name,
            farrier=booking.farrier.name,
            barn=booking.barn.name,
            day=booking.day,
            time=f"{timezone.localtime(starts, practice.zone):%H:%M}" if starts else "",
            horses=[horse.name for horse in horses_of(ask)],
        )
        address = settings.SITE_URL + reverse("scheduling:asked", args=[token])
        about = {"practice": practice, "said": said, "address": address}
        outbox.queue_mail(
            kind=MAIL_KIND,
            to=party.email,
            subject=said["subject"],
            body=render_to_string("mail/ask_day/text.txt", about),
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
    return owned_in(booking=ask.booking, client=ask.client_id)


def owned_in(*, booking: Booking, client: int) -> list[Horse]:
    """The booked horses that are this client's on the booking's day. One query."""
    held = BookedHorse.objects.filter(booking=booking)
    owned = Ownership.objects.on(booking.day).filter(client_id=client)
    return list(
        Horse.objects.filter(pk__in=held.values("horse"), ownerships__in=owned)
        .distinct()
        .order_by("name", "pk")
    )


def set_status(booking: Booking, status: str, *, by: User | None) -> None:
    """Pencilled, asked or agreed, with its line in the audit trail."""
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


def end_of(day: date, practice: Practice) -> datetime:
    """When a link about that day ends: at its midnight."""
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
