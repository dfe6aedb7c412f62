"""What owners and barn contacts are shown: own horses, visits at own barns."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet

from horses.models import DueWindow, Horse, Ownership, Visit, VisitRecord
from practice.models import Client, User


@dataclass(frozen=True, slots=True)
class MyHorse:
    """A horse as one of its owners sees it."""

    horse: Horse
    share: Ownership
    is_now: bool
    until: date | None
    due: DueWindow | None
    today: date

    @property
    def is_late(self) -> bool:
        """The due window has passed."""
        return self.due is not None and self.due.latest < self.today

    @property
    def is_first(self) -> bool:
        """There has been no visit yet."""
        return self.due is not None and self.due.basis == DueWindow.Basis.NO_VISIT

    @property
    def is_open_now(self) -> bool:
        """The due window has begun."""
        return self.due is not None and self.due.earliest <= self.today


def my_horses(*, client: Client, today: date) -> list[MyHorse]:
    """A client's horses: those owned today first, then those owned before. Where and
    when next is told of today's horses alone. One query.
    """
    periods = (
        Ownership.objects.filter(client=client, starts__lte=today)
        .select_related("horse", "horse__barn", "horse__due_window")
        .order_by("horse__name", "horse_id", "starts")
    )
    latest: dict[int, Ownership] = {}
    for row in periods:
        held = latest.get(row.horse_id)
        if held is None or not _holds(held, today):
            latest[row.horse_id] = row
    mine = [_seen(row, today) for row in latest.values()]
    return sorted(mine, key=lambda row: not row.is_now)


def my_horse(*, horse: Horse, client: Client, today: date) -> MyHorse:
    """One horse of the client's; it has been through ``visible_to``."""
    return next(
        row for row in my_horses(client=client, today=today) if row.horse.pk == horse.pk
    )


def _seen(row: Ownership, today: date) -> MyHorse:
    is_now = _holds(row, today)
    is_tended = is_now and row.horse.status == Horse.Status.ACTIVE
    return MyHorse(
        horse=row.horse,
        share=row,
        is_now=is_now,
        until=row.ends,
        due=getattr(row.horse, "due_window", None) if is_tended else None,
        today=today,
    )


def _holds(row: Ownership, day: date) -> bool:
    return row.starts <= day and (row.ends is None or row.ends >= day)


def barn_visits(viewer: User) -> QuerySet[Visit]:
    """The visits at this contact's barns, newest first: day, farrier and names of
    horses, nothing of what was found. Two queries."""
    names = (
        VisitRecord.objects.select_related("horse")
        .only("visit", "horse__name")
        .order_by("horse__name")
    )
    return (
        Visit.objects.visible_to(viewer)
        .filter(kind__in=[Visit.Kind.ATTENDED, Visit.Kind.BROUGHT_IN])
        .select_related("barn", "farrier")
        .prefetch_related(Prefetch("records", queryset=names))
        .order_by("-day", "-pk")
    )
