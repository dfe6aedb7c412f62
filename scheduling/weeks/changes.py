"""What a plan of weeks comes to, and what it changes against what is booked. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any, Final, Literal

from scheduling.planner.insertion import Insertion, insertion_cost
from scheduling.planner.judge import Verdict, evaluate, time_shift
from scheduling.planner.weeks import Instance, Plan, Visit
from scheduling.weeks.world import World

MOST_BY_HAND: Final = 200
"""So many visits are booked 'by hand' to compare with; more would take seconds."""

Kind = Literal["new", "moved", "kept", "agreed"]


@dataclass(frozen=True, slots=True)
class Tally:
    """A plan in figures. Minutes of driving and work, rounds, stops, horses; horses
    before and after their target day, and by how many days together."""

    drive: int = 0
    work: int = 0
    rounds: int = 0
    stops: int = 0
    horses: int = 0
    early: int = 0
    early_days: int = 0
    late: int = 0
    late_days: int = 0
    left_over: int = 0
    left_horses: int = 0
    cost: float = 0.0

    @property
    def drive_a_horse(self) -> float:
        """Minutes of driving for each horse."""
        return self.drive / self.horses if self.horses else 0.0

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Change:
    """What becomes of one visit: where it stood, where it stands."""

    id: str
    kind: Kind
    before: tuple[date, str] | None
    after: tuple[date, str] | None


def tally(world: World, plan: Plan, verdict: Verdict | None = None) -> Tally:
    """The figures of a plan. Horses past their latest day before the first day of the
    horizon count as late on whatever day they come."""
    verdict = verdict or evaluate(world.instance, plan)
    early = [0, 0]
    late = [0, 0]
    stops = horses = 0
    for (day, _), ids in plan.orders.items():
        for key in ids:
            stops += 1
            for horse in world.jobs[key].horses:
                horses += 1
                off = (day - horse.target).days
                count = late if off > 0 else early
                count[0] += off != 0
                count[1] += abs(off)
    left = [world.jobs[key] for key in verdict.left_over]
    return Tally(
        drive=round(sum(one.drive_minutes for one in verdict.rounds)),
        work=sum(one.work_minutes for one in verdict.rounds),
        rounds=len(plan.rounds),
        stops=stops,
        horses=horses,
        early=early[0],
        early_days=early[1],
        late=late[0],
        late_days=late[1],
        left_over=len(left),
        left_horses=sum(len(job.horses) for job in left),
        cost=round(verdict.cost.total, 1),
    )


def changes(world: World, plan: Plan) -> dict[str, Change]:
    """What becomes of each visit that is in the plan, or was booked. By id."""
    before = _places(world.present())
    after = _places(plan)
    found = {}
    for key in world.jobs:
        stood, stands = before.get(key), after.get(key)
        if stood or stands:
            kind = _kind(world, key, stood, stands)
            found[key] = Change(key, kind, stood, stands)
    return found


def _kind(
    world: World,
    key: str,
    stood: tuple[date, str] | None,
    stands: tuple[date, str] | None,
) -> Kind:
    if world.jobs[key].is_fixed:
        return "agreed"
    if stood is None:
        return "new"
    return "kept" if stood == stands else "moved"


def _places(plan: Plan) -> Mapping[str, tuple[date, str]]:
    return {key: place for place, ids in plan.orders.items() for key in ids}


def by_hand(world: World) -> Plan | None:
    """The due list booked from top to bottom, each visit where it fits best then, what
    is booked left where it stands: what a patient person does without a planner. None
    for more than MOST_BY_HAND visits.
    """
    instance = world.instance
    if len(instance.visits) > MOST_BY_HAND:
        return None
    plan = world.present()
    waiting = [visit for visit in instance.visits if visit.booked is None]
    for visit in sorted(waiting, key=lambda one: (one.target, one.id)):
        best = cheapest(insertion_cost(instance, plan, visit.id))
        if best is not None and best.cost < 0:
            plan = put(plan, visit.id, (best.day, best.farrier), best.position)
    return plan


def cheapest(found: Iterable[Insertion]) -> Insertion | None:
    """The cheapest place that keeps every rule; None where there is none."""
    kept = [one for one in found if one.fits]
    return min(kept, key=lambda one: (one.cost, one.day, one.farrier), default=None)


def put(plan: Plan, key: str, place: tuple[date, str], position: int) -> Plan:
    """The plan with this visit at that place of that round, and nowhere else."""
    orders = {where: list(ids) for where, ids in plan.without(key).orders.items()}
    row = orders.setdefault(place, [])
    row.insert(min(max(position, 0), len(row)), key)
    return Plan.of(orders)


def stands_on(visit: Visit) -> tuple[str, date] | None:
    """Farrier and day of its booking, if it has one."""
    return (visit.booked.farrier, visit.booked.day) if visit.booked else None


def broken_rounds(instance: Instance) -> set[tuple[str, date]]:
    """Days whose bookings break a rule as they stand: whether loose or, agreed ones, to
    the minute. (farrier, day)"""
    loose = replace(
        instance, visits=tuple(replace(one, booked=None) for one in instance.visits)
    )
    rounds: dict[tuple[str, date], list[tuple[int, str]]] = {}
    for visit in instance.visits:
        place = stands_on(visit)
        if place and visit.booked:
            rounds.setdefault(place, []).append((visit.booked.start, visit.id))
    return {
        (farrier, day)
        for (farrier, day), rows in rounds.items()
        for judge in (loose, instance)
        if time_shift(judge, day, farrier, [key for _, key in sorted(rows)]).broken
    }
