"""The limb sketch: which way it deviates, mirrored, worded, larger by grade, printable."""

import io
import re
from xml.etree import ElementTree

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.conformation import TRAITS, Built
from horses.drawing.limb import (
    HIGH,
    NOT_TO_MEASURE,
    WIDE,
    LimbPicture,
    describe,
    limb_view,
    line_of,
)
from horses.hoof import FEET
from practice import pdf

SVG = "{http://www.w3.org/2000/svg}"


def built(foot, code, grade="moderate"):
    kind, place, direction = code.split(":")
    return Built(foot, kind, place, direction, grade)


def parsed(svg):
    return ElementTree.fromstring(svg)  # noqa: S314 - our own drawing


def words(svg):
    return {t.text: float(t.get("x")) for t in parsed(svg).iter(f"{SVG}text")}


def points(svg):
    return {
        (round(float(x), 1), round(float(y), 1))
        for path in parsed(svg).iter(f"{SVG}path")
        for x, y in re.findall(r"(-?[0-9.]+) (-?[0-9.]+)", path.get("d"))
    }


# Seen from the front a horse's left is at the right of the picture; from behind at its
# left. Lateral is away from the midline.
@pytest.mark.parametrize(
    ("foot", "lateral_is_right"),
    [("LF", True), ("RF", False), ("LH", False), ("RH", True)],
)
def test_medial_and_lateral_stand_on_their_sides(foot, lateral_is_right):
    place = words(limb_view(LimbPicture(foot)))
    assert (place["lateral"] > place["medial"]) == lateral_is_right
    assert foot in place


@pytest.mark.parametrize(("foot", "view"), [("LF", "the front"), ("RH", "behind")])
def test_it_says_from_where_it_is_seen(foot, view):
    title = next(parsed(limb_view(LimbPicture(foot))).iter(f"{SVG}title"))
    assert title.text.endswith(f"limb from {view}")


# facts of the trade's words: valgus, the part below the joint angled outward; varus
# inward; base narrow, feet closer together than the limb tops; offset knee, cannon set
# to the outside (Stashak, Adams' Lameness, from memory)
@pytest.mark.parametrize(
    ("code", "which", "is_lateral"),
    [
        ("angular:carpus:valgus", "fetlock", True),
        ("angular:carpus:varus", "fetlock", False),
        ("angular:fetlock:valgus", "ground", True),
        ("angular:fetlock:varus", "ground", False),
        ("stance:limb:base_narrow", "ground", False),
        ("stance:limb:base_wide", "ground", True),
        ("offset:carpus:lateral", "joint", True),
        ("offset:fetlock:medial", "fetlock", False),
    ],
)
def test_the_limb_goes_where_the_word_says(code, which, is_lateral):
    straight = getattr(line_of(LimbPicture("LF")), which)[0]
    places = [
        getattr(line_of(LimbPicture("LF", (built("LF", code, grade),))), which)[0]
        for grade in ("slight", "moderate", "marked")
    ]
    assert straight == 0
    assert all((place > 0) == is_lateral for place in places)
    assert abs(places[0]) < abs(places[1]) < abs(places[2])


@pytest.mark.parametrize(
    ("code", "sign"),
    [("axial_rotation:limb:toes_out", 1), ("axial_rotation:fetlock:toes_in", -1)],
)
def test_the_toe_points_where_the_word_says(code, sign):
    turn = line_of(LimbPicture("RH", (built("RH", code),))).turn_deg
    assert turn * sign > 0


def test_above_the_joint_nothing_moves():
    bent = line_of(LimbPicture("LF", (built("LF", "angular:fetlock:valgus"),)))
    assert bent.joint[0] == bent.fetlock[0] == 0
    assert bent.coronet[0] > 0


limbs = st.lists(
    st.tuples(
        st.sampled_from(TRAITS), st.sampled_from(["", "slight", "moderate", "marked"])
    ),
    max_size=7,
)


@given(limbs, st.sampled_from(["LF", "LH"]))
def test_left_and_right_mirror_each_other(said, left):
    def picture(foot):
        return LimbPicture(
            foot,
            tuple(Built(foot, t.kind, t.place, t.direction, g) for t, g in said),
        )

    one = points(limb_view(picture(left)))
    other = points(limb_view(picture(left.replace("L", "R"))))
    mirrored = {(round(WIDE - x, 1), y) for x, y in other}
    for x, y in one:
        assert any(abs(x - a) <= 0.11 and abs(y - b) <= 0.11 for a, b in mirrored)


@given(limbs, st.sampled_from(FEET))
def test_any_limb_is_drawn_within_its_sheet_and_numbered_in_order(said, foot):
    picture = LimbPicture(
        foot, tuple(Built(foot, t.kind, t.place, t.direction, g) for t, g in said)
    )
    svg = limb_view(picture)
    assert all(-1 <= x <= WIDE + 1 and -1 <= y <= HIGH + 1 for x, y in points(svg))
    numbers = [t.text for t in parsed(svg).iter(f"{SVG}text") if t.text.isdigit()]
    assert numbers == [str(i + 1) for i in range(len(said))]


def test_it_says_in_words_what_it_shows_and_that_it_is_larger_than_life():
    picture = LimbPicture("LF", (built("LF", "angular:carpus:valgus", "slight"),))
    assert describe(picture) == f"1: valgus at the carpus, slight. {NOT_TO_MEASURE}."
    assert NOT_TO_MEASURE in limb_view(picture)
    assert describe(LimbPicture("LF")) == "Nothing noted: drawn straight."


def test_it_has_no_style_no_script_and_escapes_what_it_is_told():
    odd = Built("LF", "angular", "<b>", "x", "&", "note")
    svg = limb_view(LimbPicture("LF", (odd,)))
    parsed(svg)
    assert "style" not in svg
    assert "script" not in svg
    assert "<b>" not in svg


def test_it_prints():
    svg = limb_view(LimbPicture("RH", (built("RH", "angular:tarsus:valgus"),)))
    page = pdf.render(
        f"<html><body>{svg}</body></html>",
        css="svg { width: 40mm }",
        title="Limb",
        lang="en",
    )
    text = pypdf.PdfReader(io.BytesIO(page)).pages[0].extract_text()
    assert "medial" in text
    assert "lateral" in text
