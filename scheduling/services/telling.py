"""Telling those whom a new time concerns: by e-mail, or by phone with a tick.

Each new time is told to each of them once, and it is kept who was told what, how and by
whom. The round is locked first, as everywhere.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Client, Practice, User
from practice.services.changes import note_change
from scheduling.models import ClientReminders, Round, StopActual, TimeTold
from scheduling.selectors.underway import Moved, is_news, moved
from scheduling.services.asks import Party, parties_of
from scheduling.services.rounds import locked_round
from scheduling.words import late_mail

MAIL_KIND = "running_late"


@dataclass(frozen=True, slots=True)
class News:
    """A new time for one of those whom it concerns. ``moved.told`` is the start that
    this one knows; ``row`` how they were told last, None if not yet."""

    moved: Moved
    party: Party
    prefers_phone: bool
    row: TimeTold | None

    @property
    def is_told(self) -> bool:
        """Whether they know the new time, or near enough."""
        return not is_news(self.moved.told, self.moved.starts)

    @property
    def is_mailed(self) -> bool:
        """Whether it goes to them by e-mail; by phone else."""
        return bool(self.party.email) and not self.prefers_phone


def news_of(one: Moved) -> list[News]:
    """Whom a stop's new time concerns, and what each of them knows. Four queries."""
    parties = parties_of(one.booking)
    clients = [party.client.pk for party in parties if party.client]
    by_phone = set(
        ClientReminders.objects.filter(
            client__in=clients, channel=ClientReminders.Channel.PHONE
        ).values_list("client_id", flat=True)
    )
    rows = TimeTold.objects.filter(booking=one.booking).select_related("told_by")
    told = {(row.client_id, row.contact_id): row for row in rows}  # the last of each
    found = []
    for party in parties:
        row = told.get(_ids(party))
        knows = row.starts if row else one.told
        prefers = bool(party.client and party.client.pk in by_phone)
        found.append(News(replace(one, told=knows), party, prefers, row))
    return found


@transaction.atomic
def tell_late(*, round_: Round, only: set[str], by: User) -> int:
    """Mails those whom the new times concern and who don't prefer the phone, once for
    each new time.

    Args:
        only: keys of the bookings to tell about.

    Returns:
        how many messages were queued.
    """
    round_ = locked_round(round_.farrier, round_.day)
    practice = Practice.objects.the_one()
    queued = 0
    for one in moved(round_):
        if str(one.booking.pk) in only:
            waiting = [row for row in news_of(one) if not row.is_told]
            mailed = [row for row in waiting if row.is_mailed]
            queued += _mail(mailed, practice, by)
            if mailed == waiting:
                _settle(one)
    return queued


@transaction.atomic
def told_by_phone(
    *, round_: Round, booking: str, party: str, starts: datetime, by: User
) -> bool:
    """Notes that someone was told by phone, or by a text message. Again: harmless.

    Args:
        booking, party: their keys, as ``News`` has them.
        starts: the start that was on the page, and so was told.

    Returns:
        whether it was noted now.

    Raises:
        Refused: that stop or person is not on the list any more, or it is no time of
            that day.
    """
    round_ = locked_round(round_.farrier, round_.day)
    if abs((starts.date() - round_.day).days) > 1:
        raise Refused("Load the page anew: this is no time of that day.")
    if _was_told(round_, booking, party, starts):
        return False
    one = next((m for m in moved(round_) if str(m.booking.pk) == booking), None)
    news = news_of(one) if one else []
    row = next((row for row in news if row.party.key == party), None)
    if one is None or row is None:
        raise Refused("They know the time already, or the stop has gone.")
    _keep(row, TimeTold.Way.PHONE, by, starts)
    if all(other.is_told for other in news_of(one)):
        _settle(one)
    return True


def _was_told(round_: Round, booking: str, party: str, starts: datetime) -> bool:
    """Whether that start was the last that they were told."""
    rows = TimeTold.objects.filter(booking__stop__round=round_)
    told = {(str(one.booking_id), _key(one)): one.starts for one in rows}
    return told.get((booking, party)) == starts


def _mail(news: Iterable[News], practice: Practice, by: User) -> int:
    """Queues a mail for each address, once."""
    sent = set()
    for row in news:
        party, booking = row.party, row.moved.booking
        if party.email not in sent:
            words = draft_words(row.moved, party.name, practice, party.client)
            outbox.queue_mail(
                kind=MAIL_KIND,
                to=party.email,
                subject=words["said"]["subject"],
                body=draft(words),
                key=f"late-{booking.pk}-{booking.sequence}-{party.key}",
                client=party.client,
            )
        sent.add(party.email)
        _keep(row, TimeTold.Way.MAIL, by, row.moved.starts)
    return len(sent)


def _keep(row: News, way: TimeTold.Way, by: User, starts: datetime) -> None:
    """Keeps that they were told."""
    client, contact = _ids(row.party)
    TimeTold.objects.create(
        booking=row.moved.booking,
        client_id=client,
        contact_id=contact,
        starts=starts,
        way=way,
        told_by=by,
    )
    note_change(
        by=by,
        obj=row.moved.booking,
        action="told of the new time",
        after={
            "who": row.party.name,
            "starts": starts.isoformat(),
            "how": way.label,
        },
    )


def _settle(one: Moved) -> None:
    """Everyone knows the new time: it is the one that the next is compared with."""
    StopActual.objects.filter(booking=one.booking).update(
        told_start=one.starts, changed_at=timezone.now()
    )


def _ids(party: Party) -> tuple[int | None, int | None]:
    """Client and contact, as rows name them."""
    return (
        party.client.pk if party.client else None,
        party.contact.pk if party.contact else None,
    )


def _key(row: TimeTold) -> str:
    """Whom a row speaks of, as ``Party.key`` has it."""
    return f"c{row.client_id}" if row.client_id else f"u{row.contact_id}"


def draft(words: dict[str, Any]) -> str:
    """The message's text."""
    return render_to_string("mail/running_late/text.txt", words)


def draft_words(
    one: Moved, name: str, practice: Practice, client: Client | None = None
) -> dict[str, Any]:
    """What the message says, in the client's language, others in the practice's:
    ``said`` as ``words.late_mail`` has it, and the times told and new."""
    told = timezone.localtime(one.told, practice.zone)
    starts = timezone.localtime(one.starts, practice.zone)
    return {
        "practice": practice,
        "told": told,
        "starts": starts,
        "said": late_mail(
            practice.language_to(client),
            name=name,
            practice=practice.name,
            phone=practice.phone,
            farrier=one.booking.farrier.name,
            barn=one.booking.barn.name,
            starts=f"{starts:%H:%M}",
            told=f"{told:%H:%M}",
            is_late=one.minutes > 0,
        ),
    }
