"""A proposal as its page shows it: weeks of rounds, who is left over and why, figures."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import QuerySet

from practice.models import User
from scheduling.models import Booking, Proposal, ProposalStep
from scheduling.planner.insertion import why_left
from scheduling.planner.judge import TimedRound, TimedStop, time_shift
from scheduling.planner.weeks import Plan, Shift
from scheduling.selectors.moves import Place, in_words, key_of, world_of
from scheduling.weeks.changes import Change, Tally, changes, tally
from scheduling.weeks.world import Job, World, plan_from_json


@dataclass(frozen=True, slots=True)
class StopView:
    """A stop of the calendar. ``off``: see ``Job.off``; ``kind`` as in
    ``Change``; ``status`` of its booking as it is now, empty without one."""

    id: str
    name: str
    horses: tuple[str, ...]
    timed: TimedStop
    kind: str
    off: int
    status: str
    booking: str | None
    is_done: bool

    @property
    def may_move(self) -> bool:
        return self.kind != "agreed" and not self.is_done

    @property
    def is_waiting(self) -> bool:
        """Whether accepting would do something."""
        return not self.is_done and self.kind in ("new", "moved")


@dataclass(frozen=True, slots=True)
class DayView:
    """One farrier's day in the calendar."""

    key: str
    day: date
    farrier: str
    name: str
    shift: Shift
    timed: TimedRound | None
    stops: tuple[StopView, ...]
    is_chosen: bool

    @property
    def waiting(self) -> int:
        return sum(stop.is_waiting for stop in self.stops)


@dataclass(frozen=True, slots=True)
class WeekDayView:
    """A day with a cell for each farrier who drives out."""

    day: date
    cells: tuple[DayView, ...]

    @property
    def is_free(self) -> bool:
        return not any(cell.stops for cell in self.cells)


@dataclass(frozen=True, slots=True)
class WeekView:
    """A week of the calendar."""

    monday: date
    days: tuple[WeekDayView, ...]


@dataclass(frozen=True, slots=True)
class LeftView:
    """A visit in no round: why, and the least change that would fit it."""

    id: str
    name: str
    horses: tuple[str, ...]
    target: date
    code: str
    sentence: str
    mend: str


@dataclass(frozen=True, slots=True)
class ProposalView:
    """The whole page."""

    proposal: Proposal
    weeks: tuple[WeekView, ...]
    left: tuple[LeftView, ...]
    later: tuple[LeftView, ...]
    before: Tally
    now: Tally
    hand: Tally | None
    counts: Mapping[str, int]
    waiting: int
    world: World
    plan: Plan
    chosen: Place | None

    @property
    def saved(self) -> int | None:
        """Minutes of driving less than booking the due list by hand, at the drive a
        horse of that plan; None where it was not reckoned."""
        if self.hand is None or not self.hand.horses:
            return None
        return round(self.hand.drive_a_horse * self.now.horses) - self.now.drive


def listed(viewer: User | AnonymousUser) -> QuerySet[Proposal]:
    """Proposals for the list, the latest first. Two queries."""
    return (
        Proposal.objects.visible_to(viewer)
        .light()
        .defer("plan", "base")
        .select_related("made_by")
        .prefetch_related("farriers")
    )


def last_step(proposal: Proposal) -> ProposalStep | None:
    """What was done last and can be taken back. One query."""
    return proposal.steps.filter(undone_at__isnull=True).last()


def viewed(proposal: Proposal, *, chosen: str = "", visit: str = "") -> ProposalView:
    """The page of a proposal that is ready: ``chosen`` the round on the map, else the
    one with ``visit`` in it. One query more than the proposal itself
    (two when its world is not in memory)."""
    world = world_of(proposal)
    assert world is not None
    plan = plan_from_json(proposal.plan or [])
    what = changes(world, plan)
    status = _statuses(proposal, world)
    place = _chosen(plan, chosen) or plan.shift_of(visit) or _first(plan)
    weeks = _weeks(proposal, world, plan, what, status, place)
    found = proposal.found or {}
    left = _left(world, plan, found)
    kinds: list[str] = [change.kind for change in what.values()]
    told = found.get("hand")
    return ProposalView(
        proposal=proposal,
        weeks=weeks,
        left=tuple(one for one in left if one.code != "later"),
        later=tuple(one for one in left if one.code == "later"),
        before=Tally(**found["before"]),
        now=tally(world, plan),
        hand=Tally(**told) if told else None,
        counts={kind: kinds.count(kind) for kind in ("new", "moved", "kept", "agreed")},
        waiting=sum(
            cell.waiting for week in weeks for day in week.days for cell in day.cells
        ),
        world=world,
        plan=plan,
        chosen=place,
    )


def _chosen(plan: Plan, asked: str) -> Place | None:
    """The round that the address names, if it has stops."""
    return next((place for place in plan.orders if key_of(place) == asked), None)


def _first(plan: Plan) -> Place | None:
    return min(plan.orders, default=None)


def _statuses(proposal: Proposal, world: World) -> dict[str, Booking]:
    keys = {job.booking for job in world.jobs.values() if job.booking}
    keys |= set(proposal.accepted.values())
    return {str(one.pk): one for one in Booking.objects.filter(pk__in=keys)}


def _weeks(
    proposal: Proposal,
    world: World,
    plan: Plan,
    what: Mapping[str, Change],
    status: Mapping[str, Booking],
    chosen: Place | None,
) -> tuple[WeekView, ...]:
    days: dict[date, list[DayView]] = {}
    for shift in sorted(world.instance.shifts, key=lambda s: (s.day, int(s.farrier))):
        ids = plan.orders.get(shift.key, ())
        timed = time_shift(world.instance, *shift.key, ids) if ids else None
        stops = [
            _stop(proposal, world.jobs[one.id], one, what[one.id], status, shift.day)
            for one in (timed.stops if timed else ())
        ]
        days.setdefault(shift.day, []).append(
            DayView(
                key=key_of(shift.key),
                day=shift.day,
                farrier=shift.farrier,
                name=world.farriers[shift.farrier],
                shift=shift,
                timed=timed,
                stops=tuple(stops),
                is_chosen=shift.key == chosen,
            )
        )
    weeks: dict[date, list[WeekDayView]] = {}
    for day, cells in sorted(days.items()):
        monday = day - timedelta(days=day.weekday())
        weeks.setdefault(monday, []).append(WeekDayView(day, tuple(cells)))
    return tuple(WeekView(monday, tuple(rows)) for monday, rows in weeks.items())


def _stop(
    proposal: Proposal,
    job: Job,
    timed: TimedStop,
    change: Change,
    status: Mapping[str, Booking],
    day: date,
) -> StopView:
    booking = proposal.accepted.get(job.id) or job.booking
    row = status.get(booking) if booking else None
    return StopView(
        id=job.id,
        name=job.name,
        horses=tuple(horse.name for horse in job.horses),
        timed=timed,
        kind=change.kind,
        off=job.off(day),
        status=row.status if row else "",
        booking=booking if row else None,
        is_done=job.id in proposal.accepted,
    )


def _left(world: World, plan: Plan, found: Mapping[str, Any]) -> list[LeftView]:
    """Reasons were reckoned with the plan as found; after a move by hand they are
    reckoned anew for what was put out by it, the others stay as they were told."""
    planned = {key for ids in plan.orders.values() for key in ids}
    told: Mapping[str, Mapping[str, str]] = found.get("left", {})
    rows = []
    for visit in world.instance.visits:
        if visit.id in planned:
            continue
        job = world.jobs[visit.id]
        why = told.get(visit.id)
        if why is None:
            reason = why_left(world.instance, plan, visit.id)
            why = {
                "code": reason.code,
                "sentence": reason.sentence,
                "mend": reason.mend,
            }
        rows.append(
            LeftView(
                id=visit.id,
                name=job.name,
                horses=tuple(horse.name for horse in job.horses),
                target=visit.target,
                code=why["code"],
                sentence=in_words(world, why["sentence"]),
                mend=in_words(world, why["mend"]),
            )
        )
    return sorted(rows, key=lambda one: (one.target, one.name))
