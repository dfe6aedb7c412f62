"""The day under way: taps, running late, telling those affected once, learning."""

from datetime import UTC, date, datetime, time, timedelta
from functools import partial

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Shoe, Visit
from practice.errors import Refused
from practice.models import Client, Message, Practice
from scheduling.models import (
    Booking,
    ClientReminders,
    DrivenRoad,
    HorseHandling,
    Round,
    Stop,
    StopActual,
    TimeTold,
)
from scheduling.selectors.plans import Wish
from scheduling.selectors.rounds import with_stops
from scheduling.selectors.sheets import sheet_of
from scheduling.selectors.underway import moved, slacks, taught
from scheduling.services import answers, telling
from scheduling.services import underway as service
from scheduling.services.asks import ask_about
from scheduling.services.bookings import attend
from scheduling.services.rounds import book_round, reorder_best
from scheduling.templatetags.road import sms, tel
from tests import factories

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 13)  # winter: London is on UTC


def at(hour, minute=0):
    return datetime(2026, 1, 13, hour, minute, tzinfo=UTC)


@pytest.fixture
def farrier():
    factories.make_practice()
    return factories.make_user("farrier", name="Isla")


@pytest.fixture
def round_(farrier):
    work = factories.make_work(minutes=60)
    wishes = []
    for n in range(3):
        barn = factories.make_barn(name=f"Barn {'ABC'[n]}")
        horse = factories.make_horse(barn=barn, usual_work=work, name=f"Horse {n}")
        wishes.append(Wish(barn, (horse,)))
    return book_round(farrier=farrier, day=DAY, wishes=wishes, by=farrier, today=DAY)


def stops(round_):
    rows = Stop.objects.filter(round=round_).select_related("booking__barn")
    return list(rows.order_by("position"))


def shown(round_):
    return with_stops(Round.objects.filter(pk=round_.pk)).get()


def test_fifteen_minutes_more_time_the_rest_anew_in_the_same_order(round_, farrier):
    before = stops(round_)
    service.run_late(booking=before[0].booking, minutes=15, by=farrier, at=at(8))
    after = stops(round_)
    assert [s.booking_id for s in after] == [s.booking_id for s in before]
    assert [a.start - b.start for a, b in zip(after, before, strict=True)] == [15] * 3
    round_.refresh_from_db()
    assert not round_.by_hand
    booking = Booking.objects.get(pk=after[2].booking_id)
    assert booking.starts_at == at(0) + timedelta(minutes=after[2].start)
    assert booking.sequence == 1


def test_a_tap_sent_twice_counts_once_and_can_be_taken_back(round_, farrier):
    before = stops(round_)
    booking = before[1].booking
    for _ in range(2):
        service.run_late(booking=booking, minutes=15, was=0, by=farrier, at=at(8))
    assert [s.start for s in stops(round_)][1:] == [s.start + 15 for s in before[1:]]
    service.run_late(booking=booking, minutes=15, was=15, by=farrier, at=at(8))
    assert StopActual.objects.get(booking=booking).late == 30
    service.run_late(booking=booking, minutes=0, by=farrier, at=at(8))
    assert [s.start for s in stops(round_)] == [s.start for s in before]


def test_taps_stand_and_the_rest_follows(round_, farrier):
    first, second, third = (stop.booking for stop in stops(round_))
    service.leave_home(round_=round_, at=at(8, 30), by=farrier)
    service.arrive(booking=first, at=at(9), by=farrier)
    service.arrive(booking=first, at=at(9, 40), by=farrier)  # a second tap
    service.run_late(booking=first, minutes=20, by=farrier, at=at(10))
    rows = stops(round_)
    assert rows[0].arrive == 9 * 60
    assert rows[0].end == 9 * 60 + 10 + 60 + 20
    service.leave(booking=first, at=at(10, 15), by=farrier)
    rows = stops(round_)
    assert rows[0].end == 10 * 60 + 15
    assert rows[1].arrive == 10 * 60 + 15 + rows[1].drive_minutes
    service.arrive(booking=second, at=at(10, 45), by=farrier)
    assert [(r.start_name, r.minutes) for r in DrivenRoad.objects.order_by("pk")] == [
        ("home", 30),
        (first.barn.name, 30),
    ]
    reorder_best(round_=round_, by=farrier)
    assert [s.booking_id for s in stops(round_)][:2] == [first.pk, second.pk]
    service.leave(booking=second, at=at(11), by=farrier)
    service.arrive(booking=third, at=at(11, 20), by=farrier)
    service.leave(booking=third, at=at(12), by=farrier)
    service.come_home(round_=round_, at=at(12, 25), by=farrier)
    home = DrivenRoad.objects.get(key=f"home-{round_.pk}")
    assert (home.start_name, home.minutes) == (third.barn.name, 25)


def test_taps_out_of_turn_are_refused(round_, farrier):
    booking = stops(round_)[0].booking
    with pytest.raises(Refused, match="There"):
        service.leave(booking=booking, at=at(9), by=farrier)
    with pytest.raises(Refused, match="day of the round"):
        service.arrive(booking=booking, at=at(9) + timedelta(days=1), by=farrier)
    with pytest.raises(Refused, match="5 to 240"):
        service.run_late(booking=booking, minutes=3, by=farrier, at=at(9))
    service.arrive(booking=booking, at=at(9), by=farrier)
    service.leave(booking=booking, at=at(10), by=farrier)
    with pytest.raises(Refused, match="is over"):
        service.run_late(booking=booking, minutes=15, by=farrier, at=at(10))
    with pytest.raises(Refused, match="there already"):
        service.skip(booking=booking, by=farrier, at=at(10))


def test_those_affected_are_told_once_for_each_new_time(round_, farrier):
    rows = stops(round_)
    service.run_late(booking=rows[0].booking, minutes=5, by=farrier, at=at(8))
    assert moved(round_) == []  # five minutes are no news
    service.run_late(booking=rows[0].booking, minutes=15, by=farrier, at=at(8))
    late = moved(round_)
    assert [one.minutes for one in late] == [20, 20, 20]
    keys = {str(one.booking.pk) for one in late[1:]}
    assert telling.tell_late(round_=round_, only=keys, by=farrier) == 2
    assert telling.tell_late(round_=round_, only=keys, by=farrier) == 0
    mail = Message.objects.filter(kind="running_late")
    assert mail.count() == 2
    starts = f"{rows[1].start // 60:02}:{rows[1].start % 60:02}"
    assert f"not {starts}" in mail.order_by("pk")[0].body
    assert "late today" in mail[0].body
    assert [one.booking.pk for one in moved(round_)] == [rows[0].booking_id]
    service.run_late(booking=rows[1].booking, minutes=30, by=farrier, at=at(9))
    assert len(moved(round_)) == 3
    every = {str(one.booking.pk) for one in moved(round_)}
    assert telling.tell_late(round_=round_, only=every, by=farrier) == 3


def test_those_without_mail_are_told_by_phone_once_and_it_is_kept(round_, farrier):
    rows = stops(round_)[:2]
    owners = [row.booking.booked.get().horse.ownerships.get().client for row in rows]
    Client.objects.filter(pk=owners[0].pk).update(email="")
    ClientReminders.objects.create(client=owners[1], channel="phone")
    service.run_late(booking=rows[0].booking, minutes=20, by=farrier, at=at(8))
    keys = {str(row.booking_id) for row in stops(round_)}
    assert telling.tell_late(round_=round_, only=keys, by=farrier) == 1
    waiting = moved(round_)
    assert [one.booking.pk for one in waiting] == [row.booking_id for row in rows]
    (news,) = telling.news_of(waiting[0])
    assert (news.is_mailed, news.is_told, news.moved.minutes) == (False, False, 20)
    told = partial(
        telling.told_by_phone,
        round_=round_,
        booking=str(rows[0].booking_id),
        party=news.party.key,
        by=farrier,
    )
    with pytest.raises(Refused, match="no time of that day"):
        told(starts=at(8) + timedelta(days=9))
    assert told(starts=news.moved.starts)
    assert [one.booking.pk for one in moved(round_)] == [rows[1].booking_id]
    assert not told(starts=news.moved.starts)  # a second tap
    with pytest.raises(Refused, match="know the time"):
        told(starts=news.moved.starts + timedelta(minutes=1))
    row = TimeTold.objects.get(way="phone")
    assert (row.client, row.told_by) == (owners[0], farrier)
    service.run_late(booking=rows[0].booking, minutes=0, by=farrier, at=at(9))
    (again,) = telling.news_of(moved(round_)[0])
    assert again.moved.told == news.moved.starts  # told anew: it is on time after all
    assert told(starts=again.moved.starts)


def test_what_was_told_from_an_old_page_is_what_they_know(round_, farrier):
    booking = stops(round_)[0].booking
    Client.objects.update(email="")
    service.run_late(booking=booking, minutes=20, by=farrier, at=at(8))
    (old,) = telling.news_of(moved(round_)[0])
    service.run_late(booking=booking, minutes=20, by=farrier, at=at(8))
    told = partial(telling.told_by_phone, round_=round_, booking=str(booking.pk))
    for is_new in (True, False):
        party, starts = old.party.key, old.moved.starts
        assert told(party=party, starts=starts, by=farrier) == is_new
    (news,) = telling.news_of(moved(round_)[0])
    assert (news.moved.told, news.moved.minutes) == (old.moved.starts, 20)


def test_a_text_message_stands_ready_with_number_and_words():
    """RFC 5724, section 2.2: the number, then the body percent-encoded."""
    practice = Practice(country="GB")
    address = sms("07700 900123 (evenings)", practice, "Barn A today: 10:20 & no later")
    assert address == (
        "sms:+447700900123?body=Barn%20A%20today%3A%2010%3A20%20%26%20no%20later"
    )
    assert tel("01750 555 010", practice) == "tel:+441750555010"  # RFC 3966


def test_a_late_start_is_news_too(round_, farrier):
    known = {s.booking_id: s.start for s in stops(round_)}
    service.leave_home(round_=round_, at=at(9), by=farrier)
    late = moved(round_)
    assert len(late) == 3
    for one in late:
        assert one.told == at(0) + timedelta(minutes=known[one.booking.pk])
        assert one.minutes == 60


def test_a_stop_left_out_frees_its_horses(round_, farrier):
    booking = stops(round_)[1].booking
    service.skip(booking=booking, by=farrier, at=at(9))
    booking.refresh_from_db()
    assert booking.status == Booking.Status.CALLED_OFF
    assert len(stops(round_)) == 2


def test_the_visit_keeps_the_real_road_and_who_shared_it(round_, farrier):
    first, second, _ = (stop.booking for stop in stops(round_))
    planned = stops(round_)[1].drive_minutes
    service.leave_home(round_=round_, at=at(8), by=farrier)
    service.arrive(booking=first, at=at(8, 47), by=farrier)
    visit = attend(booking=first, by=farrier, today=DAY)
    assert visit.travel_minutes == 47
    round_.refresh_from_db()
    assert (visit.round_minutes, visit.round_stops) == (round_.drive_minutes, 3)
    legs = [stop.drive_metres for stop in stops(round_)]
    assert visit.round_metres == sum(legs) + round_.home_metres
    other = attend(booking=second, by=farrier, today=DAY)
    assert other.travel_minutes == planned  # nobody tapped: as planned
    assert Visit.objects.get(pk=other.pk).round_stops == 3


def test_slack_is_up_to_the_gate_and_the_end_of_the_day(round_, farrier):
    rows = stops(round_)
    slack = slacks(shown(round_), UTC)
    round_.refresh_from_db()
    end = round_.ends.hour * 60 + round_.ends.minute
    assert slack[str(rows[2].booking_id)] == end - round_.home_at
    factories.make_access_hours(
        barn=rows[1].booking.barn,
        weekday=DAY.isoweekday(),
        opens=time(0),
        closes=time(*divmod(rows[1].start + 7, 60)),
    )
    assert slacks(shown(round_), UTC)[str(rows[1].booking_id)] == 7


def test_an_agreed_start_bounds_the_slack(round_, farrier):
    """A quarter of an hour after it, whatever the barn's hours say."""
    booking = stops(round_)[1].booking
    assert slacks(shown(round_), UTC)[str(booking.pk)] > 15
    Booking.objects.filter(pk=booking.pk).update(status=Booking.Status.PENCILLED)
    (ask,) = ask_about(booking=booking, by=farrier)
    answers.agree(ask=ask)
    assert slacks(shown(round_), UTC)[str(booking.pk)] == 15


def test_the_sheet_sums_what_to_bring(round_, farrier):
    rows = stops(round_)
    horse = rows[0].booking.booked.get().horse
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=date(2025, 12, 1))
    record = visit.records.get()
    for foot in ("LF", "RF"):
        told = factories.make_foot_record(record=record, foot=foot, work="new_shoe")
        Shoe.objects.create(
            foot_record=told,
            profile="concave",
            section_width_mm=20,
            section_thickness_mm=10,
            size="4",
            nails_medial=3,
            nails_lateral=4,
        )
    HorseHandling.objects.create(horse=horse, needs_two=True)
    sheet = sheet_of(shown(round_), factories.Practice.objects.the_one())
    assert sum(count for _, count in sheet.bring.works) == 3
    assert sheet.bring.shoes == (("fore, concave 20 × 10 mm, size 4", 2),)
    assert sheet.bring.nails == 14
    assert set(sheet.bring.unknown) == {"Horse 0", "Horse 1", "Horse 2"} - {horse.name}
    assert sheet.bring.two_people == (horse.name,)


def test_stays_teach_the_minutes_of_a_work(farrier, django_assert_num_queries):
    work = factories.make_work(minutes=60)
    horse = factories.make_horse(usual_work=work)
    for n in range(5):
        day = DAY - timedelta(days=7 * n)
        book_round(
            farrier=farrier,
            day=day,
            wishes=[Wish(horse.barn, (horse,))],
            by=farrier,
            today=day,
        )
        booking = Booking.objects.get(day=day)
        visit = attend(booking=booking, by=farrier, today=day)
        visit.records.update(is_recorded=True)
        Visit.objects.filter(pk=visit.pk).update(
            state="closed", closed_at=at(18) - timedelta(days=7 * n)
        )
        begin = at(9) - timedelta(days=7 * n)
        StopActual.objects.create(
            booking=booking,
            arrived_at=begin,
            left_at=begin + timedelta(minutes=10 + (300 if n == 3 else 75)),
        )
    with django_assert_num_queries(5):  # six where more is said of a horse
        found = taught(today=DAY)
    assert [(one, lesson.stays, lesson.median) for one, lesson in found.works] == [
        (work, 5, 75)
    ]
    ((who, what, lesson),) = found.horses
    assert (who, what, lesson.planned, lesson.median) == (horse, work, 60, 75)


def test_the_pages_of_the_day(client, farrier):
    today = timezone.localdate()
    work = factories.make_work(minutes=60)
    horse = factories.make_horse(
        barn=factories.make_barn(name="<b>Gate</b>"), usual_work=work
    )
    round_ = book_round(
        farrier=farrier,
        day=today,
        wishes=[Wish(horse.barn, (horse,))],
        by=farrier,
        today=today,
    )
    booking = Booking.objects.get()
    client.force_login(farrier)
    page = reverse("scheduling:round", args=[round_.pk])
    assert client.post(reverse("scheduling:left_home", args=[round_.pk])).url == page
    late = reverse("scheduling:late", args=[booking.pk])
    for _ in range(2):
        answer = client.post(late, {"minutes": "15", "was": "0"})
        assert answer.url == page
    assert client.post(late, {"minutes": "x" * 50}).status_code == 302
    shown_ = client.get(page).content.decode()
    assert "+15 min" in shown_
    assert "tell those affected" in shown_
    tell = reverse("scheduling:tell_late", args=[round_.pk])
    drafts = client.get(tell).content.decode()
    assert "&lt;b&gt;Gate" in drafts
    assert "<b>Gate" not in drafts
    assert client.post(tell, {"booking": str(booking.pk)}).url == page
    assert Message.objects.filter(kind="running_late").count() == 1
    assert "Nobody to tell" in client.get(tell).content.decode()
    sheet = client.get(reverse("scheduling:round_sheet", args=[round_.pk]))
    assert "What to bring" in sheet.content.decode()
    pdf = client.get(reverse("scheduling:round_sheet_pdf", args=[round_.pk]))
    assert pdf.content.startswith(b"%PDF")
