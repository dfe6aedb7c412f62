"""The picture of a plan: what it shows, mirrored, in words, safe to put on a page."""

import copy
import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from horses.drawing.plan import SCALE, PlanPicture, describe, plan_view, shade
from horses.shoe.document import run_shoe
from horses.shoe.proposal import proposed
from horses.templatetags.plans import in_own_unit
from practice.models import Practice


def picture(foot="LF", before=None, **shoe):
    document = copy.deepcopy(proposed(foot, measured={}).document)
    hoof = shoe.pop("hoof", {})
    document["hoof"] |= hoof
    document["shoe"] |= shoe
    return PlanPicture(document, run_shoe(document), before)


def tree(svg):
    return ElementTree.fromstring(svg)  # noqa: S314  # our own drawing


def words(svg):
    return [text.text for text in tree(svg).iter() if text.text]


def spot(svg, word):
    place = re.search(rf'<text x="([\d.]+)"[^>]*>{word}<', svg)
    return float(place[1])


@pytest.mark.parametrize("foot", ["LF", "RF", "LH", "RH"])
def test_each_foot_is_a_picture_with_title_and_words(foot):
    svg = plan_view(picture(foot))
    root = tree(svg)
    assert root.get("role") == "img"
    assert "style=" not in svg
    assert "<script" not in svg
    assert {"medial", "lateral", foot, "100 %"} <= set(words(svg))


def test_a_left_foot_has_its_medial_side_at_the_left_a_right_one_at_the_right():
    left, right = plan_view(picture("LF")), plan_view(picture("RF"))
    assert spot(left, "medial") < spot(left, "lateral")
    assert spot(right, "medial") > spot(right, "lateral")


def test_a_right_foot_is_the_left_in_a_mirror():
    """The shoe's edge, drawn about the middle of the paper."""

    def steel(svg):
        drawn = next(part for part in svg.split("<path") if 'fill="#66707a"' in part)
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", drawn.split('"')[1])]
        return sorted(zip(numbers[::2], numbers[1::2], strict=True))

    left, right = (steel(plan_view(picture(foot))) for foot in ("LF", "RF"))
    mirrored = sorted((340 - x, y) for x, y in right)
    for (x, y), (u, v) in zip(left, mirrored, strict=True):
        assert (x, y) == pytest.approx((u, v), abs=0.2)


def test_each_nail_is_drawn():
    nails = {
        "medial": 2,
        "lateral": 4,
        "last_nail_from_toe_mm": {"medial": 55, "lateral": 60},
    }
    assert plan_view(picture(nails=nails)).count("<circle") == 6


def test_wall_on_steel_has_its_colour_and_its_per_cent():
    toe = {"treatment": "set_under", "at": "toe", "foot_dressed": False, "by_mm": 8}
    svg = plan_view(picture(toe=toe))
    assert "20 %" in words(svg)
    assert SCALE[-1][1] in svg
    assert SCALE[0][1] in svg
    assert "toe 20 %" in describe(picture(toe=toe))


@pytest.mark.parametrize(
    ("percent", "word"),
    [
        (100, "all"),
        (95, "all"),
        (94.9, "most"),
        (70, "most"),
        (40, "half"),
        (0, "little"),
    ],
)
def test_a_shade_has_a_word(percent, word):
    assert shade(percent)[1].startswith(word)


def _luminance(colour):
    """WCAG 2.2's relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    lit = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * lit[0] + 0.7152 * lit[1] + 0.0722 * lit[2]


def _deuteranope(colour):
    """Viénot, Brettel and Mollon (1999) Color Res Appl 24:243-252, from memory."""
    r, g, b = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    r, g, b = (c**2.2 for c in (r, g, b))
    long = 17.8824 * r + 43.5161 * g + 4.11935 * b
    short = 0.0299566 * r + 0.184309 * g + 1.46709 * b
    middle = 0.494207 * long + 1.24827 * short
    return (
        0.0809444479 * long - 0.130504409 * middle + 0.116721066 * short,
        -0.0102485335 * long + 0.0540193266 * middle - 0.113614708 * short,
        -0.000365296938 * long - 0.00412161469 * middle + 0.693511405 * short,
    )


def test_neighbouring_shades_stay_apart_for_eyes_that_miss_green():
    colours = [colour for _, colour, _ in SCALE]
    for one, other in pairwise(colours):
        seen = zip(_deuteranope(one), _deuteranope(other), strict=True)
        apart = sum((a - b) ** 2 for a, b in seen) ** 0.5
        assert apart > 0.12, (one, other)
    lights = [_luminance(colour) for colour in colours]
    assert abs(lights[0] - lights[1]) > 0.15


def test_a_plan_before_is_dashed_over_it():
    old = picture().answer
    assert plan_view(picture(before=old, metal="aluminium")).count('"2 3"') == 2
    assert '"2 3"' not in plan_view(picture())


def test_a_small_one_has_no_words():
    assert "<text" not in plan_view(picture(), small=True)


@pytest.mark.parametrize("treatment", ["rolled", "rocker"])
def test_a_treated_toe_shows_and_a_rocker_otherwise_than_a_rolled_one(treatment):
    toe = {"treatment": treatment, "at": "lateral_toe_quarter", "foot_dressed": True}
    svg = plan_view(picture(toe=toe))
    assert svg.count('stroke="#e2e7ea"') == 1
    assert ('"3 2"' in svg) == (treatment == "rocker")


def test_everything_is_drawn_on_the_paper():
    wide = {"lateral_heel": 30.0, "medial_heel": 30.0}
    svg = plan_view(
        picture(extension_mm=wide, heel_past_buttress_mm={"medial": 60, "lateral": 60})
    )
    for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", svg):
        assert -1 <= float(x) <= 341
        assert -1 <= float(y) <= 331


def test_a_rule_speaks_in_inches_where_the_practice_measures_so():
    sentence = "Fit the toe 4.8 mm closer; more than 3.0 mm is trodden off."
    assert in_own_unit(sentence, Practice(length_unit="mm")) == sentence
    assert in_own_unit(sentence, Practice(length_unit="in")) == (
        "Fit the toe 3/16 in (4.8 mm) closer; more than 1/8 in (3.0 mm) is trodden off."
    )
