"""Working days, bookings, rounds, proposed weeks, asks, calendar feeds."""

from scheduling.models.asks import Ask, Away
from scheduling.models.bookings import BookedHorse, Booking
from scheduling.models.days import UsualDay, WorkingDay
from scheduling.models.feeds import CalendarFeed
from scheduling.models.proposals import Proposal, ProposalStep
from scheduling.models.rounds import Round, Stop

__all__ = [
    "Ask",
    "Away",
    "BookedHorse",
    "Booking",
    "CalendarFeed",
    "Proposal",
    "ProposalStep",
    "Round",
    "Stop",
    "UsualDay",
    "WorkingDay",
]
