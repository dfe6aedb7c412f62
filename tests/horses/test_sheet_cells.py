"""Amounts, weeks and years in single cells."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.sheets.cells import (
    BadCell,
    Mark,
    column_mark,
    is_blank,
    parse_foaled,
    parse_price,
    parse_weeks,
)
from horses.sheets.dates import Order

TODAY = date(2026, 11, 25)


def price(cell, mark=Mark.POINT, decimals=2, most=Decimal("9999999.99")):
    return parse_price(cell, mark=mark, decimals=decimals, most=most)


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("45", "45.00"),
        ("45.5", "45.50"),
        ("£45.00", "45.00"),
        ("£ 1,234.50", "1234.50"),
        ("1,234", "1234.00"),
        ("1,234,567", "1234567.00"),
        ("45,50", "45.50"),  # a comma before two digits groups nothing
        ("€ 1.234,50", "1234.50"),
        ("1 234,50", "1234.50"),
        ("1'234.50", "1234.50"),
        ("$60", "60.00"),
        ("60 USD", "60.00"),
        ("kr 450", "450.00"),
        ("45.-", "45.00"),
        ("0", "0.00"),
        (".50", "0.50"),
        (Decimal("45.3333333"), "45.33"),
        (Decimal("45.005"), "45.01"),
        (Decimal(45), "45.00"),
    ],
)
def test_an_amount_is_read_from(text, amount):
    assert price(text) == Decimal(amount)


@pytest.mark.parametrize(
    "text",
    ["-45", "−45", "£-45", "-£45", "(45)", "45-", "(£45.00)", Decimal("-0.5")],
)
def test_an_amount_below_zero_is_bad(text):
    with pytest.raises(BadCell) as bad:
        price(text)
    assert bad.value.code == "price_negative"


@pytest.mark.parametrize(
    "text",
    [
        "forty",
        "free",
        "45+VAT",
        "45-50",
        "£",
        "45 each",
        "6e3",
        "٤٥",
        "45²",
        "４５",
        "1,23,456",
        "1.2.3",
        "45..5",
        "45,5,5",
        "1,2345",
        "45.999",
        "45 %",
        "--45",
        "NaN",
        "Infinity",
        "1_000",
        "9" * 40,
        date(2026, 1, 1),
    ],
)
def test_what_is_no_amount_in_digits_is_bad(text):
    with pytest.raises(BadCell) as bad:
        price(text)
    assert bad.value.code == "price_bad"


def test_an_amount_that_can_not_be_kept_is_bad():
    with pytest.raises(BadCell, match="at most") as bad:
        price("10000000")
    assert bad.value.code == "price_range"


def test_the_column_shows_its_mark():
    assert column_mark(["45,50", "1.234"], "GB") == Mark.COMMA
    assert price("1.234", Mark.COMMA) == Decimal("1234.00")
    assert column_mark(["45.50", "1,234"], "DE") == Mark.POINT
    assert price("1,234", Mark.POINT) == Decimal("1234.00")


def test_the_country_gives_the_mark_that_no_value_shows():
    assert column_mark(["45", "1,234"], "GB") == Mark.POINT
    assert column_mark(["45", "1.234"], "DE") == Mark.COMMA
    assert column_mark([], "FR") == Mark.COMMA


def test_a_currency_without_a_minor_unit_takes_whole_amounts():
    assert price("5000", decimals=0) == Decimal(5000)
    with pytest.raises(BadCell):
        price("50.5", decimals=0)


@given(
    st.decimals(0, 9_999_999, places=2, allow_nan=False, allow_infinity=False),
    st.sampled_from(["", "£", "€ ", "$"]),
)
def test_amounts_come_back_from_both_customs(amount, sign):
    english = f"{sign}{amount:,.2f}"
    german = english.replace(",", "_").replace(".", ",").replace("_", ".")
    for mark in Mark:
        assert price(english, mark) == amount
        assert price(german, mark) == amount
    assert column_mark([english], "DE") == Mark.POINT
    assert column_mark([german], "GB") == Mark.COMMA


@given(st.text(max_size=12))
def test_any_text_is_an_amount_or_a_told_fault(text):
    told = ""
    try:
        assert 0 <= price(text) <= Decimal("9999999.99")
    except BadCell as bad:
        told = bad.code
    assert told in {"", "price_bad", "price_negative", "price_range"}


@pytest.mark.parametrize(
    "text",
    ["6", "6 wks", "6 weeks", "6w", "6wk.", "every 6 weeks", "06", "6.0", Decimal("6")],
)
def test_six_weeks_are_read_from(text):
    assert parse_weeks(text) == 6


@pytest.mark.parametrize("text", ["0", "53", "-6", "−1", "99999999999", Decimal(-1)])
def test_weeks_outside_1_to_52_are_bad(text):
    with pytest.raises(BadCell) as bad:
        parse_weeks(text)
    assert bad.value.code == "interval_range"


@pytest.mark.parametrize(
    "text",
    [
        "six",
        "6-8",
        "6.5",
        "6 months",
        "42 days",
        "monthly",
        "1e1",
        "+6",
        "٦",
        "6/52",
        Decimal("6.5"),
        date(2026, 6, 8),
        "6 6",
    ],
)
def test_what_is_no_whole_number_of_weeks_is_bad(text):
    with pytest.raises(BadCell) as bad:
        parse_weeks(text)
    assert bad.value.code == "interval_bad"


@given(st.integers(1, 52))
def test_all_intervals_are_taken(weeks):
    assert parse_weeks(f"{weeks} weeks") == parse_weeks(Decimal(weeks)) == weeks


def foaled(cell, *, is_age=False):
    return parse_foaled(cell, is_age=is_age, order=Order.DAY_FIRST, today=TODAY)


@pytest.mark.parametrize(
    ("cell", "is_age", "year", "day"),
    [
        ("2012", False, 2012, None),
        (Decimal(2012), False, 2012, None),
        ("May 2012", False, 2012, None),
        ("03/05/2012", False, 2012, date(2012, 5, 3)),
        ("41032", False, 2012, date(2012, 5, 3)),
        (date(2012, 5, 3), False, 2012, date(2012, 5, 3)),
        ("12", True, 2014, None),
        ("12 yrs", True, 2014, None),
        ("12yo", True, 2014, None),
        ("12 years old", False, 2014, None),
        ("18 months", True, 2025, None),
        ("6 mths", True, 2026, None),
        ("0", True, 2026, None),
        ("2012", True, 2012, None),
    ],
)
def test_the_year_of_foaling_is_read_from(cell, is_age, year, day):
    assert foaled(cell, is_age=is_age) == (year, day)


@pytest.mark.parametrize(
    ("cell", "is_age", "code"),
    [
        ("12", False, "foaled_bad"),
        ("twelve", True, "age_bad"),
        ("rising 4", True, "age_bad"),
        ("-3", True, "age_bad"),
        ("61", True, "age_range"),
        ("2027", False, "foaled_range"),
        ("1950", False, "foaled_range"),
        ("0000", False, "foaled_range"),
        ("03/05/2027", False, "foaled_range"),
        ("31/02/2012", False, "foaled_bad"),
    ],
)
def test_what_is_no_year_or_age_is_bad(cell, is_age, code):
    with pytest.raises(BadCell) as bad:
        foaled(cell, is_age=is_age)
    assert bad.value.code == code


def test_dashes_and_not_applicable_say_nothing():
    for text in ("", "-", "–", "n/a", "N/A", "?"):
        assert is_blank(text)
    for text in ("0", "none", "x", Decimal(0)):
        assert not is_blank(text)
