"""Marks into figures: spread, turning, what is refused, what is cautioned."""

import random
from dataclasses import replace
from math import cos, radians, sin
from statistics import stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.entries import ANGLE_RANGE, LENGTH_RANGE, MEASURES
from horses.landmarks.reading import (
    MARK_SD_PX,
    SHOWN_PX,
    BadMarks,
    Marked,
    read,
    recorded,
)
from horses.landmarks.spots import LABELS, LINES, SPOTS, spots

# Picture pixels of 1600 × 1200; 4 px a millimetre.
WIDE, HIGH = 1600, 1200
SIDE = {
    "toe_hairline": (620, 510),
    "toe_ground": (400, 770),
    "heel_hairline": (960, 680),
    "heel_ground": (870, 770),
    "ground_front": (220, 770),
    "ground_back": (1200, 770),
    "pastern_lower": (640, 460),
    "pastern_upper": (810, 240),
    "scale_one": (420, 850),
    "scale_other": (820, 850),
}
FRONT = {
    "medial_hairline": (600, 560),
    "medial_ground": (560, 760),
    "lateral_hairline": (1010, 515),
    "lateral_ground": (1070, 760),
    "ground_medial": (300, 760),
    "ground_lateral": (1300, 760),
    "scale_one": (600, 860),
    "scale_other": (1000, 860),
}
SOLE = {
    "toe": (800, 250),
    "medial_heel": (630, 790),
    "lateral_heel": (970, 790),
    "medial_widest": (540, 520),
    "lateral_widest": (1060, 520),
    "frog_apex": (800, 440),
    "frog_medial": (690, 770),
    "frog_lateral": (910, 770),
    "scale_one": (600, 900),
    "scale_other": (1000, 900),
}
ALL = {"lateral": SIDE, "dorsal": FRONT, "solar": SOLE}


def fractions(px):
    return {name: (x / WIDE, y / HIGH) for name, (x, y) in px.items()}


def marked(view, px=None, **more):
    points = fractions(ALL[view] if px is None else px)
    return Marked(view, WIDE, HIGH, points, **{"known_mm": 100.0, **more})


def figures(view, px=None, **more):
    return {f.name: f for f in read(marked(view, px, **more)).figures}


def codes(view, px=None, **more):
    return {c.code for c in read(marked(view, px, **more)).cautions}


def turned(px, degrees, about=(800, 600)):
    c, s = cos(radians(degrees)), sin(radians(degrees))
    x0, y0 = about
    return {
        name: (x0 + (x - x0) * c - (y - y0) * s, y0 + (x - x0) * s + (y - y0) * c)
        for name, (x, y) in px.items()
    }


# ---- The names -------------------------------------------------------------------
def test_lines_join_marks_of_their_view_and_figures_have_words():
    for view, lines in LINES.items():
        names = {spot.name for spot in SPOTS[view]}
        assert {name for line in lines for name in line} <= names
        assert set(figures(view)) <= set(LABELS)
        assert all(0 < part < 1 for spot in spots(view) for part in spot.start)


@pytest.mark.parametrize("view", ALL)
def test_where_marks_start_makes_a_foot_that_is_read_without_refusal(view):
    starts = {spot.name: spot.start for spot in spots(view)}
    reading = read(Marked(view, WIDE, HIGH, starts, known_mm=250))
    assert len(reading.figures) == 5
    assert not any(caution.is_refusal for caution in reading.cautions)


def test_each_view_gives_its_figures():
    assert list(figures("lateral")) == [
        "dorsal_angle_deg",
        "dorsal_length_mm",
        "heel_angle_deg",
        "heel_length_mm",
        "pastern_angle_deg",
    ]
    assert list(figures("dorsal"))[:2] == ["medial_height_mm", "lateral_height_mm"]
    assert figures("dorsal")["medial_height_mm"].value == pytest.approx(50)
    assert figures("solar")["width_mm"].value == pytest.approx(130)
    assert figures("solar")["length_mm"].value == pytest.approx(135)
    assert figures("solar")["widest_from_toe_mm"].value == pytest.approx(67.5)


def test_no_scale_gives_angles_alone():
    without = {name: at for name, at in SIDE.items() if not name.startswith("scale")}
    for more in ({"px": without}, {"known_mm": None}):
        got = figures("lateral", **more)
        assert set(got) == {"dorsal_angle_deg", "heel_angle_deg", "pastern_angle_deg"}
        assert "no_scale" in codes("lateral", **more)


def test_what_lacks_a_mark_is_left_out():
    some = {n: at for n, at in SIDE.items() if not n.startswith(("heel", "pastern"))}
    assert set(figures("lateral", some)) == {"dorsal_angle_deg", "dorsal_length_mm"}
    assert figures("lateral", {}) == {}


# ---- Spread ----------------------------------------------------------------------
@pytest.mark.parametrize("view", ALL)
def test_marks_jittered_500_times_scatter_as_the_spread_says(view):
    """Within 12 %: the sd of 500 draws is itself known to 3.2 %."""
    rng = random.Random(f"jitter {view}")  # noqa: S311 -- seeded on purpose
    sd_px = MARK_SD_PX * WIDE / SHOWN_PX
    stated = figures(view)
    drawn = {name: [] for name in stated}
    for _ in range(500):
        px = {
            name: (rng.gauss(x, sd_px), rng.gauss(y, sd_px))
            for name, (x, y) in ALL[view].items()
        }
        got = figures(view, px, known_mm=rng.gauss(100, 0.5))
        assert set(got) == set(stated)
        for name, figure in got.items():
            drawn[name].append(figure.value)
    for name, values in drawn.items():
        assert stdev(values) == pytest.approx(stated[name].sd, rel=0.12), name


def test_the_spread_of_a_length_by_hand():
    """Wall of W px, scale of S px = 100 mm, each end ±s: variance of L = 100·W/S is
    (100/S)²·2s² + L²·2s²/S² + L²·(0.5/100)².
    """
    length = figures("lateral")["dorsal_length_mm"]
    s, scale = 4.0, 400.0
    variance = (
        (100 / scale) ** 2 * 2 * s**2
        + length.value**2 * 2 * s**2 / scale**2
        + length.value**2 * 0.005**2
    )
    assert length.sd == pytest.approx(variance**0.5, rel=1e-4)


def test_the_spread_grows_with_the_marks_and_the_rule():
    steady = figures("lateral", mark_sd_px=1.0, known_sd_mm=0)
    shaky = figures("lateral", mark_sd_px=3.0, known_sd_mm=0)
    for name, figure in steady.items():
        assert shaky[name].sd == pytest.approx(3 * figure.sd, rel=1e-6)
    exact = figures("lateral", mark_sd_px=0, known_sd_mm=1)
    assert exact["dorsal_angle_deg"].sd == pytest.approx(0, abs=1e-9)
    assert exact["dorsal_length_mm"].sd == pytest.approx(
        exact["dorsal_length_mm"].value / 100
    )


# ---- Turning, mirroring, size ----------------------------------------------------
@pytest.mark.parametrize("view", ALL)
@given(degrees=st.floats(-180, 180))
def test_turning_the_picture_changes_no_figure(view, degrees):
    """About the middle, where every mark stays inside a square picture."""
    square = 2400
    px = {n: (x + 400, y + 600) for n, (x, y) in ALL[view].items()}
    plain, spun = (
        read(
            Marked(
                view,
                square,
                square,
                {n: (x / square, y / square) for n, (x, y) in points.items()},
                known_mm=100,
            )
        ).figures
        for points in (px, turned(px, degrees, about=(1200, 1200)))
    )
    assert [f.name for f in plain] == [f.name for f in spun]
    for one, other in zip(plain, spun, strict=True):
        assert other.value == pytest.approx(one.value, rel=1e-6, abs=1e-6)
        assert other.sd == pytest.approx(one.sd, rel=1e-3)


@pytest.mark.parametrize("view", ALL)
def test_a_mirrored_picture_gives_the_same_figures(view):
    mirrored = {name: (WIDE - x, y) for name, (x, y) in ALL[view].items()}
    for name, figure in figures(view, mirrored).items():
        assert figure.value == pytest.approx(figures(view)[name].value)


def test_the_order_of_the_ground_marks_does_not_matter():
    for view, one, other in (
        ("lateral", "ground_front", "ground_back"),
        ("dorsal", "ground_medial", "ground_lateral"),
    ):
        px = ALL[view]
        swapped = {**px, one: px[other], other: px[one]}
        for name, figure in figures(view, swapped).items():
            assert figure.value == pytest.approx(figures(view)[name].value)


@given(size=st.floats(0.3, 2.4))
def test_the_scale_alone_decides_lengths(size):
    plain = figures("solar")
    for name, figure in figures("solar", known_mm=100 * size).items():
        assert figure.value == pytest.approx(plain[name].value * size)


# ---- Refused ---------------------------------------------------------------------
@pytest.mark.parametrize(
    "wrong",
    [
        {"view": "other"},
        {"points": {"toe_ground": (1.01, 0.5)}},
        {"points": {"toe_ground": (float("nan"), 0.5)}},
        {"points": {"toe_ground": (0.5, float("inf"))}},
        {"points": {"frog_apex": (0.5, 0.5)}},
        {"known_mm": 0.0},
        {"known_mm": -3.0},
        {"known_mm": float("nan")},
        {"known_mm": 5000.0},
        {"width_px": 0},
        {"mark_sd_px": -1.0},
        {"known_sd_mm": float("inf")},
    ],
    ids=str,
)
def test_what_cannot_be_of_a_picture_is_refused_in_a_sentence(wrong):
    with pytest.raises(BadMarks) as bad:
        read(replace(marked("lateral"), **wrong))
    assert str(bad.value).endswith(".")


def test_marks_on_each_other_are_refused_by_name():
    px = {**SIDE, "toe_hairline": (401, 771)}
    assert "dorsal_angle_deg" not in figures("lateral", px)
    (caution,) = [
        c for c in read(marked("lateral", px)).cautions if c.code == "too_near"
    ]
    assert "hairline at the toe" in caution.sentence
    assert caution.is_refusal


def test_a_scale_of_a_few_pixels_is_refused():
    assert "too_near" in codes("solar", {**SOLE, "scale_other": (620, 900)})
    assert figures("solar", {**SOLE, "scale_other": (620, 900)}) == {}


def test_a_wall_that_leans_forward_or_hangs_is_refused():
    for hairline in ((300, 500), (480, 900)):
        px = {**SIDE, "toe_hairline": hairline}
        assert "dorsal_angle_deg" not in figures("lateral", px)
        assert "impossible" in codes("lateral", px)
        assert "heel_angle_deg" in figures("lateral", px)


@pytest.mark.parametrize("view", ALL)
@given(data=st.data())
def test_any_marks_are_read_or_refused_and_never_nonsense(view, data):
    part = st.floats(0, 1) | st.sampled_from([0.0, 0.5, 1.0])
    names = [spot.name for spot in spots(view)]
    reading = read(
        Marked(
            view,
            data.draw(st.integers(1, 9000)),
            data.draw(st.integers(1, 9000)),
            data.draw(st.dictionaries(st.sampled_from(names), st.tuples(part, part))),
            known_mm=data.draw(st.none() | st.floats(1, 1000)),
            foot=data.draw(st.sampled_from([None, "LF", "RF", "LH", "RH"])),
        )
    )
    for figure in reading.figures:
        assert 0 <= figure.sd < float("inf")
        assert figure.value == figure.value
        if figure.name in MEASURES:
            low, high = ANGLE_RANGE if figure.name in _ANGLES else LENGTH_RANGE
            assert low <= recorded(figure.value) <= high
    assert all(c.sentence.endswith(".") for c in reading.cautions)


_ANGLES = {"dorsal_angle_deg", "heel_angle_deg", "pastern_angle_deg"}


# ---- Cautions --------------------------------------------------------------------
def test_a_good_picture_has_no_caution_but_that_of_standing_square():
    assert codes("lateral", foot="LF") == {"square_on"}
    assert codes("dorsal", foot="LF") == set()
    assert codes("solar", foot="LF") == set()


def test_a_ground_line_off_level_is_told_only_past_its_spread():
    assert "not_level" in codes("lateral", turned(SIDE, 4))
    assert "not_level" not in codes("lateral", turned(SIDE, 1.5))
    assert "not_level" not in codes("lateral", turned(SIDE, 4), mark_sd_px=20.0)
    assert "not_level" in codes("dorsal", turned(FRONT, -5))


def test_a_picture_on_its_head_is_told_and_read():
    assert "upside_down" in codes("lateral", turned(SIDE, 180))
    assert "upside_down" in codes("dorsal", turned(FRONT, 180))
    hanging = {**SIDE, "toe_hairline": (480, 900)}
    del hanging["heel_hairline"]
    assert "upside_down" in codes("lateral", hanging)
    for view in ALL:
        assert "upside_down" not in codes(view)


def test_a_foot_off_the_ground_line_is_told():
    assert "off_ground" in codes("lateral", {**SIDE, "heel_ground": (870, 730)})
    assert "off_ground" in codes("dorsal", {**FRONT, "lateral_ground": (1070, 720)})


def test_a_tilted_sole_is_told():
    assert "heels_uneven" in codes("solar", {**SOLE, "medial_heel": (630, 700)})
    assert "askew" in codes("solar", {**SOLE, "lateral_widest": (1060, 420)})


@pytest.mark.parametrize("view", ["dorsal", "solar"])
def test_swapped_sides_are_told_on_the_foot_that_they_are_not_of(view):
    """From the front, a left foot's lateral side is to the right of the picture."""
    for foot in ("LF", "LH"):
        assert "sides_swapped" not in codes(view, foot=foot)
    for foot in ("RF", "RH"):
        assert "sides_swapped" in codes(view, foot=foot)
        assert "sides_swapped" in codes(view, turned(ALL[view], 200), foot=foot)
    mirrored = {name: (WIDE - x, y) for name, (x, y) in ALL[view].items()}
    assert "sides_swapped" not in codes(view, mirrored, foot="RF")
    assert "sides_swapped" not in codes(view)


def test_a_scale_that_makes_a_pony_of_a_barn_door_is_told():
    assert "scale_strange" in codes("solar", known_mm=30.0)
    assert "scale_strange" in codes("solar", known_mm=250.0)


def test_the_caution_of_standing_square_names_the_reading():
    (caution,) = read(marked("lateral")).cautions
    assert "49.8°" in caution.sentence
    assert "1.5 %" in caution.sentence
