"""A day under way: times from what has happened, and slack that is no promise too many."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.running import (
    BREAK_UNTIL,
    Course,
    Done,
    Leg,
    Stay,
    horse_lessons,
    lessons,
    retime,
)

COURSE = Course(leave=480, end=1020, break_minutes=0, home_minutes=20)


def leg(key, **over):
    usual = {"drive_minutes": 20, "setup_minutes": 10, "work_minutes": 60}
    return Leg(key=key, name=key, **{**usual, **over})


def starts(running):
    return [one.start for one in running.legs]


def test_a_day_as_planned_is_a_plain_sum():
    running = retime(COURSE, [leg("a"), leg("b")])
    assert starts(running) == [510, 600]
    assert running.home_at == 680
    assert [one.slack for one in running.legs] == [340, 340]


def test_fifteen_minutes_more_at_a_stop_move_the_rest():
    running = retime(COURSE, [leg("a", late_leaving=15), leg("b")])
    assert starts(running) == [510, 615]


def test_waiting_takes_lateness_up():
    waits = leg("b", hours=((720, 900),))
    on_time = retime(COURSE, [leg("a"), waits])
    late = retime(COURSE, [leg("a", late_leaving=60), waits])
    assert starts(on_time)[1] == starts(late)[1] == 720
    assert on_time.legs[1].wait_minutes == 120
    assert on_time.legs[0].slack == 120 + 180


def test_what_was_tapped_stands():
    running = retime(
        COURSE, [leg("a", arrived=530, left=640), leg("b", arrived=655), leg("c")]
    )
    assert (running.legs[0].arrive, running.legs[0].end) == (530, 640)
    assert running.legs[0].slack is None
    assert starts(running)[1:] == [665, 755]


def test_left_before_arriving_is_refused():
    with pytest.raises(ValueError, match="before"):
        retime(COURSE, [leg("a", arrived=600, left=590)])


def test_late_beyond_the_gate_and_the_shift_counts():
    running = retime(
        COURSE,
        [leg("a", hours=((480, 520),), late_arriving=30), leg("b", work_minutes=400)],
    )
    assert running.legs[0].outside == 20
    assert running.legs[0].slack == 0
    assert running.outside == 20 + running.home_at - 1020


def test_the_break_goes_where_it_costs_least():
    course = replace(COURSE, break_minutes=30)
    running = retime(course, [leg("a", work_minutes=200), leg("b"), leg("c")])
    assert running.break_start is not None
    assert not running.misses_break
    assert running.home_at == 480 + 20 + 10 + 200 + 2 * 90 + 20 + 30
    early = retime(course, [leg("a")])
    assert early.break_start is None
    late = retime(course, [leg("a", arrived=500, left=900), leg("b")])
    assert late.misses_break  # nothing of it lies before 13:30 any more


legs = st.lists(
    st.builds(
        lambda key, drive, setup, work, span: Leg(
            key=str(key),
            name="x",
            drive_minutes=drive,
            setup_minutes=setup,
            work_minutes=work,
            hours=None if span is None else ((span[0], span[0] + span[1]),),
        ),
        st.integers(0, 999),
        st.integers(0, 60),
        st.integers(0, 15),
        st.integers(10, 120),
        st.none() | st.tuples(st.integers(400, 800), st.integers(30, 400)),
    ),
    min_size=1,
    max_size=6,
)


@settings(max_examples=60)
@given(legs, st.sampled_from([0, 30, 45]))
def test_slack_may_be_used_up_without_breaking_a_rule(found, pause):
    course = replace(COURSE, break_minutes=pause)
    running = retime(course, found)
    for i, one in enumerate(running.legs):
        assert one.slack is not None
        if running.outside == 0:
            later = [
                replace(leg, late_arriving=one.slack) if j == i else leg
                for j, leg in enumerate(found)
            ]
            assert retime(course, later).outside == 0


@settings(max_examples=60)
@given(legs)
def test_without_a_break_a_minute_more_than_the_slack_breaks_one(found):
    running = retime(COURSE, found)
    if running.outside:
        return
    for i, one in enumerate(running.legs):
        later = [
            replace(leg, late_arriving=one.slack + 1) if j == i else leg
            for j, leg in enumerate(found)
        ]
        assert retime(COURSE, later).outside > 0


@settings(max_examples=60)
@given(legs, st.integers(0, 90), st.sampled_from([0, 30]))
def test_later_never_makes_anything_earlier(found, late, pause):
    course = replace(COURSE, break_minutes=pause)
    before = retime(course, found)
    after = retime(course, [replace(found[0], late_leaving=late), *found[1:]])
    assert after.outside >= before.outside
    if after.outside == before.outside == 0 and not pause:
        assert all(b >= a for a, b in zip(starts(before), starts(after), strict=True))
    if before.break_start is not None:
        assert before.break_start <= BREAK_UNTIL


def stay(setup, minutes, *done):
    """Works as (work, planned, usual), a horse each."""
    rows = tuple(Done(work, n, *two) for n, (work, *two) in enumerate(done))
    return Stay(setup, minutes, len(done), rows)


def test_the_median_of_stays_teaches_minutes_a_horse():
    # Trims planned with 30, really 40; one stay with a long talk over the gate.
    stays = [stay(10, 10 + 40 * n, *[(1, 30, 30)] * n) for n in (1, 2, 3, 1, 2)]
    stays += [stay(10, 400, (1, 30, 30)), stay(10, 5, (1, 30, 30)), stay(10, 60)]
    (one,) = lessons(stays)
    assert (one.key, one.stays, one.median) == (1, 6, 40)
    assert one.low == 40


def test_few_stays_teach_nothing_and_mixed_ones_are_shared_out():
    assert lessons([stay(0, 60, (1, 30, 30))] * 4) == ()
    mixed = lessons([stay(0, 180, (1, 30, 30), (2, 60, 60))] * 5)
    assert [(one.key, one.median) for one in mixed] == [(1, 60), (2, 120)]


def test_a_slow_horse_that_is_known_does_not_slow_its_work():
    # Usually 30; one horse has 60 of its own and takes them.
    (one,) = lessons([stay(0, 60, (1, 60, 30))] * 5)
    assert one.median == 30


def test_a_horse_is_taught_by_stays_of_its_own():
    alone = [stay(10, 10 + took, (1, 30, 30)) for took in (52, 48, 50, 300)]
    beside = [stay(10, 90, (1, 30, 30), (1, 30, 30))] * 9
    unsaid = [Stay(10, 200, 2, (Done(1, 0, 30, 30),))] * 9
    (one,) = horse_lessons([*alone, *beside, *unsaid])
    assert (one.horse, one.work, one.planned, one.stays) == (0, 1, 30, 4)
    assert one.median == 51
    assert horse_lessons(alone[:3]) == ()
