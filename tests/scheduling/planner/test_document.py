"""`reckon rounds`: reads what it is given, refuses what it can't, counts as written."""

import json
from copy import deepcopy

import pytest
from jsonschema import Draft202012Validator

from practice.reckoning import BadDocument, Bounds, answer
from scheduling.reckon import RECKONINGS
from tests.scheduling.planner import plain

ROUNDS = RECKONINGS["rounds"]
QUICK = Bounds(spent_seconds=100)
"""All seconds are used: what is left is the least search."""
DOCUMENT = {
    "days": [
        {
            "day": day,
            "farrier": "ada",
            "start": "08:00",
            "end": "16:00",
            "break_minutes": 30,
            "home": [55.6, -2.8],
        }
        for day in ("2026-03-02", "2026-03-03")
    ],
    "visits": [
        {
            "id": "mill",
            "at": [55.61, -2.75],
            "minutes": 90,
            "setup_minutes": 10,
            "hours": {"mon": [["09:00", "10:00"]]},
            "earliest": "2026-02-25",
            "target": "2026-03-01",
            "latest": "2026-03-12",
            "weight": 2,
        },
        {
            "id": "ford",
            "at": [55.61, -2.75],
            "minutes": 60,
            "setup_minutes": 10,
            "hours": {"mon": [["10:00", "12:00"]]},
            "finish_by": {"mon": "12:30"},
            "not_on": ["2026-03-03"],
            "earliest": "2026-03-02",
            "target": "2026-03-02",
            "latest": "2026-03-04",
        },
        {
            "id": "hill",
            "at": [55.7, -2.9],
            "minutes": 45,
            "earliest": "2026-03-01",
            "target": "2026-03-02",
            "latest": "2026-03-20",
            "booked": {"day": "2026-03-02", "start": "13:00", "farrier": "ada"},
        },
    ],
    "travel": {
        "minutes": [[0, 12, 12, 20], [12, 0, 0, 18], [12, 0, 0, 18], [20, 18, 18, 0]]
    },
}


def reckoned(document):
    return answer(ROUNDS, document, QUICK)


def changed(**keys):
    return {**deepcopy(DOCUMENT), **keys}


def test_a_round_is_told_stop_by_stop():
    found = reckoned(DOCUMENT)
    Draft202012Validator(dict(ROUNDS.schema_out)).validate(found)
    (one,) = found["rounds"]
    assert one["stops"] == [
        {"id": "mill", "arrive": "08:12", "start": "09:00", "end": "10:30"},
        {"id": "ford", "arrive": "10:30", "start": "10:30", "end": "11:30"},
        {"id": "hill", "arrive": "12:18", "start": "13:00", "end": "13:45"},
    ]
    assert one["break"] == "11:30"
    assert one["home"] == "14:05"
    # mill 38 minutes before its gate, hill 42 before the hour agreed.
    assert (one["drive_minutes"], one["work_minutes"], one["wait_minutes"]) == (
        50,
        205,
        80,
    )
    assert found["left_over"] == []
    # mill a day late: 2·2·1·(1 + 1/11); the others on target.
    assert found["cost"] == {
        "drive": 50,
        "days": 30,
        "dates": pytest.approx(4 + 4 / 11, abs=1e-6),
        "left_over": 0,
        "moved": 0,
        "total": pytest.approx(84 + 4 / 11, abs=1e-6),
    }


def test_without_travel_the_estimate_is_used_and_named():
    found = reckoned({k: v for k, v in DOCUMENT.items() if k != "travel"})
    assert found["versions"]["drives"] == "built-in estimate"
    assert found["rounds"][0]["drive_minutes"] > 20


def test_homes_are_counted_once_and_before_the_visits():
    days = deepcopy(DOCUMENT["days"])
    days[1] |= {"home": [55.5, -2.5], "farrier": "ben"}
    with pytest.raises(BadDocument, match="4 rows, but 5 places"):
        reckoned(changed(days=days))


def test_what_is_left_over_has_its_reason():
    visit = DOCUMENT["visits"][0] | {"id": "far", "hours": {}, "latest": "2026-03-02"}
    found = reckoned(changed(visits=[visit], travel={"minutes": [[0, 9], [9, 0]]}))
    (left,) = found["left_over"]
    assert left["id"] == "far"
    assert left["code"] == "closed"
    assert found["cost"]["left_over"] == 240 + 60 * 2
    assert found["rounds"] == []


def test_weights_are_the_practices_own():
    found = reckoned(changed(weights={"day": 7, "drive": 2}))
    assert (found["cost"]["days"], found["cost"]["drive"]) == (7, 100)


def without(part, index, key):
    document = deepcopy(DOCUMENT)
    del document[part][index][key]
    return document


def with_(part, index, **keys):
    document = deepcopy(DOCUMENT)
    document[part][index] |= keys
    return document


BOOKED = DOCUMENT["visits"][2]["booked"]


@pytest.mark.parametrize(
    ("document", "place"),
    [
        (changed(days=[]), "/days"),
        (changed(more=1), "/more"),
        (changed(seconds=0), "/seconds"),
        (changed(weights={"speed": 1}), "/weights/speed"),
        (changed(weights={"day": -1}), "/weights/day"),
        (without("visits", 1, "target"), "/visits/1/target"),
        (with_("visits", 1, target="2026-03-09"), "/visits/1/target"),
        (with_("visits", 1, target="2026-02-30"), "/visits/1/target"),
        (with_("visits", 1, target="tomorrow"), "/visits/1/target"),
        (with_("visits", 1, id="mill"), "/visits/1/id"),
        (with_("visits", 1, minutes=-1), "/visits/1/minutes"),
        (with_("visits", 1, minutes=1.5), "/visits/1/minutes"),
        (with_("visits", 1, weight=-1), "/visits/1/weight"),
        (with_("visits", 1, at=[95, 0]), "/visits/1/at/0"),
        (with_("visits", 1, hours={"mo": []}), "/visits/1/hours/mo"),
        (
            with_("visits", 1, hours={"mon": [["10:00", "09:00"]]}),
            "/visits/1/hours/mon/0",
        ),
        (
            with_("visits", 1, hours={"mon": [["9:00", "10:00"]]}),
            "/visits/1/hours/mon/0/0",
        ),
        (with_("days", 1, day="2026-03-02"), "/days/1/day"),
        (with_("days", 1, end="07:00"), "/days/1/end"),
        (changed(travel={"minutes": [[0]]}), "/travel/minutes"),
        (changed(travel={"minutes": [[0, 1, 2]] * 4}), "/travel/minutes/0"),
        (changed(travel={"minutes": [[0, 1, -2, 3]] * 4}), "/travel/minutes/0/2"),
        (changed(travel={"minutes": [[0, 1, True, 3]] * 4}), "/travel/minutes/0/2"),
        (changed(travel={"minutes": [[0, 1, "2", 3]] * 4}), "/travel/minutes/0/2"),
        (
            with_("visits", 2, booked=BOOKED | {"day": "2026-03-05"}),
            "/visits/2/booked",
        ),
        (with_("visits", 2, booked=BOOKED | {"start": "08:10"}), "/visits/2/booked"),
        (with_("visits", 2, booked=BOOKED | {"farrier": "ben"}), "/visits/2/booked"),
        (with_("visits", 2, hours={"tue": [["08:00", "18:00"]]}), "/visits/2/booked"),
        (
            with_("visits", 2, booked=BOOKED | {"status": "maybe"}),
            "/visits/2/booked/status",
        ),
    ],
)
def test_bad_documents_are_told_their_place(document, place):
    with pytest.raises(BadDocument) as refused:
        reckoned(document)
    assert refused.value.pointer == place


def test_where_memory_and_time_are_shared_both_are_bounded():
    shared = Bounds(most_seconds=10)
    with pytest.raises(BadDocument) as refused:
        answer(ROUNDS, changed(seconds=11), shared)
    assert refused.value.pointer == "/seconds"
    visits = [
        DOCUMENT["visits"][0] | {"id": f"v{i}", "at": [55, -2]} for i in range(1000)
    ]
    days = [DOCUMENT["days"][0] | {"day": f"2026-03-{i + 1:02d}"} for i in range(20)]
    with pytest.raises(BadDocument) as refused:
        answer(ROUNDS, {"days": days, "visits": visits}, shared)
    assert refused.value.pointer == "/visits"


def test_a_schema_can_be_printed():
    for schema in (ROUNDS.schema_in, ROUNDS.schema_out):
        Draft202012Validator.check_schema(json.loads(json.dumps(dict(schema))))


def test_the_plain_reading_finds_no_cheaper_plan():
    from scheduling.planner.document import read_instance

    assert reckoned(DOCUMENT)["cost"]["total"] == pytest.approx(
        plain.best(read_instance(DOCUMENT)), abs=1e-6
    )
