"""Booking a round and changing its order."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from practice.errors import Refused
from practice.models import Change
from scheduling.models import Booking, Round, Stop, UsualDay
from scheduling.selectors.due import due_horses
from scheduling.selectors.plans import Wish
from scheduling.services.plans import at_minute
from scheduling.services.rounds import book_round, move_stop, reorder_best
from tests import factories

TODAY = date(2026, 3, 24)
DAY = date(2026, 3, 30)  # the Monday after British clocks have gone forward


def barn_at(lat, lon, **over):
    return factories.make_barn(
        latitude=Decimal(str(lat)), longitude=Decimal(str(lon)), **over
    )


def wish(barn, horses=1, **more):
    work = factories.make_work(minutes=30)
    return Wish(
        barn,
        tuple(
            factories.make_horse(barn=barn, usual_work=work, today=TODAY)
            for _ in range(horses)
        ),
        **more,
    )


@pytest.fixture
def wishes(practice):
    """Three barns on a line east of home; given out of order."""
    return [
        wish(barn_at(55.617, lon, name=name))
        for name, lon in (("Far", -2.5), ("Near", -2.75), ("Middle", -2.62))
    ]


@pytest.fixture
def book(farrier):
    def booked(wishes, **over):
        fields = {"farrier": farrier, "day": DAY, "by": farrier, "today": TODAY}
        return book_round(wishes=wishes, **{**fields, **over})

    return booked


def order(round_):
    return [
        stop.booking.barn.name
        for stop in Stop.objects.filter(round=round_).select_related("booking__barn")
    ]


def test_a_booked_round_has_order_times_and_sums(book, wishes):
    round_ = book(wishes)
    # Out and back along a line: a barn passed on the way out may wait for the way back.
    # Only Near between the other two would be driven for nothing.
    assert order(round_)[1] != "Near"
    stops = list(round_.stops.all())
    assert stops[0].arrive == round_.leave + stops[0].drive_minutes
    assert all(stop.end - stop.start == 30 for stop in stops)
    drives = sum(stop.drive_minutes for stop in stops) + round_.home_minutes
    assert round_.drive_minutes == drives
    assert round_.work_minutes == 3 * (30 + 10)
    assert round_.broken == []


def test_times_are_those_of_the_practice_on_that_day(book, wishes):
    booking = book(wishes).stops.first().booking
    at = booking.stop.start
    local = datetime.combine(
        DAY, time(at // 60, at % 60), tzinfo=ZoneInfo("Europe/London")
    )
    assert booking.starts_at == local
    assert booking.starts_at.utcoffset() in (timedelta(0), timedelta(hours=1))
    assert booking.ends_at - booking.starts_at == timedelta(minutes=30)


def test_booked_horses_leave_the_due_list(book, wishes, farrier):
    assert due_horses(viewer=farrier, today=TODAY).count() == 3
    book(wishes)
    assert due_horses(viewer=farrier, today=TODAY).count() == 0


def test_booking_twice_changes_nothing(book, wishes):
    first = book(wishes)
    before = list(Booking.objects.order_by("pk").values_list("pk", "starts_at"))
    changes = Change.objects.count()
    assert book(wishes).pk == first.pk
    after = list(Booking.objects.order_by("pk").values_list("pk", "starts_at"))
    assert after == before
    assert Change.objects.count() == changes
    assert [b.sequence for b in Booking.objects.all()] == [0, 0, 0]


def test_a_barn_booked_already_gets_the_horses_that_it_lacks(book, wishes):
    book(wishes[:1])
    barn = wishes[0].barn
    book([wish(barn)])
    booking = Booking.objects.get()
    assert booking.booked.count() == 2
    assert booking.stop.end - booking.stop.start == 60


def test_a_round_that_breaks_the_hours_is_booked_and_says_so(book, farrier, practice):
    UsualDay.objects.create(
        farrier=farrier, weekday=1, starts=time(8), ends=time(9), break_minutes=0
    )
    round_ = book([wish(barn_at(55.617, -2.5), horses=2)])
    assert [one["kind"] for one in round_.broken] == ["day"]
    assert "doesn't fit the day" in round_.broken[0]["sentence"]
    assert round_.breaks_a_rule


def test_a_day_on_which_the_farrier_stays_at_home_is_warned_of(book, farrier, wishes):
    UsualDay.objects.create(farrier=farrier, weekday=2, starts=time(8), ends=time(17))
    round_ = book(wishes)
    assert round_.broken[0]["kind"] == "off"
    assert "does not drive out on Monday 30 March" in round_.broken[0]["sentence"]


def test_a_closed_barn_is_warned_of(book, practice):
    barn = barn_at(55.617, -2.7)
    factories.make_access_hours(barn=barn, weekday=2)
    round_ = book([wish(barn)])
    assert [one["kind"] for one in round_.broken] == ["closed"]


def test_a_barn_without_position_is_booked_last_with_typed_minutes(book, wishes):
    lost = factories.make_barn(name="Lost", latitude=None, longitude=None)
    round_ = book([wish(lost, typed_minutes=25), *wishes])
    last = round_.stops.last()
    assert last.booking.barn == lost
    assert (last.drive_minutes, last.drive_metres) == (25, None)
    assert not round_.breaks_a_rule


@pytest.mark.parametrize(
    ("over", "field", "said"),
    [
        ({"day": TODAY - timedelta(days=1)}, "day", "That day is over"),
        ({"day": date(9999, 12, 31)}, "day", "is the year right"),
        ({"wishes": []}, "horse", "at least one horse"),
    ],
)
def test_what_cannot_be_booked_is_refused(book, wishes, over, field, said):
    with pytest.raises(Refused, match=said) as refusal:
        book(**{"wishes": wishes, **over})
    assert refusal.value.field == field
    assert not Round.objects.exists()


def test_only_farriers_drive_rounds(book, wishes, office):
    with pytest.raises(Refused, match="Choose a farrier"):
        book(wishes, farrier=office)


def test_a_horse_booked_elsewhere_is_refused_with_where(book, wishes, second_farrier):
    book(wishes)
    with pytest.raises(Refused, match="Monday 30 March with Ailsa Farrier"):
        book(wishes[:1], farrier=second_farrier)
    assert not Round.objects.filter(farrier=second_farrier).exists()


def test_a_horse_of_another_barn_is_refused(book, wishes):
    with pytest.raises(Refused, match="does not stand at"):
        book([Wish(wishes[0].barn, wishes[1].horses)])


def test_a_stop_is_moved_by_hand_and_put_right_again(book, wishes, farrier):
    round_ = book(wishes)
    best = order(round_)
    first = round_.stops.first().booking
    round_ = move_stop(booking=first, places=1, by=farrier)
    assert order(round_) == [best[1], best[0], best[2]]
    assert round_.by_hand
    assert Booking.objects.get(pk=first.pk).sequence == 1
    round_ = move_stop(booking=first, places=1, by=farrier)
    assert order(round_) == [best[1], best[2], best[0]]
    move_stop(booking=first, places=1, by=farrier)  # the last one stays where it is
    assert order(round_) == [best[1], best[2], best[0]]
    round_ = reorder_best(round_=round_, by=farrier)
    assert order(round_) == best
    assert not round_.by_hand


def test_an_order_set_by_hand_is_kept_when_a_barn_is_added(book, wishes, farrier):
    round_ = book(wishes)
    moved = move_stop(booking=round_.stops.first().booking, places=1, by=farrier)
    by_hand = order(moved)
    book([wish(barn_at(55.617, -2.79, name="New"))])
    assert order(moved) == [*by_hand, "New"]


@pytest.mark.parametrize(
    ("starts", "ends"), [((0, 55), (2, 5)), ((1, 10), (2, 5)), ((1, 30), (1, 50))]
)
def test_a_stop_over_the_hour_that_is_left_out_in_spring_ends_after_its_start(
    starts, ends
):
    """Europe/London went from 01:00 to 02:00 on 28 March 2027 (tz database)."""
    zone = ZoneInfo("Europe/London")
    began, ended = (
        at_minute(date(2027, 3, 27), 24 * 60 + hour * 60 + minute, zone)
        for hour, minute in (starts, ends)
    )
    assert began.tzinfo == ended.tzinfo == UTC
    assert began <= ended
