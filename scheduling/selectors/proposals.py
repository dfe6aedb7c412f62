"""A proposal as its page shows it: weeks of rounds, who is left over and why, figures."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.contrib.auth.models import AnonymousUser
from django.db.models import QuerySet

from practice.geo import Position
from practice.models import Practice, User
from scheduling.drawing import Dot, Line, Mark, draw_map
from scheduling.models import Booking, Proposal
from scheduling.planner.costs import left_over_cost
from scheduling.planner.insertion import insertion_cost, why_left
from scheduling.planner.judge import TimedRound, TimedStop, cost_of, time_shift
from scheduling.planner.weeks import Plan, Shift
from scheduling.weeks.changes import Change, Tally, changes, tally
from scheduling.weeks.world import Job, World, plan_from_json, world_from_json

Place = tuple[date, str]
_ISO_DAY = re.compile(r"\b(\d{4}-\d\d-\d\d)\b")
_WITH_KEY = re.compile(r"\bwith (\d+)\b")


@dataclass(frozen=True, slots=True)
class StopView:
    """A stop of the calendar. ``off`` days from its target, after it above 0; ``kind``
    as in ``Change``; ``status`` of its booking as it is now, empty without one."""

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
class Choice:
    """A day that could take a visit. ``drive``: minutes added to the round; ``cost``
    against where the visit stands now; ``refusal``: the rule that speaks against it."""

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


def listed(viewer: User | AnonymousUser) -> QuerySet[Proposal]:
    """Proposals for the list, the latest first. Two queries."""
    return (
        Proposal.objects.visible_to(viewer)
        .light()
        .defer("plan", "base")
        .select_related("made_by")
        .prefetch_related("farriers")
    )


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
    kinds = [change.kind for change in what.values()]
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
    target = instance.visit_by_id[visit].target
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
                key=_key(place),
                day=one.day,
                farrier=one.farrier,
                name=world.farriers[one.farrier],
                position=one.position,
                drive=round((one.cost - flat) / (instance.weights.drive or 1.0)),
                off=(one.day - target).days,
                cost=round(one.cost - now),
                refusal=in_words(world, one.broken[0].sentence) if one.broken else "",
                is_here=place == here,
            )
        )
    return sorted(rows, key=lambda row: (bool(row.refusal), row.cost, row.key))


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


def map_of_weeks(view: ProposalView, practice: Practice) -> str:
    """All rounds as thin lines, the chosen one with its numbers. No query."""
    world, plan = view.world, view.plan
    lines, at_stop, marks = [], set(), []
    for place, ids in plan.orders.items():
        shift = _shift(world, place)
        way = [
            _position(world, shift.leaves_from),
            *(_at(world, key) for key in ids),
            _position(world, shift.home),
        ]
        lines.append(Line(key=f"{place[0]} {place[1]}", points=tuple(way)))
        if place == view.chosen:
            marks += [
                Mark(
                    key=key,
                    at=_at(world, key),
                    number=str(number),
                    label=world.jobs[key].name,
                    tone="chosen",
                    href=f"#stop-{key}",
                )
                for number, key in enumerate(ids, start=1)
            ]
            at_stop = set(ids)
    planned = {key for ids in plan.orders.values() for key in ids}
    dots = [
        Dot(
            key=visit.id,
            at=_at(world, visit.id),
            label=world.jobs[visit.id].name,
            tone="planned" if visit.id in planned else "left",
        )
        for visit in world.instance.visits
        if visit.id not in at_stop
    ]
    chosen = next((one for one in lines if one.key == _key(view.chosen)), None)
    return draw_map(
        marks,
        home=_position(world, 0),
        route=chosen.points if chosen else (),
        lines=[one for one in lines if one is not chosen],
        dots=dots,
        unit=practice.road_unit,
        title="Map of the proposed rounds",
        height=460,
    )


def _key(place: Place | None) -> str:
    return f"{place[0]} {place[1]}" if place else ""


def _position(world: World, index: int) -> Position:
    return Position(*world.places[index])


def _at(world: World, key: str) -> Position:
    return _position(world, world.instance.visit_by_id[key].place)


def _shift(world: World, place: Place) -> Shift:
    return next(one for one in world.instance.shifts if one.key == place)


def _chosen(plan: Plan, asked: str) -> Place | None:
    """The round that the address names, if it has stops."""
    return next((place for place in plan.orders if _key(place) == asked), None)


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
                key=_key(shift.key),
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
    targets = [horse.target for horse in job.horses]
    off = max(((day - target).days for target in targets), default=0)
    return StopView(
        id=job.id,
        name=job.name,
        horses=tuple(horse.name for horse in job.horses),
        timed=timed,
        kind=change.kind,
        off=off,
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
