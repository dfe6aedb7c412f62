"""Figures, their spread, and how flags follow from them."""

from math import hypot, isfinite, sqrt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.hoof import FEET, RULES, FootMeasures, derived, flags

LENGTH = st.one_of(st.none(), st.floats(1, 400))
ANGLE = st.one_of(st.none(), st.floats(0.001, 89.999))
NAMES = {
    name: (ANGLE if name.endswith("angle_deg") else LENGTH)
    for name in FootMeasures.__dataclass_fields__
    if name not in ("foot", "pair", "length_sd_mm", "angle_sd_deg")
}
FEET_MEASURED = st.builds(
    FootMeasures,
    foot=st.sampled_from(FEET),
    length_sd_mm=st.floats(0, 50),
    angle_sd_deg=st.floats(0, 45),
    **NAMES,
)


def test_the_document_tells_every_rule_and_its_limit():
    text = (Path(__file__).parents[2] / "docs" / "visit.md").read_text()
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    for rule in RULES:
        [row] = [line for line in rows if line.startswith(f"| {rule.label} |")]
        assert f"{rule.threshold:g}" in row
    assert len(rows) == len(RULES) + 2


def test_nothing_measured_gives_nothing():
    assert derived(FootMeasures("LF")) == {}
    assert flags(FootMeasures("LF")) == ()


def test_each_figure_from_a_full_foot():
    figures = derived(
        FootMeasures(
            "LF",
            dorsal_length_mm=84,
            dorsal_angle_deg=50,
            heel_length_mm=28,
            heel_length_medial_mm=30,
            heel_length_lateral_mm=26,
            heel_angle_deg=44,
            medial_height_mm=50,
            lateral_height_mm=53,
            width_mm=126,
            length_mm=140,
            widest_from_toe_mm=63,
            pastern_angle_deg=54,
            frog_width_mm=50,
            frog_length_mm=80,
            pair=FootMeasures("RF", dorsal_angle_deg=53),
        )
    )
    assert {name: figure.value for name, figure in figures.items()} == {
        "toe_heel_angle_difference_deg": 6,
        "hoof_pastern_angle_deg": -4,
        "pair_angle_difference_deg": 3,
        "wall_height_difference_mm": 3,
        "heel_length_difference_mm": 4,
        "toe_heel_length_ratio": 3,
        "width_length_ratio": 0.9,
        "ahead_of_widest_percent": 45,
        "frog_ratio": 0.625,
    }
    assert figures["wall_height_difference_mm"].side == "lateral"
    assert figures["heel_length_difference_mm"].side == "medial"
    assert figures["toe_heel_angle_difference_deg"].sd == pytest.approx(sqrt(2))
    assert figures["heel_length_difference_mm"].sd == pytest.approx(2 * sqrt(2))
    # a ratio's relative spread is that of its parts, put together
    spread = 3 * hypot(2 / 84, 2 / 28)
    assert figures["toe_heel_length_ratio"].sd == pytest.approx(spread)
    assert figures["ahead_of_widest_percent"].sd == pytest.approx(
        45 * hypot(2 / 63, 2 / 140)
    )


def test_the_spread_of_a_ratio_agrees_with_sampling():
    # 20 000 draws of both parts, a fixed grid instead of a random one
    from statistics import NormalDist, stdev

    def draws(mean, step):
        return [
            NormalDist(mean, 2).inv_cdf(((i * step) % 20_011 + 0.5) / 20_011)
            for i in range(20_000)
        ]

    tops, bottoms = draws(84, 7_919), draws(56, 104_729 % 20_011)
    sampled = stdev(top / bottom for top, bottom in zip(tops, bottoms, strict=True))
    ours = derived(FootMeasures("LF", dorsal_length_mm=84, heel_length_mm=56))
    assert ours["toe_heel_length_ratio"].sd == pytest.approx(sampled, rel=0.03)


@pytest.mark.parametrize(
    ("heel", "sd", "expected"),
    [
        (45.0, 1, "likely"),  # at the threshold
        (44.0, 1, "likely"),  # 1° past it, sd √2
        (43.6, 1, "likely"),  # 1.4° past it: within √2
        (43.5, 1, "clear"),
        (44.9, 0, "clear"),  # an exact reading
        (45.1, 1, "not shown"),
    ],
)
def test_a_flag_says_how_far_past_its_threshold(heel, sd, expected):
    measures = FootMeasures(
        "LF", dorsal_angle_deg=50, heel_angle_deg=heel, angle_sd_deg=sd
    )
    assert [f.state for f in flags(measures)] == [expected]


@pytest.mark.parametrize(
    ("pastern", "back", "forward"),
    [
        (50, "not shown", "not shown"),
        (53, "not shown", "not shown"),  # exactly 3° counts as straight
        (53.5, "likely", "not shown"),
        (55, "clear", "not shown"),
        (46.5, "not shown", "likely"),
        (45, "not shown", "clear"),
    ],
)
def test_the_axis_is_broken_one_way_or_the_other(pastern, back, forward):
    found = flags(FootMeasures("LF", dorsal_angle_deg=50, pastern_angle_deg=pastern))
    assert {f.rule.code: f.state for f in found} == {
        "broken_back_axis": back,
        "broken_forward_axis": forward,
    }


@given(st.integers(300, 700))
def test_binary_fractions_do_not_decide_at_a_threshold(tenths):
    heel = tenths / 10
    measures = FootMeasures("LF", dorsal_angle_deg=heel + 5, heel_angle_deg=heel)
    assert flags(measures)[0].state == "likely"


@given(FEET_MEASURED, FEET_MEASURED)
def test_any_foot_gives_finite_figures_and_consistent_flags(foot, pair):
    from dataclasses import replace

    measures = replace(foot, pair=pair)
    figures = derived(measures)
    for figure in figures.values():
        assert isfinite(figure.value)
        assert figure.sd >= 0
    shown = flags(measures)
    assert {f.rule.figure for f in shown} == {
        rule.figure for rule in RULES if rule.figure in figures
    }
    for flag in shown:
        limit = flag.rule.threshold
        past = limit - flag.value if flag.rule.below else flag.value - limit
        assert (flag.state == "clear") == (past > flag.sd and past > 0)
        assert (flag.state == "not shown") == (
            past < 0 or (past == 0 and flag.rule.strict)
        ) or abs(past) < 1e-8
    both = {f.rule.code: f.state for f in shown}
    assert "not shown" in (
        both.get("broken_back_axis", "not shown"),
        both.get("broken_forward_axis", "not shown"),
    )


@given(FEET_MEASURED)
def test_more_doubt_never_makes_a_flag_clearer(foot):
    from dataclasses import replace

    rank = {"not shown": 0, "likely": 1, "clear": 2}
    doubtful = replace(
        foot, length_sd_mm=foot.length_sd_mm + 1, angle_sd_deg=foot.angle_sd_deg + 1
    )
    for sure, unsure in zip(flags(foot), flags(doubtful), strict=True):
        assert rank[unsure.state] <= rank[sure.state]
        assert (unsure.state == "not shown") == (sure.state == "not shown")
