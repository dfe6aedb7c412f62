"""Measurements in and out. Conversions are the definitions of 1959 (yard and pound)."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.units import (
    BadMeasure,
    format_body_mass,
    format_distance,
    format_length,
    format_mass,
    parse_distance,
    parse_length,
    parse_mass,
)


@pytest.mark.parametrize(
    ("text", "system", "mm"),
    [
        ("3 1/4 in", "metric", 82.55),
        ('3.25"', "metric", 82.55),
        ("3¼ in", "metric", 82.55),
        ("3-1/4 inches", "imperial", 82.55),
        ("3 1/4", "imperial", 82.55),
        ("3,25″", "metric", 82.55),
        ("1/2 in", "metric", 12.7),
        ("¾", "imperial", 19.05),
        ("83 mm", "imperial", 83.0),
        ("83mm", "metric", 83.0),
        ("8,3 cm", "metric", 83.0),
        ("8.3 CM", "imperial", 83.0),
        ("83", "metric", 83.0),
        (" 83.5 ", "metric", 83.5),
        ("3", "imperial", 76.2),
        (".5", "metric", 0.5),
        ("0", "metric", 0.0),
    ],
)
def test_a_length_is_read_as_it_is_written(text, system, mm):
    assert parse_length(text, system) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "x",
        "-3",
        "−3 mm",
        "3 1/0 in",
        "83 km",
        "1e3",
        "nan",
        "inf",
        "3 4",
        "٣",
        "1//2",
        "8" * 41,
        "3 1/4 1/4",
        "83 mm mm",
        "1,2,3",
    ],
)
def test_what_is_no_length_is_refused_in_a_sentence(text):
    with pytest.raises(BadMeasure) as refused:
        parse_length(text, "metric")
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize(
    ("mm", "how", "shown"),
    [
        (82.55, {"system": "imperial"}, "3 1/4 in"),
        (82.55, {"system": "imperial", "parts": 8}, "3 1/4 in"),
        (83.0, {"system": "imperial"}, "3 1/4 in"),
        (84.2, {"system": "imperial"}, "3 5/16 in"),
        (25.4, {"system": "imperial"}, "1 in"),
        (12.7, {"system": "imperial"}, "1/2 in"),
        (0.0, {"system": "imperial"}, "0 in"),
        (-6.35, {"system": "imperial"}, "−1/4 in"),
        (83.0, {"system": "metric"}, "83 mm"),
        (83.25, {"system": "metric"}, "83.3 mm"),
        (83.0, {"system": "metric", "unit": "cm"}, "8.3 cm"),
        (100.0, {"system": "metric"}, "100 mm"),
        (-0.01, {"system": "metric"}, "0 mm"),
    ],
)
def test_a_length_is_shown_in_the_practices_unit(mm, how, shown):
    assert format_length(mm, **how) == shown


@given(st.integers(0, 16 * 40))
def test_a_sixteenth_survives_being_shown_and_read(sixteenths):
    mm = sixteenths * 25.4 / 16
    assert parse_length(format_length(mm, "imperial"), "imperial") == pytest.approx(mm)


@given(st.floats(0, 900), st.sampled_from(["metric", "imperial"]))
def test_what_is_shown_is_read_back_to_half_its_step(mm, system):
    step = 0.1 if system == "metric" else 25.4 / 16
    again = parse_length(format_length(mm, system), system)
    assert abs(again - mm) <= step / 2 + 1e-9


@given(st.text(max_size=30))
def test_no_text_breaks_the_readers(text):
    for read in (parse_length, parse_mass, parse_distance):
        for system in ("metric", "imperial"):
            with contextlib.suppress(BadMeasure):
                assert read(text, system) >= 0


@pytest.mark.parametrize(
    ("text", "system", "grams"),
    [
        ("362 g", "metric", 362.0),
        ("520", "metric", 520_000.0),
        ("1.2 kg", "imperial", 1200.0),
        ("1 lb", "metric", 453.59237),
        ("1 lb 8 oz", "imperial", 680.388555),
        ("12.77 oz", "imperial", 362.0234),
    ],
)
def test_a_mass_is_read_as_it_is_written(text, system, grams):
    assert parse_mass(text, system) == pytest.approx(grams, abs=1e-3)


def test_sixteen_ounces_beside_pounds_are_refused():
    with pytest.raises(BadMeasure):
        parse_mass("1 lb 16 oz", "imperial")


def test_masses_and_distances_are_shown_in_the_practices_unit():
    assert format_mass(362, "metric") == "362 g"
    # 305 mm of 3/4 x 5/16 in steel: 362.0 g = 12.77 oz, computed
    assert format_mass(362, "imperial") == "12.8 oz"
    assert format_mass(1250, "metric") == "1.25 kg"
    assert format_mass(540, "imperial") == "1 lb 3 oz"
    assert format_body_mass(520, "metric") == "520 kg"
    assert format_body_mass(520, "imperial") == "1,146 lb"
    assert format_distance(850, "metric") == "850 m"
    assert format_distance(12_400, "metric") == "12.4 km"
    assert format_distance(12_400, "imperial") == "7.7 mi"


def test_distances_are_read_in_the_practices_unit():
    assert parse_distance("10", "metric") == 10_000
    assert parse_distance("10", "imperial") == pytest.approx(16_093.44)
    assert parse_distance("800 m", "imperial") == 800
    with pytest.raises(BadMeasure):
        parse_distance("3 leagues", "metric")
