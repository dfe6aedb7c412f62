"""What becomes of a booking."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from horses.models import Visit
from practice.errors import Refused
from scheduling.models import Booking, Round
from scheduling.selectors.due import due_horses
from scheduling.selectors.plans import Wish
from scheduling.services.bookings import (
    attend,
    call_off,
    change_booking,
    reschedule,
)
from scheduling.services.rounds import book_round, move_stop
from tests import factories


@pytest.fixture
def today(practice):
    return timezone.localdate(timezone=practice.zone)


@pytest.fixture
def bookings(farrier, today):
    """A round of today with two barns of two horses each."""
    wishes = []
    for _ in range(2):
        barn = factories.make_barn()
        horses = tuple(factories.make_horse(barn=barn, today=today) for _ in range(2))
        wishes.append(Wish(barn, horses))
    round_ = book_round(
        farrier=farrier, day=today, wishes=wishes, by=farrier, today=today
    )
    return [stop.booking for stop in round_.stops.select_related("booking")]


def test_attending_opens_one_visit_that_keeps_the_road(bookings, farrier, today):
    booking = bookings[0]
    visit = attend(booking=booking, by=farrier, today=today)
    assert attend(booking=booking, by=farrier, today=today) == visit
    assert Visit.objects.count() == 1
    assert visit.records.count() == 2
    stop = booking.stop
    assert visit.travel_minutes == stop.drive_minutes
    assert visit.travel_metres == stop.drive_metres
    booking.refresh_from_db()
    assert (booking.status, booking.visit) == (Booking.Status.ATTENDED, visit)


def test_a_stop_is_started_on_its_day(bookings, farrier, today):
    with pytest.raises(Refused, match="start it on its day"):
        attend(booking=bookings[0], by=farrier, today=today - timedelta(days=1))
    assert not Visit.objects.exists()


def test_an_attended_stop_keeps_place_and_can_no_longer_be_called_off(
    bookings, farrier, today
):
    attend(booking=bookings[0], by=farrier, today=today)
    with pytest.raises(Refused, match="keeps its place"):
        move_stop(booking=bookings[1], places=-1, by=farrier)
    with pytest.raises(Refused, match="attended already"):
        call_off(booking=bookings[0], by=farrier)


def test_calling_off_frees_the_horses_and_closes_the_round_up(bookings, farrier, today):
    assert due_horses(viewer=farrier, today=today).count() == 0
    round_ = call_off(booking=bookings[0], by=farrier, reason="frost")
    assert due_horses(viewer=farrier, today=today).count() == 2
    assert [stop.booking for stop in round_.stops.all()] == [bookings[1]]
    off = Booking.objects.get(pk=bookings[0].pk)
    assert (off.status, off.reason, off.sequence) == ("called_off", "frost", 1)
    call_off(booking=off, by=farrier)
    assert Booking.objects.get(pk=off.pk).sequence == 1
    assert not Visit.objects.exists()


def test_a_round_without_barns_is_no_round(bookings, farrier):
    for booking in bookings:
        call_off(booking=booking, by=farrier)
    assert not Round.objects.exists()


@pytest.mark.parametrize("kind", ["no_show", "late_call_off"])
def test_who_was_not_there_leaves_a_visit_for_billing(bookings, farrier, today, kind):
    call_off(booking=bookings[0], by=farrier, kind=kind)
    visit = Visit.objects.get()
    assert (visit.kind, visit.pk, visit.day) == (kind, bookings[0].pk, today)


def test_a_missed_visit_keeps_when_it_was_to_be_and_how_late_it_was_said(
    bookings, farrier
):
    """Billing's steps ask for both."""
    booking = bookings[0]
    starts = timezone.now() + timedelta(hours=30, seconds=30)
    ends = starts + timedelta(hours=1)
    Booking.objects.filter(pk=booking.pk).update(starts_at=starts, ends_at=ends)
    call_off(booking=booking, by=farrier, kind="late_call_off")
    visit = Visit.objects.get()
    assert visit.notice_minutes == 30 * 60
    told = timezone.localtime(starts, ZoneInfo("Europe/London")).time()
    assert visit.start_time == told


def test_what_was_called_off_can_be_booked_again(bookings, farrier, today):
    off = bookings[0]
    horses = tuple(row.horse for row in off.booked.all())
    call_off(booking=off, by=farrier)
    round_ = book_round(
        farrier=farrier,
        day=today,
        wishes=[Wish(off.barn, horses)],
        by=farrier,
        today=today,
    )
    assert round_.stops.count() == 2


def test_a_booking_changes_standing_horses_and_note(bookings, farrier, today):
    booking = bookings[0]
    keep = [row.horse for row in booking.booked.all()][:1]
    before = booking.stop.end - booking.stop.start
    change_booking(
        booking=booking,
        status="pencilled",
        horses=keep,
        note="ring first",
        typed_minutes=None,
        by=farrier,
    )
    booking = Booking.objects.select_related("stop").get(pk=booking.pk)
    assert (booking.status, booking.note) == ("pencilled", "ring first")
    assert booking.stop.end - booking.stop.start == before // 2
    assert due_horses(viewer=farrier, today=today).count() == 1


def test_a_booking_is_never_left_without_a_horse(bookings, farrier):
    with pytest.raises(Refused, match="Call it off"):
        change_booking(
            booking=bookings[0],
            status="agreed",
            horses=[],
            note="",
            typed_minutes=None,
            by=farrier,
        )


def test_a_booking_moves_to_another_day_and_both_rounds_follow(
    bookings, farrier, second_farrier, today
):
    booking, later = bookings[0], today + timedelta(days=3)

    def move():
        return reschedule(
            booking=booking, day=later, farrier=second_farrier, by=farrier, today=today
        )

    round_ = move()
    assert (round_.farrier, round_.day) == (second_farrier, later)
    moved = Booking.objects.get(pk=booking.pk)
    assert (moved.pk, moved.sequence) == (booking.pk, 1)
    assert moved.starts_at.date() == later
    assert moved.stop.round == round_
    old = Round.objects.get(farrier=farrier, day=today)
    assert [stop.booking for stop in old.stops.all()] == [bookings[1]]
    assert move() == round_
    assert Booking.objects.get(pk=booking.pk).sequence == 1


def test_moving_the_last_barn_away_leaves_no_round(bookings, farrier, today):
    later = today + timedelta(days=3)
    for booking in bookings:
        reschedule(booking=booking, day=later, farrier=farrier, by=farrier, today=today)
    assert [round_.day for round_ in Round.objects.all()] == [later]
    assert Round.objects.get().stops.count() == 2


def test_a_booking_moves_neither_back_in_time_nor_onto_its_like(
    bookings, farrier, second_farrier, today
):
    booking = bookings[0]
    horse = factories.make_horse(barn=booking.barn, today=today)
    book_round(
        farrier=second_farrier,
        day=today,
        wishes=[Wish(booking.barn, (horse,))],
        by=farrier,
        today=today,
    )
    over = {"booking": booking, "by": farrier, "today": today}
    with pytest.raises(Refused, match="That day is over"):
        reschedule(day=today - timedelta(days=1), farrier=farrier, **over)
    with pytest.raises(Refused, match="booked with Bram Farrier on that day already"):
        reschedule(day=today, farrier=second_farrier, **over)
    attend(booking=booking, by=farrier, today=today)
    with pytest.raises(Refused, match="no longer changes"):
        reschedule(day=today + timedelta(days=1), farrier=farrier, **over)


def test_owners_see_the_bookings_of_their_horses_alone(
    bookings, owner, other_owner, barn_contact, farrier
):
    horse = bookings[0].booked.first().horse
    horse.ownerships.update(client=owner.client)
    factories.make_barn_contact(barn=bookings[1].barn, user=barn_contact)
    seen = Booking.objects.visible_to
    assert list(seen(owner)) == [bookings[0]]
    assert list(seen(other_owner)) == []
    assert list(seen(barn_contact)) == [bookings[1]]
    assert seen(farrier).count() == 2
