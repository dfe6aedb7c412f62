"""The map of proposed weeks: all rounds, one of them with its numbers."""

from practice.geo import Position
from practice.models import Practice
from scheduling.drawing import Dot, Line, Mark, draw_map
from scheduling.planner.weeks import Shift
from scheduling.selectors.moves import Place, key_of
from scheduling.selectors.proposals import ProposalView
from scheduling.weeks.world import World


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
        lines.append(Line(key=key_of(place), points=tuple(way)))
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
    chosen = next((one for one in lines if one.key == key_of(view.chosen)), None)
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


def _position(world: World, index: int) -> Position:
    return Position(*world.places[index])


def _at(world: World, key: str) -> Position:
    return _position(world, world.instance.visit_by_id[key].place)


def _shift(world: World, place: Place) -> Shift:
    return next(one for one in world.instance.shifts if one.key == place)
