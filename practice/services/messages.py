"""What a person decides about a message that did not simply go out."""

from django.db import transaction
from django.utils import timezone

from practice.errors import Refused
from practice.models import Message, User
from practice.services.changes import note_change

State = Message.State
_STUCK = (State.FAILED, State.UNSURE)


@transaction.atomic
def send_again(*, message: Message, by: User) -> Message:
    """Puts a failed or unsure message back into the queue; pressed twice, once.

    Raises:
        Refused: it is of another state, or was a sign-in link, which has ended.
    """
    if message.kind == "sign_in_link" and message.channel == Message.Channel.MAIL:
        raise Refused("A sign-in link isn't sent again: ask for a new one.")
    _decide(
        message,
        by=by,
        action="to be sent again",
        state=State.READY,
        tries=0,
        claim="",
        lease_until=None,
        handed_over_at=None,
        run_after=timezone.now(),
        answer="",
    )
    return message


@transaction.atomic
def let_go(*, message: Message, by: User) -> Message:
    """Leaves a failed or unsure message as it is, for good.

    Raises:
        Refused: it is of another state.
    """
    _decide(
        message,
        by=by,
        action="let go",
        state=State.LET_GO,
        claim="",
        lease_until=None,
        answer=f"let go by {by.name}"[:300],
    )
    return message


def _decide(message: Message, *, by: User, action: str, **fields: object) -> None:
    before = message.state
    stuck = Message.objects.filter(pk=message.pk, state__in=_STUCK)
    if not stuck.update(changed_at=timezone.now(), **fields):
        raise Refused(
            "This message is no longer failed or unsure: look at its state again."
        )
    message.refresh_from_db()
    note_change(
        by=by,
        obj=message,
        action=action,
        before={"state": before},
        after={"state": message.state},
    )
