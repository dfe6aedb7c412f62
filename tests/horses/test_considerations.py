"""Each consideration applies where it says, and not beside it; a vet comes first."""

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.conformation import AGE_UNKNOWN, GROWING, SUPPORTED, TRAITS, Built
from horses.considerations.case import Case, Flagged, On
from horses.considerations.rule import COMMON, TOPICS
from horses.considerations.weighing import (
    ALL,
    BY_CODE,
    FOAL_WAITS,
    WAITS_FOR_VET,
    by_topic,
    weigh,
)
from horses.findings import KINDS, PLACES, fault
from horses.hoof import FEET, MATE

ALL_FOUR = frozenset(FEET)


def limb(text, grade="", foot="LF"):
    """``angular:carpus:valgus`` on a foot."""
    kind, place, direction = text.split(":")
    return Built(foot, kind, place, direction, grade)


def case(*said, use="hacking", age=12, shod=ALL_FOUR, weeks=6, recorded=True):
    """A shod horse of twelve that is hacked, with this said of it."""
    return Case(
        built=tuple(one for one in said if isinstance(one, Built)),
        findings=tuple(one for one in said if isinstance(one, On)),
        flags=tuple(one for one in said if isinstance(one, Flagged)),
        use=use,
        age_years=age,
        shod=frozenset(shod),
        interval_weeks=weeks,
        is_recorded=recorded,
    )


def on(kind, place="", grade="", foot="LF"):
    return On(foot, kind, place or KINDS[kind].places[0], grade)


def flag(code, foot="LF"):
    return Flagged(foot, code)


VALGUS, VARUS = "angular:carpus:valgus", "angular:carpus:varus"
OUT, IN = "axial_rotation:limb:toes_out", "axial_rotation:fetlock:toes_in"
NARROW, WIDE = "stance:limb:base_narrow", "stance:limb:base_wide"
LEGS = ("LF",)
HORSE = ()
BARE = frozenset()

# code: (a horse to which it applies, the limbs it names, the nearest to which it doesn't)
EACH = {
    # ---- vet -------------------------------------------------------------------
    "heat_or_strong_pulse": (case(on("strong_pulse")), LEGS, case(on("bruise"))),
    "stilted_gait": (
        case(on("laminitic_gait", grade="1")),
        LEGS,
        case(on("laminitic_gait", grade="0")),
    ),
    "lameness_seen": (
        case(on("lameness", grade="2", foot="RH")),
        ("RH",),
        case(on("lameness", grade="0")),
    ),
    "object_in_the_foot": (case(on("puncture")), LEGS, case(on("bruise"))),
    "wound_or_hot_swelling": (case(on("wound")), LEGS, case(on("wall_loss"))),
    "pain_under_the_horn": (case(on("abscess")), LEGS, case(on("bruise"))),
    "moving_crack": (
        case(on("crack", grade="unstable")),
        LEGS,
        case(on("crack", grade="sand_deep")),
    ),
    "wall_widely_undermined": (
        case(on("white_line_disease", grade="marked")),
        LEGS,
        case(on("white_line_disease", grade="moderate")),
    ),
    "thrush_deep": (
        case(on("thrush", grade="marked")),
        LEGS,
        case(on("thrush", grade="slight")),
    ),
    "bruise_marked": (
        case(on("bruise", grade="marked")),
        LEGS,
        case(on("bruise", grade="slight")),
    ),
    # ---- defer -----------------------------------------------------------------
    "foal_limb": (case(limb(VALGUS), age=0), LEGS, case(limb(VALGUS), age=1)),
    "growing_limb": (case(limb(VALGUS), age=3), LEGS, case(limb(VALGUS), age=4)),
    "foal_club_foot": (
        case(on("club_foot", grade="1"), age=0),
        LEGS,
        case(on("club_foot", grade="1"), age=9),
    ),
    "marked_deviation": (
        case(limb(OUT, "marked")),
        LEGS,
        case(limb(OUT, "moderate")),
    ),
    "old_injury_known": (
        case(limb("old_injury:fetlock:", foot="LH")),
        ("LH",),
        case(limb("angular:fetlock:varus", foot="LH")),
    ),
    "steep_club_foot": (
        case(on("club_foot", grade="3")),
        LEGS,
        case(on("club_foot", grade="2")),
    ),
    "rings_ask_why": (case(on("growth_rings")), LEGS, case(on("flare"))),
    "dished_toe_picture": (
        case(on("dished_toe")),
        LEGS,
        case(on("dished_toe", foot="LH")),
    ),
    "youngstock_trim_alone": (
        case(use="youngstock", age=2, shod=BARE),
        HORSE,
        case(use="hacking", age=2, shod=BARE),
    ),
    # ---- limb ------------------------------------------------------------------
    "several_deviations": (
        case(limb(OUT), limb(VALGUS), limb("angular:fetlock:valgus", foot="LH")),
        ("LF", "LH"),
        case(limb(OUT), limb("angular:fetlock:valgus", foot="LH")),
    ),
    "base_narrow_lateral_support": (case(limb(NARROW)), LEGS, case(limb(WIDE))),
    "base_wide_medial_support": (
        case(limb(WIDE)),
        LEGS,
        case(limb(WIDE), shod={"RF"}),
    ),
    "narrow_going_close_medial": (
        case(limb(NARROW, foot="RH")),
        ("RH",),
        case(limb(OUT, foot="RH")),
    ),
    "toes_out_breakover": (case(limb(OUT)), LEGS, case(limb(OUT), age=2)),
    "toes_in_breakover": (case(limb(IN)), LEGS, case(limb(OUT))),
    "carpus_valgus_support": (
        case(limb(VALGUS)),
        LEGS,
        case(limb("angular:fetlock:valgus")),
    ),
    "carpus_varus_support": (case(limb(VARUS)), LEGS, case(limb(VALGUS))),
    "tarsus_valgus_support": (
        case(limb("angular:tarsus:valgus", foot="LH")),
        ("LH",),
        case(limb("angular:tarsus:varus", foot="LH")),
    ),
    "tarsus_varus_support": (
        case(limb("angular:tarsus:varus", foot="LH")),
        ("LH",),
        case(limb("angular:tarsus:valgus", foot="LH")),
    ),
    "fetlock_valgus_support": (
        case(limb("angular:fetlock:valgus", foot="RH")),
        ("RH",),
        case(limb(VALGUS)),
    ),
    "fetlock_varus_support": (
        case(limb("angular:fetlock:varus")),
        LEGS,
        case(limb("angular:fetlock:valgus")),
    ),
    "offset_knee": (
        case(limb("offset:carpus:lateral")),
        LEGS,
        case(limb("offset:fetlock:lateral")),
    ),
    "offset_low_joint": (
        case(limb("offset:fetlock:medial")),
        LEGS,
        case(limb("offset:carpus:lateral")),
    ),
    "camped_under_fore": (
        case(limb("stance:limb:camped_under")),
        LEGS,
        case(limb("stance:limb:camped_under", foot="LH")),
    ),
    "camped_out_fore": (
        case(limb("stance:limb:camped_out")),
        LEGS,
        case(limb("stance:limb:camped_out", foot="LH")),
    ),
    "camped_out_hind": (
        case(limb("stance:limb:camped_out", foot="LH")),
        ("LH",),
        case(limb("stance:limb:camped_out")),
    ),
    "under_behind": (
        case(limb("stance:limb:sickle", foot="LH")),
        ("LH",),
        case(limb("stance:limb:camped_under")),
    ),
    "upright_pastern_fit": (
        case(limb("side:pastern:upright_pastern")),
        LEGS,
        case(limb("side:pastern:upright_pastern"), shod=BARE),
    ),
    "sloping_pastern_fit": (
        case(limb("side:pastern:sloping_pastern")),
        LEGS,
        case(limb("side:pastern:upright_pastern")),
    ),
    "back_at_knee_ease": (
        case(limb("side:carpus:back_at_knee")),
        LEGS,
        case(limb("side:carpus:over_at_knee")),
    ),
    "over_at_knee_steady": (
        case(limb("side:carpus:over_at_knee")),
        LEGS,
        case(limb("side:carpus:back_at_knee")),
    ),
    "pair_built_differently": (
        case(limb(OUT, "slight")),
        ("LF", "RF"),
        case(limb(OUT, "slight"), limb(OUT, "marked", foot="RF")),
    ),
    # ---- foot ------------------------------------------------------------------
    "long_toe": (case(on("long_toe")), LEGS, case(on("dished_toe"))),
    "low_angle_front": (
        case(flag("low_angle")),
        LEGS,
        case(flag("low_angle", foot="LH")),
    ),
    "low_angle_interval": (
        case(flag("low_angle"), weeks=7),
        LEGS,
        case(flag("low_angle"), weeks=6),
    ),
    "underrun_heel": (case(flag("underrun_heel")), LEGS, case(flag("uneven_pair"))),
    "opposite_heels": (
        case(on("flare", "lateral_heel"), on("underrun_heel", "medial_heel")),
        LEGS,
        case(on("flare", "medial_heel"), on("underrun_heel", "medial_heel")),
    ),
    "sheared_heels": (case(on("sheared_heels")), LEGS, case(on("contracted_heels"))),
    "contracted_heels": (
        case(flag("contracted_heels", foot="RF")),
        ("RF",),
        case(flag("sheared_heels")),
    ),
    "flare_dressed": (case(on("flare")), LEGS, case(on("high_side"))),
    "high_side": (case(flag("uneven_walls")), LEGS, case(flag("uneven_pair"))),
    "club_foot_low_grade": (
        case(on("club_foot", grade="2")),
        LEGS,
        case(on("club_foot", grade="2"), age=1),
    ),
    "axis_broken_back": (
        case(flag("broken_back_axis")),
        LEGS,
        case(flag("broken_forward_axis")),
    ),
    "axis_broken_forward": (
        case(flag("broken_forward_axis")),
        LEGS,
        case(flag("broken_back_axis")),
    ),
    "uneven_pair": (
        case(flag("uneven_pair"), flag("uneven_pair", "RF")),
        ("LF", "RF"),
        case(flag("uneven_walls")),
    ),
    "crack_at_the_toe": (
        case(on("crack", "toe", "grass_deep")),
        LEGS,
        case(on("crack", "toe", "unstable")),
    ),
    "crack_at_the_quarter": (
        case(on("crack", "medial_heel", "sand_shallow")),
        LEGS,
        case(on("crack", "toe", "sand_shallow")),
    ),
    "white_line_open": (
        case(on("white_line_disease", grade="slight")),
        LEGS,
        case(on("white_line_disease", grade="marked")),
    ),
    "wall_lost": (case(on("wall_loss")), LEGS, case(on("flare"))),
    "thrush_kept_dry": (
        case(on("thrush", grade="moderate")),
        LEGS,
        case(on("thrush", grade="marked")),
    ),
    "bruise_protected": (
        case(on("bruise", grade="slight")),
        LEGS,
        case(on("bruise", grade="marked")),
    ),
    "collapsed_bars": (case(on("collapsed_bars")), LEGS, case(on("thrush"))),
    "long_branches_in_front": (
        case(on("underrun_heel", "medial_heel")),
        LEGS,
        case(on("underrun_heel", "medial_heel", foot="LH")),
    ),
    # ---- use -------------------------------------------------------------------
    "endurance_light": (case(use="endurance"), HORSE, case(use="hunting")),
    "racing_rule_book": (case(use="racing", shod=BARE), HORSE, case(use="polo")),
    "racing_plate_thin": (case(use="racing"), HORSE, case(use="racing", shod=BARE)),
    "driving_roads": (case(use="driving"), HORSE, case(use="draught")),
    "draught_width": (case(use="draught"), HORSE, case(use="driving")),
    "jumping_studs": (case(use="eventing"), HORSE, case(use="dressage")),
    "fast_work_close_heels": (case(use="polo"), HORSE, case(use="jumping")),
    "dressage_turns": (case(use="dressage"), HORSE, case(use="showing")),
    "western_stops": (case(use="western"), HORSE, case(use="western", shod=BARE)),
    "school_wear": (case(use="school"), HORSE, case(use="school", shod=BARE)),
    "work_unshod": (
        case(use="driving", shod=BARE),
        HORSE,
        case(use="driving", shod=BARE, recorded=False),
    ),
    "rest_without_shoes": (case(use="retired"), HORSE, case(use="retired", shod=BARE)),
    "broodmare_hinds": (case(use="breeding"), HORSE, case(use="companion")),
    "aged_horse_care": (case(age=20), HORSE, case(age=19)),
    "interval_long": (case(weeks=9), HORSE, case(weeks=8)),
    "show_rules": (case(use="showing"), HORSE, case(use="dressage")),
    "foal_first_visit": (case(age=0, shod=BARE), HORSE, case(age=1, shod=BARE)),
}


def codes(horse):
    return [weighed.rule.code for weighed in weigh(horse)]


def test_there_are_at_least_forty_and_each_is_tried_here():
    assert len(ALL) >= 40
    assert len(BY_CODE) == len(ALL)
    assert set(EACH) == set(BY_CODE)


@pytest.mark.parametrize("code", EACH)
def test_it_applies_where_it_says_and_names_the_limbs(code):
    horse, limbs, _ = EACH[code]
    found = {weighed.rule.code: weighed for weighed in weigh(horse)}
    assert code in found
    assert found[code].feet == limbs


@pytest.mark.parametrize("code", EACH)
def test_it_does_not_apply_to_the_next_best_horse(code):
    assert code not in codes(EACH[code][2])


@pytest.mark.parametrize("rule", ALL, ids=lambda rule: rule.code)
def test_each_says_why_from_where_and_what_speaks_against_it(rule):
    for text in (rule.title, rule.when, rule.weighs, rule.reason, rule.against):
        assert len(text) > 5
    assert rule.topic in TOPICS
    assert len(rule.code) <= 60
    assert rule.source == COMMON or re.search(
        r"\(\d{4}\)|\d{4}|page|from memory|Lungwitz|USDA|AAEP|Association|equipodiatry"
        r"|americanfarriers",
        rule.source,
    )


@pytest.mark.parametrize("rule", ALL, ids=lambda rule: rule.code)
def test_none_orders_or_names_a_disease_that_the_horse_has(rule):
    text = f"{rule.title} {rule.weighs} {rule.reason}".lower()
    for word in ("must be shod", "diagnos", "suffers from", " mg", "cures", "corrects"):
        assert word not in text


@pytest.mark.parametrize(
    "rule", [r for r in ALL if r.topic == "vet"], ids=lambda rule: rule.code
)
def test_what_is_for_a_vet_says_vet_in_what_to_weigh_or_its_title(rule):
    assert "vet" in rule.title.lower()
    assert "vet" in rule.weighs.lower()


def test_a_vet_comes_first_and_the_rest_waits():
    found = weigh(case(limb(NARROW), on("heat"), on("flare"), use="driving"))
    assert found[0].rule.topic == "vet"
    assert [w.waits for w in found if w.rule.topic == "vet"] == [""]
    assert {w.waits for w in found if w.rule.topic != "vet"} == {WAITS_FOR_VET}
    assert len(found) > 3


def test_nothing_waits_in_a_horse_that_needs_no_vet():
    found = weigh(case(limb(NARROW), on("flare"), use="driving"))
    assert found
    assert not any(w.waits for w in found)


def test_a_foals_limbs_and_feet_wait_for_a_vet():
    found = weigh(case(limb(NARROW), on("flare"), age=0, use="youngstock", shod=BARE))
    assert "foal_first_visit" in [w.rule.code for w in found]
    held = [w for w in found if w.rule.topic in ("limb", "foot")]
    assert held
    assert {w.waits for w in held} == {FOAL_WAITS}


@pytest.mark.parametrize(
    ("age", "use", "said"),
    [
        (14, "driving", SUPPORTED),
        (2, "hacking", GROWING),
        (None, "youngstock", GROWING),
        (None, "hacking", AGE_UNKNOWN),
    ],
)
def test_lasting_conformation_is_supported_not_remade_in_a_mature_horse(age, use, said):
    found = weigh(case(limb("side:pastern:upright_pastern"), age=age, use=use))
    lasting = [w for w in found if w.rule.is_lasting]
    assert lasting
    assert {w.age_words for w in lasting} == {said}
    assert all(not w.age_words for w in found if not w.rule.is_lasting)
    assert "supported, not remade" in SUPPORTED


def test_the_driving_cob_of_fourteen():
    cob = case(
        limb("offset:carpus:lateral", "moderate"),
        limb("axial_rotation:limb:toes_out", "slight"),
        limb("axial_rotation:limb:toes_out", "slight", foot="RF"),
        limb("angular:fetlock:valgus", "moderate", foot="RH"),
        on("flare", "lateral_heel", "moderate", foot="RH"),
        on("underrun_heel", "medial_heel", "moderate", foot="RH"),
        use="driving",
        age=14,
    )
    found = {w.rule.code: w for w in weigh(cob)}
    assert {
        *("several_deviations", "offset_knee", "toes_out_breakover"),
        *("fetlock_valgus_support", "opposite_heels", "driving_roads"),
    } <= set(found)
    assert found["opposite_heels"].feet == ("RH",)
    assert found["several_deviations"].feet == ("LF", "RF", "RH")
    assert not any(w.rule.topic == "vet" for w in found.values())


def test_a_horse_of_which_nothing_is_said_is_told_nothing():
    assert weigh(Case()) == ()


def test_the_page_that_lists_them_leaves_none_out():
    assert [rule for _, rules in by_topic() for rule in rules] == list(ALL)
    assert all(rules for _, rules in by_topic())


said_of_limbs = st.builds(
    lambda foot, trait, grade: Built(
        foot, trait.kind, trait.place, trait.direction, grade
    ),
    st.sampled_from(FEET),
    st.sampled_from(TRAITS),
    st.sampled_from(["", "slight", "moderate", "marked"]),
)
said_of_feet = st.builds(
    On,
    st.sampled_from(FEET),
    st.sampled_from([*KINDS, "an_older_word"]),
    st.sampled_from(["", *PLACES]),
    st.sampled_from(["", "0", "3", "slight", "marked", "unstable"]),
)


@given(
    built=st.lists(said_of_limbs, max_size=8),
    findings=st.lists(said_of_feet, max_size=8),
    age=st.none() | st.integers(0, 40),
    use=st.sampled_from(["", "driving", "racing", "youngstock", "no_such_use"]),
    shod=st.frozensets(st.sampled_from(FEET)),
)
def test_any_horse_is_weighed_in_order_and_names_only_its_own_limbs(
    built, findings, age, use, shod
):
    horse = Case(tuple(built), tuple(findings), (), use, age, shod)
    found = weigh(horse)
    order = [list(TOPICS).index(w.rule.topic) for w in found]
    assert order == sorted(order)
    known = {b.limb for b in built} | {f.foot for f in findings}
    for weighed in found:
        named = set(weighed.feet)
        if weighed.rule.code == "pair_built_differently":
            named -= {"LF", "RF", "LH", "RH"} - known
        assert named <= known
        assert list(weighed.feet) == sorted(weighed.feet, key=FEET.index)


@given(
    built=st.lists(said_of_limbs, max_size=8),
    findings=st.lists(said_of_feet, max_size=8),
    shod=st.frozensets(st.sampled_from(FEET)),
)
def test_left_and_right_are_weighed_alike(built, findings, shod):
    one = Case(tuple(built), tuple(findings), (), "driving", 12, shod)
    other = Case(
        tuple(replace(b, limb=MATE[b.limb]) for b in built),
        tuple(replace(f, foot=MATE[f.foot]) for f in findings),
        (),
        "driving",
        12,
        frozenset(MATE[foot] for foot in shod),
    )
    assert [(w.rule.code, {MATE[f] for f in w.feet}) for w in weigh(one)] == [
        (w.rule.code, set(w.feet)) for w in weigh(other)
    ]


def test_the_findings_that_these_tests_name_exist():
    for horse, _, other in EACH.values():
        for seen in (*horse.findings, *other.findings):
            assert fault(seen.kind, seen.place, seen.grade) is None, seen
