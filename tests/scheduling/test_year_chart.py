"""The year of an area, drawn: bars and dots to scale, and said in words."""

import re
from datetime import date
from xml.etree import ElementTree as ET

import pytest

from scheduling.year_chart import DRIVE, HORSES, Month, Scale, steps, year_chart

SVG = "{http://www.w3.org/2000/svg}"
YEAR = [
    Month(date(2025, 11, 1), 10, 12.0),
    Month(date(2025, 12, 1), 0, None),
    Month(date(2026, 1, 1), 20, 6.0),
    Month(date(2026, 2, 1), 5, 24.0),
]


def drawn():
    return ET.fromstring(year_chart("A <b> year", YEAR, Scale(40, 30)))  # noqa: S314  # our own picture


def test_bars_and_dots_are_to_scale():
    root = drawn()
    heights = [float(bar.attrib["height"]) for bar in root.iter(f"{SVG}rect")]
    # 40 horses are the panel's height: no bar for the month without any.
    whole = HORSES.bottom - HORSES.top
    assert heights == pytest.approx([whole / 4, whole / 2, whole / 8], abs=0.1)
    dots = [float(dot.attrib["cy"]) for dot in root.iter(f"{SVG}circle")]
    up = [(DRIVE.bottom - y) / (DRIVE.bottom - DRIVE.top) for y in dots]
    # Of 30 minutes in two steps: 20 and 40.
    assert up == pytest.approx([12 / 40, 6 / 40, 24 / 40], abs=0.01)


def test_the_line_breaks_where_nobody_was_attended():
    line = drawn().find(f"{SVG}path[@class='area-drive']").attrib["d"]
    assert re.sub(r"[^ML]", "", line) == "MML"


def test_it_says_what_it_shows():
    root = drawn()
    assert root.find(f"{SVG}title").text == "A <b> year"
    words = root.find(f"{SVG}desc").text
    assert "Nov 2025: 10 horses, 12 min driving each." in words
    assert "Dec 2025: 0 horses." in words
    years = [
        one.text for one in root.iter(f"{SVG}text") if one.text in ("2025", "2026")
    ]
    assert years == ["2025", "2026"]


@pytest.mark.parametrize(
    ("most", "lines", "found"),
    [
        (29, 4, (10, 3)),
        (40, 4, (10, 4)),
        (41, 4, (20, 3)),
        (0, 4, (1, 1)),
        (3, 2, (2, 2)),
    ],
)
def test_scales_are_round(most, lines, found):
    assert steps(most, lines) == found
