"""People, places, doors, sending."""

from practice.models.base import Timed
from practice.models.history import Change
from practice.models.once import MadeOnce
from practice.models.outbox import Message
from practice.models.people import Client, RateSlot, SignInLink, User
from practice.models.places import AccessHours, Area, Barn, BarnContact
from practice.models.practice import Practice
from practice.models.tokens import ApiToken

__all__ = [
    "AccessHours",
    "ApiToken",
    "Area",
    "Barn",
    "BarnContact",
    "Change",
    "Client",
    "MadeOnce",
    "Message",
    "Practice",
    "RateSlot",
    "SignInLink",
    "Timed",
    "User",
]
