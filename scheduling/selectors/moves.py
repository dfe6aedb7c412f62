"""Where a stop of a proposal could go, and what each day would cost."""

import re
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from uuid import UUID

from scheduling.models import Proposal
from scheduling.planner.costs import left_over_cost
from scheduling.planner.insertion import insertion_cost
from scheduling.planner.judge import cost_of
from scheduling.weeks.world import World, plan_from_json, world_from_json

Place = tuple[date, str]
_ISO_DAY = re.compile(r"\b(\d{4}-\d\d-\d\d)\b")
_WITH_KEY = re.compile(r"\bwith (\d+)\b")


@dataclass(frozen=True, slots=True)
class Choice:
    """A day that could take a visit. ``drive``: minutes added to the round; ``off``: see
    ``Job.off``; ``cost`` against where the visit stands now; ``refusal``: the rule that speaks against it."""

    key: str
    day: date
    farrier: str
    name: str
    position: int
    drive: int
    off: int
    cost: int
    refusal: str
    is_here: bool


def world_of(proposal: Proposal) -> World | None:
    """The world that it was reckoned on; kept in memory while the page is worked on,
    since it never changes once found."""
    if proposal.state != Proposal.State.READY or proposal.finished_at is None:
        return None
    return _world(proposal.pk, proposal.finished_at.isoformat())


@lru_cache(maxsize=3)
def _world(pk: UUID, finished: str) -> World:
    row = Proposal.objects.only("world", "travel").get(pk=pk)
    return world_from_json(row.world or {}, bytes(row.travel or b""))


def choices(proposal: Proposal, visit: str) -> list[Choice]:
    """Where the visit could go, the cheapest first, days that refuse it last.

    Raises:
        KeyError: there is no such visit.
    """
    world = world_of(proposal)
    assert world is not None
    instance = world.instance
    plan = plan_from_json(proposal.plan or [])
    here = plan.shift_of(visit)
    job = world.jobs[visit]
    found = insertion_cost(instance, plan, visit)
    driven_out = set(plan.without(visit).orders)
    left = left_over_cost(instance, instance.visit_by_id[visit])
    now = next((one.cost for one in found if (one.day, one.farrier) == here), 0.0)
    rows = []
    for one in found:
        place = (one.day, one.farrier)
        # What is no driving in the cost: the day off target, moving, opening a round.
        flat = cost_of(instance, visit, *place) - left
        flat += 0.0 if place in driven_out else instance.weights.day
        rows.append(
            Choice(
                key=key_of(place),
                day=one.day,
                farrier=one.farrier,
                name=world.farriers[one.farrier],
                position=one.position,
                drive=round((one.cost - flat) / (instance.weights.drive or 1.0)),
                off=job.off(one.day),
                cost=round(one.cost - now),
                refusal=in_words(world, one.broken[0].sentence) if one.broken else "",
                is_here=place == here,
            )
        )
    return sorted(rows, key=lambda row: (bool(row.refusal), row.cost, row.key))


def key_of(place: Place | None) -> str:
    """A round as addresses name it: day and farrier."""
    return f"{place[0]} {place[1]}" if place else ""


def in_words(world: World, sentence: str) -> str:
    """A sentence of the planner with names for keys and days as people say them."""

    def day(found: re.Match[str]) -> str:
        one = date.fromisoformat(found[1])
        return f"{one:%a} {one.day} {one:%b}"

    def name(found: re.Match[str]) -> str:
        return f"with {world.farriers.get(found[1], found[1])}"

    said = _WITH_KEY.sub(name, _ISO_DAY.sub(day, sentence))
    for key in re.findall(r"\S+", sentence):
        job = world.jobs.get(key)
        if job:
            said = said.replace(key, job.name)
    return said
