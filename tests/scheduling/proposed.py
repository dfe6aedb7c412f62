"""A proposal that is ready, without the worker and without a search: the due list
booked by hand is a plan as good as any for what comes after."""

from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from practice.models import User
from scheduling.models import Proposal
from scheduling.services import proposals as service
from scheduling.weeks.changes import by_hand


def start(*, by: User, today: date, **over: Any) -> Proposal:
    """As the form asks for it; the worker has not begun."""
    fields: dict[str, Any] = {
        "key": None,
        "starts": today + timedelta(days=1),
        "weeks": 1,
        "farriers": [by],
        "may_move": "asked",
        "together": 1,
        "seconds": 1,
    }
    return service.start_proposal(by=by, today=today, **{**fields, **over})


def ready(*, by: User, today: date | None = None, **over: Any) -> Proposal:
    """A proposal as the worker leaves it, its plan made by hand."""
    proposal = start(by=by, today=today or timezone.localdate(), **over)
    row = service._begin(proposal.pk)
    assert row
    world = service._read(row, lambda: True)
    plan = by_hand(world)
    assert plan is not None
    service._finish(row, world, plan, lambda: True)
    proposal.refresh_from_db()
    assert proposal.state == Proposal.State.READY
    return proposal
