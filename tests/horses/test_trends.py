"""Measures over time: slips, changes that are real, limits, words."""

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.entries import MEASURES, FootEntry
from horses.hoof import FootMeasures, base_split, derived
from horses.trends import (
    FOLLOWED,
    MeasuredVisit,
    Point,
    change,
    follow,
    limits_of,
    number,
    over_a_year,
    questionable,
    said,
    said_change,
    said_spread,
    since_last,
    unit_word,
    verdict,
    years_before,
)

START = date(2024, 11, 20)


def visit(n, *feet, weeks=6):
    day = START + timedelta(weeks=weeks * n)
    return MeasuredVisit(f"{n:04}", day, feet)


def foot(name="LF", **measured):
    said = {key: Decimal(str(value)) for key, value in measured.items()}
    return FootEntry(name, **said)


def followed(*visits, sd=2, angle_sd=1):
    return follow(visits, length_sd_mm=sd, angle_sd_deg=angle_sd)


def toes(*lengths):
    rows = [visit(n, foot(dorsal_length_mm=mm)) for n, mm in enumerate(lengths)]
    return followed(*rows)["LF", "dorsal_length_mm"]


def point(value, sd=2.0, day=START, **over):
    return Point("k", day, value, sd, **over)


# ---- The base about the widest part -------------------------------------------------
def test_the_base_is_split_about_the_widest_part():
    split = base_split(FootMeasures("LF", length_mm=130, widest_from_toe_mm=62))
    # palmar share = 100 (L − x) / L, worked by hand
    assert split.ahead_mm.value == 62
    assert split.behind_mm.value == 68
    assert split.behind_percent.value == pytest.approx(100 * 68 / 130)
    assert split.ahead_percent.value + split.behind_percent.value == pytest.approx(100)
    assert split.ahead_mm.sd == 2
    assert split.behind_mm.sd == pytest.approx(2 * sqrt(2))
    share = 100 * 62 / 130
    assert split.behind_percent.sd == pytest.approx(share * hypot(2 / 62, 2 / 130))


def test_half_and_half_is_said_as_such():
    split = base_split(FootMeasures("LF", length_mm=130, widest_from_toe_mm=65))
    assert split.ahead_percent.value == split.behind_percent.value == 50


@pytest.mark.parametrize(
    ("length", "widest"), [(None, 60), (130, None), (60, 70), (None, None)]
)
def test_no_split_without_both_or_with_the_widest_part_behind_the_heels(length, widest):
    measures = FootMeasures("LF", length_mm=length, widest_from_toe_mm=widest)
    assert base_split(measures) is None


# ---- Series -------------------------------------------------------------------------
def test_every_measurement_of_a_record_is_followed_once():
    keys = [measure.key for measure in FOLLOWED]
    assert len(keys) == len(set(keys))
    assert set(MEASURES) <= set(keys)


def test_every_derived_figure_names_the_readings_it_comes_from():
    full = dict.fromkeys(MEASURES, 50.0) | {"length_mm": 100.0}
    full = {key: value for key, value in full.items() if "trimmed" not in key}
    whole = FootMeasures("LF", **full, pair=FootMeasures("RF", **full))
    for measure in FOLLOWED:
        if measure.key in MEASURES:
            assert measure.of == (measure.key,)
            continue
        assert measure.key in derived(whole)
        for name in measure.of:
            assert measure.key not in derived(replace(whole, **{name: None})), name


def test_points_carry_the_spread_of_reading_and_of_reckoning():
    entry = foot(dorsal_angle_deg=50, heel_angle_deg=44, dorsal_length_mm=85)
    series = followed(visit(0, entry), sd=1.5, angle_sd=0.5)
    assert series["LF", "dorsal_length_mm"].points[0].sd == 1.5
    difference = series["LF", "toe_heel_angle_difference_deg"].points[0]
    assert difference.value == 6
    assert difference.sd == pytest.approx(0.5 * sqrt(2))


def test_what_was_not_measured_has_no_series_and_gaps_no_point():
    rows = (
        visit(0, foot(dorsal_length_mm=84)),
        visit(1, foot(width_mm=126)),
        visit(2),
        visit(3, foot(dorsal_length_mm=86)),
    )
    series = followed(*rows)
    assert set(series) == {("LF", "dorsal_length_mm"), ("LF", "width_mm")}
    days = [one.day for one in series["LF", "dorsal_length_mm"].points]
    assert days == [rows[0].day, rows[3].day]


def test_differences_keep_their_side_by_their_sign():
    entry = foot(medial_height_mm=50, lateral_height_mm=54)
    other = foot(medial_height_mm=54, lateral_height_mm=51)
    series = followed(visit(0, entry), visit(1, other))
    values = [one.value for one in series["LF", "wall_height_difference_mm"].points]
    assert values == [4, -3]


def test_the_pair_s_difference_is_told_once_left_less_right():
    feet = foot(dorsal_angle_deg=50), foot("RF", dorsal_angle_deg=53)
    series = followed(visit(0, *feet))
    assert series["LF", "pair_angle_difference_deg"].points[0].value == -3
    assert ("RF", "pair_angle_difference_deg") not in series


def test_visits_are_put_in_order_whatever_order_they_come_in():
    rows = [visit(n, foot(dorsal_length_mm=80 + n)) for n in (2, 0, 1)]
    values = [one.value for one in followed(*rows)["LF", "dorsal_length_mm"].points]
    assert values == [80, 81, 82]


# ---- Slips --------------------------------------------------------------------------
def test_turned_figures_are_questionable_and_kept():
    series = toes(84, 86, 48, 85, 87)
    assert [p.is_questionable for p in series.points] == [0, 0, 1, 0, 0]
    assert [p.value for p in series.points][2] == 48
    assert len(series.sound) == 4


@pytest.mark.parametrize("at", range(5))
def test_a_slip_is_found_at_either_end_too(at):
    values = [84.0, 86.0, 85.0, 87.0, 84.0]
    values[at] = 480.0
    found = questionable(values, sd=2, unit="mm")
    assert [i for i, one in enumerate(found) if one] == [at]


def test_a_lasting_step_of_the_trim_is_no_slip():
    assert not any(questionable([100, 101, 99, 100, 82, 81, 82, 81], sd=2, unit="mm"))


def test_few_readings_are_not_judged():
    assert questionable([84, 48, 85], sd=2, unit="mm") == [False] * 3
    assert questionable([84], sd=2, unit="mm") == [False]
    assert questionable([], sd=2, unit="mm") == []


def test_what_is_reckoned_from_a_slip_is_questionable_too():
    rows = [
        visit(n, foot(dorsal_angle_deg=deg, heel_angle_deg=46))
        for n, deg in enumerate((50, 51, 15, 50, 51))
    ]
    series = followed(*rows)
    difference = series["LF", "toe_heel_angle_difference_deg"]
    assert [p.is_questionable for p in difference.points] == [0, 0, 1, 0, 0]
    assert not any(p.is_questionable for p in series["LF", "heel_angle_deg"].points)


def test_a_slip_of_the_mate_makes_the_pair_questionable():
    rows = [
        visit(n, foot(dorsal_angle_deg=50), foot("RF", dorsal_angle_deg=deg))
        for n, deg in enumerate((50, 51, 15, 50, 51))
    ]
    pair = followed(*rows)["LF", "pair_angle_difference_deg"]
    assert [p.is_questionable for p in pair.points] == [0, 0, 1, 0, 0]


@given(
    st.lists(st.floats(75, 89), min_size=1, max_size=30),
    st.sampled_from([0, 0.5, 2, 4]),
)
def test_readings_within_fifteen_millimetres_are_never_questioned(values, sd):
    assert not any(questionable(values, sd=sd, unit="mm"))


# ---- Changes ------------------------------------------------------------------------
def test_a_change_s_spread_is_of_both_readings():
    moved = change(point(84), point(90))
    assert moved.value == 6
    assert moved.sd == pytest.approx(2 * sqrt(2))


@pytest.mark.parametrize(
    ("after", "is_real"), [(84, False), (89.5, False), (89.6, True), (78.4, True)]
)
def test_a_change_is_real_past_the_repeatability_limit(after, is_real):
    """1.96 √2 × 2 mm = 5.54 mm: the repeatability limit r = 2.8 standard deviations of
    one reading (ISO 5725-6:1994, from memory)."""
    assert change(point(84), point(after)).is_real is is_real


def test_an_unchanged_foot_seems_to_change_once_in_twenty():
    """The 95 % of the rule, by 20,000 pairs of readings of the same foot."""
    chance = random.Random(11)  # noqa: S311  # readings, no secret
    seen = sum(
        change(point(chance.gauss(84, 2)), point(chance.gauss(84, 2))).is_real
        for _ in range(20_000)
    )
    assert seen / 20_000 == pytest.approx(0.05, abs=0.006)


def test_since_last_leaves_slips_out():
    series = toes(84, 85, 86, 84, 48)
    moved = since_last(series)
    assert (moved.before.value, moved.after.value) == (86, 84)
    assert since_last(toes(84)) is None


def test_over_a_year_takes_the_visit_nearest_to_a_year_back():
    series = toes(*range(80, 99))  # every six weeks
    moved = over_a_year(series)
    days = (moved.after.day - moved.before.day).days
    assert moved.after.value == 98
    assert days == 9 * 42  # 378 days, nearer to 365 than 8 × 42 = 336


def test_over_a_year_is_silent_without_a_visit_near_a_year_back():
    assert over_a_year(toes(84, 85, 86)) is None
    far = followed(
        visit(0, foot(width_mm=120)), visit(1, foot(width_mm=122), weeks=104)
    )
    assert over_a_year(far["LF", "width_mm"]) is None


def test_one_reading_has_no_change_over_a_year():
    assert over_a_year(toes(84)) is None


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("mm", "within the tape's error"),
        ("°", "within the gauge's error"),
        ("%", "within the error of measuring"),
    ],
)
def test_what_may_be_error_is_said_plainly(unit, words):
    assert verdict(change(point(84), point(85)), unit) == words
    assert verdict(change(point(84), point(95)), unit) == "real"


# ---- Limits and words ---------------------------------------------------------------
def test_limits_stand_on_the_side_on_which_they_count():
    by_key = {
        m.key: [(value, rule.code) for value, rule in limits_of(m)] for m in FOLLOWED
    }
    assert by_key["toe_heel_angle_difference_deg"] == [(5, "underrun_heel")]
    assert by_key["hoof_pastern_angle_deg"] == [
        (-3, "broken_back_axis"),
        (3, "broken_forward_axis"),
    ]
    assert by_key["wall_height_difference_mm"] == [
        (5, "uneven_walls"),
        (-5, "uneven_walls"),
    ]
    assert [value for value, _ in limits_of(FOLLOWED[4])] == [1.5, -1.5]
    assert by_key["dorsal_length_mm"] == []


@pytest.mark.parametrize(
    ("value", "unit", "bare", "shown"),
    [
        (84.5, "mm", "mm", "84.5\u00a0mm"),
        (82.55, "mm", "in", "3\u00a01/4\u00a0in"),
        (84.5, "mm", "cm", "8.45\u00a0cm"),
        (-3, "mm", "mm", "−3\u00a0mm"),
        (51.25, "°", "mm", "51.2°"),
        (-0.04, "°", "mm", "0°"),
        (48, "%", "in", "48\u00a0%"),
        (0.9375, "", "mm", "0.94"),
    ],
)
def test_figures_are_said_in_the_practice_s_unit(value, unit, bare, shown):
    assert said(value, unit, bare) == shown


def test_a_change_is_said_with_sign_and_spread():
    moved = change(point(84), point(86))
    assert said_change(moved, "mm", "mm") == "+2\u00a0mm ± 2.8\u00a0mm"
    back = change(point(86), point(84))
    assert said_change(back, "mm", "mm") == "−2\u00a0mm ± 2.8\u00a0mm"


def test_a_spread_in_inches_is_no_sixteenth():
    moved = change(point(25.4), point(50.8))
    assert said_change(moved, "mm", "in") == "+1\u00a0in ± 0.11\u00a0in"


def test_a_small_spread_is_not_called_none():
    assert said_spread(0.03, "°", "mm") == "0.03°"
    assert said_spread(0.03, "mm", "mm") == "0.03\u00a0mm"
    assert said_spread(0, "mm", "mm") == "0\u00a0mm"
    assert said_spread(1.41, "°", "in") == "1.4°"


def test_an_axis_has_its_unit_once():
    assert unit_word("mm", "in") == "in"
    assert unit_word("°", "in") == "°"
    assert number(60, "mm", "mm") == "60"


def test_two_years_before_a_leap_day_is_the_last_of_february():
    assert years_before(date(2028, 2, 29), 2) == date(2026, 2, 28)
    assert years_before(date(2026, 11, 25), 2) == date(2024, 11, 25)
