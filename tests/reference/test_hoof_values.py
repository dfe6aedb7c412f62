"""Check values for hoof geometry and its flags.

Marks: [C] computed by hand from the stated inputs with plain trigonometry, exact to
the digits shown; a citation means that the threshold or figure is the source's.
"""

import pytest

from horses.hoof import (
    FootMeasures,
    Leverage,
    angle_class,
    angle_loss_deg,
    breakover_arm_mm,
    coronet_mm,
    derived,
    flags,
    grown_base_mm,
    growth_forward_down_mm,
    leverage_after,
    photo_angle_deg,
    tilt_deg,
    wedge_deg,
    wedge_height_mm,
)


def state(code, foot="LF", **measures):
    found = {f.rule.code: f.state for f in flags(FootMeasures(foot, **measures))}
    return found.get(code)


def foot(**over):
    shape = {
        "cor_forward_mm": 60,
        "cor_height_mm": 65,
        "dorsal_angle_deg": 52,
        "toe_growth_mm": 14,
        "heel_growth_mm": 14,
        "heel_angle_deg": 45,
        "heel_wear_mm": 0,
        "bearing_length_mm": 120,
    }
    return Leverage(**(shape | over))


def test_a_quarter_inch_under_the_heel_is_about_three_degrees():
    assert wedge_deg(6.35, 120) == pytest.approx(3.029, abs=0.002)  # [C]


def test_one_degree_over_a_base_of_125_mm():
    assert wedge_height_mm(1, 125) == pytest.approx(2.182, abs=0.001)  # [C]


@pytest.mark.parametrize(
    ("length", "per_degree", "five_degrees", "eight_mm"),
    [
        (100, 1.746, 8.75, 4.57),
        (110, 1.920, 9.62, 4.16),
        (120, 2.095, 10.50, 3.81),
        (125, 2.182, 10.94, 3.66),
        (130, 2.269, 11.37, 3.52),
        (140, 2.444, 12.25, 3.27),
    ],
)
def test_wedges_over_the_common_bearing_lengths(
    length, per_degree, five_degrees, eight_mm
):
    # [C] tan and atan of height over length
    assert wedge_height_mm(1, length) == pytest.approx(per_degree, abs=0.001)
    assert wedge_height_mm(5, length) == pytest.approx(five_degrees, abs=0.005)
    assert wedge_deg(8, length) == pytest.approx(eight_mm, abs=0.005)


def test_where_the_hairline_stands():
    assert coronet_mm(85, 50) == pytest.approx((65.114, 54.637), abs=0.001)  # [C]


@pytest.mark.parametrize(
    ("angle", "forward", "down"),
    [
        (45, 7.07, 7.07),
        (48, 6.69, 7.43),
        (50, 6.43, 7.66),
        (52, 6.16, 7.88),
        (55, 5.74, 8.19),
        (60, 5.00, 8.66),
    ],
)
def test_ten_millimetres_of_growth_move_the_toe_forward_and_down(angle, forward, down):
    moved = growth_forward_down_mm(10, angle)
    assert moved == pytest.approx((forward, down), abs=0.005)  # [C]


def test_growth_at_fifty_degrees_to_a_thousandth():
    assert growth_forward_down_mm(10, 50) == pytest.approx((6.428, 7.660), abs=0.001)


@pytest.mark.parametrize(
    ("over", "loss", "within"),
    [
        ({}, 0.547, 0.001),
        ({"heel_wear_mm": 5.8}, 3.342, 0.002),
        (
            {
                "toe_growth_mm": 10,
                "heel_growth_mm": 10,
                "dorsal_angle_deg": 50,
                "heel_angle_deg": 50,
                "heel_wear_mm": 3,
            },
            1.432,
            0.001,
        ),
        (
            {"toe_growth_mm": 10, "heel_growth_mm": 8, "dorsal_angle_deg": 50},
            0.950,
            0.001,
        ),
    ],
)
def test_angle_lost_between_visits(over, loss, within):
    assert angle_loss_deg(foot(**over)) == pytest.approx(loss, abs=within)  # [C]


def test_equal_growth_on_parallel_walls_loses_nothing():
    even = foot(
        toe_growth_mm=10, heel_growth_mm=10, dorsal_angle_deg=50, heel_angle_deg=50
    )
    assert angle_loss_deg(even) == pytest.approx(0, abs=1e-9)  # [C]
    assert grown_base_mm(even) == pytest.approx(120, abs=1e-9)


@pytest.mark.parametrize(
    ("delta", "arm", "percent"), [(0, 68.62, 14.4), (3.3, 72.882, 21.5)]
)
def test_the_arm_at_breakover(delta, arm, percent):
    # [C] a 60, h 65, g 14, θ 52
    got = breakover_arm_mm(
        cor_forward_mm=60,
        cor_height_mm=65,
        toe_growth_mm=14,
        dorsal_angle_deg=52,
        angle_loss_deg=delta,
    )
    assert got == pytest.approx(arm, abs=0.002)
    assert 100 * (got / 60 - 1) == pytest.approx(percent, abs=0.05)


def test_leverage_puts_loss_and_arm_together():
    after = leverage_after(foot(heel_wear_mm=5.8))
    assert after.angle_loss_deg == pytest.approx(3.342, abs=0.002)  # [C]
    assert after.new_angle_deg == pytest.approx(48.658, abs=0.002)  # 52 − 3.342
    arm = breakover_arm_mm(
        cor_forward_mm=60,
        cor_height_mm=65,
        toe_growth_mm=14,
        dorsal_angle_deg=52,
        angle_loss_deg=after.angle_loss_deg,
    )
    assert after.lever_mm == pytest.approx(arm)
    assert after.lever_change_percent == pytest.approx(21.53, abs=0.05)


@pytest.mark.parametrize(
    ("difference", "width", "tilt"), [(5, 120, 2.386), (3, 125, 1.37), (2, 125, 0.92)]
)
def test_a_foot_higher_on_one_side_leans(difference, width, tilt):
    assert tilt_deg(difference, width) == pytest.approx(tilt, abs=0.005)  # [C]


def test_an_angle_read_from_a_photo():
    assert photo_angle_deg(54, 64) == pytest.approx(49.844, abs=0.001)  # [C]


@pytest.mark.parametrize(
    ("left", "right", "difference", "classes"),
    [(51.0, 53.0, 2.0, ("medium", "medium")), (49.9, 55.1, 5.2, ("flat", "upright"))],
)
def test_pairs_and_classes_of_the_dorsal_angle(left, right, difference, classes):
    # Wiggers N et al. (2015) PLoS ONE 10(2):e0114836: under 50 flat, over 55 upright,
    # more than 1.5° apart uneven
    measures = FootMeasures(
        "LF", dorsal_angle_deg=left, pair=FootMeasures("RF", dorsal_angle_deg=right)
    )
    figure = derived(measures)["pair_angle_difference_deg"]
    assert figure.value == difference
    assert figure.side == "RF"
    assert (angle_class(left), angle_class(right)) == classes
    assert {f.rule.code: f.state for f in flags(measures)}["uneven_pair"] != "not shown"


def test_the_study_leaves_its_borders_open_and_we_say_how_we_close_them():
    assert [angle_class(a) for a in (49.99, 50, 55, 55.01)] == [
        "flat",
        "medium",
        "medium",
        "upright",
    ]
    even = {"dorsal_angle_deg": 51.5, "pair": FootMeasures("RF", dorsal_angle_deg=50)}
    assert state("uneven_pair", **even) == "not shown"


@pytest.mark.parametrize(("lateral", "expected"), [(43, "likely"), (42, "not shown")])
def test_heels_five_millimetres_apart_are_marked_as_sheared(lateral, expected):
    # O'Grady SE, equipodiatry.com/news/63: 5 mm or more
    got = state(
        "sheared_heels", heel_length_medial_mm=38, heel_length_lateral_mm=lateral
    )
    assert got == expected


@pytest.mark.parametrize(("heel", "expected"), [(45, "likely"), (46, "not shown")])
def test_a_heel_five_degrees_below_the_toe_is_marked_as_under_run(heel, expected):
    # Turner TA (1992) Proc AAEP 38:389-395, from memory
    got = state("underrun_heel", dorsal_angle_deg=50, heel_angle_deg=heel)
    assert got == expected


def test_a_frog_narrower_than_two_thirds_is_marked():
    # Turner's 0.67, from memory
    narrow = {"frog_width_mm": 40, "frog_length_mm": 80}
    assert state("contracted_heels", **narrow) == "clear"
    wide = {"frog_width_mm": 56, "frog_length_mm": 80}
    assert state("contracted_heels", **wide) == "not shown"


def test_the_base_split_about_the_widest_part():
    # [C] 100·x/L; half ahead is the target of common practice (no source)
    measures = FootMeasures("RH", length_mm=130, widest_from_toe_mm=65)
    assert derived(measures)["ahead_of_widest_percent"].value == 50


def test_what_one_trim_changed():
    # Dareh-Shori horses, n = 10, fore feet (Iran J Vet Surg, article 79374): dorsal
    # wall 8.83 → 8.53 cm, hoof axis 50.05 → 51.40°; the differences are [C]
    before = FootMeasures("LF", dorsal_length_mm=88.3, dorsal_angle_deg=50.05)
    after = FootMeasures("LF", dorsal_length_mm=85.3, dorsal_angle_deg=51.40)
    lost = after.dorsal_length_mm - before.dorsal_length_mm
    assert lost == pytest.approx(-3.0, abs=0.001)
    gained = after.dorsal_angle_deg - before.dorsal_angle_deg
    assert gained == pytest.approx(1.35, abs=0.001)
