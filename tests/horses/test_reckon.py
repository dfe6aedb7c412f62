"""``foot`` and ``lever`` as documents: what they take, refuse and give."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from horses.reckon import ANGLES, FOOT_IN, LENGTHS, LEVER_IN, RECKONINGS
from practice.reckoning import BadDocument, answer, read

LEVER = {
    "cor_forward_mm": 60,
    "cor_height_mm": 65,
    "dorsal_angle_deg": 52,
    "toe_growth_mm": 14,
    "heel_growth_mm": 14,
    "heel_angle_deg": 45,
    "heel_wear_mm": 5.8,
    "bearing_length_mm": 120,
}


def reckon(what, document):
    """The whole way: text in, text out, both ends held against the schema."""
    reckoning = RECKONINGS[what]
    found = answer(reckoning, read(json.dumps(document).encode()))
    text = json.dumps(found, allow_nan=False)
    Draft202012Validator(reckoning.schema_out).validate(json.loads(text))
    return json.loads(text)


@pytest.mark.parametrize("what", ["foot", "lever"])
def test_schemas_are_json_schema_2020_12(what):
    for schema in (RECKONINGS[what].schema_in, RECKONINGS[what].schema_out):
        assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        Draft202012Validator.check_schema(schema)


def test_a_bare_foot_gives_an_empty_answer():
    found = reckon("foot", {"foot": "LF"})
    assert found["derived"] == {}
    assert found["flags"] == []
    assert found["rules"]


def test_what_is_missing_is_left_out_and_never_guessed():
    found = reckon("foot", {"foot": "LF", "dorsal_angle_deg": 50, "length_mm": 130})
    assert found["derived"] == {}
    found = reckon(
        "foot",
        {
            "foot": "LF",
            "dorsal_length_mm": 84,
            "heel_length_medial_mm": 30,
            "heel_length_lateral_mm": 26,
        },
    )
    assert set(found["derived"]) == {"heel_length_difference_mm"}


def test_a_foot_with_its_pair():
    found = reckon(
        "foot",
        {
            "foot": "LF",
            "dorsal_angle_deg": 49.9,
            "heel_angle_deg": 43,
            "pair": {"foot": "RF", "dorsal_angle_deg": 55.1},
        },
    )
    assert found["derived"]["pair_angle_difference_deg"]["value"] == 5.2
    flags = {flag["code"]: flag for flag in found["flags"]}
    assert flags["uneven_pair"]["state"] == "clear"
    assert flags["uneven_pair"]["threshold"] == 1.5
    assert "Wiggers" in flags["uneven_pair"]["source"]
    assert flags["underrun_heel"]["value"] == 6.9


def test_a_pair_has_the_spread_of_the_foot_unless_it_has_its_own():
    document = {
        "foot": "RH",
        "dorsal_angle_deg": 50,
        "angle_sd_deg": 3,
        "pair": {"dorsal_angle_deg": 54},
    }
    spread = reckon("foot", document)["derived"]["pair_angle_difference_deg"]["sd"]
    assert spread == pytest.approx(18**0.5)
    document["pair"]["angle_sd_deg"] = 4
    spread = reckon("foot", document)["derived"]["pair_angle_difference_deg"]["sd"]
    assert spread == pytest.approx(5)


def test_lever_by_the_check_values():
    found = reckon("lever", LEVER)
    # computed by hand: see tests/reference/test_hoof_values.py
    assert found["angle_loss_deg"] == pytest.approx(3.342, abs=0.002)
    assert found["new_angle_deg"] == pytest.approx(48.658, abs=0.002)
    assert found["lever_mm"] == pytest.approx(72.92, abs=0.05)
    assert found["lever_change_percent"] == pytest.approx(21.5, abs=0.1)


@pytest.mark.parametrize(
    ("document", "pointer"),
    [
        ({}, "/foot"),
        ([], ""),
        ({"foot": "lf"}, "/foot"),
        ({"foot": "LF", "colour": 1}, "/colour"),
        ({"foot": "LF", "dorsal_length_mm": -1}, "/dorsal_length_mm"),
        ({"foot": "LF", "dorsal_length_mm": 0}, "/dorsal_length_mm"),
        ({"foot": "LF", "dorsal_length_mm": 4000}, "/dorsal_length_mm"),
        ({"foot": "LF", "dorsal_length_mm": "84"}, "/dorsal_length_mm"),
        ({"foot": "LF", "dorsal_length_mm": True}, "/dorsal_length_mm"),
        ({"foot": "LF", "dorsal_length_mm": None}, "/dorsal_length_mm"),
        ({"foot": "LF", "dorsal_angle_deg": 90}, "/dorsal_angle_deg"),
        ({"foot": "LF", "heel_angle_deg": 0}, "/heel_angle_deg"),
        ({"foot": "LF", "pastern_angle_deg": 1e300}, "/pastern_angle_deg"),
        ({"foot": "LF", "length_sd_mm": -1}, "/length_sd_mm"),
        ({"foot": "LF", "pair": {"foot": "RH"}}, "/pair/foot"),
        ({"foot": "LF", "pair": {"foot": "LF"}}, "/pair/foot"),
        ({"foot": "LF", "pair": {"pair": {}}}, "/pair/pair"),
        ({"foot": "LF", "pair": {"width_mm": -2}}, "/pair/width_mm"),
        (
            {"foot": "LF", "length_mm": 120, "widest_from_toe_mm": 121},
            "/widest_from_toe_mm",
        ),
        (
            {"foot": "LF", "pair": {"length_mm": 120, "widest_from_toe_mm": 121}},
            "/pair/widest_from_toe_mm",
        ),
    ],
)
def test_a_foot_that_makes_no_sense_is_refused_at_its_place(document, pointer):
    with pytest.raises(BadDocument) as refused:
        reckon("foot", document)
    assert refused.value.pointer == pointer
    assert "\n" not in refused.value.line


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_are_none_are_refused(text):
    raw = f'{{"foot": "LF", "width_mm": {text}}}'.encode()
    with pytest.raises(BadDocument):
        answer(RECKONINGS["foot"], read(raw))


@pytest.mark.parametrize("absent", sorted(LEVER))
def test_lever_needs_each_of_its_keys(absent):
    with pytest.raises(BadDocument) as refused:
        reckon("lever", {k: v for k, v in LEVER.items() if k != absent})
    assert refused.value.pointer == f"/{absent}"


@pytest.mark.parametrize(
    ("over", "pointer"),
    [
        (
            {"heel_growth_mm": 100, "heel_angle_deg": 5, "toe_growth_mm": 0}
            | {"bearing_length_mm": 60},
            "/heel_growth_mm",
        ),
        ({"heel_wear_mm": 100, "bearing_length_mm": 10}, "/heel_wear_mm"),
        ({"dorsal_angle_deg": 90}, "/dorsal_angle_deg"),
        ({"heel_wear_mm": -0.1}, "/heel_wear_mm"),
        ({"spare": 1}, "/spare"),
    ],
)
def test_a_lever_that_makes_no_sense_is_refused_at_its_place(over, pointer):
    with pytest.raises(BadDocument) as refused:
        reckon("lever", LEVER | over)
    assert refused.value.pointer == pointer


def refused_at(what, document):
    """The pointer at which the document is refused, or None where it is taken."""
    try:
        reckon(what, document)
    except BadDocument as refused:
        return refused.pointer
    return None


def _within(schema):
    least = schema.get("minimum", schema.get("exclusiveMinimum"))
    most = schema.get("maximum", schema.get("exclusiveMaximum"))
    return st.floats(
        least,
        most,
        exclude_min="exclusiveMinimum" in schema,
        exclude_max="exclusiveMaximum" in schema,
    )


MEASURES = {
    name: _within(FOOT_IN["properties"][name])
    for name in (*LENGTHS, *ANGLES, "length_sd_mm", "angle_sd_deg")
}
FEET = st.fixed_dictionaries(
    {"foot": st.sampled_from(["LF", "RF", "LH", "RH"])},
    optional=MEASURES | {"pair": st.fixed_dictionaries({}, optional=MEASURES)},
)


@settings(deadline=None)
@given(FEET)
def test_no_accepted_foot_breaks_the_reckoning(document):
    places = (None, "/widest_from_toe_mm", "/pair/widest_from_toe_mm")
    assert refused_at("foot", document) in places


@settings(deadline=None)
@given(
    st.fixed_dictionaries(
        {name: _within(shape) for name, shape in LEVER_IN["properties"].items()}
    )
)
def test_no_accepted_lever_breaks_the_reckoning(document):
    places = (None, "/heel_growth_mm", "/heel_wear_mm")
    assert refused_at("lever", document) in places
