"""Working days, bookings, rounds, calendar feeds."""

from scheduling.models.bookings import BookedHorse, Booking
from scheduling.models.days import UsualDay, WorkingDay
from scheduling.models.feeds import CalendarFeed
from scheduling.models.rounds import Round, Stop

__all__ = [
    "BookedHorse",
    "Booking",
    "CalendarFeed",
    "Round",
    "Stop",
    "UsualDay",
    "WorkingDay",
]
