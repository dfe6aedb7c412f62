"""A break between two horses of one stop: pure, worked by hand."""

from practice.geo import Drive, Position
from scheduling.planner.one_day import Call, Day, plan_round
from scheduling.planner.pause import with_break_inside

HOME, BARN = Position(55.0, -2.0), Position(55.1, -2.0)
DAY = Day(start=8 * 60, end=17 * 60, break_minutes=30, home=HOME)


def drive(a, b):
    return Drive(0, 0) if a == b else Drive(10_000, 20)


def planned(parts, **over):
    call = Call("1", "Barn", BARN, sum(parts), setup_minutes=10, **over)
    plan = plan_round(DAY, [call], drive=drive)
    return plan, with_break_inside(DAY, [call], plan, {"1": parts}, drive=drive)


def test_a_barn_that_takes_the_day_is_parted_by_the_break():
    """Seven horses of an hour from 8:30: without a break from 8:30 to 15:30 at one
    stretch; with half an hour after the third horse, at 11:30, until 16:00."""
    plan, rested = planned([60] * 7)
    assert [one.kind for one in plan.broken] == ["break"]
    assert rested.fits
    (stop,) = rested.stops
    assert (stop.key, stop.start, stop.end) == ("1", 8 * 60 + 30, 16 * 60)
    assert rested.break_start == 11 * 60 + 30
    assert rested.home_at == 16 * 60 + 20
    whole = rested.drive_minutes + rested.work_minutes + rested.wait_minutes + 30
    assert whole == rested.home_at - rested.leave


def test_what_keeps_its_break_or_cannot_be_parted_stays():
    plan, same = planned([60] * 3)
    assert same is plan
    plan, same = planned([420])  # one horse is not left standing half shod
    assert same is plan
    plan, same = planned([60] * 9)  # the day ends too late either way
    assert same is plan


def test_a_break_taken_before_the_first_barn_that_makes_the_day_late_goes_inside():
    """Five hours and a half from 8:30 have no break after them by 13:30; before them it
    would be 12:20 at the gate and 18:20 at home."""
    plan, rested = planned([66] * 5)
    assert not plan.fits
    assert rested.fits
    assert rested.home_at == 8 * 60 + 30 + 330 + 30 + 20


def test_access_hours_bound_the_start_of_the_work_alone():
    _, rested = planned([60] * 7, hours=((480, 600),))
    assert rested.fits
