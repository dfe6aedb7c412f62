"""The demo practice: its own rows. (The command `demo` calls each app's.)"""

from practice.models import (
    AccessHours,
    Area,
    Barn,
    BarnContact,
    Change,
    Client,
    Message,
    Practice,
    RateSlot,
    SignInLink,
    User,
)

_FROM_THE_LEAVES = (
    Message,
    Change,
    SignInLink,
    RateSlot,
    BarnContact,
    AccessHours,
    Barn,
    Area,
    User,
    Client,
    Practice,
)


def erase() -> None:
    """Deletes every row of practice, in the caller's transaction, after the apps
    above have deleted theirs. Called only for the demo."""
    for model in _FROM_THE_LEAVES:
        model._default_manager.all().delete()
