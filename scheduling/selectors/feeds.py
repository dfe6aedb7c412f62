"""A farrier's bookings as appointments of a calendar."""

from datetime import date, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Prefetch

from practice.models import Practice, User
from scheduling.calendar_feed import Appointment, Standing, calendar_text
from scheduling.models import BookedHorse, Booking
from scheduling.selectors.plans import position_of

PAST_DAYS = 60
"""How far back the calendar reaches: beyond it nobody looks, and the file stays short."""

_STANDING = {
    Booking.Status.PENCILLED: Standing.TENTATIVE,
    Booking.Status.ASKED: Standing.TENTATIVE,
    Booking.Status.AGREED: Standing.CONFIRMED,
    Booking.Status.ATTENDED: Standing.CONFIRMED,
    Booking.Status.CALLED_OFF: Standing.CANCELLED,
}


def farrier_calendar(*, farrier: User, practice: Practice, today: date) -> bytes:
    """The iCalendar file of a farrier's stops. Two queries.

    Barns and horses by name, no owner and no telephone number: the address is secret,
    but it lies in a calendar program.
    """
    horses = BookedHorse.objects.select_related("horse")
    bookings = (
        Booking.objects.filter(
            farrier=farrier,
            day__gte=today - timedelta(days=PAST_DAYS),
            starts_at__isnull=False,
        )
        .select_related("barn")
        .prefetch_related(Prefetch("booked", queryset=horses))
    )
    return calendar_text(
        f"{practice.name}: {farrier.name}",
        [_appointment(booking) for booking in bookings],
    )


def _appointment(booking: Booking) -> Appointment:
    barn = booking.barn
    names = [row.horse.name for row in booking.booked.all()]
    count = f"{len(names)} {'horse' if len(names) == 1 else 'horses'}"
    place = ", ".join(
        part for part in (barn.name, barn.street, barn.town, barn.post_code) if part
    )
    starts, ends = booking.starts_at, booking.ends_at
    assert starts
    assert ends
    return Appointment(
        uid=f"{booking.pk}@{urlsplit(settings.SITE_URL).hostname}",
        sequence=booking.sequence,
        changed=booking.told_at or booking.changed_at,
        starts=starts,
        ends=ends,
        summary=f"{barn.name}: {count}",
        standing=_STANDING[Booking.Status(booking.status)],
        place=place,
        at=position_of(barn),
        note=", ".join(names),
    )
