"""UELN and microchip against published examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.identity import parse_microchip, parse_ueln, spaced
from practice.errors import Refused


# The examples of ueln.net, 'Rules of attribution of the UELN', and a Portuguese one
# with the separators that passports print.
@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("25000100155928M", "25000100155928M"),
        ("372414001234567", "372414001234567"),
        ("1212120078M0234", "1212120078M0234"),
        ("620001.00224643.8", "620001002246438"),
        ("250001 00155928m", "25000100155928M"),
        ("826-031-000-001-234", "826031000001234"),
        ("", ""),
    ],
)
def test_published_life_numbers_are_taken(written, kept):
    assert parse_ueln(written) == kept


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("2500010015592", "15 characters; this has 13"),
        ("25000100155928MX", "this has 16"),
        ("GBR031000001234", "begins with three digits"),
        ("000031000001234", "begins with three digits"),
        ("82603100000123Ä", "A to Z"),
        ("78M/23400000000", "A to Z"),
    ],
)
def test_what_is_no_life_number_is_told_why(written, why):
    with pytest.raises(Refused, match=why) as refusal:
        parse_ueln(written)
    assert refusal.value.field == "ueln"


# Country and maker codes of published lists of transponders (ISO 3166; 968, 040).
@pytest.mark.parametrize("chip", ["968000004531234", "040098100111917"])
def test_published_chip_numbers_are_taken(chip):
    assert parse_microchip(chip) == chip
    assert parse_microchip(spaced(chip)) == chip


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("96800000453123", "15 digits; this has 14"),
        ("96800000453123A", "only digits"),
        ("٩٦٨٠٠٠٠٠٤٥٣١٢٣٤", "only digits"),
        ("999000004531234", "test chip"),
        ("000000004531234", "No chip"),
        # ISO 11784: 38 bits hold 274 877 906 944 numbers.
        ("826274877906944", "No chip"),
    ],
)
def test_what_is_no_chip_number_is_told_why(written, why):
    with pytest.raises(Refused, match=why):
        parse_microchip(written)


def test_the_largest_number_of_38_bits_is_a_chip():
    assert parse_microchip("826274877906943") == "826274877906943"


def test_a_number_is_spaced_for_reading_aloud():
    assert spaced("826098100111917") == "826 0981 0011 1917"


@given(st.text(max_size=24))
def test_any_text_is_read_or_refused_never_a_fault(text):
    for parse in (parse_ueln, parse_microchip):
        try:
            number = parse(text)
        except Refused:
            continue
        assert len(number) in {0, 15}
        assert parse(number) == number
