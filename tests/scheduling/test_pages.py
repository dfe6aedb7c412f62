"""The pages of the road, through the front door."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Visit
from scheduling.models import Booking, Round
from scheduling.selectors.plans import Wish
from scheduling.services.rounds import book_round
from tests import factories


@pytest.fixture
def today(practice):
    return timezone.localdate(timezone=practice.zone)


@pytest.fixture
def round_today(farrier, today):
    """Two barns, today."""
    return make_round(farrier, today, today)


def make_round(farrier, day, today, barns=2):
    wishes = []
    for _ in range(barns):
        barn = factories.make_barn(phone="01632 960001")
        horse = factories.make_horse(barn=barn, cautions="Kicks behind", today=today)
        wishes.append(Wish(barn, (horse,)))
    return book_round(farrier=farrier, day=day, wishes=wishes, by=farrier, today=today)


def booking_form(farrier, horses, day, **over):
    return {
        "farrier": farrier.pk,
        "day": day.isoformat(),
        "status": "agreed",
        "note": "",
        "horse": [horse.pk for horse in horses],
        "do": "book",
        **over,
    }


def test_a_round_is_looked_at_before_it_is_booked(as_farrier, farrier, today):
    horses = [factories.make_horse(today=today) for _ in range(3)]
    asked = "&".join(f"horse={horse.pk}" for horse in horses)
    page = as_farrier.get(f"/rounds/book/?{asked}").content.decode()
    assert "<svg" in page
    assert "leave home" in page
    form = booking_form(farrier, horses, today, do="look")
    answer = as_farrier.post("/rounds/book/", form)
    assert answer.status_code == 200
    assert not Round.objects.exists()


def test_booking_sent_twice_is_booked_once(as_farrier, farrier, today):
    horses = [factories.make_horse(today=today) for _ in range(3)]
    form = booking_form(farrier, horses, today)
    first = as_farrier.post("/rounds/book/", form)
    second = as_farrier.post("/rounds/book/", form)
    assert first.status_code == second.status_code == 302
    assert first["Location"] == second["Location"]
    assert Booking.objects.count() == 3
    assert "Kicks" not in as_farrier.get(first["Location"]).content.decode()


def test_a_bad_booking_keeps_what_was_typed(as_farrier, farrier, today):
    lost = factories.make_barn(latitude=None, longitude=None)
    horse = factories.make_horse(barn=lost, today=today)
    form = booking_form(
        farrier,
        [horse],
        today - timedelta(days=2),
        note="bring the gas forge",
        **{f"typed_{lost.pk}": "soon"},
    )
    answer = as_farrier.post("/rounds/book/", form)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "That day is over" in page
    assert "Give whole minutes, such as 25." in page
    assert "bring the gas forge" in page
    assert f'name="typed_{lost.pk}" value="soon"' in page
    assert f'value="{horse.pk}" id="horse-{horse.pk}" checked' in page


def test_a_round_without_horses_is_refused_in_words(as_farrier, farrier, today):
    answer = as_farrier.post("/rounds/book/", booking_form(farrier, [], today))
    assert answer.status_code == 422
    assert "Choose at least one horse." in answer.content.decode()


def test_a_barn_without_position_is_booked_with_the_minutes_typed(
    as_farrier, farrier, today
):
    lost = factories.make_barn(latitude=None, longitude=None)
    horse = factories.make_horse(barn=lost, today=today)
    form = booking_form(farrier, [horse], today, **{f"typed_{lost.pk}": "25"})
    assert as_farrier.post("/rounds/book/", form).status_code == 302
    assert Booking.objects.get().stop.drive_minutes == 25


def test_a_day_that_does_not_fit_is_warned_of_before_booking(
    as_farrier, farrier, today
):
    work = factories.make_work(minutes=400)
    horses = [factories.make_horse(usual_work=work, today=today) for _ in range(3)]
    form = booking_form(farrier, horses, today, do="look")
    page = as_farrier.post("/rounds/book/", form).content.decode()
    assert "The round doesn&#x27;t fit the day" in page


def test_the_round_page_tells_the_day_stop_by_stop(as_farrier, round_today):
    page = as_farrier.get(f"/rounds/{round_today.pk}/").content.decode()
    for stop in round_today.stops.all():
        barn = stop.booking.barn
        assert barn.name in page
        assert f"geo:{float(barn.latitude):.6f},{float(barn.longitude):.6f}" in page
    assert 'href="tel:01632960001"' in page
    assert "Kicks behind" in page
    assert page.count("Start visit") == 2
    assert "<svg" in page


def test_a_round_shows_no_tile_map_unless_tiles_are_configured(
    as_farrier, round_today, settings
):
    address = f"/rounds/{round_today.pk}/"
    assert "data-tile-map" not in as_farrier.get(address).content.decode()
    settings.TILE_URL = "https://tiles.example.org/{z}/{x}/{y}.png"
    page = as_farrier.get(address)
    assert "data-tile-map" in page.content.decode()
    assert "https://tiles.example.org" in page["Content-Security-Policy"]


def test_starting_a_visit_twice_leads_to_one(as_farrier, round_today):
    booking = round_today.stops.first().booking
    address = reverse("scheduling:attend", args=[booking.pk])
    first, second = as_farrier.post(address), as_farrier.post(address)
    assert first["Location"] == second["Location"]
    assert Visit.objects.count() == 1


def test_an_apprentice_sees_rounds_and_starts_visits_but_books_none(
    as_apprentice, round_today, today
):
    page = as_apprentice.get(f"/rounds/{round_today.pk}/").content.decode()
    booking = round_today.stops.first().booking
    assert "Start visit" in page
    assert "Call off" not in page
    assert as_apprentice.get("/rounds/book/").status_code == 403
    for name in ("booking", "call_off", "move_up"):
        address = reverse(f"scheduling:{name}", args=[booking.pk])
        assert as_apprentice.post(address).status_code == 403
    assert as_apprentice.post(f"/bookings/{booking.pk}/attend/").status_code == 302


def test_the_office_books_but_starts_no_visit(as_office, round_today):
    booking = round_today.stops.first().booking
    assert as_office.get("/rounds/book/").status_code == 200
    assert as_office.post(f"/bookings/{booking.pk}/attend/").status_code == 403


def test_owners_and_barn_contacts_enter_no_page_of_the_road(
    as_owner, as_barn_contact, as_stranger, round_today
):
    booking = round_today.stops.first().booking
    addresses = [
        "/today/",
        "/rounds/",
        "/rounds/book/",
        f"/rounds/{round_today.pk}/",
        f"/bookings/{booking.pk}/",
        "/hours/",
    ]
    for address in addresses:
        assert as_owner.get(address).status_code == 403
        assert as_barn_contact.get(address).status_code == 403
        assert as_stranger.get(address).status_code == 302


def test_calling_off_asks_first_and_leads_to_who_could_take_the_place(
    as_farrier, farrier, round_today
):
    booking = round_today.stops.first().booking
    address = f"/bookings/{booking.pk}/call-off/"
    assert as_farrier.get(address).status_code == 200
    assert Booking.objects.open().count() == 2
    answer = as_farrier.post(address, {"kind": "", "reason": "frost"})
    assert answer["Location"] == f"/rounds/free/{farrier.pk}/{booking.day}/"
    assert f"/rounds/{round_today.pk}/" in as_farrier.get(answer["Location"]).text
    assert Booking.objects.open().count() == 1


def test_a_booking_is_changed_on_its_page(as_farrier, round_today):
    booking = round_today.stops.first().booking
    horse = booking.booked.first().horse
    form = {"status": "asked", "horse": [horse.pk], "note": "ring first"}
    answer = as_farrier.post(f"/bookings/{booking.pk}/", form)
    assert answer.status_code == 302
    booking.refresh_from_db()
    assert (booking.status, booking.note) == ("asked", "ring first")
    answer = as_farrier.post(f"/bookings/{booking.pk}/", {**form, "horse": []})
    assert answer.status_code == 422
    assert "Call it off" in answer.content.decode()


def test_a_booking_is_moved_to_another_day_on_its_page(
    as_farrier, farrier, round_today, today
):
    booking = round_today.stops.first().booking
    address = f"/bookings/{booking.pk}/move/"
    later = today + timedelta(days=1)
    form = {"to-day": later.isoformat(), "to-farrier": farrier.pk}
    answer = as_farrier.post(address, form)
    assert answer.status_code == 302
    assert Round.objects.get(day=later).stops.get().booking == booking
    back = {**form, "to-day": (today - timedelta(days=1)).isoformat()}
    answer = as_farrier.post(address, back)
    assert answer.status_code == 422
    assert "That day is over" in answer.content.decode()


def test_a_stop_moves_by_its_arrows(as_farrier, round_today):
    first, second = (stop.booking for stop in round_today.stops.all())
    as_farrier.post(reverse("scheduling:move_down", args=[first.pk]))
    assert [s.booking for s in round_today.stops.all()] == [second, first]
    as_farrier.post(reverse("scheduling:best_order", args=[round_today.pk]))
    assert not Round.objects.get().by_hand


def test_today_shows_the_own_round_first_and_what_is_left_open(
    as_farrier, farrier, second_farrier, today
):
    make_round(second_farrier, today, today)
    make_round(farrier, today, today)
    page = as_farrier.get("/today/").content.decode()
    assert page.index("<h2>Ailsa Farrier</h2>") < page.index("<h2>Bram Farrier</h2>")
    assert "still open" not in page
    Booking.objects.update(day=today - timedelta(days=1))
    page = as_farrier.get("/today/").content.decode()
    assert "4 stops of past days are still open" in page


def test_the_week_shows_rounds_and_free_days(as_farrier, round_today, today):
    page = as_farrier.get("/rounds/").content.decode()
    assert f"/rounds/{round_today.pk}/" in page
    assert as_farrier.get("/rounds/?week=2026-W09").status_code == 200
    for week in ("nonsense", "9999-W52", "0001-W01"):
        assert as_farrier.get(f"/rounds/?week={week}").status_code == 200


def test_pages_of_many_stops_cost_the_same(
    as_farrier, farrier, second_farrier, today, grows_flat
):
    # Session, user, practice, then: rounds with stops, hours, horses and works in six;
    # days ahead; two counts of the due; bookings left open; open visits.
    ahead = iter(range(1, 20))

    def more():
        make_round(farrier, today, today, barns=1)
        make_round(second_farrier, today + timedelta(days=next(ahead)), today, barns=1)

    assert grows_flat(as_farrier, "/today/", more) <= 14
    # Session, user, practice; farriers, rounds, usual and other days.
    assert grows_flat(as_farrier, "/rounds/", more) <= 7
    address = f"/rounds/{Round.objects.get(farrier=farrier, day=today).pk}/"
    # Session, user, practice twice; the round in four, access hours; when barns must be
    # done and are closed, for the slack; stops that moved.
    assert grows_flat(as_farrier, address, more) <= 12


def test_the_booking_page_costs_the_same_however_many_are_due(
    as_farrier, farrier, grows_flat, today
):
    assert grows_flat(as_farrier, "/rounds/book/", factories.make_horse) <= 21
