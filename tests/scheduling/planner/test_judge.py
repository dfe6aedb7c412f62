"""The judge against a second reading of rules and cost, and by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.planner.costs import date_cost, left_over_cost
from scheduling.planner.judge import check_agreed, evaluate, time_shift
from scheduling.planner.weeks import (
    BadInstance,
    Booking,
    Instance,
    Plan,
    Shift,
    Visit,
    Weights,
)
from tests.scheduling.planner import plain
from tests.scheduling.planner.invented import instances

MONDAY = date(2026, 3, 2)
MINUTES = [[0, 20, 30], [20, 0, 15], [30, 15, 0]]


def day(n):
    return MONDAY + timedelta(n)


def shift(n=0, farrier="ada", start=480, end=1020, **more):
    return Shift(day(n), farrier, start, end, 0, **more)


def visit(name="v", place=1, minutes=60, **more):
    dates = {"earliest": day(-7), "target": day(0), "latest": day(10)}
    return Visit(name, place, minutes, **(dates | more))


@settings(max_examples=60)
@given(instances(), st.data())
def test_the_judge_agrees_with_a_second_reading_of_the_rules(instance, data):
    ids = data.draw(st.permutations([v.id for v in instance.visits]))
    orders = {one.key: [] for one in instance.shifts}
    for id_ in ids:
        key = data.draw(st.sampled_from([None, *orders]))
        if key is not None:
            orders[key].append(id_)
    verdict = evaluate(instance, Plan.of(orders))
    by_shift = [
        [instance.visit_by_id[id_] for id_ in orders[one.key]]
        for one in instance.shifts
    ]
    kept = all(
        plain.keeps(instance, one, order)
        for one, order in zip(instance.shifts, by_shift, strict=True)
    )
    agreed = {v.id for v in instance.visits if v.fixed}
    assert verdict.kept == (kept and agreed.isdisjoint(verdict.left_over))
    assert verdict.cost.total == pytest.approx(plain.cost(instance, by_shift))
    for timed in verdict.rounds:
        hours_add_up(instance, timed)


def hours_add_up(instance, timed):
    """What a round says of its minutes is what its stops say."""
    shift = next(s for s in instance.shifts if s.key == (timed.day, timed.farrier))
    rest = 0 if timed.break_start is None else shift.break_minutes
    total = timed.drive_minutes + timed.work_minutes + timed.wait_minutes + rest
    assert total == pytest.approx(timed.home_at - timed.leave)
    ended = timed.leave
    for stop in timed.stops:
        assert stop.arrive >= ended + stop.drive_minutes - 1e-6
        assert stop.start >= stop.arrive
        assert stop.end == stop.start + instance.visit_by_id[stop.id].minutes
        if rest and not (
            timed.break_start >= stop.end or timed.break_start + rest <= stop.arrive
        ):
            raise AssertionError(f"the break at {timed.break_start} lies in {stop}")
        ended = stop.end


def test_the_cost_of_a_day_is_the_written_formula():
    late = visit(weight=3, target=day(0), latest=day(10))
    # 2·3·5·(1 + 5/10) = 45; early 0.5·3·4 = 6; on target nothing
    assert date_cost(late, day(5), day(10), Weights()) == 45
    assert date_cost(late, day(-4), day(10), Weights()) == 6
    assert date_cost(late, day(0), day(10), Weights()) == 0


def test_leaving_over_costs_by_where_the_window_ends():
    def left(**more):
        one = visit(weight=3, **more)
        return left_over_cost(Instance((shift(0), shift(4)), (one,), MINUTES), one)

    # Ends within the horizon: max(240 + 60·3, 1.2 × 2·3·4·(1 + 4/4) = 57.6).
    assert left(latest=day(4)) == 420
    # The same, overdue for long: latest is then the last day, 34 days after target:
    # 1.2 × 2·3·34·2 = 489.6.
    assert left(target=day(-30), earliest=day(-40), latest=day(-25)) == pytest.approx(
        489.6
    )
    # Ends later: 30 + what the day after the horizon costs, 2·3·5·(1 + 5/10).
    assert left(latest=day(10)) == 75
    # Begins only after that day.
    assert left(earliest=day(6), target=day(9), latest=day(12)) == 30


def test_an_overdue_visit_may_still_be_made():
    overdue = visit(target=day(-10), earliest=day(-20), latest=day(-3))
    instance = Instance((shift(0), shift(2)), (overdue,), MINUTES)
    verdict = evaluate(instance, Plan.of({(day(2), "ada"): ["v"]}))
    assert verdict.kept
    assert verdict.cost.dates == 2 * 1 * 12 * (1 + 12 / 12)


def test_set_up_is_not_spent_twice_at_one_barn():
    pair = tuple(visit(f"v{i}", setup_minutes=15) for i in range(2))
    timed = time_shift(Instance((shift(),), pair, MINUTES), day(0), "ada", ["v0", "v1"])
    first, second = timed.stops
    assert (first.arrive, first.start) == (500, 515)
    assert (second.arrive, second.start) == (575, 575)
    assert timed.work_minutes == 135


def test_a_break_lies_between_stops_and_the_next_arrival_is_after_it():
    trio = tuple(visit(f"v{i}", 1 + i % 2, minutes=100) for i in range(3))
    instance = Instance((shift(break_minutes=30),), trio, MINUTES)
    timed = time_shift(instance, day(0), "ada", ["v0", "v1", "v2"])
    assert timed.kept
    # 08:20–10:00, 10:15–11:55, break at 11:55, 15 minutes of driving, 12:40–14:20.
    assert timed.break_start == 715
    assert [stop.arrive for stop in timed.stops] == [500, 615, 760]
    assert timed.home_at == 880


def test_a_drive_with_a_fraction_costs_it_and_ends_on_the_minute():
    one = Instance((shift(),), (visit(),), [[0, 10.25], [10.25, 0]])
    verdict = evaluate(one, Plan.of({(day(0), "ada"): ["v"]}))
    assert verdict.cost.drive == 20.5
    assert verdict.rounds[0].stops[0].arrive == 491
    assert verdict.rounds[0].wait_minutes == pytest.approx(1.5)


def test_slack_is_how_much_later_a_stop_may_start():
    pair = (visit("a", hours={0: ((480, 600),)}), visit("b", 2))
    timed = time_shift(Instance((shift(),), pair, MINUTES), day(0), "ada", ["a", "b"])
    # a starts 08:20 and may start until 10:00; b 09:35, home by 17:00 from 16:30.
    assert [stop.slack_minutes for stop in timed.stops] == [100, 930 - 575]


@pytest.mark.parametrize(
    ("more", "plan", "kind"),
    [
        ({"farriers": frozenset({"ben"})}, ["v"], "farrier"),
        ({"people": 2}, ["v"], "people"),
        ({"not_on": frozenset({day(0)})}, ["v"], "closed"),
        ({"hours": {1: ((480, 600),)}}, ["v"], "closed"),
        ({"hours": {0: ((300, 400),)}}, ["v"], "hours"),
        ({"finish_by": {0: 530}}, ["v"], "hours"),
        ({"earliest": day(0), "target": day(1)}, ["v", "v"], "twice"),
        ({"earliest": day(1), "target": day(1)}, ["v"], "window"),
        ({"load": 4.0}, ["v"], "load"),
        ({"minutes": 600}, ["v"], "day"),
        ({"minutes": 420}, ["v"], "break"),
        ({}, ["w"], "unknown"),
    ],
)
def test_each_broken_rule_is_told(more, plan, kind):
    one = visit(**({"minutes": 60} | more))
    plan = Plan.of({(day(0), "ada"): plan})
    instance = Instance((shift(capacity=3.0, break_minutes=30),), (one,), MINUTES)
    verdict = evaluate(instance, plan)
    assert kind in {breach.kind for breach in verdict.broken}
    assert not verdict.kept


def test_an_agreed_booking_is_kept_or_told():
    one = visit(booked=Booking(day(0), 600, "ada"))
    instance = Instance((shift(0), shift(1)), (one,), MINUTES)
    check_agreed(instance)
    kept = evaluate(instance, Plan.of({(day(0), "ada"): ["v"]}))
    assert kept.kept
    assert kept.rounds[0].stops[0].start == 600
    moved = evaluate(instance, Plan.of({(day(1), "ada"): ["v"]}))
    left = evaluate(instance, Plan())
    assert [b.kind for b in (*moved.broken, *left.broken)] == ["fixed", "fixed"]


@pytest.mark.parametrize(
    ("booked", "word"),
    [
        (Booking(day(5), 600, "ada"), "doesn't work"),
        (Booking(day(0), 600, "ben"), "doesn't work"),
        (Booking(day(0), 490, "ada"), "would start"),
        (Booking(day(0), 1000, "ada"), "after the day's end"),
    ],
)
def test_an_impossible_agreed_booking_is_refused(booked, word):
    instance = Instance((shift(),), (visit(booked=booked),), MINUTES)
    with pytest.raises(BadInstance, match=word) as refused:
        check_agreed(instance)
    assert refused.value.key == "v"


def test_two_agreed_at_one_moment_are_refused():
    booked = Booking(day(0), 600, "ada")
    pair = (visit("a", booked=booked), visit("b", booked=booked))
    with pytest.raises(BadInstance):
        check_agreed(Instance((shift(),), pair, MINUTES))


@pytest.mark.parametrize(
    ("part", "broken"),
    [
        ("day twice", lambda: Instance((shift(), shift()), (), MINUTES)),
        ("ends early", lambda: Instance((shift(start=600, end=500),), (), MINUTES)),
        ("id twice", lambda: Instance((shift(),), (visit(), visit()), MINUTES)),
        ("no place", lambda: Instance((shift(),), (visit(place=9),), MINUTES)),
        ("target", lambda: Instance((shift(),), (visit(target=day(20)),), MINUTES)),
        ("minutes", lambda: Instance((shift(),), (visit(minutes=-1),), MINUTES)),
        ("not square", lambda: Instance((shift(),), (), [[0, 1]])),
        ("below 0", lambda: Instance((shift(),), (), [[0, -1], [1, 0]])),
        ("no number", lambda: Instance((shift(),), (), [[0, float("nan")], [1, 0]])),
    ],
    ids=lambda value: value if isinstance(value, str) else "made",
)
def test_what_contradicts_itself_is_refused(part, broken):
    with pytest.raises(BadInstance):
        broken()
