"""Bookings ahead, as others than the practice see them."""

from datetime import date

from django.contrib.auth.models import AnonymousUser
from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from horses.models import Horse, Ownership
from practice.models import Barn, User
from scheduling.models import BookedHorse, Booking


def ahead(
    *,
    viewer: User | AnonymousUser,
    today: date,
    horse: Horse | None = None,
    barn: Barn | None = None,
) -> QuerySet[Booking]:
    """Open bookings from today on, with barn, farrier and horses. Two queries.

    Who doesn't work here is told of asked and agreed ones alone: what is pencilled is
    the practice's own note.
    """
    found = (
        Booking.objects.visible_to(viewer)
        .open()
        .filter(day__gte=today)
        .select_related("barn", "farrier", "stop__round")
        .prefetch_related(
            Prefetch("booked", queryset=BookedHorse.objects.select_related("horse"))
        )
        .order_by("day", "starts_at", "pk")
    )
    if not isinstance(viewer, User) or not viewer.is_of_practice:
        found = found.exclude(status=Booking.Status.PENCILLED)
    if horse:
        found = found.filter(booked__horse=horse)
        if isinstance(viewer, User) and viewer.client_id:
            # The booking may be seen for another horse of theirs: this one is to be
            # theirs on its day too.
            found = found.filter(Exists(_owned_on_its_day(viewer.client_id, horse)))
    if barn:
        found = found.filter(barn=barn)
    return found


def _owned_on_its_day(client: int, horse: Horse) -> QuerySet[Ownership]:
    """The client's ownerships of the horse on the day of the booking around it."""
    return Ownership.objects.filter(
        Q(ends__isnull=True) | Q(ends__gte=OuterRef("day")),
        horse=horse,
        client_id=client,
        starts__lte=OuterRef("day"),
    )
