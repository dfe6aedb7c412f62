"""The report on lateness: what it reads, whom it shows it to, and at what cost."""

from datetime import timedelta

import pytest
from django.utils import timezone

from horses.growth.months import growth_by_month
from horses.models import Finding, FootRecord, Shoe, VisitRecord
from horses.selectors.lateness import lateness, shoe_label
from tests import factories
from tests.horses.herd import AS_OF, make_herd, seasonal

PAGE = "/horses/lateness/"


def shod(
    horse, farrier, *, days_ago, lost=(), work="new_shoe", thickness=8, feet="LF RF"
):
    """A closed visit at which these feet were shod."""
    day = timezone.localdate() - timedelta(days=days_ago)
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=day, closed=True)
    record = visit.records.get()
    VisitRecord.objects.filter(pk=record.pk).update(is_recorded=True)
    for foot in feet.split():
        row = FootRecord.objects.create(
            record=record,
            foot=foot,
            work=work,
            dorsal_length_mm=92,
            trimmed_length_mm=80,
        )
        if work in ("new_shoe", "reset"):
            Shoe.objects.create(
                foot_record=row,
                profile="fullered",
                metal="steel",
                section_width_mm=20,
                section_thickness_mm=thickness,
            )
        if foot in lost:
            Finding.objects.create(
                foot_record=row, kind="lost_shoe", place="whole_foot"
            )
    return visit


@pytest.fixture
def late_horse(practice, farrier):
    """Wanted every six weeks, done later and later; one shoe lost at the end."""
    horse = factories.make_horse(name="Bracken", interval_weeks=6)
    for days_ago in (336, 294, 252, 200, 146):
        shod(horse, farrier, days_ago=days_ago, feet="LF RF LH RH")
    shod(horse, farrier, days_ago=90, lost=("LF",), feet="LF RF LH RH")
    return horse


@pytest.mark.django_db
def test_what_the_records_say(late_horse, farrier):
    today = timezone.localdate()
    found = lateness(viewer=farrier, since=today - timedelta(days=365), until=today)
    assert found.intervals == 5
    assert [one.count for one in found.shares] == [0, 2, 3, 0]
    assert [one.horse.name for one in found.drifting] == ["Bracken"]
    assert found.drifting[0].drift.last == (52, 54, 56)
    assert found.all_shoes is not None
    assert found.all_shoes.lost == 1
    assert found.all_shoes.horse_weeks == pytest.approx(246 / 7)
    assert [one.label for one in found.by_shoe] == ["20 × 8 mm fullered steel"]
    assert {one.label: one.lost for one in found.by_weeks_on}["7th and 8th week"] == 1
    assert len(found.months) >= 6
    assert not found.is_empty


@pytest.mark.django_db
def test_a_foot_that_went_bare_or_was_only_looked_at(practice, farrier):
    horse = factories.make_horse(name="Flint")
    shod(horse, farrier, days_ago=120)
    shod(horse, farrier, days_ago=106, work="none")  # looked at: the shoes stay on
    shod(horse, farrier, days_ago=78, work="pull")
    shod(horse, farrier, days_ago=50, work="trim")
    today = timezone.localdate()
    found = lateness(viewer=farrier, since=today - timedelta(days=365), until=today)
    assert found.all_shoes is not None
    assert found.all_shoes.horse_weeks == pytest.approx(2 * 6 / 4)
    assert [one.label for one in found.by_weeks_on] == [
        "first 4 weeks",
        "5th and 6th week",
    ]


@pytest.mark.django_db
def test_the_page_is_for_those_who_plan_and_says_what_it_means(
    late_horse, as_farrier, as_apprentice
):
    text = as_farrier.get(PAGE).content.decode()
    assert "A season of lateness" in text
    assert "Bracken" in text
    assert "1 lost in 35 horse-weeks" in text
    assert "Garwood" in text
    assert text.count('class="bars"') == 3
    assert "style=" not in text
    assert as_apprentice.get(PAGE).status_code == 403
    assert as_farrier.get(f"{PAGE}?years=9").status_code == 200


@pytest.mark.django_db
def test_without_records_it_says_so(practice, as_farrier):
    assert "No interval yet" in as_farrier.get(PAGE).content.decode()


@pytest.mark.django_db
def test_its_queries_do_not_grow_with_the_horses(
    practice, farrier, django_assert_num_queries
):
    for number in range(4):
        horse = factories.make_horse(name=f"Horse {number}")
        for days_ago in (100, 50):
            shod(horse, farrier, days_ago=days_ago)
    today = timezone.localdate()
    with django_assert_num_queries(10):
        lateness(viewer=farrier, since=today - timedelta(days=365), until=today)


def test_a_shoe_is_called_by_what_is_said_of_it():
    assert shoe_label("concave", "steel", None, None) == "concave steel"
    assert shoe_label(None, None, None, None) == ""


def test_growth_by_month_is_the_season_that_the_feet_lived():
    truth = seasonal()
    herd = make_herd(25, visits=10, season=truth, seed=2)
    since = AS_OF.replace(year=AS_OF.year - 1)
    found = growth_by_month(herd.records, as_of=AS_OF, since=since, season=truth)
    assert [one.month for one in found] == list(range(1, 13))
    by_month = {one.month: one.rate_mm_per_week for one in found}
    assert by_month[5] > 1.3 * by_month[1]
    for one in found:
        assert one.expected == pytest.approx(one.rate_mm_per_week, rel=0.15)
    assert growth_by_month([], as_of=AS_OF, since=since) == ()
