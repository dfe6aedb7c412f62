"""Heights in hands and centimetres."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.height import BadHeight, format_hands, format_height, parse_height


# Sports rules print 148 cm beside 14.2 hands and 158 cm beside 15.2 (from memory), the
# whole centimetre above what 4 in × 25.4 mm gives: 147.3 and 157.5.
@pytest.mark.parametrize(
    ("written", "mm"),
    [
        ("14.2", 1473),
        ("15.2 hh", 1575),
        ("15.2 hands", 1575),
        ("16", 1626),
        ("12h", 1219),
        ("157 cm", 1570),
        ("157", 1570),
        ("157,5 cm", 1575),
        ("1.57 m", 1570),
        ("1570", 1570),
    ],
)
def test_heights_are_read_as_people_write_them(written, mm):
    assert parse_height(written) == mm


@pytest.mark.parametrize("written", ["", "tall", "15.4", "15.7 hh", "-15", "5 ft"])
def test_what_is_no_height_is_told_how_to_write_it(written):
    with pytest.raises(BadHeight, match="hands"):
        parse_height(written)


def test_a_height_is_shown_both_ways():
    assert format_height(1575) == "158 cm (15.2 hh)"


@given(st.integers(4, 20), st.integers(0, 3))
def test_hands_come_back_as_they_were_written(hands, inches):
    written = f"{hands}.{inches}"
    assert format_hands(parse_height(written)) == written
