"""When a horse is next due, what it comes to if left, and how that is said."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from horses.growth import (
    EVEN,
    HorseFacts,
    Limits,
    Reading,
    Record,
    Shape,
    default_season,
    estimate,
    left_to,
    leverage_of,
    policy_for,
    say_left,
    why,
    window,
    windows_all,
    with_limits,
    would_change,
)
from horses.growth.effects import after_gain, capsules_of
from horses.growth.season import weeks_until
from horses.growth.uses import USE_DEFAULTS
from horses.hoof import FEET
from horses.models import Horse
from tests.horses.herd import AS_OF, make_herd

START = date(2024, 10, 7)


def record_of(rates, *, visits=12, angles=None, **facts):
    readings = tuple(
        Reading(
            foot,
            START + timedelta(weeks=6 * visit),
            80 + rate * 6,
            80.0,
            (angles or {}).get(foot, 51.0),
        )
        for foot, rate in rates.items()
        for visit in range(visits)
    )
    return Record(HorseFacts(feet=tuple(rates), **facts), readings)


def due(record, season=EVEN, **policy):
    found = estimate(record, as_of=AS_OF, season=EVEN)
    asked = policy_for(record.facts.use, found.age_years, **policy)
    return window(found, asked, season=season), found, asked


ALIKE = dict.fromkeys(FEET, 2.0)
WIDE = {"least_weeks": 1, "most_weeks": 30, "latest_weeks": 40}


def test_the_target_is_the_day_on_which_the_limit_is_expected():
    found, of, _ = due(record_of(ALIKE), **WIDE)
    last = START + timedelta(weeks=6 * 11)
    assert found.start == of.last_visit == last
    rate = of.feet[0].rate_mm_per_week
    assert (found.target - last).days == round(7 * 12 / rate)
    assert found.basis == "growth"
    slow = (found.latest - last).days
    assert slow == int(7 * 12 / of.feet[0].low80)
    fast = (found.ready_by - last).days
    assert fast == round(7 * 12 / of.feet[0].high80)
    assert (found.earliest - last).days == pytest.approx(7 * 8 / rate, abs=1)


def test_the_season_moves_the_window_and_the_other_half_of_the_earth_turns_it():
    record = record_of(ALIKE)
    found = [
        due(record, season, **WIDE)[0].target
        for season in (default_season("north"), EVEN, default_season("south"))
    ]
    # From the middle of January on: winter here, summer there.
    assert found[0] > found[1] > found[2]


def test_the_first_foot_and_the_first_limit_decide():
    rates = ALIKE | {"LH": 2.8}
    found, _, _ = due(record_of(rates), **WIDE)
    assert (found.foot, found.limit) == ("LH", "toe_gain")
    found, _, _ = due(record_of(ALIKE), lever_gain_percent=5, **WIDE)
    assert found.limit == "lever_gain"
    found, _, _ = due(record_of(ALIKE), angle_loss_deg=0.5, **WIDE)
    assert found.limit == "angle_loss"


def test_a_lower_toe_reaches_the_lever_first_and_guides():
    angles = {"RF": 46.0}
    found, of, _ = due(record_of(ALIKE, angles=angles), lever_gain_percent=8, **WIDE)
    assert of.guide == found.guide == found.foot == "RF"


def test_of_feet_due_at_once_the_guide_is_named():
    found, _, _ = due(record_of(ALIKE, angles={"LH": 48.0}), **WIDE)
    assert (found.foot, found.guide) == ("LH", "LH")
    found, _, _ = due(record_of(ALIKE), **WIDE)
    assert (found.foot, found.guide) == ("LF", "LF")


def test_a_foot_never_measured_does_not_decide_for_those_that_are():
    record = record_of({"LF": 1.5})
    whole = replace(record, facts=replace(record.facts, feet=FEET))
    assert due(whole, **WIDE)[0].target == due(record, **WIDE)[0].target


# ---- Weeks -------------------------------------------------------------------------
def test_weeks_of_the_use_hold_the_target():
    slow, _, asked = due(record_of(dict.fromkeys(FEET, 0.9), use="racing"))
    assert (slow.target - slow.start).days == 7 * asked.most_weeks
    assert slow.bound == "most"
    assert (slow.latest - slow.start).days <= 7 * asked.latest_weeks
    fast, _, asked = due(record_of(dict.fromkeys(FEET, 4.0)))
    assert (fast.target - fast.start).days == 7 * asked.least_weeks
    assert fast.bound == "least"


def test_the_hard_latest_caps_all_but_what_was_asked_for():
    found, _, _ = due(record_of(dict.fromkeys(FEET, 0.9)), latest_weeks=5)
    assert found.latest == found.target == found.start + timedelta(weeks=5)
    found, _, _ = due(record_of(ALIKE), latest_weeks=5, set_weeks=7)
    assert found.target == found.latest == found.start + timedelta(weeks=7)
    found, _, _ = due(record_of(ALIKE), latest_weeks=7, set_weeks=6)
    assert found.latest == found.start + timedelta(weeks=7)


def test_set_weeks_win_over_growth_and_a_vets_over_all():
    found, _, asked = due(record_of(ALIKE), set_weeks=9)
    assert found.basis == "set"
    assert found.target == found.start + timedelta(weeks=9)
    assert found.earliest < found.target < found.latest
    assert "9 weeks" in why(found, asked)
    found, _, asked = due(record_of(ALIKE), set_weeks=9, vet_weeks=4)
    assert found.basis == "vet"
    assert found.target == found.latest == found.start + timedelta(weeks=4)
    assert "vet" in why(found, asked)
    assert "before all else" in why(found, asked)


def test_what_is_said_lets_a_default_give_way():
    assert policy_for("hacking", most_weeks=3).least_weeks == 3
    longer = policy_for("hacking", least_weeks=11)
    assert longer.least_weeks == longer.most_weeks == longer.latest_weeks == 11
    assert policy_for("racing", most_weeks=9).latest_weeks == 9
    assert policy_for("hacking", latest_weeks=2).most_weeks == 2
    with pytest.raises(ValueError, match="least"):
        policy_for("hacking", least_weeks=9, most_weeks=8)


def test_every_use_has_its_weeks_and_a_foal_its_own():
    assert set(USE_DEFAULTS) == {"", *Horse.Use.values}
    for use, weeks in USE_DEFAULTS.items():
        assert weeks.least < weeks.most < weeks.latest, use
        assert weeks.source
    assert policy_for("breeding", 0).most_weeks < policy_for("breeding", 5).most_weeks


def test_a_new_horse_has_a_window_of_its_use_and_age_alone():
    found = {}
    for name, facts in {
        "hack": HorseFacts("hacking", AS_OF.year - 9),
        "foal": HorseFacts("youngstock", AS_OF.year, shod=False),
        "aged": HorseFacts("retired", AS_OF.year - 26, shod=False),
    }.items():
        one = estimate(Record(facts), as_of=AS_OF)
        got = window(one, policy_for(facts.use, one.age_years))
        assert got.basis == "use"
        assert not got.has_visit
        found[name] = (got.target - AS_OF).days / 7
    assert found["foal"] < found["hack"] < found["aged"]
    assert 4 <= found["hack"] <= 8
    assert 3 <= found["foal"] <= 5


# ---- What must never happen --------------------------------------------------------
def test_a_tighter_limit_is_never_due_later():
    records = make_herd(30, visits=4, seed=5).records
    found = [estimate(record, as_of=AS_OF) for record in records]
    names = {
        "toe_gain_mm": (4, 8, 12, 20),
        "lever_gain_percent": (3, 8, 14, 40),
        "angle_loss_deg": (0.3, 1, 3, 9),
    }
    for name, values in names.items():
        before = None
        for value in values:
            policy = policy_for("", **({"toe_gain_mm": 40} | {name: value}))
            now = windows_all(found, [policy] * len(found))
            if before:
                for one, other in zip(before, now, strict=True):
                    for day in ("earliest", "target", "latest", "ready_by"):
                        assert getattr(one, day) <= getattr(other, day)
            before = now


def test_slower_growth_is_never_due_earlier():
    targets = [due(record_of(dict.fromkeys(FEET, r / 10)))[0] for r in range(0, 50, 3)]
    for faster, slower in zip(targets[1:], targets, strict=False):
        assert faster.target <= slower.target
        assert faster.latest <= slower.latest


def test_days_stand_in_order_whatever_is_asked():
    records = make_herd(40, visits=3, seed=6, mean=1.5, horse_sd=1.2).records
    found = [estimate(record, as_of=AS_OF) for record in records]
    for asked in (
        {},
        {"least_weeks": 0.2, "most_weeks": 0.3},
        {"latest_weeks": 1},
        {"set_weeks": 0.1},
        {"vet_weeks": 104},
        {"toe_gain_mm": 0.001},
        {"toe_gain_mm": 100, "most_weeks": 104},
    ):
        for one in windows_all(found, [policy_for("", **asked)] * len(found)):
            days = (one.start, one.earliest, one.ready_by, one.target, one.latest)
            assert list(days) == sorted(days), asked


def test_without_any_limit_the_most_weeks_decide():
    found = estimate(record_of(ALIKE), as_of=AS_OF)
    policy = with_limits(policy_for("hacking"), Limits(None, None, None))
    got = window(found, policy)
    assert (got.target - got.start).days == 56
    assert "no limit is set" in why(got, policy)


def test_two_thousand_windows_are_each_as_alone():
    records = make_herd(6, seed=8).records
    found = [estimate(record, as_of=AS_OF) for record in records]
    policy = policy_for("dressage", lever_gain_percent=12)
    together = windows_all(found, [policy] * 6)
    assert together == [window(one, policy) for one in found]


# ---- Left to a day -----------------------------------------------------------------
def test_growth_at_many_feet_is_that_of_hoof_at_one():
    facts = HorseFacts(shapes={"RF": Shape(130, 66, 44.0)}, shod=True)
    found = estimate(replace(record_of(ALIKE), facts=facts), as_of=AS_OF)
    capsules = capsules_of(found.feet, [facts] * 4)
    for gain in (0.0, 3.0, 11.0, 25.0):
        lever, loss = after_gain(capsules, np.full(4, gain))
        for at, foot in enumerate(found.feet):
            one = leverage_of(foot, facts, gain)
            assert lever[at] == pytest.approx(one.lever_change_percent, abs=1e-6)
            assert loss[at] == pytest.approx(one.angle_loss_deg, abs=1e-6)


def test_what_a_foot_comes_to_if_it_is_left():
    found = estimate(record_of(ALIKE), as_of=AS_OF, season=EVEN)
    last = found.last_visit
    for weeks in (0, 5, 8):
        left = left_to(found, last + timedelta(weeks=weeks), season=EVEN)
        for one, foot in zip(left, found.feet, strict=True):
            assert one.gain_mm.value == pytest.approx(weeks * foot.rate_mm_per_week)
            assert one.gain_mm.low80 == pytest.approx(weeks * foot.low80)
            for band in (one.gain_mm, one.lever_percent, one.angle_loss_deg):
                assert band.low80 <= band.value <= band.high80
    assert left_to(found, date(2000, 1, 1))[0].gain_mm.value == 0


def test_left_to_the_target_the_limit_is_reached():
    record = record_of(ALIKE)
    season = default_season()
    for limit, value in (
        ("toe_gain_mm", 12.0),
        ("lever_gain_percent", 14.0),
        ("angle_loss_deg", 2.0),
    ):
        asked = {"toe_gain_mm": 90.0} | {limit: value}
        found, of, _ = due(record, season, **WIDE, **asked)
        left = {one.foot: one for one in left_to(of, found.target, season=season)}
        band = {
            "toe_gain_mm": left[found.foot].gain_mm,
            "lever_gain_percent": left[found.foot].lever_percent,
            "angle_loss_deg": left[found.foot].angle_loss_deg,
        }[limit]
        assert band.value == pytest.approx(value, rel=0.02)


def test_it_is_said_in_one_line():
    found = estimate(record_of(ALIKE, visits=2), as_of=AS_OF, season=EVEN)
    day = found.last_visit + timedelta(weeks=5)
    text = say_left(left_to(found, day, season=EVEN)[0], day)
    assert text.startswith("If left to ")
    assert "+10\u00a0mm (9–12), lever +1" in text


# ---- Words -------------------------------------------------------------------------
def test_why_and_what_would_change_it():
    found, of, asked = due(record_of(ALIKE))
    text = why(found, asked)
    assert "left fore grows 2\u00a0mm a week" in text
    assert "80\u00a0% band" in text
    assert "12\u00a0mm gained at the toe" in text
    assert text.count(". ") == 0
    assert text.endswith(".")
    assert would_change(of, found, asked)
    found, of, asked = due(record_of(dict.fromkeys(FEET, 0.9)))
    assert "waits at most 8 weeks" in why(found, asked)
    one = estimate(Record(HorseFacts()), as_of=AS_OF)
    new = window(one, policy_for(""))
    text = why(new, policy_for(""))
    assert "no interval is measured yet" in text
    assert "no visit is known" in text
    assert any("Measuring" in line for line in would_change(one, new, policy_for("")))


def test_lengths_and_days_are_said_as_the_practice_says_them():
    found, _, asked = due(record_of(ALIKE))
    text = why(found, asked, length=lambda mm: f"<{mm:.2f}>", day=lambda d: f"{d:%j}")
    assert "<12.00>" in text
    assert f"{found.target:%j}" in text


def test_the_days_are_those_of_the_season_to_the_day():
    """The first day on which the growing weeks suffice, found by walking."""
    season = default_season()
    found, of, _ = due(record_of(ALIKE), season, **WIDE)
    need = 12 / of.feet[0].rate_mm_per_week
    day = found.start
    while True:
        span = np.array([found.start.toordinal(), day.toordinal()])
        if np.diff(weeks_until(span, season))[0] >= need:
            break
        day += timedelta(days=1)
    assert abs((day - found.target).days) <= 1
