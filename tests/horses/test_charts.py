"""The chart of one measure: what is drawn, to scale, and what it says in words."""

import re
from dataclasses import replace
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.drawing.charts import (
    BOTTOM,
    LEFT,
    RIGHT,
    TOP,
    WIDTH,
    Chart,
    step_of,
    told,
    trend_chart,
)
from horses.trends import FOLLOWED, Point, Series

BY_KEY = {measure.key: measure for measure in FOLLOWED}
START = date(2024, 11, 20)
SVG = "{http://www.w3.org/2000/svg}"


def series(foot="LF", key="dorsal_length_mm", values=(84, 86, 85), every=42, slips=()):
    return Series(
        BY_KEY[key],
        foot,
        tuple(
            Point(str(n), START + timedelta(days=every * n), value, 2.0, n in slips)
            for n, value in enumerate(values)
        ),
    )


def chart(*feet, unit="mm", visits=None):
    days = sorted({point.day for one in feet for point in one.points})
    return Chart(feet[0].measure, feet, tuple(visits or days), days[0], days[-1], unit)


def parsed(one):
    return ElementTree.fromstring(trend_chart(one))  # noqa: S314  # our own drawing


def classed(root, name):
    return [e for e in root.iter() if name in e.get("class", "").split()]


def words(root):
    return [e.text for e in root.iter(f"{SVG}text")]


def test_left_and_right_differ_by_shape_and_dash_not_colour_alone():
    root = parsed(chart(series("LF"), series("RF", values=(83, 84, 84))))
    left, right = classed(root, "trend-line")
    assert "stroke-dasharray" not in left.attrib
    assert right.get("stroke-dasharray")
    # a mark a reading, and one in the key
    assert len(classed(root, "trend-dot")) == 4
    assert len(classed(root, "trend-square")) == 4
    assert {e.tag for e in classed(root, "trend-dot")} == {f"{SVG}circle"}
    assert {e.tag for e in classed(root, "trend-square")} == {f"{SVG}rect"}
    assert {"left fore", "right fore"} <= set(words(root))


def test_title_and_description_say_it_to_those_who_do_not_see():
    root = parsed(chart(series("LF"), series("RF", values=(83, 90, 84), slips=(1,))))
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == "Toe length, left fore and right fore"
    description = root.find(f"{SVG}desc").text
    assert "Left fore: 3 readings, 2024-11-20 to 2025-02-12" in description
    assert "from 84\u00a0mm to 86\u00a0mm, last 85\u00a0mm" in description
    assert "1 questionable" in description


def test_points_lie_where_their_day_and_figure_put_them():
    root = parsed(chart(series(values=(80, 90, 85))))
    dots = classed(root, "trend-dot")[:3]
    xs = [float(dot.get("cx")) for dot in dots]
    ys = [float(dot.get("cy")) for dot in dots]
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1], abs=0.2)
    assert (ys[0] - ys[2]) == pytest.approx(ys[2] - ys[1], abs=0.2)
    # against the lines of the scale: the label's height is that of its figure
    labels = {
        float(e.text): float(e.get("y")) - 4.5
        for e in root.iter(f"{SVG}text")
        if re.fullmatch(r"\d+", e.text) and e.get("text-anchor") == "end"
    }
    low, high = min(labels), max(labels)
    for dot, value in zip(ys, (80, 90, 85), strict=True):
        share = (value - low) / (high - low)
        expected = labels[low] + share * (labels[high] - labels[low])
        assert dot == pytest.approx(expected, abs=0.2)


def test_the_band_is_one_standard_deviation_either_way():
    root = parsed(chart(series(values=(80, 80, 80))))
    [band] = classed(root, "trend-band")
    dot = float(classed(root, "trend-dot")[0].get("cy"))
    ys = [float(pair.split()[1]) for pair in re.split("[MLZ]", band.get("d")) if pair]
    labels = {
        int(e.text): float(e.get("y")) - 4.5
        for e in root.iter(f"{SVG}text")
        if re.fullmatch(r"\d+", e.text) and e.get("text-anchor") == "end"
    }
    a_mm = (labels[min(labels)] - labels[max(labels)]) / (max(labels) - min(labels))
    assert min(ys) == pytest.approx(dot - 2 * a_mm, abs=0.15)
    assert max(ys) == pytest.approx(dot + 2 * a_mm, abs=0.15)


def test_a_long_gap_is_not_bridged():
    near = parsed(chart(series(every=60)))
    far = parsed(chart(series(values=(84, 86), every=300)))
    assert len(classed(near, "trend-line")) == 1
    assert classed(far, "trend-line") == []
    assert len(classed(far, "trend-dot")) == 3


def test_one_point_is_a_dot_with_its_bar():
    root = parsed(chart(series(values=(84,))))
    assert classed(root, "trend-line") == []
    assert len(classed(root, "trend-band")) == 1
    assert len(classed(root, "trend-dot")) == 2


def test_a_slip_is_drawn_apart_and_does_not_squash_the_scale():
    with_slip = chart(series(values=(84, 86, 480, 85, 84), slips=(2,)))
    root = parsed(with_slip)
    [diamond] = classed(root, "trend-slip")
    [word] = classed(root, "trend-slip-word")
    assert word.text == "480\u00a0mm?"
    assert len(classed(root, "trend-dot")) == 5  # four, and the key
    figures = [int(w) for w in words(root) if w and re.fullmatch(r"\d{2,3}", w)]
    assert max(figures) < 110
    x, y = (float(v) for v in re.match(r"M(\S+) (\S+?)l", diamond.get("d")).groups())
    assert y + 6 == pytest.approx(TOP)
    assert LEFT < x < RIGHT


def test_nothing_but_a_slip_still_draws():
    root = parsed(chart(series(values=(84,), slips=(0,))))
    assert len(classed(root, "trend-slip")) == 1


def test_every_visit_is_marked_measured_or_not():
    visits = [START + timedelta(days=42 * n) for n in range(3)]
    visits.insert(1, START + timedelta(days=20))
    root = parsed(chart(series(), visits=visits))
    [marks] = classed(root, "trend-visits")
    assert marks.get("d").count("M") == 4


def test_years_are_told_where_they_begin():
    root = parsed(chart(series(values=range(80, 97))))
    assert {"2025", "2026", "Jan"} <= set(words(root))


def test_a_short_span_has_its_year_too():
    shown = words(parsed(chart(series(values=(84,)))))
    assert "2024" in shown


def test_limits_are_drawn_named_and_within_the_scale():
    one = series(key="wall_height_difference_mm", values=(1, -2, 3))
    root = parsed(chart(one))
    assert len(classed(root, "trend-limit")) == 2
    assert [e.text for e in classed(root, "trend-limit-word")] == ["uneven walls"]
    for line in classed(root, "trend-limit"):
        y = float(re.match(r"M\S+ (\S+?)H", line.get("d"))[1])
        assert TOP < y < BOTTOM


def test_inches_are_told_in_inches():
    root = parsed(chart(series(values=(82.55, 88.9, 85.7)), unit="in"))
    shown = set(words(root))
    assert "in" in shown
    assert "3 1/2" in shown
    assert "last 3\u00a03/8\u00a0in" in root.find(f"{SVG}desc").text


def test_degrees_stand_at_each_figure():
    assert "55°" in words(
        parsed(chart(series(key="dorsal_angle_deg", values=(51, 53))))
    )


def test_the_pair_s_difference_names_both_feet():
    one = series(key="pair_angle_difference_deg", values=(1, -2))
    assert "left fore less right fore" in words(parsed(chart(one)))


@pytest.mark.parametrize("unit", ["mm", "in", "cm"])
@given(span=st.floats(0.01, 900))
def test_steps_are_round_and_few(unit, span):
    step = step_of(span, "mm", unit)
    assert span / step <= 5 or step >= 25.4 * 16
    if unit == "in" and step < 25.4 * 32:
        sixteenths = step / 25.4 * 16
        assert sixteenths == pytest.approx(round(sixteenths))


POINTS = st.lists(
    st.tuples(st.integers(0, 4000), st.floats(1, 400), st.floats(0, 50), st.booleans()),
    min_size=1,
    max_size=25,
)


@given(st.sampled_from(FOLLOWED), POINTS, POINTS, st.sampled_from(["mm", "cm", "in"]))
def test_whatever_was_measured_is_drawn_inside_the_picture(measure, left, right, unit):
    feet = [
        Series(
            measure,
            foot,
            tuple(
                Point(f"{n}", START + timedelta(days=days), value, sd, slip)
                for n, (days, value, sd, slip) in enumerate(sorted(points))
            ),
        )
        for foot, points in (("LH", left), ("RH", right))
    ]
    one = chart(*feet, unit=unit)
    root = parsed(one)
    for dot in classed(root, "trend-dot"):
        assert LEFT - 1 <= float(dot.get("cx")) <= RIGHT + 1
        assert 0 < float(dot.get("cy")) <= BOTTOM + 0.1
    assert len(words(root)) < 60
    assert told(one)
    assert all(0 <= float(e.get("x")) <= WIDTH for e in root.iter(f"{SVG}text"))


def test_the_same_chart_is_drawn_the_same():
    one = chart(series())
    assert trend_chart(one) == trend_chart(replace(one))
