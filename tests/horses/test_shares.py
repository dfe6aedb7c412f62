"""Shares as people write them."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.shares import check_whole, parse_share, settle
from practice.errors import Refused


@pytest.mark.parametrize(
    ("written", "part"),
    [
        ("60", Fraction(3, 5)),
        (" 60 % ", Fraction(3, 5)),
        ("33.33", Fraction(3333, 10000)),
        ("33,33", Fraction(3333, 10000)),
        ("1/3", Fraction(1, 3)),
        ("1 / 3", Fraction(1, 3)),
        ("100", Fraction(1)),
    ],
)
def test_a_share_is_read_as_percent_or_as_a_fraction(written, part):
    assert parse_share(written) == part


@pytest.mark.parametrize(
    "written", ["", "half", "0", "-5", "100.1", "4/3", "1/0", "1e2", "٣٣", "6 0", "NaN"]
)
def test_what_is_no_share_is_refused_with_a_sentence(written):
    with pytest.raises(Refused, match=r"share|fraction"):
        parse_share(written)


def test_thirds_as_fractions_add_up_to_exactly_100():
    thirds = settle([Fraction(1, 3)] * 3)
    assert thirds == [Decimal("33.3334"), Decimal("33.3333"), Decimal("33.3333")]


def test_thirds_as_33_33_33_33_33_34_are_taken_as_written():
    parts = [parse_share(text) for text in ("33.33", "33.33", "33.34")]
    assert settle(parts) == [Decimal("33.3300"), Decimal("33.3300"), Decimal("33.3400")]


def test_three_times_33_33_is_refused_and_the_mend_is_said():
    with pytest.raises(Refused) as refusal:
        settle([parse_share("33.33")] * 3)
    assert "99.99 %" in refusal.value.sentence
    assert "0.01 % short" in refusal.value.sentence
    assert "1/3" in refusal.value.sentence


def test_too_much_is_refused_with_the_gap():
    with pytest.raises(Refused, match=r"100\.5 %.*0\.5 % too much"):
        settle([parse_share("60"), parse_share("40.5")])


def test_a_third_and_its_four_decimal_rest_go_together():
    assert sum(settle([parse_share("1/3"), parse_share("66.6667")])) == 100


@pytest.mark.parametrize("share", ["0", "-1", "100.0001", "NaN", "Infinity"])
def test_no_single_share_is_out_of_bounds(share):
    with pytest.raises(Refused):
        check_whole([Decimal(share), Decimal(100) - Decimal("40")])


def test_a_fifth_decimal_is_refused():
    with pytest.raises(Refused, match="at most four decimals"):
        check_whole([Decimal("33.33335"), Decimal("66.66665")])


@given(st.lists(st.integers(1, 60), min_size=1, max_size=40))
def test_any_fractions_of_a_whole_add_up_to_100_and_lie_next_to_the_exact(weights):
    whole = sum(weights)
    shares = settle([Fraction(weight, whole) for weight in weights])
    assert sum(shares) == Decimal(100)
    for share, weight in zip(shares, weights, strict=True):
        assert abs(Fraction(share) - Fraction(100 * weight, whole)) < Fraction(1, 10000)
        assert share.as_tuple().exponent == -4
    check_whole(shares)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused_never_a_fault(text):
    try:
        part = parse_share(text)
    except Refused:
        return
    assert 0 < part <= 1
