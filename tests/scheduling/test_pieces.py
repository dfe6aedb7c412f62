"""What is booked, as seen from the pages of a horse, a barn and an owner."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from horses.services.ownership import set_owners
from scheduling.models import BookedHorse, Booking
from scheduling.selectors.plans import Wish
from scheduling.services.rounds import book_round
from tests import factories


@pytest.fixture
def horse(owner, practice):
    return factories.make_horse(owner=owner.client, name="Bracken")


@pytest.fixture
def booking(horse, farrier, practice):
    today = timezone.localdate(timezone=practice.zone)
    book_round(
        farrier=farrier,
        day=today + timedelta(days=2),
        wishes=[Wish(horse.barn, (horse,))],
        by=farrier,
        today=today,
    )
    return Booking.objects.get()


def test_staff_see_when_a_horse_is_booked(as_apprentice, horse, farrier):
    address = f"/bookings/of-horse/{horse.pk}/"
    assert "Not booked" in as_apprentice.get(address).content.decode()


def test_the_horses_bookings_lead_to_the_round(as_apprentice, booking, horse):
    page = as_apprentice.get(f"/bookings/of-horse/{horse.pk}/").content.decode()
    assert f"/rounds/{booking.stop.round_id}/" in page


def test_an_owner_sees_the_day_of_the_own_horse_and_of_no_other(
    as_owner, as_other_owner, booking, horse
):
    address = f"/bookings/of-mine/{horse.pk}/"
    assert "Agreed" in as_owner.get(address).content.decode()
    assert as_other_owner.get(address).status_code == 404
    assert as_owner.get(f"/bookings/of-horse/{horse.pk}/").status_code == 403


def test_what_is_pencilled_is_told_to_nobody_outside(
    as_owner, as_barn_contact, as_farrier, barn_contact, booking, horse
):
    factories.make_barn_contact(barn=horse.barn, user=barn_contact)
    coming = f"/bookings/at-barn/{horse.barn_id}/"
    assert "Bracken" in as_barn_contact.get(coming).content.decode()
    Booking.objects.update(status="pencilled")
    mine = as_owner.get(f"/bookings/of-mine/{horse.pk}/").content.decode()
    assert "No day is agreed yet" in mine
    assert "No visit is booked" in as_barn_contact.get(coming).content.decode()
    assert "Bracken" in as_farrier.get(coming).content.decode()


def test_a_barn_contact_sees_no_other_barn(as_barn_contact, as_owner, booking, horse):
    address = f"/bookings/at-barn/{horse.barn_id}/"
    assert as_barn_contact.get(address).status_code == 404
    assert as_owner.get(address).status_code == 403


def test_a_past_owner_is_not_told_of_the_horse_s_next_visit(
    as_owner, owner, horse, booking, farrier
):
    """Not even where the same booking is for another horse of theirs."""
    other = factories.make_horse(owner=owner.client, name="Heather", barn=horse.barn)
    BookedHorse.objects.create(booking=booking, horse=other)
    buyer = factories.make_client()
    sold = booking.day - timedelta(days=1)
    set_owners(horse=horse, shares={buyer: Decimal(100)}, starts=sold, by=farrier)
    theirs = as_owner.get(f"/bookings/of-mine/{other.pk}/").content.decode()
    assert "Agreed" in theirs
    gone = as_owner.get(f"/bookings/of-mine/{horse.pk}/").content.decode()
    assert "No day is agreed yet" in gone
