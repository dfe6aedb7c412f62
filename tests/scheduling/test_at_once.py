"""Several at once, each with a connection of its own: nothing doubles."""

import contextlib
from datetime import UTC, date, datetime, timedelta
from functools import partial
from threading import local

import pytest

from horses.models import Visit
from practice.errors import Refused
from practice.models import Message
from scheduling.models import BookedHorse, Booking, DrivenRoad, Round, StopActual
from scheduling.selectors.plans import Wish
from scheduling.services.bookings import (
    attend,
    call_off,
    change_booking,
    reschedule,
)
from scheduling.services.rounds import book_round
from scheduling.services.telling import tell_late
from scheduling.services.underway import arrive, leave_home, run_late
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)

TODAY = date(2026, 3, 24)


@pytest.fixture
def house():
    """Two farriers and two barns with two horses each, committed."""
    factories.make_practice()
    farriers = [factories.make_user("farrier") for _ in range(2)]
    wishes = []
    for _ in range(2):
        barn = factories.make_barn()
        horses = tuple(factories.make_horse(barn=barn, today=TODAY) for _ in range(2))
        wishes.append(Wish(barn, horses))
    return farriers, wishes


def book(farrier, wishes, day=TODAY):
    return book_round(farrier=farrier, day=day, wishes=wishes, by=farrier, today=TODAY)


def test_one_round_asked_for_six_times_at_once_is_one_round(house, at_once):
    (farrier, _), wishes = house
    assert at_once(6, lambda: book(farrier, wishes)) == 6
    assert Round.objects.count() == 1
    assert Booking.objects.count() == 2
    assert BookedHorse.objects.count() == 4
    assert list(Round.objects.get().stops.values_list("position", flat=True)) == [1, 2]


def test_a_horse_wanted_by_six_rounds_at_once_is_booked_once(house, at_once):
    (farrier, other), wishes = house
    rounds = iter(
        [(who, TODAY + timedelta(days=n)) for n in range(3) for who in (farrier, other)]
    )
    mine = local()

    def act():
        if not hasattr(mine, "round"):  # tried again where the database was locked
            mine.round = next(rounds)
        book(mine.round[0], wishes[:1], mine.round[1])

    assert at_once(6, act) == 1
    assert Booking.objects.count() == 1
    assert BookedHorse.objects.count() == 2
    assert Round.objects.count() == 1


def test_one_stop_started_six_times_at_once_is_one_visit(house, at_once):
    (farrier, _), wishes = house
    booking = book(farrier, wishes).stops.first().booking
    assert at_once(6, lambda: attend(booking=booking, by=farrier, today=TODAY)) == 6
    assert Visit.objects.count() == 1


def test_a_stop_is_either_attended_or_called_off(house, at_once):
    (farrier, _), wishes = house
    booking = book(farrier, wishes).stops.first().booking
    acts = iter([attend, call_off] * 3)
    mine = local()

    def act():
        if not hasattr(mine, "act"):
            mine.act = next(acts)
        if mine.act is attend:
            attend(booking=booking, by=farrier, today=TODAY)
        else:
            call_off(booking=booking, by=farrier, kind="no_show")

    at_once(6, act)
    booking.refresh_from_db()
    assert Visit.objects.count() == 1
    kind = {"attended": "attended", "called_off": "no_show"}[booking.status]
    assert Visit.objects.get().kind == kind


def test_a_barn_changed_moved_and_booked_at_once_locks_nobody_out(house, at_once):
    """Everyone takes the round first, then its bookings: on PostgreSQL two that took
    them the other way round would end in a deadlock."""
    (farrier, _), wishes = house
    booking = book(farrier, wishes).stops.first().booking
    horses = [row.horse for row in booking.booked.select_related("horse")]
    days = [TODAY, TODAY + timedelta(days=1)]

    def change():
        change_booking(
            booking=booking,
            status="asked",
            horses=horses,
            note="",
            typed_minutes=None,
            by=farrier,
        )

    def move(day):
        reschedule(booking=booking, day=day, farrier=farrier, by=farrier, today=TODAY)

    def acts():
        for day in days * 3:
            for act in (change, partial(book, farrier, wishes), partial(move, day)):
                with contextlib.suppress(Refused):
                    act()

    assert at_once(4, acts) == 4
    assert Booking.objects.count() == 2
    assert BookedHorse.objects.count() == 4


def test_taps_of_the_day_at_once_count_once(house, at_once):
    (farrier, _), wishes = house
    round_ = book(farrier, wishes)
    first, second = Booking.objects.order_by("stop__position")
    now = datetime(2026, 3, 24, 9, tzinfo=UTC)
    leave_home(round_=round_, at=now, by=farrier)
    later = now + timedelta(minutes=30)
    arrived = at_once(3, lambda: arrive(booking=first, at=later, by=farrier))
    assert arrived == 3
    assert DrivenRoad.objects.get().minutes == 30
    late = partial(run_late, minutes=15, was=0, by=farrier, at=later)
    assert at_once(4, lambda: late(booking=second)) == 4
    assert StopActual.objects.get(booking=second).late == 15
    told = {str(booking.pk) for booking in (first, second)}
    at_once(3, lambda: tell_late(round_=round_, only=told, by=farrier))
    assert Message.objects.filter(kind="running_late").count() == 2
