"""A day's round: times, rules, best order."""

from itertools import permutations, product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.geo import Drive, Position, drive_estimate
from scheduling.planner.one_day import (
    BREAK_FROM,
    BREAK_UNTIL,
    MISSED_BREAK_MINUTES,
    Call,
    Day,
    clock,
    plan_round,
    time_round,
)

HOME = Position(55.60, -2.80)
DAY = Day(start=8 * 60, end=17 * 60, break_minutes=30, home=HOME)


def make_call(key, lat=55.60, lon=-2.70, work=60, setup=10, **more):
    return Call(key, f"Barn {key}", Position(lat, lon), work, setup, **more)


def kinds(plan):
    return {broken.kind for broken in plan.broken}


# --- times ------------------------------------------------------------------------------


def test_a_round_leaves_home_sets_up_works_and_comes_home():
    plan = plan_round(DAY, [make_call("a")])
    drive = drive_estimate(HOME, Position(55.60, -2.70))
    (stop,) = plan.stops
    assert stop.drive_minutes == drive.minutes
    assert stop.drive_metres == drive.metres
    assert stop.arrive == 8 * 60 + drive.minutes
    assert stop.start == stop.arrive + 10
    assert stop.end == stop.start + 60
    assert plan.home_at == stop.end + drive.minutes
    assert plan.break_start is None  # home long before 13:30
    assert plan.fits
    assert plan.broken == ()


def test_access_hours_bound_the_start_of_the_work_not_its_end():
    plan = plan_round(DAY, [make_call("a", hours=((10 * 60, 10 * 60 + 30),))])
    (stop,) = plan.stops
    assert stop.start == 10 * 60
    assert stop.wait_minutes == stop.start - stop.arrive - 10
    assert stop.end > 10 * 60 + 30
    assert plan.fits


def test_the_second_opening_is_taken_when_the_first_is_over():
    hours = ((6 * 60, 7 * 60), (14 * 60, 15 * 60))
    plan = plan_round(DAY, [make_call("a", hours=hours)])
    assert plan.stops[0].start == 14 * 60
    assert plan.fits


def test_a_break_lies_between_stops_from_half_past_eleven_to_half_past_one():
    calls = [make_call(str(n), lon=-2.75 + n / 100, work=100) for n in range(3)]
    plan = plan_round(DAY, calls)
    assert plan.break_start is not None
    assert BREAK_FROM <= plan.break_start <= BREAK_UNTIL
    until = plan.break_start + 30
    for stop in plan.stops:
        assert stop.end <= plan.break_start or stop.start - 10 >= until
    assert plan.fits


def test_a_break_before_a_long_drive_waits_for_half_past_eleven():
    # Ready at 11:00 with three hours to drive: there is no stopping after 13:30, so
    # the break is taken before leaving, and not before it may be.
    day = Day(start=11 * 60, end=22 * 60, break_minutes=30, home=HOME)
    plan = plan_round(day, [make_call("far", lat=53.9, lon=-2.8, work=10)])
    assert plan.stops[0].drive_minutes > 150
    assert plan.break_start == BREAK_FROM
    assert plan.stops[0].arrive == BREAK_FROM + 30 + plan.stops[0].drive_minutes
    assert plan.fits


def test_a_day_that_is_too_short_is_planned_and_said():
    plan = plan_round(DAY, [make_call(str(n), work=200) for n in range(4)])
    assert len(plan.stops) == 4
    assert not plan.fits
    (sentence,) = [b.sentence for b in plan.broken if b.kind == "day"]
    assert clock(plan.home_at) in sentence
    assert "doesn't fit the day" in sentence


def test_closed_gates_are_said_with_their_hours():
    late = make_call("a", hours=((6 * 60, 7 * 60),))
    shut = make_call("b", hours=())
    plan = plan_round(DAY, [late, shut])
    said = {(b.kind, b.key): b.sentence for b in plan.broken}
    assert "06:00–07:00" in said["hours", "a"]
    assert "closed" in said["closed", "b"]
    assert not plan.fits


def test_a_visit_over_the_whole_break_time_costs_the_break_and_says_so():
    day = Day(start=9 * 60, end=20 * 60, break_minutes=30, home=None)
    call = make_call("a", work=300, hours=((9 * 60, 9 * 60 + 30),))
    plan = plan_round(day, [call])
    assert kinds(plan) == {"break", "home"}
    assert not plan.fits


def test_a_barn_without_position_comes_last_with_the_minutes_typed():
    lost = Call("lost", "Lost Farm", None, 40, 5, typed_minutes=25)
    plan = plan_round(DAY, [lost, make_call("a"), make_call("b", lon=-2.65)])
    last = plan.stops[-1]
    assert (last.key, last.drive_minutes, last.drive_metres) == ("lost", 25, None)
    assert (plan.home_minutes, plan.home_metres) == (25, None)
    assert kinds(plan) == {"position"}
    assert plan.fits  # a warning, not a broken rule


def test_attended_stops_stay_in_front():
    calls = [make_call("near", lon=-2.78), make_call("far", lon=-2.40)]
    free = [stop.key for stop in plan_round(DAY, calls).stops]
    held = plan_round(DAY, calls, first=[free[-1]])
    assert [stop.key for stop in held.stops] == free[::-1]


def test_an_order_given_by_hand_is_timed_as_it_stands():
    calls = [make_call("far", lon=-2.40), make_call("near", lon=-2.78)]
    assert [stop.key for stop in time_round(DAY, calls).stops] == ["far", "near"]


def test_an_empty_day_is_an_empty_round():
    plan = plan_round(DAY, [])
    assert (plan.stops, plan.home_at, plan.drive_minutes) == ((), 8 * 60, 0)
    assert plan.fits


@pytest.mark.parametrize(
    ("calls", "said"),
    [
        ([make_call("a"), make_call("a")], "one key"),
        ([make_call("a", work=-1)], "negative"),
        ([make_call("a", hours=((600, 500),))], "follow one another"),
    ],
)
def test_nonsense_is_refused(calls, said):
    with pytest.raises(ValueError, match=said):
        plan_round(DAY, calls)


def test_minutes_read_as_a_clock():
    assert (clock(545), clock(24 * 60 + 10)) == ("09:05", "00:10 next day")


# --- the best order -------------------------------------------------------------------


def test_the_published_optimum_with_time_windows_is_found():
    # Dumas et al. (1995), n20w20.001: proven optimum 378; see reference/tsptw.
    path = Path(__file__).parents[1] / "reference" / "tsptw" / "n20w20.001.txt"
    rows = [[int(x) for x in line.split()] for line in path.read_text().splitlines()]
    matrix, windows = rows[1:22], rows[22:]

    def drive(a, b):
        return Drive(0, matrix[round(a.lon)][round(b.lon)])

    calls = [
        Call(str(i), str(i), Position(0, i), 0, 0, (tuple(windows[i]),))
        for i in range(1, 21)
    ]
    day = Day(start=0, end=408, break_minutes=0, home=Position(0, 0))
    plan = plan_round(day, calls, drive=drive, exact_upto=20)
    assert plan.fits
    assert plan.exact
    assert plan.drive_minutes == 378


def rested(day, time):
    """The end of a break that starts as early as may be, None if it is too late."""
    start = max(time, BREAK_FROM)
    return start + day.break_minutes if start <= BREAK_UNTIL else None


def opening(call, time):
    later = [max(time, a) for a, b in call.hours or () if max(time, a) <= b]
    if later or not call.hours:
        return min(later, default=time), 0
    return time, time - max(b for _, b in call.hours)


def by_the_book(day, calls, order, pause):
    """One order with the break before or after the drive of one leg (None: without),
    told step by step apart from the planner's code: (minutes outside, drive, home)."""
    time, outside, driven, here = day.start, 0, 0, day.home
    for leg, call in enumerate((*order, None)):
        there = call.at if call else day.home
        drive = drive_estimate(here, there).minutes
        driven += drive
        if pause == (leg, "before"):
            time = rested(day, time)
        if time is not None:
            time += drive
        if pause == (leg, "after") and call and time is not None:
            time = rested(day, time)
        if time is None:
            return None
        if call:
            start, late = opening(call, time + call.setup_minutes)
            time, outside, here = start + call.work_minutes, outside + late, there
    if day.break_minutes and not pause and day.start <= BREAK_UNTIL < time:
        outside += MISSED_BREAK_MINUTES
    return outside + max(0, time - day.end), driven, time


def brute_force(day, calls):
    pauses = [None]
    if day.break_minutes:
        pauses += list(product(range(len(calls)), ("before", "after")))
        pauses.append((len(calls), "before"))
    found = [
        by_the_book(day, calls, order, pause)
        for order in permutations(calls)
        for pause in pauses
    ]
    return min(score for score in found if score)


spans = st.tuples(st.integers(420, 1000), st.integers(0, 300)).map(
    lambda span: (span[0], span[0] + span[1])
)
hours = st.one_of(
    st.none(),
    spans.map(lambda span: (span,)),
    spans.map(lambda span: (span, (span[1] + 60, span[1] + 120))),
)
calls_of_a_day = st.lists(
    st.tuples(st.floats(55.3, 55.9), st.floats(-3.2, -2.2), st.integers(5, 150), hours),
    min_size=1,
    max_size=5,
).map(
    lambda rows: [
        make_call(str(n), lat, lon, work, hours=spans)
        for n, (lat, lon, work, spans) in enumerate(rows)
    ]
)
days = st.builds(
    Day,
    start=st.integers(360, 720),
    end=st.integers(800, 1100),
    break_minutes=st.sampled_from([0, 30, 45]),
    home=st.just(HOME),
)


@settings(max_examples=60, deadline=None)
@given(days, calls_of_a_day)
def test_the_order_is_the_best_of_all_orders(day, calls):
    plan = plan_round(day, calls)
    outside, drive, home = brute_force(day, calls)
    assert (plan.drive_minutes, plan.home_at) == (drive, home)
    shut = sum(
        max(0, stop.start - calls[int(stop.key)].hours[-1][1])
        for stop in plan.stops
        if calls[int(stop.key)].hours
    )
    missed = MISSED_BREAK_MINUTES if "break" in kinds(plan) else 0
    assert shut + missed + max(0, home - day.end) == outside


@settings(max_examples=60, deadline=None)
@given(days, calls_of_a_day, st.booleans())
def test_every_plan_keeps_what_it_says(day, calls, by_hand):
    plan = time_round(day, calls) if by_hand else plan_round(day, calls)
    by_key = {call.key: call for call in calls}
    assert sorted(stop.key for stop in plan.stops) == sorted(by_key)
    time, here = plan.leave, day.home
    rests = 0
    for stop in plan.stops:
        call = by_key[stop.key]
        assert stop.drive_minutes == drive_estimate(here, call.at).minutes
        assert stop.arrive >= time + stop.drive_minutes
        assert stop.start >= stop.arrive + call.setup_minutes
        assert stop.end == stop.start + call.work_minutes
        assert stop.wait_minutes >= 0
        within = call.hours is None or any(a <= stop.start <= b for a, b in call.hours)
        told = any(b.kind == "hours" and b.key == stop.key for b in plan.broken)
        assert told is not within
        time, here = stop.end, call.at
    assert plan.home_at >= time + plan.home_minutes
    assert ("day" in kinds(plan)) is (plan.home_at > day.end)
    if plan.break_start is not None:
        rests = day.break_minutes
        assert BREAK_FROM <= plan.break_start <= BREAK_UNTIL
        for stop in plan.stops:
            apart = stop.end <= plan.break_start or (
                plan.break_start + rests <= stop.start - by_key[stop.key].setup_minutes
            )
            assert apart
    elif day.break_minutes and "break" not in kinds(plan):
        assert plan.home_at <= BREAK_UNTIL or day.start > BREAK_UNTIL
    total = plan.drive_minutes + plan.work_minutes + plan.wait_minutes + rests
    assert plan.leave + total == plan.home_at
    assert plan.wait_minutes >= sum(stop.wait_minutes for stop in plan.stops)


def test_more_barns_than_can_be_proven_get_a_good_order_again_and_again():
    places = [
        (55.4 + (n * 37 % 50) / 100, -3.1 + (n * 61 % 80) / 100) for n in range(11)
    ]
    calls = [
        make_call(str(n), *place, work=20, setup=0) for n, place in enumerate(places)
    ]
    good = plan_round(DAY, calls)
    assert not good.exact
    assert good == plan_round(DAY, calls)
    best = plan_round(DAY, calls, exact_upto=11)
    assert best.exact
    assert best.drive_minutes <= good.drive_minutes <= 1.1 * best.drive_minutes


@settings(max_examples=30, deadline=None)
@given(days, calls_of_a_day, st.randoms())
def test_the_order_in_which_barns_are_named_decides_nothing(day, calls, chance):
    shuffled = list(calls)
    chance.shuffle(shuffled)
    assert plan_round(day, shuffled) == plan_round(day, calls)
