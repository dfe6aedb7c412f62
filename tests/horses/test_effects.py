"""What a wedge, the rasp and a set-back shoe do: angle, lever, and their spread."""

import random
from math import asin, cos, degrees, radians, sin, sqrt, tan
from statistics import fmean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.effects import (
    Stand,
    Steps,
    TooMuch,
    effects,
    height_of_a_degree_mm,
    toe_cut_mm,
    turn_deg,
    wedge_of_degrees,
)
from horses.hoof import breakover_arm_mm

FOOT = Stand(
    dorsal_angle_deg=50,
    length_mm=120,
    dorsal_length_mm=85,
    widest_from_toe_mm=60,
    heel_angle_deg=45,
)

# Angle from height over a base of L mm: plain trigonometry, atan(h / L), worked by hand
# for the lengths that feet have. Degrees for 2, 3, 5, 6.35 (1/4 in), 8 and 10 mm.
TABLE = {
    100: (1.15, 1.72, 2.86, 3.63, 4.57, 5.71),
    110: (1.04, 1.56, 2.60, 3.30, 4.16, 5.19),
    120: (0.95, 1.43, 2.39, 3.03, 3.81, 4.76),
    125: (0.92, 1.37, 2.29, 2.91, 3.66, 4.57),
    130: (0.88, 1.32, 2.20, 2.80, 3.52, 4.40),
    140: (0.82, 1.23, 2.05, 2.60, 3.27, 4.09),
}
# Height in mm for 1, 2, 3, 4 and 5 degrees, L tan(angle).
HEIGHTS = {
    100: (1.746, 3.49, 5.24, 6.99, 8.75),
    110: (1.920, 3.84, 5.76, 7.69, 9.62),
    120: (2.095, 4.19, 6.29, 8.39, 10.50),
    125: (2.182, 4.37, 6.55, 8.74, 10.94),
    130: (2.269, 4.54, 6.81, 9.09, 11.37),
    140: (2.444, 4.89, 7.34, 9.79, 12.25),
}


@pytest.mark.parametrize("length", TABLE)
def test_the_bench_table_of_heights_and_degrees(length):
    for height, expected in zip((2, 3, 5, 6.35, 8, 10), TABLE[length], strict=True):
        for steps in (Steps(wedge_mm=height), Steps(toe_off_mm=height)):
            assert turn_deg(steps, length) == pytest.approx(expected, abs=0.006)
        flatter = turn_deg(Steps(heel_off_mm=height), length)
        assert flatter == pytest.approx(-expected, abs=0.006)


@pytest.mark.parametrize("length", HEIGHTS)
def test_the_bench_table_of_degrees_and_heights(length):
    assert height_of_a_degree_mm(length) == pytest.approx(HEIGHTS[length][0], abs=0.001)
    for degree, expected in enumerate(HEIGHTS[length], 1):
        assert wedge_of_degrees(degree, length) == pytest.approx(expected, abs=0.006)


def test_a_quarter_inch_of_heel_is_three_degrees():
    """The bench rule, which holds for a base of about 120 mm: 3.029°."""
    found = effects(FOOT, Steps(wedge_mm=6.35))
    assert found.dorsal_angle_deg.change == pytest.approx(3.029, abs=0.001)
    assert found.dorsal_angle_deg.after == pytest.approx(53.029, abs=0.001)
    assert found.heel_angle_deg.after == pytest.approx(48.029, abs=0.001)
    assert found.dorsal_length_mm.change == 0


def test_a_wedge_by_its_angle_is_that_angle_on_any_length():
    found = effects(FOOT, Steps(wedge_deg=2)).dorsal_angle_deg
    assert found.change == pytest.approx(2)
    assert found.change_sd == pytest.approx(0, abs=1e-9)
    by_height = effects(FOOT, Steps(wedge_mm=4.1905)).dorsal_angle_deg
    assert by_height.change == pytest.approx(2, abs=0.001)
    # 0.0167 degree a millimetre of length, read to 2 mm
    assert by_height.change_sd == pytest.approx(0.033, abs=0.001)


def test_a_published_trim_turns_about_as_much_as_the_model():
    """Ten fore feet before and after a trim (Iran J Vet Surg, article 79374): the wall
    from 8.83 to 8.53 cm, a sole of 13.69 cm, the angle from 50.05 to 51.40 degrees.
    The model knows only the toe's share; the study's own spread is over 2 degrees."""
    foot = Stand(50.05, 136.9, 88.3)
    found = effects(foot, Steps(toe_off_mm=2.325))
    assert found.dorsal_length_mm.after == pytest.approx(85.3, abs=0.05)
    assert found.dorsal_angle_deg.after == pytest.approx(51.40, abs=0.5)


def test_the_same_off_heel_and_toe_leaves_the_angle():
    found = effects(FOOT, Steps(heel_off_mm=4, toe_off_mm=4))
    assert found.dorsal_angle_deg.change == 0
    # height over sine: what a level cut takes along a wall of 50 degrees
    assert -found.dorsal_length_mm.change == pytest.approx(4 / sin(radians(50)))
    assert -found.lever_mm.change == pytest.approx(4 / tan(radians(50)))


def test_setting_back_moves_breakover_and_nothing_else():
    found = effects(FOOT, Steps(set_back_mm=10))
    assert found.lever_mm.change == pytest.approx(-10)
    assert found.lever_change_percent == pytest.approx(-100 / 6)
    assert found.dorsal_angle_deg.change == 0
    assert found.dorsal_length_mm.change == 0


def test_growth_taken_back_is_the_lever_of_the_growth_formula():
    """The arm after 10 mm of growth at 50° is 66.43 mm from 60 (no turn): taking that
    growth off again, level, gives the 60 back."""
    grown = breakover_arm_mm(
        cor_forward_mm=60,
        cor_height_mm=65,
        toe_growth_mm=10,
        dorsal_angle_deg=50,
        angle_loss_deg=0,
    )
    assert grown == pytest.approx(66.43, abs=0.005)
    foot = Stand(50, 120, dorsal_length_mm=100, widest_from_toe_mm=grown)
    height = 10 * sin(radians(50))
    found = effects(foot, Steps(toe_off_mm=height, heel_off_mm=height))
    assert found.lever_mm.after == pytest.approx(60)


def _arm_by_coordinates(foot, steps):
    """Independently: the ground as a line through two points, in a frame fixed to
    the bone with the joint's centre at nought; breakover where wall meets ground."""
    a, theta = foot.widest_from_toe_mm, radians(foot.dorsal_angle_deg)
    h = foot.dorsal_length_mm * sin(_joint_angle(foot))
    toe, heel = (a, -h), (a - foot.length_mm, -h)
    # the rasp's plane
    p = (toe[0], toe[1] + steps.toe_off_mm)
    q = (heel[0], heel[1] + steps.heel_off_mm)
    slope = (p[1] - q[1]) / (p[0] - q[0])
    # toe + s (-cos, sin) on p + slope
    s = steps.toe_off_mm / (sin(theta) + slope * cos(theta))
    cut = (toe[0] - s * cos(theta), toe[1] + s * sin(theta))
    at_heel = steps.wedge_mm if steps.wedge_at == "heel" else 0
    at_toe = steps.wedge_mm - at_heel
    rise = (steps.toe_off_mm - at_toe) - (steps.heel_off_mm - at_heel)
    size = sqrt(foot.length_mm**2 + rise**2)
    along = (foot.length_mm / size, rise / size)
    touch = (cut[0], cut[1] - at_toe)
    return touch[0] * along[0] + touch[1] * along[1] - steps.set_back_mm


def _joint_angle(foot):
    """Of the line from toe to joint, whose length is the toe length."""
    return radians(90) - asin(foot.widest_from_toe_mm / foot.dorsal_length_mm)


HEIGHT = st.floats(0, 12)
STEPS = st.builds(
    Steps,
    wedge_mm=HEIGHT,
    wedge_at=st.sampled_from(["heel", "toe"]),
    heel_off_mm=HEIGHT,
    toe_off_mm=HEIGHT,
    set_back_mm=st.floats(0, 15),
)
FEET = st.builds(
    Stand,
    dorsal_angle_deg=st.floats(42, 62),
    length_mm=st.floats(100, 150),
    dorsal_length_mm=st.floats(80, 110),
    widest_from_toe_mm=st.floats(45, 72),
    heel_angle_deg=st.one_of(st.none(), st.floats(35, 60)),
)


@given(FEET, STEPS)
def test_the_lever_is_that_of_plain_coordinates(foot, steps):
    found = effects(foot, steps)
    assert found.lever_mm.after == pytest.approx(_arm_by_coordinates(foot, steps))


@given(FEET, STEPS)
def test_more_off_the_toe_is_a_shorter_lever_and_a_steeper_toe(foot, steps):
    less = effects(foot, steps)
    more = effects(
        foot,
        Steps(
            wedge_mm=steps.wedge_mm,
            wedge_at=steps.wedge_at,
            heel_off_mm=steps.heel_off_mm,
            toe_off_mm=steps.toe_off_mm + 1,
            set_back_mm=steps.set_back_mm,
        ),
    )
    assert more.lever_mm.after < less.lever_mm.after
    assert more.dorsal_angle_deg.after > less.dorsal_angle_deg.after


@pytest.mark.parametrize(
    "steps",
    [
        Steps(wedge_mm=6),
        Steps(toe_off_mm=5),
        Steps(heel_off_mm=4, set_back_mm=8),
        Steps(wedge_mm=8, wedge_at="toe", toe_off_mm=3),
    ],
)
def test_the_spread_is_that_of_readings_taken_many_times(steps):
    """First order against 4,000 feet read with the tape's and gauge's own error."""
    chance = random.Random(3)  # noqa: S311  # readings, no secret
    found = effects(FOOT, steps)
    many = []
    for _ in range(4000):
        read = Stand(
            dorsal_angle_deg=chance.gauss(50, 1),
            length_mm=chance.gauss(120, 2),
            dorsal_length_mm=chance.gauss(85, 2),
            widest_from_toe_mm=chance.gauss(60, 2),
            heel_angle_deg=chance.gauss(45, 1),
            length_sd_mm=0,
            angle_sd_deg=0,
        )
        many.append(effects(read, steps))
    for name in ("dorsal_angle_deg", "heel_angle_deg", "lever_mm", "dorsal_length_mm"):
        figure = getattr(found, name)
        after = [getattr(one, name).after for one in many]
        moved = [getattr(one, name).change for one in many]
        assert fmean(after) == pytest.approx(figure.after, abs=0.15), name
        assert stdev(after) == pytest.approx(figure.after_sd, rel=0.06), name
        assert stdev(moved) == pytest.approx(figure.change_sd, rel=0.06, abs=1e-9), name


def test_exact_readings_have_no_spread():
    foot = Stand(50, 120, 85, 60, 45, length_sd_mm=0, angle_sd_deg=0)
    found = effects(foot, Steps(wedge_mm=5, toe_off_mm=2))
    for figure in (found.dorsal_angle_deg, found.lever_mm, found.heel_angle_deg):
        assert figure.before_sd == figure.after_sd == figure.change_sd == 0


def test_without_the_widest_part_half_the_length_is_taken():
    assert effects(Stand(50, 120, 85), Steps()).lever_mm.before == 60


def test_without_the_toe_length_there_is_no_lever():
    found = effects(Stand(50, 120), Steps(wedge_mm=5))
    assert found.lever_mm is None
    assert found.lever_change_percent is None
    assert found.dorsal_angle_deg.change > 2


def test_a_toe_shorter_than_its_half_of_the_base_has_no_lever():
    assert effects(Stand(50, 120, 55, 60), Steps()).lever_mm is None


def test_what_would_tip_the_foot_over_is_refused():
    with pytest.raises(TooMuch, match="less of it"):
        effects(Stand(50, 30, 85), Steps(wedge_mm=60))
    with pytest.raises(TooMuch, match="behind the joint"):
        effects(Stand(50, 40, 85, 10), Steps(set_back_mm=20))


def test_the_rasp_s_cut_along_the_wall_by_the_law_of_sines():
    """Triangle of old toe, point t above it and new toe: t / sin(θ + δ) = cut / cos δ."""
    steps = Steps(toe_off_mm=3)
    turned = turn_deg(steps, 120)
    expected = 3 * cos(radians(turned)) / sin(radians(50 + turned))
    assert toe_cut_mm(FOOT, steps) == pytest.approx(expected)
    assert degrees(asin(3 * cos(radians(turned)) / expected)) == pytest.approx(
        50 + turned
    )
