"""Who is due: the list and its page."""

from datetime import date, timedelta

import pytest

from horses.models import DueWindow, Horse, IntervalSettings
from horses.services.horses import refresh_due_window
from practice.days import span
from scheduling.models import BookedHorse, Booking
from scheduling.planner.weeks import Weights
from scheduling.selectors.due import (
    as_due,
    due_count,
    due_horses,
    due_list,
)
from scheduling.services.weights import set_weights
from tests import factories

TODAY = date(2026, 3, 24)


@pytest.fixture
def horse_seen(farrier):
    """A horse whose last visit lies so many days back, with six weeks between."""

    def make(days, weeks=6, **over):
        horse = factories.make_horse(interval_weeks=weeks, today=TODAY, **over)
        factories.make_visit(
            horses=[horse],
            farrier=over.get("by", farrier),
            closed=True,
            day=TODAY - timedelta(days=days),
        )
        refresh_due_window(horse=horse, today=TODAY)
        return horse

    return make


def told(horse):
    return as_due(horse, today=TODAY, handling={}, weights=Weights())


def names(**more):
    return [horse.name for horse in due_horses(today=TODAY, **more)]


def booked(horse, farrier, **over):
    fields = {"barn": horse.barn, "farrier": farrier, "day": TODAY, **over}
    booking = Booking.objects.create(**fields)
    BookedHorse.objects.create(booking=booking, horse=horse)
    return booking


def test_the_most_overdue_horse_comes_first(farrier, horse_seen):
    horse_seen(30, name="Soon")
    horse_seen(60, name="Late")
    horse_seen(45, name="Over")
    horse_seen(10, name="Far off")
    assert names(viewer=farrier) == ["Late", "Over", "Soon"]


def test_a_horse_says_how_its_day_came_about(farrier, horse_seen, practice):
    own = horse_seen(45)
    IntervalSettings.objects.create(reckons=False)
    usual = horse_seen(45, weeks=None)
    new = factories.make_horse(today=TODAY)
    told = {
        one.horse.pk: one
        for barn in due_list(viewer=farrier, today=TODAY)
        for one in barn.horses
    }
    last = TODAY - timedelta(days=45)
    assert f"{last.day} {last:%b %Y} + 6 weeks" in told[own.pk].how
    assert "the horse's own interval" in told[own.pk].how
    assert "the practice's usual interval" in told[usual.pk].how
    assert told[new.pk].how == "no visit yet, so due today"
    assert (told[own.pk].state, told[own.pk].overdue_days) == ("overdue", 3)


def test_a_horse_past_its_latest_day_is_late_and_one_ahead_is_soon(farrier, horse_seen):
    late = horse_seen(42 + 15)
    soon = horse_seen(42 - 9)
    states = {
        one.horse.pk: one.state
        for barn in due_list(viewer=farrier, today=TODAY)
        for one in barn.horses
    }
    assert states == {late.pk: "late", soon.pk: "soon"}


def test_a_horse_without_a_visit_is_due_on_the_day_one_looks(farrier):
    horse = factories.make_horse(today=TODAY)
    later = TODAY + timedelta(days=5)
    found = due_list(viewer=farrier, today=later)
    assert [one.target for barn in found for one in barn.horses] == [later]
    assert due_count(viewer=farrier, today=later) == {"due": 1, "overdue": 0}
    assert horse.due_window.target == TODAY


@pytest.mark.parametrize("status", ["pencilled", "asked", "agreed"])
def test_a_booked_horse_leaves_the_list_and_comes_back_when_called_off(
    farrier, horse_seen, status
):
    booking = booked(horse_seen(50), farrier, status=status)
    assert names(viewer=farrier) == []
    booking.status = Booking.Status.CALLED_OFF
    booking.save(update_fields=["status"])
    assert len(names(viewer=farrier)) == 1


def test_an_attended_horse_stays_off_the_list_until_its_visit_is_closed(
    farrier, horse_seen
):
    horse = horse_seen(50)
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=TODAY)
    booked(horse, farrier, status="attended", visit=visit)
    assert names(viewer=farrier) == []
    factories.close(visit)
    assert names(viewer=farrier) == [horse.name]  # its window was not refreshed here
    refresh_due_window(horse=horse, today=TODAY)
    assert names(viewer=farrier) == []


def test_the_list_is_narrowed_by_area_farrier_barn_and_day(
    farrier, second_farrier, horse_seen
):
    area = factories.make_area()
    here = horse_seen(50, barn=factories.make_barn(area=area))
    there = horse_seen(60)
    last = TODAY - timedelta(days=58)
    factories.make_visit(horses=[there], farrier=second_farrier, closed=True, day=last)
    DueWindow.objects.filter(horse=there).update(last_visit_day=last)
    assert names(viewer=farrier, area=area) == [here.name]
    assert names(viewer=farrier, barn=there.barn) == [there.name]
    assert names(viewer=farrier, farrier=second_farrier) == [there.name]
    assert names(viewer=farrier, farrier=farrier) == [here.name]
    assert names(viewer=farrier, until=TODAY - timedelta(days=10)) == [there.name]


def test_what_costs_most_to_leave_for_a_week_comes_first(farrier, horse_seen, practice):
    """The rounds' late cost, 2·n·(1 + n / max(1, latest − target)): a narrow window
    weighs more than a wide one that is as late, and the database agrees with the sum.
    """
    wide, narrow = horse_seen(44, name="Wide"), horse_seen(44, name="Narrow")
    DueWindow.objects.filter(horse=narrow).update(
        latest=narrow.due_window.target + timedelta(days=3)
    )
    horse_seen(60, name="Late")
    found = list(due_horses(viewer=farrier, today=TODAY))
    assert [horse.name for horse in found] == ["Narrow", "Late", "Wide"]
    for horse in found:
        assert told(horse).cost_of_waiting == pytest.approx(horse.waiting, abs=0.06)
    assert told(found[0]).cost_of_waiting == pytest.approx(72 - 20 / 3, abs=0.06)
    set_weights(said={"late": 3.0}, by=farrier)
    assert due_horses(viewer=farrier, today=TODAY)[0].waiting == pytest.approx(98)
    assert wide.due_window.target == TODAY - timedelta(days=2)


def test_a_window_stands_in_place_of_a_day(as_farrier, horse_seen, practice):
    horse_seen(45, name="Rollo")
    page = as_farrier.get(f"/due/?until={TODAY}").content.decode()
    window = Horse.objects.get().due_window
    assert span(window.earliest, window.latest) in page
    assert "best" in page


def test_resting_horses_are_not_due(farrier, horse_seen):
    horse = horse_seen(50)
    horse.status = horse.Status.RESTING
    horse.save(update_fields=["status"])
    assert names(viewer=farrier) == []


def test_the_page_lists_barns_and_flags_the_overdue(as_farrier, horse_seen):
    horse = factories.make_horse(name="Bracken")
    page = as_farrier.get("/due/").content.decode()
    assert "Bracken" in page
    assert horse.barn.name in page
    assert "no visit yet, so due today" in page
    assert 'name="horse"' in page


def test_an_apprentice_sees_the_list_but_ticks_nothing(as_apprentice, practice):
    factories.make_horse(name="Bracken")
    page = as_apprentice.get("/due/").content.decode()
    assert "Bracken" in page
    assert 'name="horse"' not in page


def test_the_page_costs_the_same_however_many_are_due(as_farrier, grows_flat, practice):
    # session, user, practice; 4 filter lists (areas, farriers, barns) and their checks;
    # count, rows, two counts of the head, bookings left open.
    assert grows_flat(as_farrier, "/due/", factories.make_horse) <= 14


def test_nobody_outside_the_practice_enters(as_owner, as_barn_contact, as_stranger):
    assert as_owner.get("/due/").status_code == 403
    assert as_barn_contact.get("/due/").status_code == 403
    assert as_stranger.get("/due/").status_code == 302
