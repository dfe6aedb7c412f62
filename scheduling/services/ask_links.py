"""Taking back what was asked about a booking, when it moves or is called off."""

from django.utils import timezone

from practice.models import Message
from scheduling.models import Ask, Booking


def withdraw_asks(*, booking: Booking) -> int:
    """Takes back all standing asks, in the caller's transaction; their links say so
    from then on, and what has not gone out need not go. How many there were."""
    asks = Ask.objects.filter(booking=booking).standing()
    keys = [f"ask-{pk}" for pk in asks.values_list("pk", flat=True)]
    if not keys:
        return 0
    now = timezone.now()
    asks.update(state=Ask.State.WITHDRAWN, changed_at=now)
    Message.objects.filter(key__in=keys, state=Message.State.READY).update(
        state=Message.State.LET_GO, body="", changed_at=now
    )
    return len(keys)
