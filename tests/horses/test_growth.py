"""How fast feet grow: shrinking, slips, season, what a practice's records teach."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from horses.growth import (
    EVEN,
    HorseFacts,
    Reading,
    Record,
    Season,
    default_priors,
    default_season,
    estimate,
    estimate_all,
    learn_priors,
    learn_season,
)
from horses.growth.priors import Priors, stage_of
from horses.growth.season import months_of, weeks_until
from horses.growth.shrink import hampel
from horses.hoof import FEET
from tests.horses.herd import AS_OF, make_herd, seasonal

START = date(2025, 1, 6)


def plain(rates, *, weeks=6, visits=8, facts=None):
    """Readings without any error, every so many weeks."""
    readings = tuple(
        Reading(
            foot,
            START + timedelta(weeks=weeks * visit),
            80 + rate * weeks,
            80.0,
            50.0,
        )
        for foot, rate in rates.items()
        for visit in range(visits)
    )
    return Record(facts or HorseFacts(feet=tuple(rates)), readings)


def rates(record, **more):
    found = estimate(record, as_of=AS_OF, season=EVEN, **more)
    return {foot.foot: foot.rate_mm_per_week for foot in found.feet}


# ---- Shrinking ---------------------------------------------------------------------
def test_without_a_reading_the_prior_stands():
    found = estimate(Record(HorseFacts()), as_of=AS_OF)
    prior = default_priors().of["adult", True]
    for foot in found.feet:
        assert foot.rate_mm_per_week == pytest.approx(prior.mean)
        assert foot.sd == pytest.approx(np.hypot(prior.horse_sd, prior.foot_sd))
    assert found.guide is None
    assert found.intervals == 0


def test_the_closed_form_by_hand():
    """One foot, one interval: both levels are one normal."""
    record = plain({"LF": 3.0}, visits=2)
    prior, noise = default_priors().of["adult", True], 2 * 2.0**2 / 6**2
    spread = prior.horse_sd**2 + prior.foot_sd**2
    share = spread / (spread + noise)
    found = estimate(record, as_of=AS_OF, season=EVEN).feet[0]
    assert found.rate_mm_per_week == pytest.approx(
        share * 3.0 + (1 - share) * prior.mean
    )
    assert found.sd**2 == pytest.approx(spread * (1 - share))
    assert found.high80 - found.low80 == pytest.approx(2 * 1.2815516 * found.sd)


def test_many_visits_make_a_rate_its_own_and_a_foot_without_any_borrows():
    found = rates(plain({"LF": 1.4, "RF": 1.4, "LH": 1.9}, visits=11))
    assert 1.4 < found["LF"] == found["RF"] < 1.55 < found["LH"] < 1.9
    record = plain({"LF": 1.5, "RF": 1.5}, visits=12)
    record = replace(record, facts=replace(record.facts, feet=FEET))
    found = rates(record)
    assert found["LF"] < found["LH"] < default_priors().of["adult", True].mean
    assert found["LH"] == found["RH"]


def test_a_sharper_tape_moves_a_rate_further():
    record = plain({"LF": 3.0}, visits=3)
    assert rates(record, length_sd_mm=0.5)["LF"] > rates(record)["LF"]


def test_a_foot_left_alone_is_one_measurement_that_two_spans_share():
    """Of three readings on a line the middle one says nothing of the slope."""
    with_middle = Record(
        HorseFacts(feet=("LF",)),
        (
            Reading("LF", START, after_mm=80),
            Reading("LF", START + timedelta(weeks=3), 88, 88),
            Reading("LF", START + timedelta(weeks=6), 92),
        ),
    )
    without = replace(
        with_middle, readings=(with_middle.readings[0], with_middle.readings[2])
    )
    one, other = (
        estimate(record, as_of=AS_OF, season=EVEN).feet[0]
        for record in (with_middle, without)
    )
    assert one.rate_mm_per_week == pytest.approx(other.rate_mm_per_week)
    assert one.sd == pytest.approx(other.sd)


def test_a_trim_whose_length_after_is_not_known_parts_what_comes_before_and_after():
    readings = (
        Reading("LF", START, after_mm=80),
        Reading("LF", START + timedelta(weeks=6), before_mm=92),
        Reading("LF", START + timedelta(weeks=12), before_mm=91),
    )
    found = estimate(Record(HorseFacts(), readings), as_of=AS_OF)
    assert found.feet[0].intervals == 1


# ---- Age and shoeing ---------------------------------------------------------------
@pytest.mark.parametrize(
    ("age", "stage"),
    [(None, "adult"), (0, "foal"), (1, "yearling"), (2, "adult"), (20, "aged")],
)
def test_stages_of_life(age, stage):
    assert stage_of(age) == stage


def test_a_foal_grows_faster_than_an_adult_and_an_aged_horse_slower():
    found = [
        rates(Record(HorseFacts(foaled_year=year)))["LF"]
        for year in (AS_OF.year, AS_OF.year - 1, AS_OF.year - 8, AS_OF.year - 25)
    ]
    assert found == sorted(found, reverse=True)
    assert len(set(found)) == 4


def test_what_a_foal_grew_is_brought_to_the_age_it_has_now():
    as_foal = plain({"LF": 3.5}, facts=HorseFacts(foaled_year=2025, feet=("LF",)))
    now = estimate(as_foal, as_of=date(2027, 6, 1), season=EVEN).feet[0]
    assert now.rate_mm_per_week == pytest.approx(2.1, abs=0.05)


def test_readings_from_a_time_without_shoes_are_brought_to_the_shod_rate():
    record = plain({"LF": 1.8})
    barefoot = replace(
        record, readings=tuple(one._replace(shod=False) for one in record.readings)
    )
    assert rates(barefoot)["LF"] == pytest.approx(2.1, abs=0.01)
    assert rates(record)["LF"] < 1.95


# ---- What doesn't fit --------------------------------------------------------------
CLEAN = {"LF": 2.0, "RF": 2.0, "LH": 2.0, "RH": 2.0}


def spoilt(record, number, **change):
    """The record with one reading of the left fore changed."""
    readings = list(record.readings)
    readings[number] = readings[number]._replace(**change)
    return replace(record, readings=tuple(readings))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("before_mm", 29.0),  # 92 with its digits changed round
        ("before_mm", 192.0),
        ("before_mm", 9.2),
        ("before_mm", 400.0),
        ("before_mm", 62.0),
        ("after_mm", 8.0),
        ("after_mm", 180.0),
        ("after_mm", 60.0),
        ("after_mm", 0.1),
    ],
)
@pytest.mark.parametrize("number", [1, 4, 6])
def test_a_slip_of_a_digit_is_shown_and_swings_nothing(key, value, number):
    record = plain(CLEAN)
    found = estimate(spoilt(record, number, **{key: value}), as_of=AS_OF, season=EVEN)
    day = record.readings[number].day
    assert [(q.foot, q.day, q.key) for q in found.questionable] == [("LF", day, key)]
    assert found.questionable[0].why
    clean = rates(record)["LF"]
    assert found.feet[0].rate_mm_per_week == pytest.approx(clean, rel=0.02)


def test_digits_changed_round_are_seen_where_the_tape_alone_could_not_tell():
    record = plain({"LF": 1.5}, visits=10)  # 89 mm before each trim
    found = estimate(spoilt(record, 5, before_mm=98.0), as_of=AS_OF, season=EVEN)
    assert [q.key for q in found.questionable] == ["before_mm"]
    assert "changed round" in found.questionable[0].why
    assert found.feet[0].rate_mm_per_week == pytest.approx(
        rates(record)["LF"], rel=0.01
    )


def test_an_angle_that_slipped_does_not_make_a_guide():
    record = plain(CLEAN)
    found = estimate(spoilt(record, 7, angle_after_deg=15.0), as_of=AS_OF, season=EVEN)
    assert [q.key for q in found.questionable] == ["angle_after_deg"]
    assert found.guide == "LF"  # all at 50°: the first in order
    lower = spoilt(record, 7 + 16, angle_after_deg=48.0)  # the left hind
    assert estimate(lower, as_of=AS_OF).guide == "LH"


def test_a_lost_shoe_hides_growth_so_its_interval_does_not_count():
    record = plain({"LF": 2.0})
    worn = spoilt(record, 4, before_mm=84.0, lost_shoe=True)
    found = estimate(worn, as_of=AS_OF, season=EVEN)
    assert found.questionable == ()
    assert found.feet[0].intervals == 6
    assert found.feet[0].rate_mm_per_week == pytest.approx(2.0, abs=0.02)


def test_two_readings_on_a_day_are_one_and_shown():
    day = START + timedelta(weeks=6)
    readings = (
        Reading("LF", START, after_mm=80),
        Reading("LF", day, 92, 80),
        Reading("LF", day, 92, 80),
    )
    twice = estimate(Record(HorseFacts(), readings), as_of=AS_OF)
    once = estimate(Record(HorseFacts(), readings[:2]), as_of=AS_OF)
    assert twice.feet == once.feet
    assert {q.key for q in twice.questionable} == {"before_mm", "after_mm"}
    assert not once.questionable


def test_before_and_after_in_two_rows_of_a_day_are_one_visit():
    readings = (
        Reading("LF", START, after_mm=80),
        Reading("LF", START + timedelta(weeks=6), before_mm=92),
        Reading("LF", START + timedelta(weeks=6), after_mm=81),
        Reading("LF", START + timedelta(weeks=12), before_mm=93),
    )
    found = estimate(Record(HorseFacts(), readings), as_of=AS_OF)
    assert found.feet[0].intervals == 2
    assert not found.questionable


def test_a_reading_after_the_day_asked_for_is_shown_and_left_out():
    record = plain({"LF": 2.0})
    early = estimate(record, as_of=record.readings[3].day, season=EVEN)
    assert early.feet[0].intervals == 3
    assert [q.key for q in early.questionable] == ["day"] * 4


def test_the_order_of_readings_does_not_matter():
    record = make_herd(1, seed=4).records[0]
    turned = replace(record, readings=record.readings[::-1])
    one, other = (estimate(each, as_of=AS_OF) for each in (record, turned))
    assert one.feet == other.feet


def test_a_horse_unlike_all_others_is_believed_once_it_says_so_often_enough():
    """Redescending weights must not hold a whole horse for a slip."""
    found = rates(plain(dict.fromkeys(FEET, 4.2)))
    assert found["LF"] == pytest.approx(4.2, rel=0.04)


def test_weights_fall_from_one_to_nothing():
    weights = hampel(np.array([0, 2.5, -3, 4, 5.5, 7, 40.0]))
    assert weights[0] == weights[1] == 1
    assert np.all(np.diff(np.delete(weights, 0)) <= 0)
    assert weights[-2] == weights[-1] == 0


# ---- Season ------------------------------------------------------------------------
def test_a_season_has_the_mean_of_one_and_turns_with_the_hemisphere():
    for hemisphere in ("north", "south"):
        season = default_season(hemisphere)
        year = np.array([date(2025, 1, 1).toordinal(), date(2026, 1, 1).toordinal()])
        assert np.diff(weeks_until(year, season))[0] == pytest.approx(365 / 7)
    assert default_season("south").factors[0] == pytest.approx(
        default_season("north").factors[6], abs=0.01
    )
    with pytest.raises(ValueError, match="twelve"):
        Season.of([1, 2, 3])
    with pytest.raises(ValueError, match="twelve"):
        Season.of([0] * 12)


def test_growing_weeks_are_the_sum_of_each_days_factor():
    season = seasonal()
    first = date(2023, 11, 20).toordinal()
    days = np.arange(first, first + 900)  # over a leap day
    by_day = np.array(season.factors)[months_of(days)] / 7
    assert np.diff(weeks_until(days, season)) == pytest.approx(by_day[:-1])


def test_the_default_season_leaves_readings_alone_and_a_learnt_one_corrects_them():
    winter = tuple(
        Reading("LF", date(2025, 11, 20) + timedelta(weeks=6 * n), 92, 80)
        for n in range(3)
    )
    record = Record(HorseFacts(feet=("LF",)), winter)
    rate = [
        estimate(record, as_of=AS_OF, season=season).feet[0].rate_mm_per_week
        for season in (default_season("north"), default_season("south"), EVEN)
    ]
    assert rate[0] == rate[1] == rate[2]
    learnt = replace(default_season("north"), corrects=True)
    assert (
        estimate(record, as_of=AS_OF, season=learnt).feet[0].rate_mm_per_week > rate[0]
    )


# ---- Learning ----------------------------------------------------------------------
@pytest.fixture(scope="module")
def slow_herd():
    return make_herd(120, visits=9, mean=1.6, horse_sd=0.3, foot_sd=0.1, seed=7)


def test_a_practices_own_records_move_its_priors(slow_herd):
    learnt = learn_priors(slow_herd.records, as_of=AS_OF, season=EVEN)
    prior = learnt.of["adult", True]
    assert prior.mean == pytest.approx(1.6, abs=0.08)
    assert prior.horse_sd == pytest.approx(0.3, abs=0.05)
    assert prior.foot_sd == pytest.approx(0.1, abs=0.04)
    assert learnt.horses == 120
    # Of foals it has said nothing.
    assert learnt.of["foal", True].mean == default_priors().of["foal", True].mean


def test_few_records_move_the_defaults_little(slow_herd):
    few = learn_priors(slow_herd.records[:2], as_of=AS_OF, season=EVEN)
    assert 1.7 < few.of["adult", True].mean < 2.1
    assert learn_priors([], as_of=AS_OF) == default_priors()


def test_learnt_priors_are_not_swung_by_slips(slow_herd):
    spoilt_records = [
        replace(
            record,
            readings=tuple(
                one._replace(before_mm=(one.before_mm or 0) + 40)
                if at % 23 == number % 23
                else one
                for at, one in enumerate(record.readings)
            ),
        )
        for number, record in enumerate(slow_herd.records)
    ]
    clean, bad = (
        learn_priors(records, as_of=AS_OF, season=EVEN).of["adult", True]
        for records in (slow_herd.records, spoilt_records)
    )
    assert bad.mean == pytest.approx(clean.mean, abs=0.03)
    assert bad.horse_sd == pytest.approx(clean.horse_sd, abs=0.03)


def test_priors_go_through_json_and_back(slow_herd):
    learnt = learn_priors(slow_herd.records[:9], as_of=AS_OF)
    assert Priors.from_dict(learnt.as_dict()) == learnt


def test_a_season_is_learnt_from_enough_records_and_never_from_few():
    truth = seasonal()
    herd = make_herd(50, visits=18, season=truth, seed=3)
    learnt = learn_season(herd.records, as_of=AS_OF)
    assert learnt is not None
    assert learnt.corrects
    assert np.array(learnt.factors) == pytest.approx(np.array(truth.factors), abs=0.06)
    assert learn_season(herd.records[:3], as_of=AS_OF) is None
    assert learn_season([], as_of=AS_OF) is None


def test_many_horses_are_reckoned_as_each_alone():
    herd = make_herd(5, seed=9)
    together = estimate_all(herd.records, as_of=AS_OF)
    for record, found in zip(herd.records, together, strict=True):
        alone = estimate(record, as_of=AS_OF)
        for one, other in zip(alone.feet, found.feet, strict=True):
            assert one.rate_mm_per_week == pytest.approx(other.rate_mm_per_week)
            assert one.sd == pytest.approx(other.sd)
