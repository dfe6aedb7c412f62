"""What holds for every plan: mirror, scale, monotone fit, mass, no crash."""

import json
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from horses.reckon import RECKONINGS
from horses.shoe.document import SHOE_OUT, plan_of
from horses.shoe.plan import (
    PLACES,
    Branch,
    FootPlan,
    Hoof,
    Section,
    Shoe,
    Toe,
)
from horses.shoe.reckoned import reckon
from practice.reckoning import BadDocument, answer, read

SIDES = {"medial": "lateral", "lateral": "medial"}
TRY = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def number(least, most):
    return st.floats(least, most, allow_nan=False).map(lambda value: round(value, 2))


def by_place(least, most, places=PLACES):
    return st.dictionaries(st.sampled_from(places), number(least, most), max_size=4)


@st.composite
def plans(draw):
    """A plan of the sizes that horses have."""
    width = draw(number(90, 160))
    length = width * draw(number(0.9, 1.15))
    widest = length * draw(number(0.42, 0.6))

    def branch():
        return Branch(
            draw(number(-3, 15)),
            draw(st.integers(0, 5)),
            widest * draw(number(0.5, 1.2)),
        )

    return FootPlan(
        Hoof(
            draw(st.sampled_from(["LF", "RF", "LH", "RH"])),
            width,
            length,
            widest,
            draw(number(6, 12)),
            draw(by_place(-6, 8)),
        ),
        Shoe(
            draw(st.sampled_from(["steel", "aluminium"])),
            Section(
                draw(st.sampled_from(["plain", "fullered", "concave", "half_round"])),
                draw(number(14, 26)),
                draw(number(5, 12)),
            ),
            Toe(
                draw(st.sampled_from(["plain", "rolled", "rocker", "set_under"])),
                draw(st.sampled_from(PLACES[:3])),
                draw(st.booleans()),
                draw(number(0, 8)),
            ),
            branch(),
            branch(),
            fit_mm=draw(by_place(-4, 6)),
            web_change_mm=draw(by_place(-6, 6)),
            set_mm=draw(by_place(-4, 4)),
            extension_mm=draw(by_place(0, 8)),
        ),
    )


def turned(place):
    for one, other in SIDES.items():
        if place.startswith(one):
            return place.replace(one, other)
    return place


def swap(amounts):
    return {turned(place): value for place, value in amounts.items()}


def mirrored(plan):
    """Medial for lateral throughout."""
    shoe = plan.shoe
    return replace(
        plan,
        hoof=replace(plan.hoof, out_mm=swap(plan.hoof.out_mm)),
        shoe=replace(
            shoe,
            toe=replace(shoe.toe, at=turned(shoe.toe.at)),
            medial=shoe.lateral,
            lateral=shoe.medial,
            fit_mm=swap(shoe.fit_mm),
            web_change_mm=swap(shoe.web_change_mm),
            set_mm=swap(shoe.set_mm),
            extension_mm=swap(shoe.extension_mm),
        ),
    )


@TRY
@given(plans())
def test_medial_and_lateral_mirror_each_other(plan):
    one, other = reckon(plan), reckon(mirrored(plan))
    assert one.mass_g == pytest.approx(other.mass_g)
    assert one.medial.area_mm2 == pytest.approx(other.lateral.area_mm2)
    assert one.lateral.outline.centre_line_mm == pytest.approx(
        other.medial.outline.centre_line_mm
    )
    assert one.wall_on_steel_percent == pytest.approx(swap(other.wall_on_steel_percent))
    assert one.overhang_mm == pytest.approx(swap(other.overhang_mm))


@TRY
@given(plans())
def test_a_left_and_a_right_foot_are_one_reckoning(plan):
    mate = plan.hoof.foot.translate(str.maketrans("LR", "RL"))
    other = replace(plan, hoof=replace(plan.hoof, foot=mate))
    assert reckon(plan).mass_g == reckon(other).mass_g


def scaled(plan, by):
    def grow(amounts):
        return {place: value * by for place, value in amounts.items()}

    def branch(old):
        return replace(
            old,
            heel_past_buttress_mm=old.heel_past_buttress_mm * by,
            last_nail_from_toe_mm=old.last_nail_from_toe_mm * by,
        )

    hoof, shoe = plan.hoof, plan.shoe
    return replace(
        plan,
        hoof=replace(
            hoof,
            width_mm=hoof.width_mm * by,
            length_mm=hoof.length_mm * by,
            widest_from_toe_mm=hoof.widest_from_toe_mm * by,
            sound_wall_mm=hoof.sound_wall_mm * by,
            out_mm=grow(hoof.out_mm),
        ),
        shoe=replace(
            shoe,
            section=replace(
                shoe.section,
                width_mm=shoe.section.width_mm * by,
                thickness_mm=shoe.section.thickness_mm * by,
            ),
            toe=replace(shoe.toe, by_mm=shoe.toe.by_mm * by),
            medial=branch(shoe.medial),
            lateral=branch(shoe.lateral),
            fit_mm=grow(shoe.fit_mm),
            web_change_mm=grow(shoe.web_change_mm),
            set_mm=grow(shoe.set_mm),
            extension_mm=grow(shoe.extension_mm),
        ),
    )


@TRY
@given(plans(), number(0.5, 2))
def test_a_plan_twice_as_large_is_twice_four_times_eight_times(plan, by):
    one, other = reckon(plan), reckon(scaled(plan, by))
    assert other.centre_line_mm == pytest.approx(one.centre_line_mm * by)
    assert other.bar_length_mm == pytest.approx(one.bar_length_mm * by)
    assert other.medial.area_mm2 == pytest.approx(one.medial.area_mm2 * by**2)
    assert other.mass_g == pytest.approx(one.mass_g * by**3, rel=1e-6)
    assert other.wall_on_steel_percent == pytest.approx(one.wall_on_steel_percent)


@TRY
@given(plans(), st.sampled_from(PLACES), number(0, 10), number(0, 10))
def test_overhang_never_falls_as_the_fit_goes_out(plan, place, one, more):
    def at(fit):
        shoe = replace(plan.shoe, fit_mm={**plan.shoe.fit_mm, place: fit})
        return reckon(replace(plan, shoe=shoe)).overhang_mm

    low, high = at(one - 5), at(one + more - 5)
    assert all(high[p] >= low[p] for p in PLACES)
    assert all(high[p] == low[p] for p in PLACES if p != place)


@TRY
@given(plans(), st.sampled_from(PLACES), number(0, 15), number(0, 15), st.booleans())
def test_wall_on_steel_never_rises_as_the_fit_leaves_the_wall(
    plan, place, one, more, outward
):
    """From a foot whose wall is its sound line, either way."""
    sign = 1 if outward else -1
    hoof = replace(plan.hoof, out_mm={})
    bare = replace(plan.shoe, set_mm={}, extension_mm={}, toe=Toe())

    def at(fit):
        shoe = replace(bare, fit_mm={place: sign * fit})
        return reckon(replace(plan, hoof=hoof, shoe=shoe)).wall_on_steel_percent

    near, far = at(one), at(one + more)
    assert all(far[p] <= near[p] + 1e-9 for p in PLACES)
    assert all(0 <= share <= 100 for share in far.values())


@TRY
@given(plans())
def test_mass_is_the_sum_of_the_branches_and_of_what_was_cut(plan):
    found = reckon(plan)
    assert found.mass_g == pytest.approx(found.medial.mass_g + found.lateral.mass_g)
    shoe = plan.shoe
    unnailed = replace(
        shoe,
        medial=replace(shoe.medial, nails=0, fuller_mm=0.0),
        lateral=replace(shoe.lateral, nails=0, fuller_mm=0.0),
    )
    one = replace(unnailed, medial=replace(unnailed.medial, nails=1))
    bare, nailed = (reckon(replace(plan, shoe=s)).mass_g for s in (unnailed, one))
    four = replace(unnailed, medial=replace(unnailed.medial, nails=4))
    lost = reckon(replace(plan, shoe=four)).mass_g
    assert bare - lost == pytest.approx(4 * (bare - nailed))
    assert found.mass_g <= bare + 1e-9


@TRY
@given(plans())
def test_steel_lies_on_its_own_side_and_ends_at_its_heel(plan):
    found = reckon(plan)
    for side, sign in (("medial", -1), ("lateral", 1)):
        branch = found.branch(side)
        left, _, right, rear = branch.outline.steel.bounds
        end = plan.hoof.length_mm + plan.shoe.branch(side).heel_past_buttress_mm
        assert min(left * sign, right * sign) >= -1e-6
        assert rear == pytest.approx(end, abs=1e-6)


# ---- Any accepted document -----------------------------------------------------------
def _schema_strategy(schema):
    """Documents of a shape, within its bounds or just at them."""
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    if "anyOf" in schema:
        return st.one_of(*map(_schema_strategy, schema["anyOf"]))
    kind = schema["type"]
    if isinstance(kind, list):
        return st.one_of(*(_schema_strategy({**schema, "type": one}) for one in kind))
    if kind == "number":
        low, high = schema["minimum"], schema["maximum"]
        return st.one_of(
            st.sampled_from([low, high, (low + high) / 2]), st.floats(low, high)
        )
    if kind == "integer":
        return st.integers(schema["minimum"], schema["maximum"])
    if kind == "boolean":
        return st.booleans()
    if kind == "string":
        return st.text(min_size=schema.get("minLength", 0), max_size=12)
    if kind == "array":
        return st.lists(_schema_strategy(schema["items"]), max_size=3)
    required = set(schema["required"])
    parts = {key: _schema_strategy(part) for key, part in schema["properties"].items()}
    return st.fixed_dictionaries(
        {key: parts[key] for key in parts if key in required},
        optional={key: parts[key] for key in parts if key not in required},
    )


ANY = _schema_strategy(RECKONINGS["shoe"].schema_in)


@pytest.mark.slow
@settings(
    max_examples=settings.default.max_examples * 3 // 2,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(ANY)
def test_no_accepted_document_crashes(document):
    hoof, shoe = document["hoof"], document["shoe"]
    # Half way to sense, so that most are accepted and the rest is refused in words.
    hoof["widest_from_toe_mm"] = min(hoof["widest_from_toe_mm"], hoof["length_mm"] - 1)
    hoof["sound_wall_mm"] = min(hoof["sound_wall_mm"], hoof["width_mm"] / 3)
    section = shoe["section"]
    section["width_mm"] = min(section["width_mm"], hoof["width_mm"] / 2)
    nails = shoe["nails"]["last_nail_from_toe_mm"]
    for side in nails:
        nails[side] = min(nails[side], hoof["length_mm"] - 1)
    for place, change in shoe.get("web_change_mm", {}).items():
        shoe["web_change_mm"][place] = max(change, 1 - section["width_mm"])
    try:
        found = answer(RECKONINGS["shoe"], read(json.dumps(document).encode()))
    except BadDocument:
        reject()
    text = json.dumps(found, allow_nan=False)
    Draft202012Validator(SHOE_OUT).validate(json.loads(text))
    assert plan_of(document)
