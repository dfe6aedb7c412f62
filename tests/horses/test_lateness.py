"""Lateness, drifting, and how often shoes are lost."""

from datetime import date, timedelta

import pytest

from horses.drawing.bars import Bar, bar_chart, bars
from horses.lateness import (
    Kept,
    Worn,
    by_shoe,
    by_weeks_on,
    drifting,
    exact_interval,
    overall,
    rate,
    shares,
)

START = date(2026, 1, 5)


def chain(*days, horse=1, wanted=42):
    """Intervals of so many days, one after another."""
    found, at = [], START
    for length in days:
        found.append(Kept(horse, at, at + timedelta(days=length), wanted))
        at += timedelta(days=length)
    return found


@pytest.mark.parametrize("count", [0, 1, 2, 5, 17, 80, 400])
@pytest.mark.parametrize("level", [0.95, 0.8])
def test_the_exact_interval_is_garwoods(count, level):
    """Garwood F (1936) Biometrika 28:437-442 by way of scipy's chi-square quantiles:
    χ²(α/2; 2k)/2 and χ²(1 − α/2; 2k + 2)/2.
    """
    from scipy.special import chdtri  # quicker to load than scipy.stats' chi2

    tail = (1 - level) / 2
    low, high = exact_interval(count, level)
    below = chdtri(2 * count, 1 - tail) / 2 if count else 0
    assert low == pytest.approx(below, abs=1e-7)
    assert high == pytest.approx(chdtri(2 * count + 2, tail) / 2, rel=1e-7)


def test_a_few_of_the_intervals_that_tables_print():
    """As every table of exact Poisson limits has them (from memory)."""
    assert exact_interval(0)[1] == pytest.approx(3.689, abs=0.001)
    assert exact_interval(1) == pytest.approx((0.0253, 5.572), abs=0.001)
    assert exact_interval(10) == pytest.approx((4.795, 18.39), abs=0.01)


def test_a_rate_is_for_a_hundred_horse_weeks():
    found = rate("x", 10, 500)
    assert found.per_100 == pytest.approx(2.0)
    assert (found.low, found.high) == pytest.approx((0.959, 3.678), abs=0.001)


def test_intervals_by_lateness():
    found = {one.label: one.count for one in shares(chain(30, 35, 42, 49, 50, 56, 57))}
    assert list(found.values()) == [1, 3, 2, 1]
    assert sum(one.percent for one in shares(chain(42, 60))) == pytest.approx(100)
    assert shares([]) == ()


def test_a_horse_that_drifts_late():
    found = drifting(chain(42, 43, 42, 50, 53, 60) + chain(42, 42, 41, 43, 42, horse=2))
    assert [one.horse for one in found] == [1]
    assert found[0].last == (50, 53, 60)
    assert found[0].late_days == pytest.approx(11)
    assert found[0].before_days == pytest.approx(127 / 3)


@pytest.mark.parametrize(
    "days",
    [
        pytest.param((60, 61, 60, 60, 61), id="always late, so not drifting"),
        pytest.param((42, 46, 47, 48), id="not a week over what is wanted"),
        pytest.param((60, 62, 64), id="too few to say"),
        pytest.param((42, 42, 42, 43, 90, 42), id="one long gap"),
        pytest.param((), id="none"),
    ],
)
def test_what_is_no_drift(days):
    assert drifting(chain(*days)) == ()


def worn(nailed, seen, until, *, shoe="a", lost=False, foot="LF"):
    return Worn(
        1, foot, shoe, *(START + timedelta(days=d) for d in (nailed, seen, until)), lost
    )


def test_horse_weeks_are_four_feet_for_a_week():
    feet = [worn(0, 0, 42, foot=foot) for foot in ("LF", "RF", "LH", "RH")]
    found = overall(feet)
    assert found is not None
    assert found.horse_weeks == pytest.approx(6)
    assert (found.lost, found.low) == (0, 0)
    assert overall([]) is None


def test_time_on_is_parted_into_its_bands_and_a_loss_counts_where_it_was_found():
    found = by_weeks_on([worn(0, 0, 63, lost=True), worn(0, 0, 28), worn(0, 28, 42)])
    assert {one.label: one.horse_weeks for one in found} == pytest.approx(
        {
            "first 4 weeks": 2.0,
            "5th and 6th week": 1.0,
            "7th and 8th week": 0.5,
            "after 8 weeks": 0.25,
        }
    )
    assert [one.lost for one in found] == [0, 0, 0, 1]


def test_losses_by_shoe_the_most_worn_first():
    found = by_shoe(
        [worn(0, 0, 40, shoe="thin", lost=True), worn(0, 0, 84, shoe="thick")]
        + [worn(0, 0, 7, shoe="hardly worn")]
    )
    assert [one.label for one in found] == ["thick", "thin"]
    assert [one.lost for one in found] == [0, 1]


# ---- The chart ---------------------------------------------------------------------
def test_a_chart_escapes_its_words_and_says_its_figures():
    chart = bars("A <title>", "mm", [Bar("one|two", 2.0, "2 & more", 1.0, 3.5, 2.2)])
    assert chart is not None
    drawn = bar_chart(chart)
    assert "A &lt;title&gt;" in drawn
    assert "one two: 2 &amp; more." in drawn
    assert "style=" not in drawn
    assert drawn.count("<rect") == 1
    assert "bar-mark" in drawn
    assert bars("none", "", []) is None


def test_a_chart_of_nothing_but_noughts_is_still_a_chart():
    chart = bars("t", "%", [Bar("a", 0.0, "0"), Bar("b", 0.0, "0")], "dots")
    assert chart is not None
    assert bar_chart(chart).count("<circle") == 2
