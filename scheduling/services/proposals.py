"""Proposing weeks: asked for on a page, reckoned by the worker.

Nothing here books anything; ``scheduling.services.accepting`` does.
"""

import logging
import time
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Practice, User
from practice.services.once import made_once
from scheduling.models import Proposal
from scheduling.planner.insertion import why_left
from scheduling.planner.judge import evaluate
from scheduling.planner.weeks import BadInstance, Plan
from scheduling.selectors.weights import weights_in_use
from scheduling.selectors.world import gather
from scheduling.selectors.world_rows import Asked, day_digests
from scheduling.services.travel import travel_matrix
from scheduling.weeks.changes import by_hand, tally
from scheduling.weeks.world import (
    World,
    plan_to_json,
    travel_to_bytes,
    world_to_json,
)

if TYPE_CHECKING:
    from scheduling.planner.search import Progress

logger = logging.getLogger(__name__)

JOB = "propose_weeks"
MOST_SECONDS = 120
"""One long job is done at a time; the next one waits as long."""
MOST_TRIES = 3
KEPT_FOR = timedelta(days=60)
BEAT_SECONDS = 1.0
SILENT_FOR = timedelta(seconds=90)
"""A worker that has said nothing for so long is dead; another takes the job up within
a minute or so, if there is one."""
BROKE_OFF = (
    "The search broke off; the machine may have been short of memory. Try it again, "
    "or choose fewer weeks or farriers."
)


@transaction.atomic
def start_proposal(
    *,
    key: UUID | None,
    starts: date,
    weeks: int,
    farriers: Sequence[User],
    may_move: str,
    together: int | None,
    seconds: int,
    by: User,
    today: date,
    seed: int = 1,
) -> Proposal:
    """Asks the worker to propose these weeks. The same key again: the same proposal.

    Args:
        together: how much driving weighs in the search; None: as the practice has set.

    Raises:
        Refused: days that are over, no farrier, or figures out of range.
    """
    farriers = sorted(farriers, key=lambda one: one.pk)
    if not farriers:
        raise Refused("Choose at least one farrier.", field="farriers")
    if any(not one.is_farrier or not one.is_active for one in farriers):
        raise Refused("Choose farriers of the practice.", field="farriers")
    if starts <= today:
        raise Refused(
            "Today’s rounds are under way. Begin tomorrow or later.", field="starts"
        )
    if not 1 <= seconds <= MOST_SECONDS:
        raise Refused(f"Give 1 to {MOST_SECONDS} seconds.", field="seconds")
    said = (starts, weeks, farriers, may_move, together, seconds, seed)

    def make() -> Proposal:
        _tidy_up()
        row = Proposal.objects.create(
            starts=starts,
            weeks=weeks,
            may_move=may_move,
            together=together or round(weights_in_use().keep_together),
            seconds=seconds,
            seed=seed,
            made_by=by,
        )
        row.farriers.set(farriers)
        outbox.queue_job(
            kind=JOB, payload={"proposal": str(row.pk)}, key=f"propose-{row.pk}"
        )
        return row

    return made_once(key=key, model=Proposal, said=said, make=make)


@transaction.atomic
def stop_proposal(*, proposal: Proposal) -> None:
    """Ends the search soon; the best plan so far stays. Again: harmless."""
    Proposal.objects.filter(pk=proposal.pk, state__in=Proposal.UNFINISHED).update(
        stop_asked=True, changed_at=timezone.now()
    )


@transaction.atomic
def drop_proposal(*, proposal: Proposal) -> None:
    """Throws the proposal away; what was booked from it stays."""
    Proposal.objects.filter(pk=proposal.pk).delete()


def _tidy_up() -> None:
    old = Proposal.objects.filter(created_at__lt=timezone.now() - KEPT_FOR)
    old.exclude(state__in=Proposal.UNFINISHED).delete()


# --- reckoned by the worker --------------------------------------------------------------


def propose_job(*, alive: Callable[[], bool], proposal: str) -> None:
    """The worker's part. Killed, it is taken up again from the start: it writes nothing
    but this one row, the plan and its state in one update."""
    row = _begin(UUID(proposal))
    if row is None:
        return
    try:
        world = _read(row, alive)
        plan = _search(row, world, alive)
        if plan is not None:
            _finish(row, world, plan, alive)
    except (Refused, BadInstance) as refusal:
        _fail(row, refusal.sentence, alive)


@transaction.atomic
def _begin(pk: UUID) -> Proposal | None:
    row = Proposal.objects.select_for_update().filter(pk=pk).first()
    if row is None or not row.is_unfinished:
        return None
    if row.tries >= MOST_TRIES:
        row.state = Proposal.State.FAILED
        row.sentence = (
            f"The worker died {MOST_TRIES} times over this. Choose fewer weeks."
        )
        row.save(update_fields=["state", "sentence", "changed_at"])
        return None
    row.state, row.tries = Proposal.State.RUNNING, row.tries + 1
    row.progress, row.best, row.beat_at = 0, None, timezone.now()
    row.save(
        update_fields=["state", "tries", "progress", "best", "beat_at", "changed_at"]
    )
    return row


def _read(row: Proposal, alive: Callable[[], bool]) -> World:
    """The world as it is now, stored with the row before the search begins."""
    practice = Practice.objects.the_one()
    # A worker that was away for long finds weeks that have begun: as they were asked.
    eve = row.starts - timedelta(days=1)
    today = min(timezone.localdate(timezone=practice.zone), eve)
    farriers = tuple(row.farriers.order_by("pk"))
    asked = Asked(
        practice=practice,
        farriers=farriers,
        first=row.starts,
        last=row.until,
        may_move=row.may_move,
        together=row.together,
    )
    # Before the rest is read: what changes in between is then refused at acceptance,
    # not overlooked.
    base = day_digests(farriers=farriers, first=row.starts, last=row.until)
    gathered = gather(asked, today=today)
    travel = travel_matrix(gathered.points, go_on=alive)
    world = gathered.world(travel.minutes, travel.metres)
    if not world.instance.shifts:
        raise Refused(
            "Nobody drives out in these weeks. Set the hours, or choose other weeks."
        )
    Proposal.objects.filter(pk=row.pk).update(
        world=world_to_json(world),
        travel=travel_to_bytes(travel.minutes, travel.metres),
        base=base,
        plan=plan_to_json(world.present()),
        changed_at=timezone.now(),
    )
    return world


def _search(row: Proposal, world: World, alive: Callable[[], bool]) -> Plan | None:
    """The best plan found, or None once another worker has taken over.

    The search runs in a process of its own, which knows no database.
    """
    from scheduling.planner.apart import BrokeOff, searching

    said = {
        "start": world.present(),
        "seed": row.seed,
        "seconds": float(row.seconds),
    }
    began = time.monotonic()
    try:
        with searching(world.instance, **said) as search:
            while (plan := search.wait(BEAT_SECONDS)) is None:
                if not alive():
                    return None
                if _beat(row, world, search.latest, time.monotonic() - began):
                    search.stop()
    except BrokeOff as fault:
        raise Refused(BROKE_OFF) from fault
    return plan


def _beat(
    row: Proposal, world: World, latest: "Progress | None", seconds: float
) -> bool:
    """Writes a sign of life and the best plan so far; whether to stop."""
    said: dict[str, Any] = {
        "beat_at": timezone.now(),
        "progress": min(99, round(100 * seconds / max(1, row.seconds))),
        "changed_at": timezone.now(),
    }
    if latest is not None:
        said["best"] = {
            **tally(world, latest.plan).to_json(),
            "seconds": round(latest.seconds),
        }
        said["plan"] = plan_to_json(latest.plan)
    mine = Proposal.objects.filter(pk=row.pk, state=Proposal.State.RUNNING)
    if not mine.update(**said):
        return True  # thrown away meanwhile
    return bool(mine.values_list("stop_asked", flat=True).first())


def _finish(row: Proposal, world: World, plan: Plan, alive: Callable[[], bool]) -> None:
    found = summary(world, plan)
    alive()
    now = timezone.now()
    with transaction.atomic():
        if not alive():
            return
        Proposal.objects.filter(pk=row.pk, state=Proposal.State.RUNNING).update(
            state=Proposal.State.READY,
            progress=100,
            plan=plan_to_json(plan),
            found=found,
            best=found["after"],
            finished_at=now,
            beat_at=now,
            changed_at=now,
        )


def summary(world: World, plan: Plan) -> dict[str, Any]:
    """What the page tells of the plan as it was found, reckoned once."""
    verdict = evaluate(world.instance, plan)
    hand = by_hand(world)
    return {
        "plan": plan_to_json(plan),
        "before": tally(world, world.present()).to_json(),
        "after": tally(world, plan, verdict).to_json(),
        "hand": tally(world, hand).to_json() if hand else None,
        "left": {
            key: _reason(world, plan, key)
            for key in verdict.left_over
            if key in world.jobs
        },
    }


def _reason(world: World, plan: Plan, key: str) -> dict[str, str]:
    reason = why_left(world.instance, plan, key)
    return {"code": reason.code, "sentence": reason.sentence, "mend": reason.mend}


def _fail(row: Proposal, sentence: str, alive: Callable[[], bool]) -> None:
    with transaction.atomic():
        if not alive():
            return
        Proposal.objects.filter(pk=row.pk, state=Proposal.State.RUNNING).update(
            state=Proposal.State.FAILED,
            sentence=sentence[:300],
            changed_at=timezone.now(),
        )
