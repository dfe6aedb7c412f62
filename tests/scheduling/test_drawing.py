"""The map of a round: to scale, readable, harmless."""

import math
import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.geo import Position, distance_metres
from scheduling.drawing import PIN_RADIUS, Mark, draw_map, scale_length

SVG = "{http://www.w3.org/2000/svg}"
HOME = Position(55.60, -2.80)


def mark(n, lat, lon, label=None, **more):
    return Mark(str(n), Position(lat, lon), str(n), label or f"Barn {n}", **more)


def pins(svg):
    root = ET.fromstring(svg)  # noqa: S314 (our own drawing)
    circles = [circle.attrib for circle in root.iter(f"{SVG}circle")]
    return [(float(c["cx"]), float(c["cy"])) for c in circles]


def test_distances_on_the_map_are_those_on_the_ground():
    marks = [mark(1, 55.50, -3.0), mark(2, 55.70, -2.6), mark(3, 55.62, -2.9)]
    svg = draw_map(marks, unit="km")
    words = re.search(r"<text class=\"map-words\"[^>]*>([\d.]+) km</text>", svg)
    bar = re.search(r"class=\"map-scale\" d=\"M[^\"]*h([\d.]+)v", svg)
    metres_per_unit = float(words[1]) * 1000 / float(bar[1])
    spots = pins(svg)
    for a in range(3):
        for b in range(a):
            ground = distance_metres(marks[a].at, marks[b].at)
            drawn = math.dist(spots[a], spots[b]) * metres_per_unit
            assert drawn == pytest.approx(ground, rel=0.01)


def test_north_is_up_and_east_is_right():
    south, north, east = pins(
        draw_map([mark(1, 55.5, -2.8), mark(2, 55.7, -2.8), mark(3, 55.6, -2.5)])
    )
    assert north[1] < east[1] < south[1]
    assert east[0] > north[0]


@pytest.mark.parametrize(
    ("unit", "room", "words"),
    [
        ("km", 160, "1 km"),
        ("km", 200, "2 km"),
        ("km", 2600, "20 km"),
        ("mi", 170, "1 mi"),
    ],
)
def test_the_scale_bar_is_a_round_length(unit, room, words):
    length, said = scale_length(0.1, unit, room)
    assert (said, length <= room) == (words, True)


def test_the_way_goes_from_home_through_the_stops_and_home():
    marks = [mark(1, 55.5, -3.0), mark(2, 55.7, -2.6)]
    svg = draw_map(marks, home=HOME, route=[HOME, marks[0].at, marks[1].at, HOME])
    root = ET.fromstring(svg)  # noqa: S314
    line = root.find(f"{SVG}path[@class='map-route']").attrib["d"]
    points = [tuple(map(float, p.split())) for p in line[1:].split("L")]
    assert points[1:3] == [pytest.approx(spot) for spot in pins(svg)]
    assert points[0] == points[-1]
    assert len(root.findall(f"{SVG}path[@class='map-arrow']")) == 3


def test_nothing_in_a_name_can_become_markup():
    svg = draw_map([mark(1, 55.5, -3.0, '<script>"x"&</script>', href="#a&b")])
    assert "<script" not in svg
    ET.fromstring(svg)  # noqa: S314
    assert "style=" not in svg
    assert not re.search(r"\son\w+=", svg)


def test_a_mark_with_an_address_can_be_tapped():
    root = ET.fromstring(draw_map([mark(7, 55.5, -3.0, href="#barn-7")]))  # noqa: S314
    link = root.find(f"{SVG}a")
    assert link.attrib == {
        "href": "#barn-7",
        "class": "map-pin plain",
        "data-mark": "7",
    }


def test_nothing_to_show_is_nothing():
    assert draw_map([]) == ""


def boxes(svg):
    root = ET.fromstring(svg)  # noqa: S314
    for text in root.iter(f"{SVG}text"):
        if text.attrib.get("class") == "map-label":
            x, y = float(text.attrib["x"]), float(text.attrib["y"])
            long = len(text.text) * 14 * 0.5
            shift = {"start": 0, "middle": long / 2, "end": long}
            left = x - shift[text.attrib["text-anchor"]]
            yield left, y - 10, left + long, y + 2


places = st.lists(
    st.tuples(st.floats(55.5, 55.7), st.floats(-2.9, -2.6)), min_size=1, max_size=12
)


@settings(max_examples=50, deadline=None)
@given(places)
def test_pins_and_names_do_not_cover_each_other(spots):
    marks = [mark(n, *spot) for n, spot in enumerate(spots)]
    svg = draw_map(marks, home=HOME)
    drawn = pins(svg)
    for a in range(len(drawn)):
        for b in range(a):
            assert math.dist(drawn[a], drawn[b]) > 1.5 * PIN_RADIUS
    names = list(boxes(svg))
    for a in range(len(names)):
        for b in range(a):
            one, other = names[a], names[b]
            apart = (
                one[2] <= other[0]
                or other[2] <= one[0]
                or one[3] <= other[1]
                or other[3] <= one[1]
            )
            assert apart
