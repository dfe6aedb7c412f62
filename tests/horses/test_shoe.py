"""Plans of a shoe: places, what they come to, what is refused or flagged and mended."""

import copy
import json

import pytest
from jsonschema import Draft202012Validator

from horses.findings import PLACES as FINDING_PLACES
from horses.reckon import RECKONINGS
from horses.shoe.limits import BOOKS, USES
from horses.shoe.plan import PLACES
from horses.shoe.rules import RULES
from practice.reckoning import BadDocument, answer, read

PLAN = {
    "foot": "LF",
    "hoof": {
        "width_mm": 127,
        "length_mm": 130,
        "widest_from_toe_mm": 64,
        "sound_wall_mm": 10,
    },
    "shoe": {
        "metal": "steel",
        "section": {"profile": "fullered", "width_mm": 20, "thickness_mm": 8},
        "toe": {"treatment": "plain", "at": "toe", "foot_dressed": False},
        "heel_past_buttress_mm": {"medial": 6, "lateral": 6},
        "nails": {
            "medial": 3,
            "lateral": 3,
            "last_nail_from_toe_mm": {"medial": 60, "lateral": 60},
        },
    },
}


def plan(foot="LF", *, hoof=None, toe=None, section=None, nails=None, use=None, **shoe):
    said = copy.deepcopy(PLAN) | {"foot": foot}
    findings = shoe.pop("findings", None)
    said["hoof"] |= hoof or {}
    said["shoe"]["toe"] |= toe or {}
    said["shoe"]["section"] |= section or {}
    said["shoe"]["nails"]["last_nail_from_toe_mm"] |= nails or {}
    said["shoe"] |= shoe
    if use is not None:
        said["use"] = use
    if findings is not None:
        said["findings"] = findings
    return said


def reckon(document):
    """The whole way: text in, text out, both ends held against the schema."""
    shoe = RECKONINGS["shoe"]
    text = json.dumps(
        answer(shoe, read(json.dumps(document).encode())), allow_nan=False
    )
    Draft202012Validator(shoe.schema_out).validate(json.loads(text))
    return json.loads(text)


def flags(document):
    return {(f["code"], f["place"]): f for f in reckon(document)["flags"]}


def codes(document):
    return {f["code"] for f in reckon(document)["flags"]}


def test_schemas_are_json_schema_2020_12():
    for schema in (RECKONINGS["shoe"].schema_in, RECKONINGS["shoe"].schema_out):
        assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("foot", ["LF", "RF", "LH", "RH"])
def test_a_plain_plan_raises_no_flag_and_lies_all_over_the_wall(foot):
    found = reckon(plan(foot))
    assert found["flags"] == []
    assert found["wall_on_steel_percent"] == dict.fromkeys(PLACES, 100)
    assert found["overhang_mm"] == dict.fromkeys(PLACES, 0)
    area = found["bearing_area_mm2"]
    assert area["medial"] == pytest.approx(area["lateral"])


# ---- Places ------------------------------------------------------------------------
def test_overhang_is_fit_and_set_and_under_half_a_millimetre_none():
    found = reckon(
        plan(
            fit_mm={"lateral_heel": 3, "medial_heel": 0.4, "toe": -2},
            set_mm={"lateral_heel": -1},
            extension_mm={"lateral_quarter": 4},
        )
    )
    assert found["overhang_mm"] == dict.fromkeys(PLACES, 0) | {"lateral_heel": 2}


def test_a_heel_value_begins_at_the_last_nail():
    """So a heel set out never disturbs the fit ahead of the nail."""
    narrow = plan(nails={"lateral": 40}, fit_mm={"lateral_heel": 5})
    assert "overhang_ahead" not in codes(narrow)
    wider = reckon(narrow)["bearing_area_mm2"]["lateral"]
    later = plan(nails={"lateral": 60}, fit_mm={"lateral_heel": 5})
    assert wider != reckon(later)["bearing_area_mm2"]["lateral"]


def test_a_toe_set_under_leaves_so_much_of_the_wall_off_the_steel():
    found = reckon(plan(toe={"treatment": "set_under", "by_mm": 6}))
    assert found["wall_on_steel_percent"]["toe"] == pytest.approx(40)
    assert found["wall_on_steel_percent"]["lateral_toe_quarter"] == 100
    assert found["outside_length_mm"] == pytest.approx(130)


def test_a_toe_set_under_at_a_quarter_moves_that_quarter():
    toe = {"treatment": "set_under", "by_mm": 5, "at": "lateral_toe_quarter"}
    on = reckon(plan(toe=toe))["wall_on_steel_percent"]
    assert on["lateral_toe_quarter"] == pytest.approx(50)
    assert on["medial_toe_quarter"] == on["toe"] == 100


def test_a_narrow_web_set_wide_leaves_the_inner_wall_bare():
    """[C] edge 4 mm out, web 8: steel to 4 mm inside the line, of a band of 10."""
    on = reckon(plan(fit_mm={"lateral_heel": 4}, web_change_mm={"lateral_heel": -12}))[
        "wall_on_steel_percent"
    ]
    assert on["lateral_heel"] == pytest.approx(40)


def test_a_flare_fitted_back_to_the_sound_line_bears_on_all_the_sound_wall():
    found = reckon(
        plan(hoof={"out_mm": {"lateral_heel": 5}}, fit_mm={"lateral_heel": -5})
    )
    assert found["wall_on_steel_percent"]["lateral_heel"] == 100
    assert found["edge_from_sound_line_mm"]["lateral_heel"] == 0
    assert found["flags"] == []


def test_a_short_shoe_leaves_the_heel_bare():
    found = reckon(plan(heel_past_buttress_mm={"medial": -4, "lateral": 6}))
    assert found["wall_on_steel_percent"]["medial_heel"] == 0
    assert ("heel_short", "medial_heel") in {
        (f["code"], f["place"]) for f in found["flags"]
    }


def test_an_extension_is_steel_but_no_overhang():
    bare, out = reckon(plan()), reckon(plan(extension_mm={"lateral_quarter": 6}))
    assert out["flags"] == []
    assert out["overhang_mm"]["lateral_quarter"] == 0
    assert out["bearing_area_mm2"]["lateral"] > bare["bearing_area_mm2"]["lateral"]
    assert out["bearing_area_mm2"]["medial"] == bare["bearing_area_mm2"]["medial"]
    assert out["outside_width_mm"] == pytest.approx(
        bare["outside_width_mm"] + 6, abs=0.1
    )


# ---- Rules, each mended -------------------------------------------------------------
BROKEN = {
    "web_narrowed_ahead": (
        plan(web_change_mm={"medial_quarter": -3}),
        plan(web_change_mm={"medial_heel": -3}),
        "medial_quarter",
        "refused",
    ),
    "metal_drawn_ahead": (
        plan(set_mm={"lateral_toe_quarter": -2}),
        plan(set_mm={"lateral_heel": -2}),
        "lateral_toe_quarter",
        "refused",
    ),
    "overhang_ahead": (
        plan(fit_mm={"toe": 0.5}),
        plan(extension_mm={"toe": 0.5}),
        "toe",
        "refused",
    ),
    "overhang_behind": (
        plan(hoof={"out_mm": {"lateral_heel": -4}}, fit_mm={"lateral_heel": 5.1}),
        plan(hoof={"out_mm": {"lateral_heel": -4}}, fit_mm={"lateral_heel": 5}),
        "lateral_heel",
        "flagged",
    ),
    "rocker_needs_dressed_foot": (
        plan(toe={"treatment": "rocker"}),
        plan(toe={"treatment": "rocker", "foot_dressed": True}),
        "toe",
        "refused",
    ),
    "rolled_needs_no_dressing": (
        plan(toe={"treatment": "rolled", "foot_dressed": True}),
        plan(toe={"treatment": "rolled"}),
        "toe",
        "flagged",
    ),
    "set_under_unsaid": (
        plan(toe={"treatment": "set_under"}),
        plan(toe={"treatment": "set_under", "by_mm": 4}),
        "toe",
        "flagged",
    ),
    "heel_edge": (
        plan(hoof={"out_mm": {"medial_heel": 5}}),
        plan(hoof={"out_mm": {"medial_heel": 5}}, set_mm={"medial_heel": -2}),
        "medial_heel",
        "flagged",
    ),
    "last_nail_behind": (
        plan(nails={"lateral": 64.5}),
        plan(nails={"lateral": 64}),
        "lateral_quarter",
        "flagged",
    ),
    "heel_long": (
        plan(heel_past_buttress_mm={"medial": 6, "lateral": 20}),
        plan(heel_past_buttress_mm={"medial": 6, "lateral": 16}),
        "lateral_heel",
        "flagged",
    ),
    "heel_short": (
        plan(heel_past_buttress_mm={"medial": -1, "lateral": 6}),
        plan(heel_past_buttress_mm={"medial": 0, "lateral": 6}),
        "medial_heel",
        "flagged",
    ),
    "heavy_for_limb": (
        plan(section={"width_mm": 34}),
        plan(section={"width_mm": 31}),
        "whole_foot",
        "flagged",
    ),
    "heavy_for_use": (
        plan(section={"width_mm": 22}, use="endurance"),
        plan(section={"width_mm": 20}, use="endurance"),
        "whole_foot",
        "flagged",
    ),
    "beyond_rule_book": (
        plan(section={"width_mm": 24}, use="Icelandic breeding"),
        plan(section={"width_mm": 23}, use="Icelandic breeding"),
        "whole_foot",
        "flagged",
    ),
    "waits_for_vet": (
        plan(findings=["heat"]),
        plan(findings=["flare"]),
        "whole_foot",
        "refused",
    ),
}


@pytest.mark.parametrize("code", BROKEN)
def test_a_flag_appears_and_goes_as_the_plan_is_mended(code):
    broken, mended, place, state = BROKEN[code]
    flag = flags(broken)[code, place]
    assert flag["state"] == state
    assert flag["why"]
    assert flag["mend"]
    assert flag["source"]
    assert codes(mended) == set()


def test_every_rule_of_the_table_is_tried_here():
    assert set(BROKEN) == {rule.code for rule in RULES}
    assert len({rule.code for rule in RULES}) == len(RULES)


def test_a_steel_edge_outside_goes_toward_the_middle_one_inside_goes_outward():
    """reckon.md: the sound foot's line, 3 mm, both words."""
    flared = plan(hoof={"out_mm": {"lateral_heel": 4, "medial_heel": -5}})
    found = flags(flared)
    assert (
        found["heel_edge", "lateral_heel"]["mend"]
        == "Set the lateral heel at least 1.0 mm toward the middle of the foot."
    )
    assert (
        found["heel_edge", "medial_heel"]["mend"]
        == "Set the medial heel at least 2.0 mm outward."
    )
    mended = plan(
        hoof={"out_mm": {"lateral_heel": 4, "medial_heel": -5}},
        set_mm={"lateral_heel": -1, "medial_heel": 2},
    )
    assert codes(mended) == set()


@pytest.mark.parametrize(
    ("said", "at", "enough"),
    [
        (
            {"hoof": {"out_mm": {"lateral_heel": 3.01}}},
            ("heel_edge", "lateral_heel"),
            "at least 0.1 mm toward the middle",
        ),
        (
            {"hoof": {"out_mm": {"medial_heel": -4.23}}},
            ("heel_edge", "medial_heel"),
            "at least 1.3 mm outward",
        ),
        (
            {"fit_mm": {"lateral_heel": 6.04}},
            ("overhang_behind", "lateral_heel"),
            "1.1 mm closer",
        ),
        (
            {"nails": {"medial": 64.01}},
            ("last_nail_behind", "medial_quarter"),
            "forward by 0.1 mm",
        ),
        (
            {"nails": {"lateral": 50}, "fit_mm": {"lateral_quarter": 2}},
            ("overhang_ahead", "lateral_quarter"),
            "2.0 mm closer",
        ),
        (
            {"hoof": {"width_mm": 127}, "section": {"width_mm": 40}},
            ("heavy_for_limb", "whole_foot"),
            "at most 31.7 mm wide",
        ),
    ],
)
def test_doing_what_a_flag_says_is_enough(said, at, enough):
    """A measure rounded to the nearest tenth would leave the flag, or say 0.0 mm."""
    assert enough in flags(plan(**said))[at]["mend"]


def test_exactly_three_millimetres_at_a_heel_pass():
    assert codes(plan(fit_mm={"lateral_heel": 3})) == set()
    assert codes(plan(hoof={"out_mm": {"lateral_heel": -3}})) == set()


def test_a_quarter_behind_the_last_nail_counts_where_it_reaches_forward():
    """A value at a quarter runs to nothing at the toe quarter, past the nail."""
    assert "overhang_ahead" in codes(
        plan(nails={"lateral": 50}, fit_mm={"lateral_quarter": 2})
    )
    assert "overhang_ahead" not in codes(
        plan(nails={"lateral": 33}, fit_mm={"lateral_quarter": 2})
    )


def test_a_branch_without_nails_may_be_narrowed():
    nails = {"medial": 0, "lateral": 3} | {
        "last_nail_from_toe_mm": {"medial": 60, "lateral": 60}
    }
    said = plan(web_change_mm={"medial_quarter": -3})
    said["shoe"]["nails"] = nails
    assert "web_narrowed_ahead" not in codes(said)


def test_no_web_left_between_two_places_is_refused_with_a_pointer():
    """Nailed far forward, what comes off at the heel meets what comes off ahead."""
    taken = {"medial_quarter": -15, "medial_heel": -15}
    with pytest.raises(BadDocument) as refused:
        reckon(plan(nails={"medial": 10}, web_change_mm=taken))
    assert refused.value.pointer == "/shoe/web_change_mm/medial_heel"
    assert reckon(plan(web_change_mm=taken))["mass_g"] > 0


def test_a_hind_may_be_nailed_to_two_thirds_of_its_length():
    """USDA/Adams: front two thirds of hinds."""
    assert "last_nail_behind" not in codes(plan("LH", nails={"lateral": 86.6}))
    assert "last_nail_behind" in codes(plan("LH", nails={"lateral": 87}))


@pytest.mark.parametrize("limit", BOOKS, ids=lambda limit: f"{limit.use} {limit.what}")
def test_a_rule_book_is_named_with_number_and_year(limit):
    use = limit.use
    if limit.what == "mass_g":
        heavy = plan(section={"width_mm": 30, "thickness_mm": 12}, use=use)
        light = plan(use=use)
    else:
        heavy = plan(section={limit.what: limit.most + 0.1}, use=use)
        light = plan(section={limit.what: limit.most}, use=use)
    told = [f for f in reckon(heavy)["flags"] if f["code"] == "beyond_rule_book"]
    assert any(limit.rule in f["why"] and limit.year in f["why"] for f in told)
    assert all("check" in f["source"] for f in told)
    assert not any(
        limit.rule in f["why"]
        for f in reckon(light)["flags"]
        if f["code"] == "beyond_rule_book"
    )


@pytest.mark.parametrize("use", USES)
def test_a_light_use_asks_for_a_light_bar_and_aluminium_is_one(use):
    heavy = plan(section={"width_mm": 25, "thickness_mm": 10}, use=use)
    assert "heavy_for_use" in codes(heavy)
    heavy["shoe"]["metal"] = "aluminium"
    assert "heavy_for_use" not in codes(heavy)


@pytest.mark.parametrize(
    "seen",
    [
        "heat",
        "lameness",
        "laminitic_gait",
        "strong_pulse",
        {"kind": "lameness"},
        {"kind": "lameness", "grade": 2},
        "Hot foot",
        "acute laminitis",
    ],
)
def test_a_lame_hot_or_laminitic_foot_waits_for_the_vet(seen):
    told = flags(plan(findings=[seen]))["waits_for_vet", "whole_foot"]
    assert "vet" in told["mend"]
    assert "diagnos" in told["source"]


def test_a_lameness_graded_nought_does_not_wait():
    assert codes(plan(findings=[{"kind": "lameness", "grade": "0"}])) == set()
    assert set(FINDING_PLACES) >= set(PLACES)


# ---- Bad documents -------------------------------------------------------------------
def without(*path):
    said = plan()
    where = said
    for key in path[:-1]:
        where = where[key]
    del where[path[-1]]
    return said


@pytest.mark.parametrize(
    ("document", "pointer"),
    [
        (without("foot"), "/foot"),
        (without("shoe", "toe", "at"), "/shoe/toe/at"),
        (
            without("shoe", "nails", "last_nail_from_toe_mm"),
            "/shoe/nails/last_nail_from_toe_mm",
        ),
        (plan("XX"), "/foot"),
        (plan() | {"more": 1}, "/more"),
        (plan(fit_mm={"frog": 1}), "/shoe/fit_mm/frog"),
        (plan(fit_mm={"toe": "1"}), "/shoe/fit_mm/toe"),
        (plan(clips="toe"), "/shoe/clips"),
        (plan(toe={"at": "medial_quarter"}), "/shoe/toe/at"),
        (plan(section={"width_mm": 70}), "/shoe/section/width_mm"),
        (plan(web_change_mm={"toe": -19.5}), "/shoe/web_change_mm/toe"),
        (plan(hoof={"widest_from_toe_mm": 130}), "/hoof/widest_from_toe_mm"),
        (plan(hoof={"width_mm": 0}), "/hoof/width_mm"),
        (plan(hoof={"sound_wall_mm": 0}), "/hoof/sound_wall_mm"),
        (plan(nails={"medial": 130}), "/shoe/nails/last_nail_from_toe_mm/medial"),
        (
            plan(
                hoof={"length_mm": 66},
                heel_past_buttress_mm={"medial": -50, "lateral": 0},
            ),
            "/shoe/heel_past_buttress_mm/medial",
        ),
        (plan(findings=[{"place": "toe"}]), "/findings/0"),
        (plan(use=3), "/use"),
        ([], ""),
    ],
)
def test_a_bad_document_points_at_its_fault(document, pointer):
    with pytest.raises(BadDocument) as fault:
        reckon(document)
    assert fault.value.pointer == pointer
    assert "\n" not in fault.value.sentence
