"""The calendar by its secret address."""

from datetime import timedelta

import pytest
import vobject
from django.utils import timezone

from scheduling.models import Booking, CalendarFeed
from scheduling.selectors.plans import Wish
from scheduling.services.bookings import call_off
from scheduling.services.feeds import renew_feed, revoke_feed
from scheduling.services.rounds import book_round
from tests import factories


@pytest.fixture
def today(practice):
    return timezone.localdate(timezone=practice.zone)


@pytest.fixture
def round_(farrier, today):
    barn = factories.make_barn(name="Low Muir", phone="01632 960123")
    owner = factories.make_client(name="Morven Secret")
    horse = factories.make_horse(barn=barn, owner=owner, name="Bracken", today=today)
    return book_round(
        farrier=farrier,
        day=today + timedelta(days=1),
        wishes=[Wish(barn, (horse,))],
        by=farrier,
        today=today,
    )


@pytest.fixture
def address(farrier):
    return f"/feeds/{renew_feed(farrier=farrier, by=farrier).token}.ics"


def test_a_subscriber_reads_the_rounds_without_signing_in(as_stranger, address, round_):
    answer = as_stranger.get(address)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    event = vobject.readOne(answer.content.decode()).vevent
    booking = Booking.objects.get()
    assert event.dtstart.value == booking.starts_at
    assert event.dtend.value == booking.ends_at
    assert event.uid.value.startswith(f"{booking.pk}@")
    assert event.summary.value == "Low Muir: 1 horse"
    assert event.description.value == "Bracken"


def test_the_calendar_names_no_owner_and_no_telephone(as_stranger, address, round_):
    text = as_stranger.get(address).content.decode()
    assert "Secret" not in text
    assert "960123" not in text


def test_unchanged_rounds_are_not_sent_again(as_stranger, address, round_, farrier):
    first = as_stranger.get(address)
    again = as_stranger.get(address, headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 304
    call_off(booking=Booking.objects.get(), by=farrier)
    changed = as_stranger.get(address, headers={"If-None-Match": first["ETag"]})
    event = vobject.readOne(changed.content.decode()).vevent
    assert event.status.value == "CANCELLED"
    assert event.sequence.value == "1"


def test_a_fresh_address_shuts_the_old_one_and_shutting_shuts_it(
    as_stranger, address, farrier, practice
):
    fresh = f"/feeds/{renew_feed(farrier=farrier, by=farrier).token}.ics"
    assert as_stranger.get(address).status_code == 404
    assert as_stranger.get(fresh).status_code == 200
    for _ in range(2):
        revoke_feed(farrier=farrier, by=farrier)
    assert as_stranger.get(fresh).status_code == 404


def test_whoever_has_left_has_no_calendar(as_stranger, address, farrier):
    farrier.is_active = False
    farrier.save(update_fields=["is_active"])
    assert as_stranger.get(address).status_code == 404


def test_the_address_is_long_and_not_to_be_guessed(farrier, second_farrier):
    one = renew_feed(farrier=farrier, by=farrier).token
    other = renew_feed(farrier=second_farrier, by=farrier).token
    assert len(one) >= 43
    assert one != other


def test_a_farrier_keeps_the_own_calendar_and_the_office_any(
    as_farrier, as_second_farrier, as_office, as_apprentice, farrier, second_farrier
):
    renew = f"/hours/{farrier.pk}/calendar/"
    assert as_second_farrier.post(renew).status_code == 403
    assert as_apprentice.post(renew).status_code == 403
    assert not CalendarFeed.objects.exists()
    assert as_office.post(renew).status_code == 302
    token = CalendarFeed.objects.get().token
    assert token in as_farrier.get(f"/hours/{farrier.pk}/").content.decode()
    assert token not in as_second_farrier.get(f"/hours/{farrier.pk}/").content.decode()
    assert as_farrier.post(f"{renew}shut/").status_code == 302
    assert not CalendarFeed.objects.exists()
