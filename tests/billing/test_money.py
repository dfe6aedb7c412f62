"""Amounts: reading, writing, rounding half up and away from zero."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing import money

AMOUNTS = st.decimals(
    min_value=-(10**9), max_value=10**9, places=4, allow_nan=False, allow_infinity=False
)


def test_rounding_is_half_up_and_away_from_zero():
    assert money.rounded(Decimal("0.005"), 2) == Decimal("0.01")
    assert money.rounded(Decimal("-0.005"), 2) == Decimal("-0.01")
    assert money.rounded(Decimal("2.675"), 2) == Decimal("2.68")


def test_a_negative_tax_is_rounded_as_the_cen_vector_says():
    # CEN artefacts 1.3.16, BIS3_Invoice_negativ: −6491.34 × 25 % = −1622.84
    assert money.percent(Decimal("-6491.34"), Decimal(25), 2) == Decimal("-1622.84")


def test_nothing_is_ever_minus_zero():
    assert str(money.rounded(Decimal("-0.001"), 2)) == "0.00"
    assert money.written(money.read("-0.00", "GBP"), "GBP") == "0.00"


@pytest.mark.parametrize(
    ("text", "currency", "amount"),
    [
        ("12.5", "GBP", "12.50"),
        ("-12", "EUR", "-12.00"),
        ("007", "JPY", "7"),
        ("1.234", "KWD", "1.234"),
    ],
)
def test_an_amount_is_read_with_the_decimals_of_its_currency(text, currency, amount):
    assert str(money.read(text, currency)) == amount


@pytest.mark.parametrize(
    ("text", "currency"),
    [
        ("1.005", "GBP"),
        ("1.000", "GBP"),
        ("1.0", "JPY"),
        ("1e3", "GBP"),
        ("+1", "GBP"),
        (" 1", "GBP"),
        ("1\n", "GBP"),
        ("1,50", "GBP"),
        (".5", "GBP"),
        ("5.", "GBP"),
        ("", "GBP"),
        ("NaN", "GBP"),
        ("Infinity", "GBP"),
        ("٣", "GBP"),
        ("1_000", "GBP"),
        ("9" * 16, "GBP"),
        ("1", "XYZ"),
        ("1", "gbp"),
    ],
)
def test_what_is_not_an_amount_is_refused(text, currency):
    with pytest.raises(money.BadAmount):
        money.read(text, currency)


def test_writing_never_rounds_in_silence():
    with pytest.raises(money.BadAmount):
        money.written(Decimal("1.005"), "GBP")


@given(AMOUNTS, st.integers(0, 3))
def test_rounding_moves_by_half_a_step_at_most_and_mirrors(amount, decimals):
    result = money.rounded(amount, decimals)
    assert abs(result - amount) <= Decimal(1).scaleb(-decimals) / 2
    assert money.rounded(-amount, decimals) == -result


@given(st.integers(-(10**14), 10**14), st.sampled_from(sorted(money.EXPONENTS)))
def test_minor_units_and_text_come_back_as_they_went(units, currency):
    decimals = money.exponent(currency)
    amount = money.major(units, decimals)
    assert money.minor(amount, decimals) == units
    assert money.read(money.written(amount, currency), currency) == amount


@pytest.mark.parametrize(
    ("exact", "expected"),
    [("1/200", "0.01"), ("-1/200", "-0.01"), ("149/30000", "0.00"), ("1/3", "0.33")],
)
def test_a_quotient_is_rounded_half_up_away_from_zero(exact, expected):
    assert str(money.ratio(Fraction(exact), 2)) == expected
