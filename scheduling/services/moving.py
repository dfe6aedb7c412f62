"""Moving a proposal's stops by hand, and back. Nothing here books anything."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from practice.errors import Refused
from practice.models import User
from scheduling.models import Proposal, ProposalStep
from scheduling.planner.insertion import insertion_cost
from scheduling.planner.weeks import Plan
from scheduling.selectors import moves as select
from scheduling.selectors.moves import in_words
from scheduling.weeks.changes import put
from scheduling.weeks.world import (
    World,
    plan_from_json,
    plan_to_json,
)


def world_of(proposal: Proposal) -> World:
    """The world that the proposal was reckoned on.

    Raises:
        Refused: it has not been read yet.
    """
    world = select.world_of(proposal)
    if world is None:
        raise Refused("This proposal is not reckoned yet.")
    return world


def plan_of(proposal: Proposal) -> Plan:
    """The plan as it stands."""
    return plan_from_json(proposal.plan or [])


@transaction.atomic
def move_visit(
    *,
    proposal: Proposal,
    visit: str,
    day: date | None,
    farrier: str = "",
    position: int | None = None,
    by: User,
) -> ProposalStep | None:
    """Moves a visit to another day, farrier or place in the round; day None leaves it
    over. Where it stands already: nothing.

    Args:
        position: counted from 0 without the visit itself; None: where it fits best.

    Raises:
        Refused: it is agreed or accepted, that day can't take it, or nobody drives out.
    """
    row = locked(proposal)
    world, plan = world_of(row), plan_of(row)
    job = world.jobs.get(visit)
    if job is None:
        raise Refused("This proposal has no such stop. Load the page anew.")
    if job.is_fixed:
        raise Refused(f"{job.name} is agreed and stays where it is.")
    if visit in row.accepted:
        raise Refused(f"{job.name} is booked already. Move its booking instead.")
    if day is None:
        after = plan.without(visit)
        said = f"{job.name} left over"
    else:
        place = _place(world, plan, visit, (day, farrier), position)
        after = put(plan, visit, (day, farrier), place)
        said = f"{job.name} to {day:%a} {day.day} {day:%b}"
    if after == plan:
        return None
    row.plan = plan_to_json(after)
    row.save(update_fields=["plan", "changed_at"])
    return ProposalStep.objects.create(
        proposal=row,
        kind=ProposalStep.Kind.MOVED,
        said=said,
        before=plan_to_json(plan),
        made_by=by,
    )


def _place(
    world: World,
    plan: Plan,
    visit: str,
    to: tuple[date, str],
    position: int | None,
) -> int:
    """The position wanted, or the best; refused where a rule is broken."""
    found = insertion_cost(
        world.instance, plan, visit, every_position=position is not None
    )
    rows = [one for one in found if (one.day, one.farrier) == to]
    if position is not None:
        rows = [one for one in rows if one.position == position] or rows[:1]
    if not rows:
        raise Refused("Nobody drives out on that day. Choose another.", field="to")
    kept = [one for one in rows if not one.broken]
    if not kept:
        raise Refused(in_words(world, rows[0].broken[0].sentence), field="to")
    return kept[0].position


@transaction.atomic
def undo_move(*, step: ProposalStep) -> bool:
    """Takes the last move back. False when it was taken back already.

    Raises:
        Refused: something was done after it.
    """
    row = locked(step.proposal)
    step = ProposalStep.objects.select_for_update().get(pk=step.pk)
    if step.undone_at:
        return False
    if ProposalStep.objects.filter(
        proposal=row, pk__gt=step.pk, undone_at__isnull=True
    ).exists():
        raise Refused("Take back what was done after it first.")
    row.plan = step.before
    row.save(update_fields=["plan", "changed_at"])
    step.undone_at = timezone.now()
    step.save(update_fields=["undone_at", "changed_at"])
    return True


def locked(proposal: Proposal) -> Proposal:
    """The proposal, held to the transaction's end, before any round is.

    Raises:
        Refused: it is not ready, or gone.
    """
    row = (
        Proposal.objects.select_for_update(of=("self",))
        .defer("world", "travel")
        .filter(pk=proposal.pk)
        .first()
    )
    if row is None:
        raise Refused("This proposal was thrown away.")
    if row.state != Proposal.State.READY:
        raise Refused("This proposal is still being reckoned.")
    return row
