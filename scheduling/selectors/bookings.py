"""Bookings ahead, as others than the practice see them."""

from datetime import date

from django.contrib.auth.models import AnonymousUser
from django.db.models import Prefetch, QuerySet

from horses.models import Horse
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
    if barn:
        found = found.filter(barn=barn)
    return found
