"""The visit's pages: started, filled, read by those who may."""

from datetime import time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Visit, VisitRecord
from practice.keys import uuid7
from tests import factories
from tests.factories import (
    make_barn,
    make_barn_contact,
    make_horse,
    make_visit,
    make_work,
)


@pytest.fixture
def barn(practice):
    return make_barn(name="Low Burn")


@pytest.fixture
def horses(barn):
    return [make_horse(barn=barn, name=name) for name in ("Moss", "Fern")]


def start(browser, barn, horses, **over):
    form = {
        "key": uuid7(),
        "day": timezone.localdate().isoformat(),
        "horses": [horse.pk for horse in horses],
    }
    return browser.post(reverse("horses:visit_start", args=[barn.pk]), form | over)


def test_a_visit_is_started_from_its_barn(as_farrier, farrier, barn, horses):
    page = as_farrier.get(reverse("horses:visit_start", args=[barn.pk]))
    assert page.content.count(b"checked") == 2  # both are due
    answer = start(as_farrier, barn, horses)
    visit = Visit.objects.get()
    assert answer.url == reverse("horses:visit", args=[visit.pk])
    assert visit.farrier == farrier
    page = as_farrier.get(answer.url)
    assert b"Moss" in page.content
    assert b"to record" in page.content


def test_a_double_tap_starts_one_visit(as_farrier, barn, horses):
    key = uuid7()
    for _ in range(2):
        start(as_farrier, barn, horses, key=key)
    assert Visit.objects.count() == 1
    assert VisitRecord.objects.count() == 2


def test_a_visit_without_a_horse_is_not_started_and_says_so(as_farrier, barn, horses):
    answer = start(as_farrier, barn, [])
    assert answer.status_code == 422
    assert "Choose at least one horse." in answer.content.decode()
    assert not Visit.objects.exists()


def test_a_horse_is_added_twice_by_a_double_tap_and_is_there_once(
    as_farrier, farrier, horses
):
    visit = make_visit(horses=horses[:1], farrier=farrier)
    url = reverse("horses:visit_add_horse", args=[visit.pk])
    for _ in range(2):
        assert as_farrier.post(url, {"horse": horses[1].pk}).status_code == 302
    assert visit.records.count() == 2


def test_no_horse_chosen_is_told_beside_the_field(as_farrier, farrier, horses):
    visit = make_visit(horses=horses[:1], farrier=farrier)
    url = reverse("horses:visit_add_horse", args=[visit.pk])
    answer = as_farrier.post(url, {"horse": ""})
    assert answer.status_code == 422
    assert "Choose a horse." in answer.content.decode()


def test_a_horse_is_taken_off(as_farrier, farrier, horses):
    visit = make_visit(horses=horses, farrier=farrier)
    url = reverse("horses:visit_take_off", args=[visit.pk, horses[0].pk])
    as_farrier.post(url)
    assert [record.horse for record in visit.records.all()] == [horses[1]]


def test_note_and_road_are_kept_and_bad_ones_told(as_farrier, farrier, horses):
    visit = make_visit(horses=horses, farrier=farrier, travel_metres=18_034)
    url = reverse("horses:visit_note", args=[visit.pk])
    bad = as_farrier.post(
        url, {"note": "gate sticks", "travel_minutes": "x", "travel": "far"}
    )
    assert bad.status_code == 422
    assert "gate sticks" in bad.content.decode()
    good = {
        "note": "gate sticks",
        "travel_minutes": "25",
        "travel": "18 km",
        "start_time": "18:30",
    }
    assert as_farrier.post(url, good).status_code == 302
    visit.refresh_from_db()
    assert (visit.note, visit.travel_minutes) == ("gate sticks", 25)
    assert visit.start_time == time(18, 30)
    assert visit.travel_metres == 18_034  # what is shown is rounded; nothing is lost
    as_farrier.post(url, good | {"travel": "20 mi"})
    visit.refresh_from_db()
    assert visit.travel_metres == 32_187


@pytest.mark.parametrize("who", ["as_office", "as_apprentice"])
def test_only_a_farrier_is_offered_to_close(who, request, farrier, horses):
    visit = make_visit(horses=horses, farrier=farrier)
    page = request.getfixturevalue(who).get(reverse("horses:visit", args=[visit.pk]))
    assert page.status_code == 200
    assert reverse("billing:closing", args=[visit.pk]).encode() not in page.content


def test_a_farrier_is_led_to_the_bill_and_the_closing(as_farrier, farrier, horses):
    visit = make_visit(horses=horses, farrier=farrier)
    page = as_farrier.get(reverse("horses:visit", args=[visit.pk]))
    assert reverse("billing:closing", args=[visit.pk]).encode() in page.content


def test_owners_and_barn_contacts_have_no_such_page(
    as_owner, as_barn_contact, barn_contact, farrier, barn, horses
):
    make_barn_contact(barn=barn, user=barn_contact)
    visit = make_visit(horses=horses, farrier=farrier)
    for browser in (as_owner, as_barn_contact):
        for url in (
            reverse("horses:visits"),
            reverse("horses:visit", args=[visit.pk]),
            reverse("horses:visit_start", args=[barn.pk]),
        ):
            assert browser.get(url).status_code == 403


def test_an_unknown_visit_is_not_there(as_farrier):
    assert as_farrier.get(reverse("horses:visit", args=[uuid7()])).status_code == 404


def test_the_list_of_visits_grows_flat(as_farrier, farrier, horses, grows_flat):
    days = iter(range(1, 50))

    def make():
        day = timezone.localdate() - timedelta(days=next(days))
        make_visit(horses=horses, farrier=farrier, day=day)

    assert grows_flat(as_farrier, reverse("horses:visits"), make) <= 7


def test_a_visit_page_grows_flat(as_farrier, farrier, barn, horses, grows_flat):
    visit = make_visit(horses=horses, farrier=farrier)

    def make():
        VisitRecord.objects.create(visit=visit, horse=make_horse(barn=barn))

    make_work()
    url = reverse("horses:visit", args=[visit.pk])
    assert grows_flat(as_farrier, url, make) <= 7


def test_a_closed_record_shows_a_measure_that_stands_alone(as_farrier, farrier):
    """Toe length alone lets nothing be derived, and is shown all the same."""
    horse = factories.make_horse()
    visit = factories.make_visit(horses=[horse], farrier=farrier)
    record = visit.records.get()
    record.is_recorded = True
    record.save(update_fields=["is_recorded"])
    factories.make_foot_record(record=record, foot="LF", dorsal_angle_deg=None)
    factories.close(visit)
    page = as_farrier.get(f"/records/{record.pk}/").content.decode()
    assert "Left fore: measurements and figures" in page
    assert "Toe length" in page
