"""The planner's weights in people's words: bounds, usual values, examples."""

from dataclasses import fields, replace

import pytest

from scheduling.planner.weeks import Weights
from scheduling.planner.weighing import (
    USUAL,
    WEIGHED,
    BadWeight,
    checked,
    told,
    weights_of,
)


def examples(weights):
    return {one.what.name: one.example for one in told(weights)}


def test_each_weight_of_the_planner_has_its_words():
    assert {one.name for one in WEIGHED} == {one.name for one in fields(Weights)}
    assert all(one.low <= one.usual <= one.high for one in WEIGHED)
    assert all(one.is_usual for one in told(USUAL))


def test_examples_are_reckoned_from_the_figures():
    # 2·n·(1 + n/10): 15 minutes for 5 days, 40 for 10.
    assert "5 days late weighs as much as 15 minutes" in examples(USUAL)["late"]
    assert examples(USUAL)["late"].endswith("as much as 40 minutes.")
    assert "about 13 days late" in examples(USUAL)["drive"]
    # At half the price a minute, all else is worth twice as much driving.
    cheap = examples(replace(USUAL, drive=0.5))
    assert "5 days late weighs as much as 30 minutes" in cheap["late"]
    assert "more than 4 h 00 at the wheel" in cheap["asked"]
    assert (
        "weighs as much as 1 minute at" in examples(replace(USUAL, early=0.2))["early"]
    )


@pytest.mark.parametrize("one", WEIGHED, ids=lambda one: one.name)
def test_bounds_hold_at_both_ends(one):
    for value in (one.low, one.high):
        examples(replace(USUAL, **{one.name: value}))
        checked({one.name: value})
    for value in (one.low - 0.01, one.high + 0.01):
        with pytest.raises(BadWeight) as wrong:
            checked({one.name: value})
        assert wrong.value.name == one.name


def test_only_what_differs_is_kept_and_a_strange_row_stops_nothing():
    assert checked({"late": 2.0, "early": 1.0}) == {"early": 1.0}
    read = weights_of({"late": 99, "speed": 3, "day": "much", "early": 1})
    assert read == replace(USUAL, late=20.0, early=1.0)
