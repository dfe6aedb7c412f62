"""What one more visit costs, and why one is left over."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings

from scheduling.planner.insertion import insertion_cost, why_left
from scheduling.planner.judge import evaluate
from scheduling.planner.search import propose
from scheduling.planner.weeks import Instance, Plan, Shift, Visit
from tests.scheduling.planner.invented import instances

MONDAY = date(2026, 3, 2)


def day(n):
    return MONDAY + timedelta(n)


@settings(max_examples=25)
@given(instances(most_visits=6))
def test_an_insertion_costs_what_the_judge_says_it_costs(instance):
    plan = propose(instance, iterations=0)
    for visit in instance.visits[:3]:
        without = plan.without(visit.id)
        before = evaluate(instance, without).cost.total
        for one in insertion_cost(instance, plan, visit.id, every_position=True):
            orders = {key: list(ids) for key, ids in without.orders.items()}
            order = orders.setdefault((one.day, one.farrier), [])
            order.insert(one.position, visit.id)
            verdict = evaluate(instance, Plan.of(orders))
            assert one.cost == pytest.approx(verdict.cost.total - before)
            mine = [b for b in verdict.broken if b.day == one.day]
            mine = [b for b in mine if b.farrier == one.farrier]
            assert one.fits == (not mine)


MINUTES = [[0, 20, 30], [20, 0, 15], [30, 15, 0]]
SHIFT = Shift(day(0), "ada", 480, 780, 0)
DATES = {"earliest": day(0), "target": day(0), "latest": day(0)}


def reason(visit, *others, shift=SHIFT, later=()):
    instance = Instance((shift, *later), (visit, *others), MINUTES)
    plan = Plan.of({shift.key: [one.id for one in others]})
    return why_left(instance, plan, visit.id)


def test_a_full_day_says_how_many_minutes_are_missing():
    # 20 there, 240, 15 on, 60, 30 back: 365 of 300 minutes.
    why = reason(Visit("v", 2, 60, **DATES), Visit("u", 1, 240, **DATES))
    assert (why.code, why.change) == ("full", 65)
    assert "65 minutes more on 2026-03-02 with ada" in why.mend


def test_a_barn_that_is_closed_says_which_day_could_take_it():
    one = Visit("v", 1, 60, hours={1: ((480, 720),)}, **DATES)
    why = reason(one, later=(Shift(day(1), "ada", 480, 780, 0),))
    assert (why.code, why.change) == ("closed", 1)
    assert "1 day later, on 2026-03-03" in why.mend


def test_a_window_without_a_working_day_says_the_nearest():
    dates = {"earliest": day(3), "target": day(4), "latest": day(5)}
    why = reason(Visit("v", 1, 60, **dates), later=(Shift(day(8), "ada", 480, 780, 0),))
    assert (why.code, why.change) == ("window", 3)


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"farriers": frozenset({"ben"})}, "farrier"),
        ({"people": 2}, "people"),
        ({"minutes": 400}, "hours"),
        ({"load": 9.0}, "load"),
        ({"weight": 0.0}, "dear"),
    ],
)
def test_each_reason_has_its_code(more, code):
    shift = Shift(day(0), "ada", 480, 780, 0, capacity=5.0)
    one = Visit("v", 2, **({"minutes": 60} | DATES | more))
    assert reason(one, shift=shift).code == code


def test_nobody_along_says_where_to_say_who():
    why = reason(Visit("v", 2, 60, people=2, **DATES))
    assert why.sentence.startswith("No day in its window on which two ride together")
    assert why.mend == "Set who rides along on one of its days, under Hours."


def test_what_can_wait_says_so():
    dates = {"earliest": day(0), "target": day(5), "latest": day(9)}
    assert reason(Visit("v", 2, 60, **dates)).code == "later"
    dates = {"earliest": day(3), "target": day(5), "latest": day(9)}
    assert reason(Visit("v", 2, 60, **dates)).code == "later"


def test_no_shift_at_all_is_told_too():
    instance = Instance((), (Visit("v", 0, 60, **DATES),), [[0]])
    assert why_left(instance, Plan(), "v").code == "window"
    assert insertion_cost(instance, Plan(), "v") == ()
