"""Visits and records for programs: sent twice, they are one."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from horses.models import Visit, VisitRecord
from horses.services.visits import close_visit
from practice.keys import uuid7
from tests.factories import close, make_barn, make_horse, make_visit, make_work

JSON = "application/json"


@pytest.fixture
def barn(practice):
    return make_barn()


@pytest.fixture
def horse(barn, owner):
    return make_horse(barn=barn, owner=owner.client)


@pytest.fixture
def visit(horse, farrier):
    return make_visit(horses=[horse], farrier=farrier)


def post(browser, **over):
    return browser.post(reverse("horses:api_visits"), over, content_type=JSON)


def put(browser, key, visit, horse, **over):
    foot = {
        "foot": "LF",
        "work": "new_shoe",
        "dorsal_length_mm": "84.0",
        "dorsal_angle_deg": 49.9,
        "findings": [{"kind": "crack", "place": "toe", "grade": "slight"}],
        "shoe": {"profile": "fullered", "nails_medial": 3},
    }
    body = {"visit": str(visit.pk), "horse": horse.pk, "feet": [foot]}
    url = reverse("horses:api_record", args=[key])
    return browser.put(url, body | over, content_type=JSON)


def test_a_visit_is_opened_once_however_often_it_is_sent(as_farrier, barn, horse):
    said = {
        "id": str(uuid7()),
        "barn": barn.pk,
        "day": "2026-03-03",
        "horses": [horse.pk],
        "travel_minutes": 25,
    }
    first, again = post(as_farrier, **said), post(as_farrier, **said)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["id"] == again.json()["id"] == said["id"]
    assert first.json()["records"][0]["horse"] == horse.pk
    assert Visit.objects.get().travel_minutes == 25
    other = post(as_farrier, **said | {"id": str(uuid7())})
    assert other.status_code == 200
    assert other.json()["id"] == said["id"]


def test_an_unknown_field_or_barn_is_pointed_at(as_farrier, barn):
    answer = post(
        as_farrier, id=str(uuid7()), barn=0, day="2026-03-03", horses=[], colour="bay"
    )
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["errors"][0]["pointer"] == "#/barn"


def test_a_record_is_new_replayed_changed_or_in_conflict(as_farrier, visit, horse):
    key = uuid7()
    assert put(as_farrier, key, visit, horse).status_code == 201
    assert put(as_farrier, key, visit, horse).status_code == 200
    assert VisitRecord.objects.get().revision == 1
    conflict = put(as_farrier, key, visit, horse, note="other")
    assert conflict.status_code == 409
    assert conflict["Content-Type"] == "application/problem+json"
    assert conflict.json()["revision"] == 1
    changed = put(as_farrier, key, visit, horse, note="other", base_revision=1)
    assert changed.status_code == 200
    assert changed.json()["revision"] == 2
    assert changed.json()["note"] == "other"
    assert put(as_farrier, uuid7(), visit, horse).status_code == 409


def test_what_is_read_is_what_was_sent(as_farrier, visit, horse):
    key = uuid7()
    work = make_work()
    put(as_farrier, key, visit, horse, work=work.pk, vet_advised=True)
    told = as_farrier.get(reverse("horses:api_record", args=[key])).json()
    assert told["work"] == work.pk
    assert told["vet_advised"] is True
    [foot] = told["feet"]
    assert foot["dorsal_length_mm"] == "84.0"
    assert foot["dorsal_angle_deg"] == "49.9"
    assert foot["findings"][0]["kind"] == "crack"
    assert foot["shoe"]["nails_medial"] == 3
    whole = as_farrier.get(reverse("horses:api_visit", args=[visit.pk])).json()
    assert whole["records"] == [told]
    # what was read can be sent back as it is, but for what the server adds
    sent_back = put(as_farrier, key, visit, horse, work=work.pk, vet_advised=True)
    assert sent_back.json() == told


@pytest.mark.parametrize(
    ("foot", "pointer"),
    [
        ({"foot": "XX"}, "#/feet/0/foot"),
        ({"foot": "LF", "colour": 1}, "#/feet/0/colour"),
        ({"foot": "LF", "width_mm": "nan"}, "#/feet/0/width_mm"),
        ({"foot": "LF", "width_mm": 900}, "#/feet/LF/width_mm"),
        ({"foot": "LF", "shoe": {"nails_medial": 9}}, "#/feet/0/shoe/nails_medial"),
        (
            {"foot": "LF", "findings": [{"kind": "thrush", "place": "toe"}]},
            "#/feet/LF/findings/0/place",
        ),
    ],
)
def test_what_cannot_be_is_pointed_at(as_farrier, visit, horse, foot, pointer):
    answer = put(as_farrier, uuid7(), visit, horse, feet=[foot])
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == pointer
    assert not VisitRecord.objects.filter(is_recorded=True).exists()


def test_a_closed_visit_takes_no_record_but_answers_a_replay(
    as_farrier, farrier, visit, horse
):
    key = uuid7()
    put(as_farrier, key, visit, horse)
    close_visit(visit=visit, by=farrier)
    assert put(as_farrier, key, visit, horse).status_code == 200
    late = put(as_farrier, key, visit, horse, note="late", base_revision=1)
    assert late.status_code == 422


def test_who_may(as_office, as_apprentice, as_owner, as_other_owner, visit, horse):
    key = uuid7()
    assert put(as_office, key, visit, horse).status_code == 403
    assert put(as_owner, key, visit, horse).status_code == 403
    assert put(as_apprentice, key, visit, horse).status_code == 201
    url = reverse("horses:api_record", args=[key])
    assert as_office.get(url).status_code == 200
    assert as_owner.get(url).status_code == 404
    close(visit)
    assert as_owner.get(url).status_code == 200
    assert as_other_owner.get(url).status_code == 404
    assert as_owner.get(reverse("horses:api_visits")).status_code == 403


def test_visits_are_narrowed(as_farrier, farrier, visit, horse):
    today = timezone.localdate()
    other = make_visit(
        horses=[make_horse()], farrier=farrier, day=today - datetime.timedelta(days=9)
    )
    close(other)

    def found(**query):
        answer = as_farrier.get(reverse("horses:api_visits"), query).json()
        return [row["id"] for row in answer["results"]]

    assert found() == [str(visit.pk), str(other.pk)]
    assert found(state="closed") == [str(other.pk)]
    assert found(horse=horse.pk) == [str(visit.pk)]
    assert found(barn=visit.barn_id) == [str(visit.pk)]
    assert found(since=today.isoformat()) == [str(visit.pk)]


def test_the_list_and_the_whole_grow_flat(as_farrier, farrier, visit, barn, grows_flat):
    days = iter(range(1, 50))

    def more_visits():
        day = timezone.localdate() - datetime.timedelta(days=next(days))
        make_visit(horses=[make_horse()], farrier=farrier, day=day)

    def more_records():
        VisitRecord.objects.create(visit=visit, horse=make_horse(barn=barn))

    assert grows_flat(as_farrier, reverse("horses:api_visits"), more_visits) <= 6
    whole = reverse("horses:api_visit", args=[visit.pk])
    assert grows_flat(as_farrier, whole, more_records) <= 7
