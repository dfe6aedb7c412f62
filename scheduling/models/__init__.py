"""Working days, bookings, rounds, proposed weeks, asks, calendar feeds; drives,
handling, the day as it went."""

from scheduling.models.actuals import RoundActual, StopActual, TimeTold
from scheduling.models.areas import AreaOutline
from scheduling.models.asks import Ask, Away
from scheduling.models.bookings import BookedHorse, Booking
from scheduling.models.days import UsualDay, WorkingDay
from scheduling.models.feeds import CalendarFeed
from scheduling.models.handling import (
    BarnClosure,
    BarnFinish,
    HorseHandling,
    HorseMinutes,
    Lodging,
)
from scheduling.models.proposals import Proposal, ProposalStep
from scheduling.models.reminders import ClientReminders, Reminder, ReminderSettings
from scheduling.models.rounds import Round, Stop
from scheduling.models.travel import DrivenRoad, KeptDrives, RoadMap, TravelSettings
from scheduling.models.weights import PlanningWeights

__all__ = [
    "AreaOutline",
    "Ask",
    "Away",
    "BarnClosure",
    "BarnFinish",
    "BookedHorse",
    "Booking",
    "CalendarFeed",
    "ClientReminders",
    "DrivenRoad",
    "HorseHandling",
    "HorseMinutes",
    "KeptDrives",
    "Lodging",
    "PlanningWeights",
    "Proposal",
    "ProposalStep",
    "Reminder",
    "ReminderSettings",
    "RoadMap",
    "Round",
    "RoundActual",
    "Stop",
    "StopActual",
    "TimeTold",
    "TravelSettings",
    "UsualDay",
    "WorkingDay",
]
