"""``reckon growth`` as a document: what it takes, refuses and gives."""

import copy
import json
import random
from datetime import date, timedelta

import pytest
from jsonschema import Draft202012Validator

from horses.growth.document import GROWTH_IN, GROWTH_OUT
from horses.hoof import FEET
from horses.reckon import RECKONINGS
from practice.reckoning import BadDocument, answer, read

OUT = Draft202012Validator(GROWTH_OUT)


def reckon(document):
    """Text in, text out, both ends held against the schema, days in order."""
    found = answer(RECKONINGS["growth"], read(json.dumps(document).encode()))
    text = json.dumps(found, allow_nan=False)
    OUT.validate(json.loads(text))
    days = [
        found["window"][key]
        for key in ("from", "earliest", "ready_by", "target", "latest")
    ]
    assert days == sorted(days)
    for foot in found["feet"].values():
        rate = foot["rate_mm_per_week"]
        assert 0 <= rate["low80"] <= rate["value"] <= rate["high80"]
    return json.loads(text)


def document(*, visits=6, rate=2.0, feet=FEET, noise=1.0, seed=1, first="2025-01-06"):
    rng = random.Random(seed)  # noqa: S311 -- a seeded herd, no secret
    days = [date.fromisoformat(first) + timedelta(weeks=6 * n) for n in range(visits)]
    return {
        "as_of": (days[-1] + timedelta(days=20)).isoformat(),
        "horse": {"foaled": 2012, "use": "hacking"},
        "feet": {
            foot: [
                {
                    "day": day.isoformat(),
                    "before_mm": round(80 + 6 * rate + rng.gauss(0, noise), 1),
                    "after_mm": round(80 + rng.gauss(0, noise), 1),
                    "angle_after_deg": round(51 + rng.gauss(0, 1), 1),
                }
                for day in days
            ]
            for foot in feet
        },
    }


def rate_of(found, foot="LF"):
    return found["feet"][foot]["rate_mm_per_week"]["value"]


def test_schemas_are_json_schema_2020_12():
    for schema in (GROWTH_IN, GROWTH_OUT):
        Draft202012Validator.check_schema(schema)


def test_the_whole_answer():
    found = reckon(document())
    assert set(found["feet"]) == set(FEET)
    assert rate_of(found) == pytest.approx(2.0, abs=0.2)
    assert sum(foot["guide"] for foot in found["feet"].values()) == 1
    assert found["window"]["basis"] == "growth"
    assert found["why"].endswith(".")
    assert found["questionable"] == []
    assert found["rules"]
    assert found["sources"]


def test_a_horse_of_which_nothing_is_known_has_a_window():
    found = reckon({"as_of": "2026-03-01", "horse": {}, "feet": {}})
    assert found["feet"] == {}
    assert found["window"]["basis"] == "use"
    assert found["window"]["from"] == "2026-03-01"
    assert "foot" not in found["window"]
    assert "2026-03-29" <= found["window"]["target"] <= "2026-05-03"


def test_empty_feet_and_bare_days_are_taken():
    found = reckon({"as_of": "2026-03-01", "horse": {}, "feet": {"RH": []}})
    assert set(found["feet"]) == {"RH"}
    assert found["feet"]["RH"]["guide"] is False
    bare = {"LF": [{"day": "2026-02-01"}], "RF": []}
    found = reckon({"as_of": "2026-03-01", "horse": {}, "feet": bare})
    assert found["window"]["from"] == "2026-02-01"
    assert found["window"]["basis"] == "use"


def test_use_and_age_decide_for_a_new_horse():
    def target(**horse):
        feet = {"LF": [{"day": "2026-02-02"}]}
        given = {"as_of": "2026-02-10", "horse": horse, "feet": feet}
        return reckon(given)["window"]["target"]

    assert target(foaled=2026) < target(foaled=2015) < target(foaled=2001)
    assert target(use="Racing") < target(use="Retired", shod=False)


def test_the_window_may_lie_before_the_day_asked_for():
    late = document() | {"as_of": "2026-12-31"}
    window = reckon(late)["window"]
    assert window["latest"] < late["as_of"]


def test_the_season_acts_on_the_window_alone():
    north, south = (
        reckon(document() | {"hemisphere": name}) for name in ("north", "south")
    )
    assert north["feet"] == south["feet"]
    assert north["window"] != south["window"]


def test_set_and_vet_weeks():
    found = reckon(document() | {"set_weeks": 9})
    last = date.fromisoformat(found["window"]["from"])
    assert found["window"]["target"] == (last + timedelta(weeks=9)).isoformat()
    found = reckon(document() | {"set_weeks": 9, "vet_weeks": 3.5})
    assert found["window"]["target"] == (last + timedelta(days=24)).isoformat()
    assert "vet" in found["why"]


@pytest.mark.parametrize(
    ("key", "value", "named"),
    [
        ("before_mm", 400, "before_mm"),
        ("before_mm", 12.3, "before_mm"),
        ("after_mm", 399.9, "after_mm"),
        ("after_mm", 0.1, "after_mm"),
        ("angle_after_deg", 89.9, "angle_after_deg"),
        ("angle_after_deg", 5, "angle_after_deg"),
    ],
)
@pytest.mark.parametrize("at", [0, 3, 5])
def test_what_cannot_be_comes_back_as_questionable(key, value, named, at):
    clean = document()
    spoilt = copy.deepcopy(clean)
    spoilt["feet"]["RH"][at][key] = value
    found = reckon(spoilt)
    day = spoilt["feet"]["RH"][at]["day"]
    assert [(q["foot"], q["day"], q["key"]) for q in found["questionable"]] == [
        ("RH", day, named)
    ]
    assert rate_of(found, "RH") == pytest.approx(rate_of(reckon(clean), "RH"), rel=0.05)


def test_a_day_after_the_day_asked_for_is_left_out_and_shown():
    spoilt = document()
    spoilt["feet"]["RH"][5]["day"] = "2030-01-01"
    found = reckon(spoilt)
    assert [(q["day"], q["key"]) for q in found["questionable"]] == [
        ("2030-01-01", "day")
    ]
    assert found["window"]["from"] == spoilt["feet"]["LF"][5]["day"]


def test_a_day_before_the_horse_was_foaled_is_left_out_and_shown():
    spoilt = document()
    spoilt["feet"]["RH"][0]["day"] = "2011-12-31"
    found = reckon(spoilt)
    assert [(q["day"], q["key"]) for q in found["questionable"]] == [
        ("2011-12-31", "day")
    ]


def test_a_single_reading_that_cannot_be_is_shown_too():
    feet = {"LF": [{"day": "2026-01-01", "before_mm": 400}]}
    found = reckon({"as_of": "2026-03-01", "horse": {}, "feet": feet})
    assert len(found["questionable"]) == 1


# ---- What must not matter ----------------------------------------------------------
def test_the_order_of_readings_and_feet_does_not_matter():
    clean = document(noise=2)
    turned = copy.deepcopy(clean)
    turned["feet"] = {
        foot: list(reversed(rows)) for foot, rows in reversed(turned["feet"].items())
    }
    assert reckon(turned) == reckon(clean)


def test_feet_renamed_are_answers_renamed():
    clean = document(noise=2, seed=5)
    names = dict(zip(FEET, ("RH", "LF", "RF", "LH"), strict=True))
    moved = clean | {"feet": {names[f]: rows for f, rows in clean["feet"].items()}}
    one, other = reckon(clean), reckon(moved)
    for foot in FEET:
        mine, theirs = one["feet"][foot], other["feet"][names[foot]]
        assert mine["guide"] == theirs["guide"]
        assert mine["rate_mm_per_week"] == pytest.approx(theirs["rate_mm_per_week"])
    for key in ("earliest", "target", "latest", "ready_by"):
        assert one["window"][key] == other["window"][key]


@pytest.mark.parametrize("years", [4, -8, 28])
def test_all_days_moved_by_years_move_the_window_by_as_much(years):
    def moved(day):
        return f"{int(day[:4]) + years}{day[4:]}"

    clean = document(noise=2)
    later = json.loads(json.dumps(clean))
    later["as_of"] = moved(later["as_of"])
    later["horse"]["foaled"] += years
    for rows in later["feet"].values():
        for row in rows:
            row["day"] = moved(row["day"])
    one, other = reckon(clean), reckon(later)
    assert one["feet"] == other["feet"]
    for key in ("earliest", "target", "latest"):
        assert moved(one["window"][key]) == other["window"][key]


def test_a_tighter_limit_is_never_later_and_slower_growth_never_earlier():
    targets = [
        reckon(document() | {"limits": {"toe_gain_mm": limit}})["window"]["target"]
        for limit in (5, 9, 12, 14, 30)
    ]
    assert targets == sorted(targets)
    assert targets[0] < targets[-1]
    targets = [
        reckon(document(rate=rate))["window"]["target"]
        for rate in (0.1, 0.8, 1.5, 2.0, 2.4, 3, 4)
    ]
    assert targets == sorted(targets, reverse=True)


# ---- What is refused ---------------------------------------------------------------
BASE = {"as_of": "2026-03-01", "horse": {}, "feet": {}}
ROW = {"day": "2026-01-05", "before_mm": 90}


@pytest.mark.parametrize(
    ("document", "pointer"),
    [
        ([], ""),
        ({"horse": {}, "feet": {}}, "/as_of"),
        ({"as_of": "2026-03-01", "feet": {}}, "/horse"),
        ({"as_of": "2026-03-01", "horse": {}}, "/feet"),
        (BASE | {"as_of": "2026-3-1"}, "/as_of"),
        (BASE | {"as_of": "2026-02-30"}, "/as_of"),
        (BASE | {"as_of": "20260301"}, "/as_of"),
        (BASE | {"as_of": "2026-W10-1"}, "/as_of"),
        (BASE | {"as_of": "9999-12-31"}, "/as_of"),
        (BASE | {"as_of": "0001-01-01"}, "/as_of"),
        (BASE | {"as_of": "2026-03-01\n"}, "/as_of"),
        (BASE | {"as_of": "２０２６-03-01"}, "/as_of"),
        (BASE | {"horse": {"foaled": 2027}}, "/horse/foaled"),
        (BASE | {"horse": {"foaled": "2012"}}, "/horse/foaled"),
        (BASE | {"horse": {"foaled": 2012.5}}, "/horse/foaled"),
        (BASE | {"horse": {"foaled": None}}, "/horse/foaled"),
        (BASE | {"horse": {"shod": "yes"}}, "/horse/shod"),
        (BASE | {"horse": {"name": "x"}}, "/horse/name"),
        (BASE | {"hemisphere": "east"}, "/hemisphere"),
        (BASE | {"feet": {"lf": []}}, "/feet/lf"),
        (BASE | {"feet": {"LF": {}}}, "/feet/LF"),
        (BASE | {"feet": {"LF": [{}]}}, "/feet/LF/0/day"),
        (BASE | {"feet": {"LF": [ROW, {"day": "2026-13-01"}]}}, "/feet/LF/1/day"),
        (BASE | {"feet": {"LF": [ROW | {"before_mm": 0}]}}, "/feet/LF/0/before_mm"),
        (BASE | {"feet": {"LF": [ROW | {"before_mm": 400.1}]}}, "/feet/LF/0/before_mm"),
        (BASE | {"feet": {"LF": [ROW | {"after_mm": -1}]}}, "/feet/LF/0/after_mm"),
        (BASE | {"feet": {"LF": [ROW | {"after_mm": None}]}}, "/feet/LF/0/after_mm"),
        (BASE | {"feet": {"LF": [ROW | {"after_mm": True}]}}, "/feet/LF/0/after_mm"),
        (
            BASE | {"feet": {"LF": [ROW | {"angle_after_deg": 90}]}},
            "/feet/LF/0/angle_after_deg",
        ),
        (BASE | {"feet": {"LF": [ROW | {"shod": True}]}}, "/feet/LF/0/shod"),
        (BASE | {"limits": {"toe_gain_mm": 0}}, "/limits/toe_gain_mm"),
        (BASE | {"limits": {"weeks": 1}}, "/limits/weeks"),
        (
            BASE | {"limits": {"least_weeks": 9, "most_weeks": 8}},
            "/limits/least_weeks",
        ),
        (BASE | {"set_weeks": 0}, "/set_weeks"),
        (BASE | {"vet_weeks": 1000}, "/vet_weeks"),
        (BASE | {"vet_weeks": "6"}, "/vet_weeks"),
        (BASE | {"more~/": 1}, "/more~0~1"),
    ],
)
def test_what_is_refused_is_pointed_at(document, pointer):
    with pytest.raises(BadDocument) as refused:
        answer(RECKONINGS["growth"], read(json.dumps(document).encode()))
    assert refused.value.pointer == pointer
    assert refused.value.sentence


def test_junk_that_fits_the_schema_is_always_answered():
    rng = random.Random(11)  # noqa: S311 -- seeded junk, no secret
    lengths = (0.001, 8, 18, 81, 88, 92, 130, 400)
    for number in range(60):
        given = document(visits=rng.randint(1, 7), seed=number, noise=4)
        for rows in given["feet"].values():
            for row in rows:
                for key in list(row):
                    chance = rng.random()
                    if key == "day":
                        if chance < 0.1:
                            row["day"] = rng.choice(rows)["day"]
                    elif chance < 0.15:
                        del row[key]
                    elif chance < 0.3:
                        row[key] = (
                            rng.choice(lengths)
                            if key != "angle_after_deg"
                            else rng.choice((0.001, 45, 89.999))
                        )
            rng.shuffle(rows)
        given["limits"] = {
            key: rng.choice((0.001, 1, 12, 44))
            for key in ("toe_gain_mm", "lever_gain_percent", "angle_loss_deg")
            if rng.random() < 0.6
        }
        given["horse"]["foaled"] = rng.choice((1900, 2000, 2024, 2025))
        reckon(given)


def test_a_document_as_long_as_is_taken():
    """Near the bound of the reader: a reading a day for many years."""
    first = date(1990, 1, 1)
    rows = [
        {
            "day": (first + timedelta(days=n)).isoformat(),
            "before_mm": 81,
            "after_mm": 80,
        }
        for n in range(4200)
    ]
    given = {"as_of": "2026-03-01", "horse": {}, "feet": dict.fromkeys(FEET, rows)}
    assert 900_000 < len(json.dumps(given)) < 1_000_000
    assert rate_of(reckon(given)) > 1
