"""How a due window comes about: growth, set weeks, a vet's weeks, limits, season."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from horses.growth import estimate
from horses.models import (
    DueWindow,
    Finding,
    Horse,
    HorseInterval,
    IntervalLimits,
    IntervalSettings,
)
from horses.selectors.growth import house, limits_said, measured, policy_of
from horses.services.horses import refresh_all_due_windows, refresh_due_window
from horses.services.intervals import (
    change_horse_interval,
    change_interval_settings,
    change_limits,
    learn_from_records,
)
from horses.services.register import change_horse
from practice.errors import Refused
from practice.models import Change, Practice
from practice.services.practice import change_practice
from tests import factories

TODAY = date(2026, 3, 2)
Basis = DueWindow.Basis


def attended(horse, farrier, day, *, before=None, after=None, **over):
    """A closed visit with the same lengths on all four feet."""
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=day)
    record = visit.records.get()
    for foot in ("LF", "RF", "LH", "RH"):
        fields = {
            "work": "new_shoe",
            "dorsal_length_mm": before,
            "trimmed_length_mm": after,
            "trimmed_angle_deg": Decimal(50 if foot == "RF" else 52),
        }
        factories.make_foot_record(record=record, foot=foot, **{**fields, **over})
    factories.close(visit)
    return record


def followed(farrier, *, rate=2.0, visits=4, last=date(2026, 2, 2), **over):
    """A horse whose toes gain ``rate`` mm a week between visits six weeks apart."""
    horse = factories.make_horse(foaled_year=2015, today=TODAY, **over)
    for number in range(visits)[::-1]:
        attended(
            horse,
            farrier,
            last - timedelta(weeks=6 * number),
            before=Decimal(str(84 + 6 * rate)),
            after=Decimal(84),
        )
    return horse


def window_of(horse, today=TODAY):
    return refresh_due_window(horse=Horse.objects.get(pk=horse.pk), today=today)


def policy(horse, farrier, **over):
    fields = {"interval_weeks": horse.interval_weeks, "by": farrier, "today": TODAY}
    return change_horse_interval(horse=horse, **{**fields, **over})


# ---- From use and age, then from its own growth ------------------------------------
def test_a_new_horse_gets_a_window_from_its_use_and_age_alone(farrier):
    racer = factories.make_horse(use="racing", foaled_year=2020, today=TODAY)
    cob = factories.make_horse(use="retired", foaled_year=2001, today=TODAY)
    for horse in (racer, cob):
        factories.make_visit(horses=[horse], farrier=farrier, day=TODAY, closed=True)
    soon, late = window_of(racer), window_of(cob)
    assert soon.basis == late.basis == Basis.USE
    assert soon.target < late.target
    assert soon.earliest < soon.target <= soon.latest
    assert "usual for such a horse" in soon.why


def test_after_three_visits_its_own_growth_decides(farrier):
    slow, fast = (followed(farrier, rate=rate, visits=3) for rate in (1.5, 2.6))
    late, soon = window_of(slow), window_of(fast)
    assert soon.basis == late.basis == Basis.GROWTH
    assert soon.target < late.target
    assert soon.guide_foot == "RF"  # the lowest angle
    assert soon.earliest <= soon.ready_by <= soon.target <= soon.latest
    assert "grows" in soon.why


def test_a_slip_of_a_digit_warns_and_hardly_moves_the_window(farrier):
    horse = followed(farrier, visits=5)
    before = window_of(horse)
    assert before.questionable == 0
    foot = horse.records.order_by("-visit__day").first().feet.get(foot="LF")
    foot.dorsal_length_mm = Decimal("196.0")  # 96 typed with a digit too many
    foot.save(update_fields=["dorsal_length_mm"])
    after = window_of(horse)
    assert after.questionable >= 1
    assert abs((after.target - before.target).days) <= 2


def test_a_lost_shoe_is_known_to_growth(farrier):
    """Wear hides what grew in that time."""
    horse = followed(farrier, visits=3)
    foot = horse.records.order_by("-visit__day").first().feet.get(foot="LF")
    Finding.objects.create(foot_record=foot, kind="lost_shoe", place="whole_foot")
    readings = measured([horse], today=TODAY)[horse.pk].record.readings
    lost = [(one.foot, one.day) for one in readings if one.lost_shoe]
    assert lost == [("LF", date(2026, 2, 2))]


def test_a_foot_seen_twice_on_a_day_came_as_it_came_and_left_as_it_left(farrier):
    """A shoe nailed on again in the evening doesn't undo the morning's trim."""
    horse = factories.make_horse(today=TODAY)
    day = date(2026, 2, 2)
    attended(horse, farrier, day, before=Decimal(96), after=Decimal(84))
    attended(horse, farrier, day, before=Decimal(84), work="none")
    readings = measured([horse], today=TODAY)[horse.pk].record.readings
    assert {(one.before_mm, one.after_mm, one.day) for one in readings} == {
        (96.0, 84.0, day)
    }
    assert len(readings) == 4


def test_a_visit_that_left_a_foot_alone_and_unmeasured_ends_no_interval(farrier):
    horse = followed(farrier, visits=2)
    alone = attended(horse, farrier, date(2026, 1, 12), work="none")
    alone.feet.update(dorsal_angle_deg=None, trimmed_angle_deg=None)
    found = estimate(measured([horse], today=TODAY)[horse.pk].record, as_of=TODAY)
    assert found.intervals == 4


# ---- What wins ---------------------------------------------------------------------
def test_set_weeks_are_kept_until_the_farrier_says_otherwise(farrier):
    horse = followed(farrier, interval_weeks=9)
    assert (window_of(horse).basis, window_of(horse).weeks) == (Basis.SET_INTERVAL, 9)
    policy(horse, farrier, way="growth")
    assert horse.due_window.__class__.objects.get(horse=horse).basis == Basis.GROWTH
    policy(horse, farrier, way="set")
    assert DueWindow.objects.get(horse=horse).basis == Basis.SET_INTERVAL


def test_one_switch_lets_growth_win_for_all_but_those_told_to_keep_theirs(farrier):
    one, keeps = (followed(farrier, interval_weeks=9) for _ in range(2))
    policy(keeps, farrier, way="set")
    change_interval_settings(by=farrier, today=TODAY, set_weeks_win=False)
    assert DueWindow.objects.get(horse=one).basis == Basis.GROWTH
    assert DueWindow.objects.get(horse=keeps).basis == Basis.SET_INTERVAL


def test_a_vets_weeks_win_over_all_say_so_and_end(farrier):
    horse = followed(farrier, interval_weeks=9)
    policy(
        horse,
        farrier,
        vet_weeks=4,
        vet_name="M. Strang, vet",
        vet_said_on=date(2026, 2, 1),
        vet_until=date(2026, 4, 30),
    )
    window = DueWindow.objects.get(horse=horse)
    assert (window.basis, window.target) == (Basis.VET, date(2026, 3, 2))
    assert "M. Strang, vet asked for 4 weeks on 1 February 2026" in window.why
    later = window_of(horse, today=date(2026, 5, 1))
    assert later.basis == Basis.SET_INTERVAL


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"vet_weeks": 4}, "vet_name"),
        ({"vet_weeks": 4, "vet_name": "M. Strang"}, "vet_said_on"),
        ({"vet_name": "M. Strang"}, "vet_weeks"),
        (
            {
                "vet_weeks": 4,
                "vet_name": "M. Strang",
                "vet_said_on": TODAY,
                "vet_until": TODAY - timedelta(days=1),
            },
            "vet_until",
        ),
        ({"way": "set"}, "interval_weeks"),
        ({"way": "moon"}, "way"),
        ({"toe_gain_mm": Decimal(0)}, "toe_gain_mm"),
        ({"least_weeks": 8, "most_weeks": 6}, "most_weeks"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(farrier, given, field):
    horse = factories.make_horse(today=TODAY)
    with pytest.raises(Refused) as refusal:
        policy(horse, farrier, **given)
    assert refusal.value.field == field


# ---- Limits ------------------------------------------------------------------------
def test_the_most_specific_limit_wins(farrier):
    horse = factories.make_horse(use="dressage", today=TODAY)
    change_limits(use="", by=farrier, today=TODAY, toe_gain_mm=Decimal(11))
    change_limits(use="dressage", by=farrier, today=TODAY, toe_gain_mm=Decimal(9))
    own = policy(horse, farrier, toe_gain_mm=Decimal(7), most_weeks=6)
    held = house()
    said = limits_said("dressage", own, held.limits)
    assert (said["toe_gain_mm"].value, said["toe_gain_mm"].by) == (7, "horse")
    assert limits_said("dressage", None, held.limits)["toe_gain_mm"].by == "use"
    assert limits_said("polo", None, held.limits)["toe_gain_mm"].by == "practice"
    horse = Horse.objects.select_related("interval_policy").get(pk=horse.pk)
    assert policy_of(horse, held, today=TODAY).limits.toe_gain_mm == 7


def test_weeks_of_two_levels_that_contradict_give_way_to_the_nearer(farrier):
    change_limits(use="", by=farrier, today=TODAY, least_weeks=6)
    change_limits(use="racing", by=farrier, today=TODAY, most_weeks=4)
    horse = factories.make_horse(use="racing", today=TODAY)
    found = policy_of(horse, house(), today=TODAY)
    assert found.least_weeks <= found.most_weeks == 4


def test_a_tighter_limit_moves_the_windows_of_that_use_at_once(farrier):
    horse, other = followed(farrier, use="dressage"), followed(farrier, use="polo")
    refresh_all_due_windows(today=TODAY)
    before = DueWindow.objects.get(horse=horse)
    stays = DueWindow.objects.get(horse=other)
    change_limits(use="dressage", by=farrier, today=TODAY, toe_gain_mm=Decimal(9))
    after = DueWindow.objects.get(horse=horse)
    assert after.target < before.target
    assert DueWindow.objects.get(horse=other).target == stays.target
    noted = Change.objects.get(action="change limits")
    assert noted.after == {"toe_gain_mm": "9"}
    change_limits(use="dressage", by=farrier, today=TODAY, toe_gain_mm=Decimal(9))
    assert Change.objects.filter(action="change limits").count() == 1
    assert IntervalLimits.objects.count() == 1


def test_a_horse_whose_use_changes_moves_at_once(farrier):
    horse = factories.make_horse(use="retired", today=TODAY)
    factories.make_visit(horses=[horse], farrier=farrier, day=TODAY, closed=True)
    before = window_of(horse).target
    change_horse(horse=horse, by=farrier, today=TODAY, use="racing")
    assert DueWindow.objects.get(horse=horse).target < before


def test_the_policy_is_kept_with_who_changed_it(farrier):
    horse = factories.make_horse(today=TODAY)
    policy(horse, farrier, toe_gain_mm=Decimal(9), interval_weeks=7)
    policy(horse, farrier, toe_gain_mm=Decimal(9), interval_weeks=7)
    told = Change.objects.filter(label="horses.horse", object_id=str(horse.pk))
    assert list(told.values_list("action", flat=True)) == [
        "change interval",
        "change horse",
    ]
    assert HorseInterval.objects.get().toe_gain_mm == 9


# ---- Season and prior --------------------------------------------------------------
def test_the_season_follows_home_and_can_be_set(farrier):
    assert house().season.factors[4] > 1  # May, north
    Practice.objects.update(home_latitude=Decimal("-41.3"), home_longitude=174)
    assert house().season.factors[4] < 1
    change_interval_settings(
        by=farrier,
        today=TODAY,
        hemisphere="north",
        spring=Decimal("1.20"),
        summer=Decimal("1.00"),
        autumn=Decimal("0.90"),
        winter=Decimal("0.90"),
    )
    factors = house().season.factors
    assert factors[4] == pytest.approx(1.2, abs=0.01)
    assert sum(factors) / 12 == pytest.approx(1, abs=0.01)


def test_windows_follow_a_change_of_the_practice_at_once(farrier):
    change_interval_settings(by=farrier, today=TODAY, reckons=False)
    horse = followed(farrier)
    assert window_of(horse).weeks == 6
    change_practice(by=farrier, default_interval_weeks=8)
    assert DueWindow.objects.get(horse=horse).weeks == 8


def test_half_a_season_is_refused(farrier):
    with pytest.raises(Refused) as refusal:
        change_interval_settings(by=farrier, today=TODAY, spring=Decimal("1.2"))
    assert refusal.value.field == "summer"


def test_the_practices_own_records_move_where_a_horse_starts(farrier):
    for _ in range(12):
        followed(farrier, rate=2.9, visits=3)
    new = factories.make_horse(foaled_year=2015, today=TODAY)
    factories.make_visit(horses=[new], farrier=farrier, day=TODAY, closed=True)
    before = window_of(new).target
    row = learn_from_records(today=TODAY)
    assert (row.prior_on, row.prior_horses) == (TODAY, 12)
    assert window_of(new).target < before
    IntervalSettings.objects.update(learns=False)
    assert window_of(new).target == before


# ---- Cost --------------------------------------------------------------------------
def test_windows_cost_the_same_queries_however_many_horses(
    farrier, django_assert_num_queries
):
    for _ in range(2):
        followed(farrier, visits=2)
    with django_assert_num_queries(13):
        refresh_all_due_windows(today=TODAY)
    for _ in range(4):
        followed(farrier, visits=3)
    with django_assert_num_queries(13):
        assert refresh_all_due_windows(today=TODAY) == 6
