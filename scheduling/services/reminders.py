"""Reminding owners of due horses: planned by night, made by day, once an occasion.

The night finds who is to be told and queues one job a client for the end of the quiet
hours. The job looks again, so that what was booked, sold or stopped meanwhile is left
out, and writes what it told in the transaction that queues the mail.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, TypedDict, Unpack

from django.conf import settings as django_settings
from django.core import signing
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Client, Message, Practice, User
from practice.services.changes import note_change
from scheduling.models import ClientReminders, Reminder, ReminderSettings
from scheduling.notices import Occasion, is_quiet, next_loud
from scheduling.selectors.reminders import DueClient, Reach, due_clients, reach_of
from scheduling.words import due_mail, due_said

KIND = "reminder"
SIGNED_FOR = "clenchline.reminders"
Channel = ClientReminders.Channel


# ---- By night ----------------------------------------------------------------------
@transaction.atomic
def plan_reminders(*, today: date, now: datetime) -> int:
    """Queues a job for each client that is to be told something today, and puts those
    who are asked by phone on the call list. A second run for the day changes nothing.

    Returns:
        how many clients there are.
    """
    settings = ReminderSettings.objects.the_one()
    if not settings.is_on:
        return 0
    zone = Practice.objects.the_one().zone
    planned = 0
    for one in due_clients(today=today):
        told = one.today(today, near_days=settings.near_days)
        if not told or one.reach.channel == Channel.NONE:
            continue
        planned += 1
        if one.reach.channel == Channel.PHONE:
            keep_told(one, told, today, Channel.PHONE, None)
            continue
        outbox.queue_job(
            kind="remind_client",
            payload={"client": one.client.pk},
            key=f"remind-{one.client.pk}-{today.isoformat()}",
            run_after=next_loud(now, zone=zone, **_hours(one.reach)),
        )
    return planned


def _hours(reach: Reach) -> dict[str, time]:
    return {"quiet_from": reach.quiet_from, "quiet_until": reach.quiet_until}


def plan_job(**_: object) -> None:
    """The outbox's nightly job."""
    practice = Practice.objects.filter(pk=1).first()
    if practice is not None:
        now = timezone.now()
        today = timezone.localdate(now, timezone=practice.zone)
        plan_reminders(today=today, now=now)


def keep_told(
    one: DueClient,
    told: Mapping[int, Occasion],
    today: date,
    channel: str,
    message: Message | None,
) -> None:
    """Keeps what a client was told, or is to be told by phone. Harmless to repeat."""
    spans = {due.key: due.span for due in one.due}
    last = {
        key: horse.due_window.last_visit_day or today  # never none in open_windows
        for key, horse in one.horses.items()
    }
    Reminder.objects.bulk_create(
        [
            Reminder(
                client=one.client,
                horse=one.horses[key],
                last_visit_day=last[key],
                occasion=what,
                day=today,
                channel=channel,
                message=message,
                earliest=spans[key].earliest,
                latest=spans[key].latest,
            )
            for key, what in told.items()
        ],
        ignore_conflicts=True,
    )


# ---- By day ------------------------------------------------------------------------
@transaction.atomic
def remind_client(*, client: Client, now: datetime) -> Message | None:
    """Queues one mail that lists all of a client's horses that are due and not booked,
    and keeps what was told. None where there is nothing to tell any more.

    In the client's quiet hours it is put off to their end.
    """
    # Two of one client wait for each other here: the second finds it told.
    held = Client.objects.select_for_update().get(pk=client.pk)
    practice = Practice.objects.the_one()
    settings = ReminderSettings.objects.the_one()
    today = timezone.localdate(now, timezone=practice.zone)
    found = due_clients(today=today, client=held)
    if not settings.is_on or not found or found[0].reach.channel != Channel.MAIL:
        return None
    one = found[0]
    told = one.today(today, near_days=settings.near_days)
    if not told:
        return None
    at = now.astimezone(practice.zone).time().replace(tzinfo=None)
    if is_quiet(at, **_hours(one.reach)):
        later = next_loud(now, zone=practice.zone, **_hours(one.reach))
        outbox.queue_job(
            kind="remind_client",
            payload={"client": held.pk},
            key=f"remind-{held.pk}-at-{later.isoformat()}",
            run_after=later,
        )
        return None
    message = _mail(one, told, today, practice, settings)
    keep_told(one, told, today, Channel.MAIL, message)
    return message


def remind_client_job(client: int, **_: object) -> None:
    """The outbox's job for one client."""
    found = Client.objects.filter(pk=client).first()
    if found is not None:
        remind_client(client=found, now=timezone.now())


def _mail(
    one: DueClient,
    told: Mapping[int, Occasion],
    today: date,
    practice: Practice,
    settings: ReminderSettings,
) -> Message:
    spans = {due.key: due.span for due in one.due}
    language = practice.language_to(one.client)
    lines = [
        Line(
            one.horses[key].name,
            str(one.horses[key].barn or ""),
            due_said(language, spans[key], today=today),
        )
        for key in sorted(told, key=lambda key: (spans[key].target, key))
    ]
    signs_in = one.client.users.filter(is_active=True).exists()
    site = django_settings.SITE_URL
    stop = site + reverse("scheduling:stop_reminders", args=[token_of(one.client)])
    about: dict[str, Any] = {
        "practice": practice,
        "lines": lines,
        "said": due_mail(
            language,
            name=one.client.name,
            horses=[line.name for line in lines],
            reach=[way for way in (practice.phone, practice.email) if way],
        ),
        "own_words": settings.words.strip(),
        "page": f"{site}{reverse('horses:my_horses')}" if signs_in else "",
        "stop": stop,
    }
    return outbox.queue_mail(
        kind=KIND,
        to=one.client.email,
        client=one.client,
        subject=about["said"]["subject"],
        body=render_to_string("mail/reminder/text.txt", about),
        key=f"reminder-{one.client.pk}-{today.isoformat()}",
        headers=leaving_headers(stop),
    )


def leaving_headers(stop: str) -> dict[str, str]:
    """What lets a mail program show its own way out (RFC 2369), by one press where the
    address is https, as RFC 8058 demands: it posts to it, without cookie or token."""
    headers = {"List-Unsubscribe": f"<{stop}>"}
    if stop.startswith("https://"):
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


@dataclass(frozen=True, slots=True)
class Line:
    """One horse in the mail; ``said`` such as ``due between 3 and 12 March``."""

    name: str
    barn: str
    said: str


# ---- By phone ----------------------------------------------------------------------
@transaction.atomic
def note_call(*, client: Client, by: User, today: date, note: str = "") -> int:
    """Takes a client off the call list. Harmless to repeat.

    Returns:
        how many horses that was for.
    """
    rows = Reminder.objects.visible_to(by).to_call().filter(client=client)
    return rows.update(
        called_at=timezone.now(),
        called_by=by,
        note=note.replace("\0", " ").strip()[:200],
        day=today,
    )


# ---- Settings ----------------------------------------------------------------------
class SettingsValues(TypedDict, total=False):
    """What holds for all clients."""

    is_on: bool
    near_days: int
    quiet_from: time
    quiet_until: time
    words: str


@transaction.atomic
def change_reminder_settings(
    *, by: User | None, **values: Unpack[SettingsValues]
) -> ReminderSettings:
    """Changes what holds for all clients. Saying the same again changes nothing.

    Raises:
        Refused: the second reminder lies out of reach.
    """
    if not 0 <= values.get("near_days", 0) <= 28:
        raise Refused("Give 0 to 28 days.", field="near_days")
    ReminderSettings.objects.get_or_create(pk=1)
    row = ReminderSettings.objects.select_for_update().get(pk=1)
    _change(row, dict(values), by=by, action="change reminders")
    return row


class ClientValues(TypedDict, total=False):
    """How one client is reminded."""

    channel: str
    quiet_from: time | None
    quiet_until: time | None


@transaction.atomic
def change_client_reminders(
    *, client: Client, by: User | None, **values: Unpack[ClientValues]
) -> ClientReminders:
    """Sets how a client is reminded. Choosing e-mail again lifts the client's own stop.

    Raises:
        Refused: an unknown way, or half of the quiet hours.
    """
    if values.get("channel", Channel.MAIL) not in Channel.values:
        raise Refused("Choose e-mail, phone or not at all.", field="channel")
    if (values.get("quiet_from") is None) != (values.get("quiet_until") is None):
        missing = "quiet_from" if values.get("quiet_from") is None else "quiet_until"
        raise Refused("Give both ends of the quiet hours, or none.", field=missing)
    row, _ = ClientReminders.objects.select_for_update().get_or_create(client=client)
    given: dict[str, Any] = dict(values)
    if given.get("channel") and row.stopped_at is not None:
        given["stopped_at"] = None
    _change(row, given, by=by, action="change reminders", of=client)
    return row


def _change(
    row: ReminderSettings | ClientReminders,
    given: dict[str, Any],
    *,
    by: User | None,
    action: str,
    of: Client | None = None,
) -> None:
    changed = [name for name, value in given.items() if getattr(row, name) != value]
    if not changed:
        return
    before = {name: _plain(getattr(row, name)) for name in changed}
    for name in changed:
        setattr(row, name, given[name])
    row.save(update_fields=[*changed, "changed_at"])
    after = {name: _plain(given[name]) for name in changed}
    note_change(by=by, obj=of or row, action=action, before=before, after=after)


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, time | datetime) else value


# ---- Stopped by the client ---------------------------------------------------------
def token_of(client: Client) -> str:
    """What the link to stop reminders carries: signed, so that nobody makes one up."""
    return signing.dumps(client.pk, salt=SIGNED_FOR)


def client_of(token: str) -> Client | None:
    """The active client behind such a link."""
    try:
        pk = signing.loads(token, salt=SIGNED_FOR)
    except signing.BadSignature:
        return None
    return Client.objects.active().filter(pk=pk).first()


def is_stopped(client: Client) -> bool:
    """Whether the client gets no mail of this kind."""
    own = ClientReminders.objects.filter(client=client).first()
    settings = ReminderSettings.objects.the_one()
    return reach_of(client, own, settings).channel != Channel.MAIL


@transaction.atomic
def stop_reminders(*, token: str, stop: bool = True) -> Client:
    """Stops the mails to the client of this link, or lets them come again. Harmless to
    repeat.

    Raises:
        Refused: the link is not whole.
    """
    client = client_of(token)
    if client is None:
        raise Refused("This link is not whole. Copy all of it from the mail.")
    row, _ = ClientReminders.objects.select_for_update().get_or_create(client=client)
    if stop:
        given: dict[str, Any] = {"stopped_at": row.stopped_at or timezone.now()}
    else:
        given = {"stopped_at": None, "channel": Channel.MAIL}
    word = "stop reminders" if stop else "take up reminders"
    _change(row, given, by=None, action=word, of=client)
    return client
