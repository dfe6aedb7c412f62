"""What was asked and answered, as pages show it."""

from collections.abc import Iterable
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import AnonymousUser
from django.db.models import F, Prefetch, QuerySet
from django.utils import timezone

from practice.models import User
from scheduling.models import Ask, BookedHorse, Booking, Proposal

_HORSES = Prefetch("booked", queryset=BookedHorse.objects.select_related("horse"))


def to_ask(
    *, viewer: User | AnonymousUser, today: date, proposal: Proposal | None = None
) -> QuerySet[Booking]:
    """Open bookings ahead that are not agreed, with barn, horses and standing asks;
    those of one proposal if given. Four queries."""
    asks = Ask.objects.standing().select_related("client", "contact")
    found = (
        Booking.objects.visible_to(viewer)
        .filter(
            status__in=[Booking.Status.PENCILLED, Booking.Status.ASKED], day__gte=today
        )
        .select_related("barn", "farrier")
        .prefetch_related(_HORSES, Prefetch("asks", queryset=asks))
        .order_by("day", "starts_at", "pk")
    )
    if proposal is not None:
        found = found.filter(pk__in=set(proposal.accepted.values()))
    return found


def answers(*, viewer: User | AnonymousUser, today: date) -> QuerySet[Ask]:
    """Standing asks about days ahead, those that want something done first. Three
    queries."""
    return (
        Ask.objects.visible_to(viewer)
        .standing()
        .filter(day__gte=today)
        .select_related("booking__barn", "booking__farrier", "client", "contact")
        .prefetch_related(Prefetch("booking__booked", queryset=_HORSES.queryset))
        .order_by("day", "booking__starts_at", "pk")
    )


def mine(*, viewer: User | AnonymousUser, today: date) -> QuerySet[Ask]:
    """What an owner or a barn contact is asked and may still change. One query."""
    return (
        Ask.objects.visible_to(viewer)
        .standing()
        .filter(day__gte=today, booking__status__in=Booking.OPEN)
        .select_related("booking__barn", "booking__farrier")
        .order_by("day", "pk")
    )


def agreed_starts(bookings: Iterable[Booking], zone: ZoneInfo) -> dict[UUID, int]:
    """The minute of the day for which somebody who was asked agreed, of those bookings
    that are agreed. One query; none without an agreed booking."""
    keys = [one.pk for one in bookings if one.status == Booking.Status.AGREED]
    if not keys:
        return {}
    asks = Ask.objects.filter(
        booking__in=keys,
        state=Ask.State.AGREED,
        day=F("booking__day"),
        starts_at__isnull=False,
    )
    found = {}
    for key, day, starts_at in asks.values_list("booking", "day", "starts_at"):
        begin = timezone.localtime(starts_at, zone)
        past_midnight = (begin.date() - day).days * 24 * 60
        found[key] = past_midnight + begin.hour * 60 + begin.minute
    return found


def counted(asks: Iterable[Ask]) -> dict[str, int]:
    """How many are in each state. No query for rows in hand."""
    found = dict.fromkeys(Ask.State.values, 0)
    for ask in asks:
        found[ask.state] += 1
    return found
