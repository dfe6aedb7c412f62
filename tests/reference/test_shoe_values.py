"""Check values for shoes: mass tables, sections, stock length, outlines, areas.

Marks: [C] computed by hand from the stated inputs with plain geometry, exact to the
digits shown; a citation means that the figure or formula is the source's. Tables of
flat bar: mass per metre = 0.00785 kg × width × thickness in mm (stainless-steel-tube.org).
Aluminium at 2700 kg/m³ is from memory (alloy 6061).
"""

from math import pi

import numpy as np
import pytest
import shapely

from horses.shoe.outline import sound_line
from horses.shoe.plan import Branch, FootPlan, Hoof, Section, Shoe, Toe
from horses.shoe.reckoned import reckon
from horses.shoe.section import (
    area_mm2,
    fuller_mm3,
    handbook_length_mm,
    holes_mm3,
    kg_per_m,
    mass_g,
)

INCH = 25.4


@pytest.mark.parametrize(
    ("width", "thick", "area", "steel", "aluminium"),
    [
        (5 / 8 * INCH, 5 / 16 * INCH, 126.0, 0.989, 0.340),
        (3 / 4 * INCH, 1 / 4 * INCH, 121.0, 0.950, 0.327),
        (3 / 4 * INCH, 5 / 16 * INCH, 151.2, 1.187, 0.408),
        (3 / 4 * INCH, 3 / 8 * INCH, 181.5, 1.424, 0.490),
        (7 / 8 * INCH, 5 / 16 * INCH, 176.4, 1.385, 0.476),
        (7 / 8 * INCH, 3 / 8 * INCH, 211.7, 1.662, 0.572),
        (1 * INCH, 1 / 4 * INCH, 161.3, 1.266, 0.435),
        (1 * INCH, 5 / 16 * INCH, 201.6, 1.583, 0.544),
        (1 * INCH, 3 / 8 * INCH, 241.9, 1.899, 0.653),
        (1 * INCH, 1 / 2 * INCH, 322.6, 2.532, 0.871),
        (18, 8, 144, 1.130, 0.389),
        (20, 6, 120, 0.942, 0.324),
        (20, 8, 160, 1.256, 0.432),
        (20, 10, 200, 1.570, 0.540),
        (22, 8, 176, 1.382, 0.475),
        (22, 10, 220, 1.727, 0.594),
        (25, 8, 200, 1.570, 0.540),
        (25, 10, 250, 1.963, 0.675),
        (30, 10, 300, 2.355, 0.810),
        (40, 5, 200, 1.570, 0.540),
    ],
)
def test_flat_bar_weighs_what_the_tables_say(width, thick, area, steel, aluminium):
    """stainless-steel-tube.org's formula; 40 × 5 is its own worked figure."""
    bar = Section("plain", width, thick)
    assert area_mm2(bar) == pytest.approx(area, abs=0.05)
    assert kg_per_m(bar, "steel") == pytest.approx(steel, abs=0.001)
    assert kg_per_m(bar, "aluminium") == pytest.approx(aluminium, abs=0.001)


def test_a_foot_of_three_quarter_by_five_sixteenths_weighs_12_77_oz():
    """[C] 305 mm of 151.2 mm² steel."""
    bar = Section("plain", 3 / 4 * INCH, 5 / 16 * INCH)
    mass = mass_g(area_mm2(bar) * 305, "steel")
    assert mass == pytest.approx(362.0, abs=0.1)
    assert mass / 28.349523125 == pytest.approx(12.77, abs=0.01)
    assert kg_per_m(bar, "steel") / 0.45359237 * 0.3048 == pytest.approx(
        0.798, abs=1e-3
    )


def test_300_mm_of_20_by_8_aluminium_weighs_129_6_g():
    """[C] with 2700 kg/m³, from memory."""
    assert mass_g(160 * 300, "aluminium") == pytest.approx(129.6, abs=0.1)


@pytest.mark.parametrize(("wide", "area"), [(16, 100.53), (20, 157.08), (22, 190.07)])
def test_a_full_half_round_is_pi_d_squared_over_8(wide, area):
    """[C]"""
    assert area_mm2(Section("half_round", wide, wide / 2)) == pytest.approx(
        area, abs=0.01
    )


@pytest.mark.parametrize(
    ("wide", "high", "area"), [(20, 8, 119.3), (22, 8, 128.9), (25, 8, 143.7)]
)
def test_a_flat_half_round_is_a_circular_segment(wide, high, area):
    """[C] R = (w²/4 + h²)/2h; area = R²/2 (q − sin q)."""
    assert area_mm2(Section("half_round", wide, high)) == pytest.approx(area, abs=0.05)


def test_a_concave_bar_is_a_trapezoid_of_83_percent():
    """[C] (19.05 + 12.7)/2 × 9.525; the ratio of the faces is from memory."""
    bar = Section("concave", 19.05, 9.525)
    assert area_mm2(bar) == pytest.approx(151.2, abs=0.05)
    assert area_mm2(bar) / (19.05 * 9.525) == pytest.approx(0.83, abs=0.005)


STOCK = [
    (127, 127, 19.05, 296.6),
    (133, 133, 20, 310.5),
    (120, 127, 20, 291.1),
    (127, 133, 19.05, 308.6),
    (140, 140, 22, 325.4),
    (152, 152, 25, 351.5),
]


@pytest.mark.parametrize(("wide", "long", "bar", "stock"), STOCK)
def test_stock_length_by_the_geometry_formula(wide, long, bar, stock):
    """[C] half-circle toe and parallel branches on the middle line."""
    assert handbook_length_mm(wide, long, bar) == pytest.approx(stock, abs=0.1)


def plan(
    wide=127.0, long=127.0, widest=None, *, foot="LF", section=None, nails=3, **hoof
):
    widest = wide / 2 if widest is None else widest
    branch = Branch(0.0, nails, widest * 0.9)
    return FootPlan(
        Hoof(foot, wide, long, widest, 10.0, **hoof),
        Shoe("steel", section or Section("plain", 20, 8), Toe(), branch, branch),
    )


@pytest.mark.parametrize(("wide", "long", "bar", "stock"), STOCK)
def test_the_reckoned_bar_is_near_the_formula_on_a_round_toed_foot(
    wide, long, bar, stock
):
    """The formula's branches are parallel, ours draw in to the heels: within 1 %."""
    found = reckon(plan(wide, long, section=Section("plain", bar, 8)))
    assert found.handbook_length_mm == pytest.approx(stock, abs=0.1)
    assert found.centre_line_mm == pytest.approx(stock, rel=0.01)
    assert found.bar_length_mm == pytest.approx(stock, rel=0.01)


def test_the_bench_rule_of_twice_the_width_and_two_inches_is_3_percent_over():
    """From memory: 5 in wide, 12 in of bar; the spare finishes the heels."""
    found = reckon(plan(section=Section("plain", 19.05, 8)))
    assert 12 * INCH / found.bar_length_mm == pytest.approx(1.03, abs=0.015)


def toe_arc(wide, widest, foot="LF"):
    line = sound_line(Hoof(foot, wide, widest + 60, widest, 10), 1)
    ahead = line.y <= widest + 1e-9
    return line.x[ahead], line.y[ahead]


def test_the_toe_of_a_foot_as_deep_as_half_its_width_is_a_half_circle():
    """[C] length π r, area π r²/2."""
    x, y = toe_arc(127, 63.5)
    assert np.hypot(x, y - 63.5) == pytest.approx(np.full(len(x), 63.5), abs=1e-9)
    arc = np.hypot(np.diff(x), np.diff(y)).sum()
    assert 2 * arc == pytest.approx(pi * 63.5, rel=1e-3)


@pytest.mark.parametrize("widest", [50.0, 63.5, 75.0])
def test_a_fore_toe_is_a_half_ellipse(widest):
    """[C] area π a b / 4 a side; arc by Ramanujan's second formula."""
    x, y = toe_arc(130, widest)
    a, b = 65.0, widest
    assert (x / a) ** 2 + ((y - b) / b) ** 2 == pytest.approx(np.ones(len(x)), abs=1e-9)
    area = shapely.Polygon([*zip(x, y, strict=True), (0, b)]).area
    assert area == pytest.approx(pi * a * b / 4, rel=1e-3)
    h = ((a - b) / (a + b)) ** 2
    around = pi * (a + b) * (1 + 3 * h / (10 + (4 - 3 * h) ** 0.5))
    arc = np.hypot(np.diff(x), np.diff(y)).sum()
    assert arc == pytest.approx(around / 4, rel=1e-3)


def test_a_hind_toe_is_more_pointed_and_as_wide():
    fore, hind = toe_arc(130, 65), toe_arc(130, 65, "LH")
    assert hind[0][-1] == pytest.approx(65)
    assert (hind[0][1:-1] < fore[0][1:-1]).all()


def test_with_straight_branches_the_ring_is_circle_and_rectangles(monkeypatch):
    """[C] outer r 63.5, web 20: half ring π/2 (63.5² − 43.5²), two bars 20 × 63.5."""
    monkeypatch.setattr("horses.shoe.outline.HEEL_SHARE", {False: 1.0, True: 1.0})
    found = reckon(plan())
    half_ring = pi / 2 * (63.5**2 - 43.5**2)
    whole = half_ring + 2 * 20 * 63.5
    assert found.medial.area_mm2 + found.lateral.area_mm2 == pytest.approx(
        whole, rel=1e-3
    )
    assert found.centre_line_mm == pytest.approx(pi * 53.5 + 127, rel=1e-3)
    assert found.centre_line_mm == pytest.approx(
        handbook_length_mm(127, 127, 20), rel=1e-3
    )


def test_mass_is_section_times_centre_line_less_holes_and_fuller():
    """[C] 20 × 8 steel; the holes' and groove's shares are from memory."""
    bar = Section("plain", 20, 8)
    bare = reckon(plan(section=bar, nails=0))
    assert bare.mass_g == pytest.approx(1.256 * bare.centre_line_mm, rel=1e-6)
    nailed = reckon(plan(section=bar))
    assert bare.mass_g - nailed.mass_g == pytest.approx(6 * 18 * 8 * 7.85e-3, rel=1e-6)
    assert holes_mm3(bar, 6) == pytest.approx(6 * 18 * 8)
    fullered = reckon(plan(section=Section("fullered", 20, 8)))
    groove = sum(b.fuller_mm for b in (fullered.medial, fullered.lateral))
    lost = fuller_mm3(bar, groove) * 7.85e-3
    assert nailed.mass_g - fullered.mass_g == pytest.approx(lost, rel=1e-6)
    # 'Minus nail holes and fuller: small, a few per cent' (common practice).
    assert 0.90 < fullered.mass_g / bare.mass_g < 0.97


def test_a_common_front_shoe_weighs_what_its_bar_does_within_a_few_percent():
    """[C] 300 mm of 20 × 8 steel is 377 g."""
    found = reckon(plan(wide=130, long=127))
    assert found.mass_g == pytest.approx(377, rel=0.03)
