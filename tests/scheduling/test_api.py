"""Due horses, rounds and bookings, for programs."""

from datetime import timedelta

import pytest
from django.utils import timezone

from horses.models import Visit
from scheduling.models import Booking, Round
from tests import factories
from tests.openapi import assert_described


@pytest.fixture
def today(practice):
    return timezone.localdate(timezone=practice.zone)


def posted(browser, address, body):
    return browser.post(address, body, content_type="application/json")


def new_round(farrier, horses, day, **over):
    return {
        "farrier": farrier.pk,
        "day": day.isoformat(),
        "horses": [horse.pk for horse in horses],
        **over,
    }


def test_due_horses_are_listed_with_how_their_day_came_about(as_apprentice, today):
    horse = factories.make_horse(today=today)
    answer = assert_described(as_apprentice.get("/api/v1/due/"))
    (row,) = answer["results"]
    assert row["horse"] == horse.pk
    assert row["barn_name"] == horse.barn.name
    assert row["target"] == today.isoformat()
    assert row["how"] == "no visit yet, so due today"


def test_due_horses_are_narrowed_and_nonsense_is_refused(as_farrier, today):
    area = factories.make_area()
    here = factories.make_horse(barn=factories.make_barn(area=area), today=today)
    factories.make_horse(today=today)
    rows = as_farrier.get(f"/api/v1/due/?area={area.pk}").json()["results"]
    assert [row["horse"] for row in rows] == [here.pk]
    assert as_farrier.get("/api/v1/due/?area=999").status_code == 404
    bad = as_farrier.get("/api/v1/due/?until=soon")
    assert bad.status_code == 422
    assert bad["Content-Type"] == "application/problem+json"
    assert assert_described(bad)["errors"][0]["pointer"] == "#/until"


def test_a_round_is_booked_once_however_often_it_is_sent(as_office, farrier, today):
    horses = [factories.make_horse(today=today) for _ in range(3)]
    body = new_round(farrier, horses, today)
    first = posted(as_office, "/api/v1/rounds/", body)
    again = posted(as_office, "/api/v1/rounds/", body)
    assert first.status_code == again.status_code == 201
    assert first.json() == again.json()
    assert Booking.objects.count() == 3
    told = assert_described(first)
    assert [stop["position"] for stop in told["stops"]] == [1, 2, 3]
    assert told["leaves"] == "08:00"
    assert told["warnings"] == []
    one = assert_described(as_office.get(f"/api/v1/rounds/{told['id']}/"))
    assert one == told
    assert assert_described(as_office.get("/api/v1/rounds/"))["results"] == [told]


def test_what_cannot_be_booked_comes_back_with_a_pointer(as_farrier, farrier, today):
    horse = factories.make_horse(today=today)
    late = new_round(farrier, [horse], today - timedelta(days=1))
    answer = posted(as_farrier, "/api/v1/rounds/", late)
    assert answer.status_code == 422
    assert assert_described(answer)["errors"][0]["pointer"] == "#/day"
    answer = posted(as_farrier, "/api/v1/rounds/", {"farrier": 999})
    pointers = {row["pointer"] for row in answer.json()["errors"]}
    assert pointers == {"#/farrier", "#/day", "#/horses"}
    assert not Round.objects.exists()


def test_a_stop_is_attended_and_another_called_off(as_farrier, farrier, today):
    horses = [factories.make_horse(today=today) for _ in range(2)]
    told = posted(as_farrier, "/api/v1/rounds/", new_round(farrier, horses, today))
    one, other = (stop["booking"] for stop in told.json()["stops"])
    answer = posted(as_farrier, f"/api/v1/bookings/{one}/attend/", {})
    assert assert_described(answer) == {"visit": str(Visit.objects.get().pk)}
    off = f"/api/v1/bookings/{other}/call-off/"
    assert posted(as_farrier, off, {"reason": "frost"}).status_code == 204
    assert Booking.objects.get(pk=other).reason == "frost"


def test_rounds_are_the_practices_own_business(
    as_owner, as_barn_contact, as_apprentice, as_stranger, farrier, today
):
    body = new_round(farrier, [factories.make_horse(today=today)], today)
    for browser in (as_owner, as_barn_contact):
        assert browser.get("/api/v1/rounds/").status_code == 403
        assert browser.get("/api/v1/due/").status_code == 403
    assert as_stranger.get("/api/v1/rounds/").status_code == 401
    assert as_apprentice.get("/api/v1/rounds/").status_code == 200
    assert posted(as_apprentice, "/api/v1/rounds/", body).status_code == 403


def test_lists_cost_the_same_however_long(as_farrier, farrier, today, grows_flat):
    ahead = iter(range(20))

    def more():
        horse = factories.make_horse(today=today)
        day = today + timedelta(days=next(ahead))
        posted(as_farrier, "/api/v1/rounds/", new_round(farrier, [horse], day))
        factories.make_horse(today=today)

    assert grows_flat(as_farrier, "/api/v1/rounds/", more) <= 9
    assert grows_flat(as_farrier, "/api/v1/due/", more) <= 8
