"""Sharing an amount: it adds up to the cent, fairly, whatever the weights."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.split import BadWeights, split, split_units

UNITS = st.integers(-(10**9), 10**9)
WEIGHT = st.one_of(
    st.integers(0, 10**6).map(Fraction),
    st.decimals(0, 1000, places=3, allow_nan=False).map(Fraction),
    st.fractions(0, 100, max_denominator=97),
)
WEIGHTS = st.dictionaries(st.text("abcdefgh", min_size=1), WEIGHT, min_size=1).filter(
    lambda weights: any(weights.values())
)


def shares(amount, weights):
    found = split(Decimal(amount), weights, decimals=2)
    return [str(share) for share in found.values()]


def test_a_call_out_over_seven_horses_differs_by_a_cent():
    assert shares("45.00", dict.fromkeys("abcdefg", 1)) == ["6.43"] * 6 + ["6.42"]


def test_a_call_out_over_payers_with_three_two_one_and_one_horses():
    weights = {"a": 3, "b": 2, "c": 1, "d": 1}
    assert shares("45.00", weights) == ["19.28", "12.86", "6.43", "6.43"]


def test_an_odd_cent_of_sixty_forty_goes_to_the_larger_share():
    assert shares("100.01", {"a": 60, "b": 40}) == ["60.01", "40.00"]
    assert shares("-100.01", {"a": 60, "b": 40}) == ["-60.01", "-40.00"]


def test_a_tie_goes_to_the_larger_weight_then_to_the_lesser_key():
    # Quotas 1.5, 1.5: equal weights, so the key decides, in whatever order they came.
    assert split_units(3, {"b": Fraction(1), "a": Fraction(1)}) == {"b": 1, "a": 2}
    # Quotas 0.5 and 1.5: equal fractions, so the weight decides.
    assert split_units(2, {"a": Fraction(1), "b": Fraction(3)}) == {"a": 0, "b": 2}


def test_more_money_may_give_one_a_unit_less():
    """Known of the method, and why nobody is promised otherwise (6, 6, 2 get 1, 1, 1
    of three cents and 2, 2, 0 of four)."""
    weights = {"a": Fraction(6), "b": Fraction(6), "c": Fraction(2)}
    assert list(split_units(3, weights).values()) == [1, 1, 1]
    assert list(split_units(4, weights).values()) == [2, 2, 0]


@pytest.mark.parametrize("weights", [{}, {"a": 0, "b": 0}])
def test_nothing_to_go_by_is_refused(weights):
    with pytest.raises(BadWeights):
        split(Decimal(1), weights, decimals=2)


def test_a_negative_weight_is_refused_by_name():
    with pytest.raises(BadWeights) as refused:
        split(Decimal(1), {"a": 2, "b": -1}, decimals=2)
    assert refused.value.key == "b"


@given(UNITS, WEIGHTS)
def test_shares_add_up_and_stay_within_a_unit_of_their_quota(units, weights):
    found = split_units(units, weights)
    whole = sum(weights.values())
    assert sum(found.values()) == units
    for key, weight in weights.items():
        assert abs(found[key] - units * weight / whole) < 1
        if not weight:
            assert found[key] == 0


@given(UNITS, WEIGHTS)
def test_the_order_of_the_weights_does_not_matter(units, weights):
    backwards = dict(reversed(list(weights.items())))
    assert split_units(units, backwards) == split_units(units, weights)


@given(UNITS, WEIGHTS)
def test_the_negative_amount_mirrors(units, weights):
    found = split_units(units, weights)
    assert split_units(-units, weights) == {k: -share for k, share in found.items()}


@given(st.integers(0, 10**9), WEIGHTS)
def test_a_larger_weight_never_gets_less_and_equals_differ_by_one(units, weights):
    found = split_units(units, weights)
    for one, weight in weights.items():
        for other, other_weight in weights.items():
            if weight > other_weight:
                assert found[one] >= found[other]
            if weight == other_weight:
                assert abs(found[one] - found[other]) <= 1


@given(UNITS, WEIGHTS, st.fractions(min_value=Fraction(1, 99), max_value=99))
def test_only_the_proportions_of_the_weights_count(units, weights, factor):
    scaled = {key: weight * factor for key, weight in weights.items()}
    assert split_units(units, scaled) == split_units(units, weights)
