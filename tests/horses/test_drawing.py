"""The foot diagram: well-formed, mirrored, worded, free of style and script."""

import io
import re
from math import atan2, degrees
from xml.etree import ElementTree

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.drawing.ground import FootPicture, ground_view
from horses.drawing.shoe import ShoePicture
from horses.drawing.side import SCALE, SidePicture, side_view
from horses.findings import KINDS, PLACES, Seen
from horses.hoof import FEET
from practice import pdf

SVG = "{http://www.w3.org/2000/svg}"
SHOE = ShoePicture("fullered", nails_medial=3, nails_lateral=4, toe_treatment="rolled")


def parsed(svg):
    return ElementTree.fromstring(svg)  # noqa: S314 - our own drawing


def words(svg):
    tree = parsed(svg)
    return {
        text.text: float(text.get("x"))
        for text in tree.iter(f"{SVG}text")
        if text.text is not None
    }


def points(svg):
    """Every point of every path."""
    return {
        (float(x), float(y))
        for path in parsed(svg).iter(f"{SVG}path")
        for x, y in re.findall(r"(-?[0-9.]+) (-?[0-9.]+)", path.get("d"))
    }


def strokes(svg):
    return [x for x, _ in points(svg)]


@pytest.mark.parametrize("foot", FEET)
def test_medial_and_lateral_stand_in_words_on_their_sides(foot):
    place = words(ground_view(FootPicture(foot)))
    assert foot in place
    # from the ground side, toe up: the medial side of a left foot is at the left
    assert (place["medial"] < place["lateral"]) == foot.startswith("L")


@pytest.mark.parametrize(("left", "right"), [("LF", "RF"), ("LH", "RH")])
def test_left_and_right_mirror_each_other(left, right):
    one = points(ground_view(FootPicture(left, SHOE)))
    other = {(220 - x, y) for x, y in points(ground_view(FootPicture(right, SHOE)))}
    # paths start at other ends, so points are compared as sets
    for some, all_ in ((one, other), (other, one)):
        for x, y in some:
            assert min(abs(x - u) + abs(y - v) for u, v in all_) < 0.3


def test_the_lateral_branch_has_the_lateral_nails():
    svg = ground_view(FootPicture("LF", SHOE))
    nails = [
        path.get("d")
        for path in parsed(svg).iter(f"{SVG}path")
        if path.get("stroke") == "#14181b"
    ]
    xs = [float(x) for x in re.findall(r"M([0-9.]+)", "".join(nails))]
    assert sum(x < 110 for x in xs) == 3
    assert sum(x > 110 for x in xs) == 4


def test_findings_are_numbered_at_their_place():
    seen = (Seen("flare", "lateral_quarter"), Seen("thrush", "frog"))
    svg = ground_view(FootPicture("LF", findings=seen))
    place = words(svg)
    assert place["1"] > 180
    assert place["2"] == pytest.approx(110)
    assert words(ground_view(FootPicture("RF", findings=seen)))["1"] < 40
    assert "1: flare, lateral quarter." in svg
    assert "2: thrush, frog." in svg


def test_readers_of_the_page_hear_the_drawing():
    tree = parsed(ground_view(FootPicture("RH", SHOE, work="Reset")))
    assert tree.get("role") == "img"
    assert tree.find(f"{SVG}title").text == "Right hind foot from the ground side"
    told = tree.find(f"{SVG}desc").text
    assert "nails: 3 medial, 4 lateral" in told
    assert told.startswith("Reset.")


def test_a_wide_foot_is_drawn_wide():
    narrow, wide = (
        strokes(ground_view(FootPicture("LF", width_mm=width, length_mm=140)))
        for width in (120, 150)
    )
    assert max(wide) - min(wide) > max(narrow) - min(narrow) + 20


@pytest.mark.parametrize("foot", FEET)
def test_the_side_view_keeps_the_angle(foot):
    svg = side_view(SidePicture(foot, 84, 52.5, 28, 45, 130))
    wall = next(
        path.get("d")
        for path in parsed(svg).iter(f"{SVG}path")
        if path.get("fill") == "#8f7152"
    )
    numbers = [float(number) for number in re.findall(r"-?[0-9.]+", wall)]
    toe, coronet = numbers[:2], numbers[2:4]
    up, along = toe[1] - coronet[1], abs(toe[0] - coronet[0])
    assert degrees(atan2(up, along)) == pytest.approx(52.5, abs=0.15)
    assert (up**2 + along**2) ** 0.5 == pytest.approx(84 * SCALE, abs=0.2)
    assert {"52.5°", "45°"} <= set(words(svg))


PICTURES = st.builds(
    FootPicture,
    foot=st.sampled_from(FEET),
    shoe=st.none()
    | st.builds(
        ShoePicture,
        profile=st.sampled_from(["", "plain", "fullered", "concave", "half_round"]),
        metal=st.sampled_from(["steel", "aluminium", "other"]),
        style=st.sampled_from(["", "open", "egg bar", "heart bar", "straight bar"]),
        toe_treatment=st.sampled_from(["", "plain", "rolled", "rocker", "set_under"]),
        toe_place=st.sampled_from(
            ["", "toe", "medial_toe_quarter", "lateral_toe_quarter"]
        ),
        clips=st.text(max_size=20) | st.sampled_from(["toe", "quarter"]),
        pad=st.text(max_size=20),
        nails_medial=st.integers(0, 8),
        nails_lateral=st.integers(0, 8),
    ),
    findings=st.lists(
        st.builds(
            Seen,
            kind=st.sampled_from(sorted(KINDS)) | st.text(max_size=10),
            place=st.sampled_from(["", *PLACES]) | st.text(max_size=10),
            grade=st.text(max_size=10),
        ),
        max_size=12,
    ).map(tuple),
    width_mm=st.none() | st.floats(1, 400),
    length_mm=st.none() | st.floats(1, 400),
    work=st.sampled_from(["", "trim", "reset"]),
)
UNSAFE = re.compile(r"<style|<script|\bstyle=|\bon[a-z]+=|\bhref=|url\(", re.IGNORECASE)
CONTROL = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@given(PICTURES)
def test_any_picture_is_well_formed_and_carries_no_style_or_script(picture):
    svg = ground_view(picture)
    tags = re.findall(r"<[^>]*>", svg)
    assert not [tag for tag in tags if UNSAFE.search(tag)]
    parsed(CONTROL.sub("", svg))
    assert "nan" not in svg.lower().split("<desc>")[0]


@given(
    st.builds(
        SidePicture,
        foot=st.sampled_from(FEET),
        dorsal_length_mm=st.floats(1, 400),
        dorsal_angle_deg=st.floats(1, 89),
        heel_length_mm=st.none() | st.floats(1, 400),
        heel_angle_deg=st.none() | st.floats(1, 89),
        length_mm=st.none() | st.floats(1, 400),
        pastern_angle_deg=st.none() | st.floats(1, 89),
        shod=st.booleans(),
    )
)
def test_any_side_view_is_well_formed(picture):
    parsed(side_view(picture))


def test_the_drawing_prints():
    svg = ground_view(FootPicture("LF", SHOE, (Seen("crack", "toe"),)))
    side = side_view(SidePicture("LF", 84, 52, 28, 45))
    made = pdf.render(f"<p>{svg}{side}</p>", title="Feet")
    pages = pypdf.PdfReader(io.BytesIO(made)).pages
    text = "".join(page.extract_text() for page in pages)
    assert "medial" in text
    assert "52°" in text
