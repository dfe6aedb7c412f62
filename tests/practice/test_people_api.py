"""Clients, barns and areas for programs: every answer is held against the API's own
description."""

import json

import pytest

from practice.models import Barn, Client
from tests import factories
from tests.openapi import assert_described

pytestmark = pytest.mark.django_db

CLIENTS = "/api/v1/clients/"
BARNS = "/api/v1/barns/"
AREAS = "/api/v1/areas/"
KEY = "0190c0de-0000-7000-8000-000000000004"


def send(browser, method, path, body, **headers):
    return getattr(browser, method)(
        path, json.dumps(body), content_type="application/json", headers=headers
    )


def pointers(answer):
    body = assert_described(answer)
    assert answer.status_code == 422
    return {row["pointer"]: row["detail"] for row in body["errors"]}


def test_clients_are_listed_and_searched(as_farrier):
    factories.make_client(name="Morag Testperson", town="Melrose")
    factories.make_client(name="Kelso Livery", is_active=False)
    body = assert_described(as_farrier.get(CLIENTS))
    assert [row["name"] for row in body["results"]] == ["Morag Testperson"]
    assert assert_described(as_farrier.get(f"{CLIENTS}?search=melr mor"))["count"] == 1
    assert assert_described(as_farrier.get(f"{CLIENTS}?search=kelso"))["count"] == 0
    assert assert_described(as_farrier.get(f"{CLIENTS}?aside=true"))["count"] == 1


def test_a_client_is_entered_once_however_often_it_is_sent(as_office):
    body = {"name": "Morag Testperson", "email": "morag@example.org"}
    key = {"Idempotency-Key": KEY}
    first = send(as_office, "post", CLIENTS, body, **key)
    again = send(as_office, "post", CLIENTS, body, **key)
    assert first.status_code == again.status_code == 201
    assert assert_described(first)["id"] == assert_described(again)["id"]
    assert Client.objects.count() == 1


def test_a_key_that_is_no_uuid_is_refused(as_office):
    answer = send(as_office, "post", CLIENTS, {"name": "M"}, **{"Idempotency-Key": "1"})
    assert list(pointers(answer)) == ["#"]


def test_a_double_is_refused_unless_one_is_sure(as_office):
    factories.make_client(name="Morag", email="morag@example.org")
    body = {"name": "M. Testperson", "email": "Morag@Example.org"}
    answer = send(as_office, "post", CLIENTS, body)
    assert "Morag" in pointers(answer)["#/sure"]
    assert send(as_office, "post", CLIENTS, {**body, "sure": True}).status_code == 201


def test_a_client_is_changed_by_what_is_sent(as_office):
    client = factories.make_client(notes="Rings twice")
    answer = send(as_office, "patch", f"{CLIENTS}{client.pk}/", {"town": "Kelso"})
    body = assert_described(answer)
    assert (body["town"], body["notes"]) == ("Kelso", "Rings twice")
    read = assert_described(as_office.get(f"{CLIENTS}{client.pk}/"))
    assert read == body


def test_a_slip_in_a_field_is_not_silent(as_office):
    client = factories.make_client()
    answer = send(as_office, "patch", f"{CLIENTS}{client.pk}/", {"twon": "Kelso"})
    assert list(pointers(answer)) == ["#/twon"]
    answer = send(as_office, "post", CLIENTS, {"name": " ", "payment_days": 9999})
    assert set(pointers(answer)) == {"#/name", "#/payment_days"}


def test_a_barn_is_entered_with_position_and_hours(as_farrier):
    area = factories.make_area(name="Tweed")
    body = {
        "name": "Hillfoot Yard",
        "latitude": 55.6,
        "longitude": -2.7,
        "area": area.pk,
        "access_hours": [
            {"weekday": 3, "opens": "13:00", "closes": "17:00"},
            {"weekday": 1, "opens": "08:00", "closes": "12:30"},
        ],
    }
    key = {"Idempotency-Key": KEY}
    told = assert_described(send(as_farrier, "post", BARNS, body, **key))
    again = assert_described(send(as_farrier, "post", BARNS, body, **key))
    assert told == again
    assert (told["latitude"], told["longitude"]) == (55.6, -2.7)
    assert told["area"] == {"id": area.pk, "name": "Tweed"}
    assert [row["weekday"] for row in told["access_hours"]] == [1, 3]
    listed = assert_described(as_farrier.get(f"{BARNS}?area={area.pk}"))
    assert listed["results"] == [told]
    assert assert_described(as_farrier.get(f"{BARNS}?area=none"))["count"] == 0


def test_a_barn_is_changed_by_what_is_sent(as_farrier):
    barn = factories.make_barn(notes="Dog")
    factories.make_access_hours(barn=barn, weekday=2)
    path = f"{BARNS}{barn.pk}/"
    told = assert_described(send(as_farrier, "patch", path, {"setup_minutes": 15}))
    assert (told["setup_minutes"], told["notes"]) == (15, "Dog")
    assert len(told["access_hours"]) == 1
    assert told["latitude"] == pytest.approx(float(barn.latitude))
    nowhere = {"latitude": None, "longitude": None, "access_hours": []}
    told = assert_described(send(as_farrier, "patch", path, nowhere))
    assert (told["latitude"], told["access_hours"]) == (None, [])


def test_what_is_wrong_with_a_barn_is_pointed_at(as_farrier):
    bad = {
        "name": "Yard",
        "latitude": 95,
        "area": 404,
        "access_hours": [{"weekday": 1, "opens": "09:00", "closes": "08:00"}],
    }
    assert set(pointers(send(as_farrier, "post", BARNS, bad))) == {
        "#/latitude",
        "#/area",
        "#/access_hours/0/closes",
    }
    half = {"name": "Yard", "latitude": 55}
    assert set(pointers(send(as_farrier, "post", BARNS, half))) == {"#/longitude"}
    overlap = {
        "name": "Yard",
        "access_hours": [
            {"weekday": 1, "opens": "09:00", "closes": "12:00"},
            {"weekday": 1, "opens": "11:00", "closes": "13:00"},
        ],
    }
    assert set(pointers(send(as_farrier, "post", BARNS, overlap))) == {"#/access_hours"}
    assert not Barn.objects.exists()


def test_an_area_of_the_same_name_is_the_same_area(as_farrier):
    one = assert_described(send(as_farrier, "post", AREAS, {"name": "Tweed valley"}))
    same = assert_described(send(as_farrier, "post", AREAS, {"name": "tweed  Valley"}))
    assert one == same
    assert assert_described(as_farrier.get(AREAS))["count"] == 1


@pytest.mark.parametrize("path", [CLIENTS, BARNS, AREAS])
@pytest.mark.parametrize(
    ("who", "read", "write"),
    [
        ("stranger", 401, 401),
        ("owner", 403, 403),
        ("barn_contact", 403, 403),
        ("apprentice", 200, 403),
        ("farrier", 200, 201),
        ("office", 200, 201),
    ],
)
def test_who_may_read_and_write(request, path, who, read, write):
    browser = request.getfixturevalue(f"as_{who}")
    assert browser.get(path).status_code == read
    assert send(browser, "post", path, {"name": "New"}).status_code == write


def test_queries_do_not_grow_with_the_rows(as_farrier, grows_flat):
    grows_flat(as_farrier, CLIENTS, factories.make_client)

    def barn():
        made = factories.make_barn(area=factories.make_area())
        factories.make_access_hours(barn=made, weekday=1)

    assert grows_flat(as_farrier, BARNS, barn) <= 7
