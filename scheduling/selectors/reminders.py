"""Who is to be reminded of which horses: today, in the days ahead, and who was."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, time, timedelta

from django.db.models import Exists, OuterRef, QuerySet

from horses.models import DueWindow, Horse, Ownership
from practice.models import Client, Message, User
from scheduling.models import (
    Away,
    BookedHorse,
    Booking,
    ClientReminders,
    Reminder,
    ReminderSettings,
)
from scheduling.notices import (
    GATHER_DAYS,
    TOO_LATE_DAYS,
    Due,
    Occasion,
    Span,
    Told,
    told_ahead,
    told_on,
)

Channel = ClientReminders.Channel


@dataclass(frozen=True, slots=True)
class Reach:
    """How a client is reached. ``why_not``: a word where nothing can be sent."""

    channel: str
    quiet_from: time
    quiet_until: time
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class DueClient:
    """A client with own horses whose window is open, or opens within the days asked."""

    client: Client
    reach: Reach
    horses: dict[int, Horse]
    due: tuple[Due, ...]

    def today(self, day: date, *, near_days: int) -> dict[int, Occasion]:
        """What the client is told on the day, by horse."""
        return told_on(day, self.due, near_days=near_days)


def reach_of(
    client: Client, own: ClientReminders | None, settings: ReminderSettings
) -> Reach:
    """By what way and in which hours: the client's own, else the practice's. Without an
    e-mail address the client is asked by phone."""
    quiet_from, quiet_until = settings.quiet_from, settings.quiet_until
    if own is not None and own.quiet_from is not None and own.quiet_until is not None:
        quiet_from, quiet_until = own.quiet_from, own.quiet_until
    channel = own.channel if own is not None else Channel.MAIL
    if channel == Channel.NONE:
        return Reach(Channel.NONE, quiet_from, quiet_until, "not wanted")
    if channel == Channel.MAIL and own is not None and own.stopped_at is not None:
        return Reach(Channel.NONE, quiet_from, quiet_until, "stopped by the client")
    if channel == Channel.MAIL and not client.email:
        channel = Channel.PHONE
    if channel == Channel.PHONE and not client.phone:
        return Reach(Channel.NONE, quiet_from, quiet_until, "no e-mail and no phone")
    return Reach(channel, quiet_from, quiet_until)


def open_windows(*, today: date, ahead_days: int = GATHER_DAYS) -> QuerySet[DueWindow]:
    """Windows of active horses that nobody has booked and that aren't away, open now or
    within so many days. A horse without a visit is not among them: its window is only
    the wish for a first one."""
    booked = BookedHorse.objects.filter(
        horse=OuterRef("horse"), booking__in=Booking.objects.live()
    )
    away = Away.objects.filter(horse=OuterRef("horse"), until__gte=today)
    return DueWindow.objects.filter(
        ~Exists(booked),
        ~Exists(away),
        horse__status=Horse.Status.ACTIVE,
        last_visit_day__isnull=False,
        earliest__lte=today + timedelta(days=ahead_days),
        latest__gte=today - timedelta(days=TOO_LATE_DAYS),
    )


def due_clients(
    *, today: date, ahead_days: int = GATHER_DAYS, client: Client | None = None
) -> list[DueClient]:
    """Active clients with own horses in ``open_windows``, by name. Five queries."""
    windows = open_windows(today=today, ahead_days=ahead_days)
    owned = (
        Ownership.objects.on(today)
        .filter(horse__in=windows.values("horse"), client__is_active=True)
        .select_related("client")
        .order_by("client__name", "client", "pk")
    )
    if client is not None:
        owned = owned.filter(client=client)
    settings = ReminderSettings.objects.the_one()
    rows = {
        row.horse_id: row
        for row in windows.select_related("horse__barn").order_by("pk")
    }
    own = {row.client_id: row for row in ClientReminders.objects.all()}
    told: dict[tuple[int, int, date], list[Told]] = defaultdict(list)
    for one in Reminder.objects.filter(horse__in=windows.values("horse")):
        told[one.client_id, one.horse_id, one.last_visit_day].append(
            Told(one.occasion, one.day)  # type: ignore[arg-type]  # of two choices
        )
    clients: dict[int, Client] = {}
    mine: dict[int, dict[int, DueWindow]] = defaultdict(dict)
    for row in owned:
        if row.horse_id in rows:
            clients[row.client_id] = row.client
            mine[row.client_id][row.horse_id] = rows[row.horse_id]
    return [
        DueClient(
            client=clients[pk],
            reach=reach_of(clients[pk], own.get(pk), settings),
            horses={key: window.horse for key, window in windows_of.items()},
            due=tuple(
                Due(
                    key,
                    Span(window.earliest, window.target, window.latest),
                    tuple(told[pk, key, window.last_visit_day]),  # type: ignore[index]  # not null in open_windows
                )
                for key, window in windows_of.items()
            ),
        )
        for pk, windows_of in mine.items()
    ]


# ---- What goes out next ------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class ToTell:
    """A horse within a reminder to come."""

    horse: Horse
    span: Span
    occasion: Occasion


@dataclass(frozen=True, slots=True)
class ToCome:
    """A reminder to come, if nothing is booked before."""

    day: date
    client: Client
    reach: Reach
    horses: tuple[ToTell, ...]


def to_come(*, today: date, days: int = 14) -> list[ToCome]:
    """The reminders of the days ahead, by day and client. Five queries."""
    near_days = ReminderSettings.objects.the_one().near_days
    found = []
    for one in due_clients(today=today, ahead_days=days + GATHER_DAYS):
        spans = {due.key: due.span for due in one.due}
        for day, told in told_ahead(today, days, one.due, near_days=near_days):
            horses = tuple(
                ToTell(one.horses[key], spans[key], what) for key, what in told.items()
            )
            found.append(ToCome(day, one.client, one.reach, horses))
    return sorted(found, key=lambda row: (row.day, row.client.name, row.client.pk))


# ---- The call list, and what went --------------------------------------------------
@dataclass(frozen=True, slots=True)
class Call:
    """A client to call, with the horses that are still to be booked."""

    client: Client
    reminders: tuple[Reminder, ...]


def call_list(*, viewer: User, today: date) -> list[Call]:
    """Whom to call: reminders by phone that nobody has made, of horses that still wait.
    Two queries."""
    waiting = open_windows(today=today)
    rows = (
        Reminder.objects.visible_to(viewer)
        .to_call()
        .filter(
            horse__in=waiting.values("horse"),
            client__is_active=True,
            last_visit_day__in=waiting.filter(horse=OuterRef("horse")).values(
                "last_visit_day"
            ),
        )
        .select_related("client", "horse__barn", "horse__due_window")
        .order_by("client__name", "client", "horse__name", "pk")
    )
    found: dict[Client, dict[int, Reminder]] = defaultdict(dict)
    for row in rows:
        found[row.client][row.horse_id] = row
    return [Call(client, tuple(mine.values())) for client, mine in found.items()]


@dataclass(frozen=True, slots=True)
class Went:
    """A reminder that went, or was made by phone."""

    day: date
    client: Client
    message: Message | None
    reminders: tuple[Reminder, ...]


def went(*, viewer: User, today: date, days: int = 60) -> list[Went]:
    """What clients were told in the last days, newest first. One query."""
    rows = (
        Reminder.objects.visible_to(viewer)
        .filter(day__gte=today - timedelta(days=days))
        .exclude(channel=Channel.PHONE, called_at=None)
        .select_related("client", "horse", "message", "called_by")
        .order_by("-day", "client__name", "client", "horse__name", "pk")
    )
    found: dict[tuple[date, int, int | None], list[Reminder]] = defaultdict(list)
    for row in rows:
        found[row.day, row.client_id, row.message_id].append(row)
    return [
        Went(rows[0].day, rows[0].client, rows[0].message, tuple(rows))
        for rows in found.values()
    ]
