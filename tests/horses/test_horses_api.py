"""Horses for programs: every answer is held against the API's own description."""

import json
from datetime import date
from decimal import Decimal

import pytest

from horses.models import Horse, Work
from horses.selectors.ownership import owners_on, payer_on
from horses.services.ownership import set_owners
from tests import factories
from tests.openapi import assert_described

pytestmark = pytest.mark.django_db

HORSES = "/api/v1/horses/"
WORKS = "/api/v1/works/"
KEY = "0190c0de-0000-7000-8000-000000000003"


def send(browser, method, path, body, **headers):
    return getattr(browser, method)(
        path, json.dumps(body), content_type="application/json", headers=headers
    )


def pointers(answer):
    body = assert_described(answer)
    assert answer.status_code == 422
    return {row["pointer"]: row["detail"] for row in body["errors"]}


@pytest.fixture
def bramble(practice, owner):
    return factories.make_horse(
        name="Bramble", owner=owner.client, agreed_price=Decimal("85.00")
    )


def test_horses_are_listed_in_pages_with_due_window_and_owners(as_farrier, bramble):
    factories.make_horse(name="Thistle", status="sold")
    body = assert_described(as_farrier.get(HORSES))
    assert [row["name"] for row in body["results"]] == ["Bramble"]
    assert body["results"][0]["due"]["basis"] == "no_visit"
    assert body["results"][0]["owners"][0]["share"] == "100.0000"
    everything = assert_described(as_farrier.get(f"{HORSES}?status=any&per_page=1"))
    assert everything["count"] == 2
    assert len(everything["results"]) == 1
    found = assert_described(as_farrier.get(f"{HORSES}?search=elspeth"))
    assert found["count"] == 1


def test_the_list_asks_the_same_number_of_queries_however_many(
    as_farrier, grows_flat, practice
):
    grows_flat(as_farrier, HORSES, factories.make_horse)


def test_a_horse_without_a_due_window_says_null(as_farrier, bramble):
    gone = factories.make_horse(status="dead", barn=None)
    body = assert_described(as_farrier.get(f"{HORSES}{gone.pk}/"))
    assert body["due"] is None
    assert body["barn"] is None


def test_a_horse_is_entered_once_by_its_key(as_office, practice):
    anne, bert = factories.make_client(), factories.make_client()
    body = {
        "name": "Thistle",
        "barn": factories.make_barn().pk,
        "interval_weeks": 6,
        "ueln": "826031 000001234",
        "owners": [
            {"client": anne.pk, "share": "2/3"},
            {"client": bert.pk, "share": "1/3"},
        ],
        "owners_from": "2025-01-01",
    }
    first = send(as_office, "post", HORSES, body, **{"Idempotency-Key": KEY})
    again = send(as_office, "post", HORSES, body, **{"Idempotency-Key": KEY})
    told = assert_described(first)
    assert first.status_code == 201
    assert again.json()["id"] == told["id"]
    horse = Horse.objects.get()
    assert horse.ueln == "826031000001234"
    shares = [row.share for row in owners_on(horse, date(2025, 1, 1))]
    assert shares == [Decimal("66.6667"), Decimal("33.3333")]


def test_what_needs_mending_is_pointed_at(as_office, practice):
    anne = factories.make_client()
    body = {"name": "", "sex": "cow", "barn": 987654, "interval_weeks": 60}
    faults = pointers(send(as_office, "post", HORSES, body))
    assert set(faults) == {"#/name", "#/sex", "#/barn", "#/interval_weeks"}
    short = {"name": "T", "owners": [{"client": anne.pk, "share": "60"}]}
    assert "40 % short" in pointers(send(as_office, "post", HORSES, short))["#/owners"]
    bad = {"name": "T", "owners": [{"client": anne.pk, "share": "half"}]}
    assert set(pointers(send(as_office, "post", HORSES, bad))) == {"#/owners/0/share"}
    chip = {"name": "T", "microchip": "12"}
    assert set(pointers(send(as_office, "post", HORSES, chip))) == {"#/microchip"}
    assert not Horse.objects.exists()


def test_a_slip_in_a_field_s_name_is_not_silent(as_office, practice):
    faults = pointers(send(as_office, "post", HORSES, {"name": "T", "bran": 1}))
    assert set(faults) == {"#/bran"}


def test_a_change_changes_only_what_is_sent(as_office, bramble):
    answer = send(as_office, "patch", f"{HORSES}{bramble.pk}/", {"cautions": "kicks"})
    body = assert_described(answer)
    assert (body["cautions"], body["name"]) == ("kicks", "Bramble")
    assert body["agreed_price"] == "85.00"


def test_an_apprentice_reads_without_prices_and_writes_nothing(as_apprentice, bramble):
    body = assert_described(as_apprentice.get(f"{HORSES}{bramble.pk}/"))
    assert body["agreed_price"] is None
    answer = send(as_apprentice, "patch", f"{HORSES}{bramble.pk}/", {"name": "X"})
    assert answer.status_code == 403
    assert_described(answer)


def test_owners_are_set_and_listed_over_time(as_office, bramble, owner):
    other = factories.make_client()
    at = f"{HORSES}{bramble.pk}/ownerships/"
    body = {
        "starts": "2026-03-02",
        "shares": [
            {"client": owner.client_id, "share": "60"},
            {"client": other.pk, "share": "40"},
        ],
    }
    told = assert_described(send(as_office, "post", at, body))
    assert [(row["share"], row["ends"]) for row in told] == [
        ("100.0000", "2026-03-01"),
        ("60.0000", None),
        ("40.0000", None),
    ]
    assert assert_described(as_office.get(at)) == told


def test_owners_before_a_later_change_are_refused_with_its_day(
    as_office, bramble, owner
):
    buyer = factories.make_client()
    set_owners(
        horse=bramble, shares={buyer: Decimal(100)}, starts=date(2026, 6, 1), by=None
    )
    at = f"{HORSES}{bramble.pk}/ownerships/"
    whole = [{"client": owner.client_id, "share": "100"}]
    body = {"starts": "2026-05-01", "shares": whole}
    assert "1 June 2026" in pointers(send(as_office, "post", at, body))["#/starts"]
    answer = send(as_office, "post", at, {**body, "replace_later": True})
    assert answer.status_code == 200


def test_a_payer_is_set_and_taken_back(as_office, bramble):
    trainer = factories.make_client()
    at = f"{HORSES}{bramble.pk}/payers/"
    body = {"client": trainer.pk, "starts": "2026-03-02"}
    assert_described(send(as_office, "post", at, body))
    assert payer_on(bramble, date(2026, 3, 2)).client == trainer
    back = {"client": None, "starts": "2026-04-01"}
    told = assert_described(send(as_office, "post", at, back))
    assert told[0]["ends"] == "2026-03-31"


def test_works_are_listed_added_and_changed(as_office, practice):
    body = {"name": "Glue-on", "kind": "other", "minutes": 90}
    made = assert_described(send(as_office, "post", WORKS, body))
    assert_described(send(as_office, "patch", f"{WORKS}{made['id']}/", {"minutes": 95}))
    assert Work.objects.get().minutes == 95
    twice = send(as_office, "post", WORKS, body)
    assert "already" in pointers(twice)["#/name"]
    assert assert_described(as_office.get(WORKS))["count"] == 1


@pytest.mark.parametrize("path", ["", "987654/", "987654/ownerships/"])
def test_strangers_are_told_to_sign_in_as_json_never_sent_elsewhere(
    as_stranger, practice, path
):
    answer = as_stranger.get(f"{HORSES}{path}")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Token"
    assert assert_described(answer)["title"] == "Sign in first"


def test_a_horse_that_is_not_there_is_a_problem(as_farrier, practice):
    answer = as_farrier.get(f"{HORSES}987654/")
    assert answer.status_code == 404
    assert_described(answer)
