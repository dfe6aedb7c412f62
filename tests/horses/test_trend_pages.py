"""Trends and effects as pages: what is shown, to whom, and at what cost."""

import io
import re
from datetime import timedelta
from decimal import Decimal
from time import process_time

import pypdf
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from horses.entries import MEASURES
from horses.models import FootRecord, Ownership, VisitRecord
from horses.trends import FOLLOWED
from practice.models import Practice
from tests import factories
from tests.yardstick import yardstick_s

pytestmark = pytest.mark.django_db

FULL = {
    "dorsal_length_mm": 85,
    "trimmed_length_mm": 81,
    "dorsal_angle_deg": 50,
    "trimmed_angle_deg": 51,
    "heel_length_mm": 34,
    "heel_angle_deg": 46,
    "pastern_angle_deg": 51,
    "length_mm": 120,
    "width_mm": 126,
    "widest_from_toe_mm": 60,
    "medial_height_mm": 52,
    "lateral_height_mm": 54,
    "heel_length_medial_mm": 33,
    "heel_length_lateral_mm": 35,
    "frog_width_mm": 50,
    "frog_length_mm": 75,
}
EVERY = len(FOLLOWED)
"""Charts of one pair that was measured in full."""


@pytest.fixture
def bracken(practice, owner):
    return factories.make_horse(name="Bracken", owner=owner.client)


def measured(horse, farrier, *, days_ago, feet=("LF", "RF", "LH", "RH"), **over):
    """A closed visit at which these feet were measured."""
    visit = factories.make_visit(
        horses=[horse],
        farrier=farrier,
        day=timezone.localdate() - timedelta(days=days_ago),
    )
    record = visit.records.get()
    VisitRecord.objects.filter(pk=record.pk).update(is_recorded=True)
    for foot in feet:
        numbers = {name: Decimal(value) for name, value in (FULL | over).items()}
        factories.make_foot_record(record=record, foot=foot, **numbers)
    factories.close(visit)
    return record


def trends_of(horse, **asked):
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    return f"{reverse('horses:trends', args=[horse.pk])}?{query}"


def effects_of(record, **asked):
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    return f"{reverse('horses:record_effects', args=[record.pk])}?{query}"


def text_of(answer, status=200):
    assert answer.status_code == status
    page = answer.content.decode().replace("\u00a0", " ")
    return page.replace("&#x27;", "'")


def charts(page):
    return re.findall(r'data-measure="(\w+)"', page)


# ---- Trends -------------------------------------------------------------------------
def test_all_measures_written_out_are_all_that_a_record_has():
    assert set(FULL) == set(MEASURES)


def test_each_measure_of_each_pair_has_its_chart_and_table(
    as_farrier, bracken, farrier
):
    for n in range(3):
        measured(bracken, farrier, days_ago=42 * n)
    page = text_of(as_farrier.get(trends_of(bracken)))
    found = charts(page)
    assert len(found) == 2 * EVERY
    assert found[:EVERY] == found[EVERY:]
    assert page.count("<table") == 2 * EVERY
    assert "85 mm ± 2 mm" in page
    assert "within the tape's error" in page
    assert "Turner TA (1992)" in page  # a limit names its source


def test_one_foot_asks_for_its_pair_and_tells_its_own_changes(
    as_farrier, bracken, farrier
):
    for n in range(2):
        measured(bracken, farrier, days_ago=42 * n)
    page = text_of(as_farrier.get(trends_of(bracken, foot="LF")))
    assert len(charts(page)) == EVERY
    assert "Hind feet" not in page
    assert "<dt>Left fore</dt>" in page
    assert "<dt>Right fore</dt>" not in page
    assert "right fore</text>" in page


def test_a_foot_that_is_none_is_all_feet(as_farrier, bracken, farrier):
    measured(bracken, farrier, days_ago=1)
    page = text_of(as_farrier.get(trends_of(bracken, foot="<b>")))
    assert len(charts(page)) == 2 * EVERY
    assert "<b>" not in page


def test_two_years_unless_all_are_asked_for(as_farrier, bracken, farrier):
    measured(bracken, farrier, days_ago=1)
    measured(bracken, farrier, days_ago=900)
    assert "1 visit," in text_of(as_farrier.get(trends_of(bracken)))
    assert "2 visits," in text_of(as_farrier.get(trends_of(bracken, years="all")))


def test_a_change_past_the_error_is_called_real(as_farrier, bracken, farrier):
    measured(bracken, farrier, days_ago=365, feet=["LF"], dorsal_angle_deg=54)
    measured(bracken, farrier, days_ago=0, feet=["LF"], dorsal_angle_deg=50)
    page = text_of(as_farrier.get(trends_of(bracken, foot="LF")))
    assert re.search(r"Over a year \(from [^)]+\): −4° ± 1.4°: real", page)


def test_the_practice_s_tape_and_gauge_decide(as_farrier, bracken, farrier):
    Practice.objects.update(length_sd_mm=Decimal("0.50"), angle_sd_deg=Decimal("3.00"))
    measured(bracken, farrier, days_ago=42, feet=["LF"], dorsal_length_mm=87)
    measured(bracken, farrier, days_ago=0, feet=["LF"], dorsal_angle_deg=55)
    page = text_of(as_farrier.get(trends_of(bracken, foot="LF")))
    assert "−2 mm ± 0.7 mm: real" in page
    assert "+5° ± 4.2°: within the gauge's error" in page


def test_a_slip_is_told_and_drawn(as_farrier, bracken, farrier):
    for n in range(5):
        measured(bracken, farrier, days_ago=42 * n, feet=["LF"])
    FootRecord.objects.filter(
        record__visit__day=timezone.localdate() - timedelta(days=84)
    ).update(dorsal_length_mm=58)
    page = text_of(as_farrier.get(trends_of(bracken)))
    assert "1 reading may be a slip" in page
    assert "trend-slip" in page
    assert "questionable" in page
    slipped = FootRecord.objects.get(dorsal_length_mm=58).record_id
    assert reverse("horses:record", args=[slipped]) in page


def test_inches_where_the_practice_works_in_inches(as_farrier, bracken, farrier):
    Practice.objects.update(length_unit="in")
    measured(bracken, farrier, days_ago=0, dorsal_length_mm="88.9")
    page = text_of(as_farrier.get(trends_of(bracken)))
    assert "3 1/2 in ± 0.08 in" in page
    assert " mm ±" not in page


def test_nothing_measured_says_so(as_farrier, bracken, farrier):
    assert "No visit in these 2 years" in text_of(as_farrier.get(trends_of(bracken)))
    visit = factories.make_visit(horses=[bracken], farrier=farrier, closed=True)
    VisitRecord.objects.filter(visit=visit).update(is_recorded=True)
    page = text_of(as_farrier.get(trends_of(bracken)))
    assert "Nothing was measured" in page
    assert charts(page) == []


def test_an_owner_sees_the_own_period_and_no_open_visit(
    as_owner, owner, bracken, farrier
):
    url = reverse("horses:my_trends", args=[bracken.pk])
    measured(bracken, farrier, days_ago=300, dorsal_length_mm=81)
    measured(bracken, farrier, days_ago=200, dorsal_length_mm=82)
    measured(bracken, farrier, days_ago=20, dorsal_length_mm=97)
    ends = timezone.localdate() - timedelta(days=100)
    Ownership.objects.filter(horse=bracken).update(ends=ends)
    page = text_of(as_owner.get(url))
    assert "2 visits," in page
    assert "82 mm ± 2 mm" in page
    assert "97 mm" not in page
    assert "82 ± 2" in page
    assert "97 ± 2" not in page
    assert "/records/" not in page


def test_another_owner_gets_no_charts(as_other_owner, bracken, farrier):
    measured(bracken, farrier, days_ago=0)
    answer = as_other_owner.get(reverse("horses:my_trends", args=[bracken.pk]))
    assert answer.status_code == 404


def test_the_horse_s_pages_lead_there(as_farrier, as_owner, bracken, farrier):
    page = text_of(as_farrier.get(reverse("horses:horse", args=[bracken.pk])))
    assert reverse("horses:trends", args=[bracken.pk]) in page
    mine = text_of(as_owner.get(reverse("horses:my_horse", args=[bracken.pk])))
    assert reverse("horses:my_trends", args=[bracken.pk]) in mine


def test_queries_do_not_grow_with_visits(as_farrier, bracken, farrier, grows_flat):
    days = iter(range(0, 400, 42))

    def make():
        measured(bracken, farrier, days_ago=next(days))

    # session, user, practice, horse, practice again, records, feet
    assert grows_flat(as_farrier, trends_of(bracken), make) == 7


def test_an_owner_s_queries_do_not_grow(as_owner, bracken, farrier, grows_flat):
    days = iter(range(0, 400, 42))

    def make():
        measured(bracken, farrier, days_ago=next(days))

    url = reverse("horses:my_trends", args=[bracken.pk])
    assert grows_flat(as_owner, url, make) == 7


@pytest.mark.slow
def test_two_years_of_four_feet_come_at_once(as_farrier, bracken, farrier):
    """Every measure of four feet at 18 visits: some 50 charts and their tables, in no
    more time than five yardsticks, a quarter of a second on a quiet core."""
    for n in range(18):
        measured(bracken, farrier, days_ago=40 * n)
    took = []
    for _ in range(3):
        measure = yardstick_s()
        start = process_time()
        text_of(as_farrier.get(trends_of(bracken)))
        took.append((process_time() - start) / measure)
    assert min(took) < 5, took


# ---- Effects ------------------------------------------------------------------------
@pytest.fixture
def record(bracken, farrier):
    return measured(bracken, farrier, days_ago=0)


def test_a_quarter_inch_wedge_is_three_degrees_on_the_page(as_farrier, record):
    page = text_of(as_farrier.get(effects_of(record, foot="LF", wedge="6.35")))
    assert "50° ± 1°" in page
    assert "53° ± 1°" in page  # 53.03
    assert "+3° ± 0.05°" in page
    assert "49° ± 1°" in page  # the heels' 46
    assert "A static model; not advice" in page


def test_inches_are_taken_wherever_they_are_typed(as_farrier, record):
    asked = {"foot": "LF", "wedge": "1/4 in"}
    page = as_farrier.get(reverse("horses:record_effects", args=[record.pk]), asked)
    assert "+3° ± 0.05°" in text_of(page)


def test_degrees_of_wedge_are_those_degrees(as_farrier, record):
    page = text_of(as_farrier.get(effects_of(record, foot="LF", wedge_deg="2")))
    assert "+2° ± 0°" in page


def test_setting_back_shortens_the_lever_alone(as_farrier, record):
    page = text_of(as_farrier.get(effects_of(record, foot="LF", set_back="6")))
    assert "54 mm ± 2 mm" in page
    assert "−10 % ± 0.3 %" in page


def test_the_figures_alone_are_a_piece_of_the_page(as_farrier, record):
    asked = effects_of(record, foot="LF", toe_off="3", part="figures")
    piece = text_of(as_farrier.get(asked))
    assert "<html" not in piece
    assert "Lever at breakover" in piece
    assert piece.strip() in text_of(
        as_farrier.get(effects_of(record, foot="LF", toe_off="3"))
    )


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"wedge_deg": "40"}, "Between nothing and 12°"),
        ({"toe_off": "500"}, "Between nothing and 30 mm"),
        ({"heel_off": "lots"}, "Write it like"),
        ({"wedge_deg": "2", "wedge": "5"}, "one of the two"),
        ({"wedge_at": "side"}, "Select a valid choice"),
        ({"set_back": "-3"}, "be negative"),
    ],
)
def test_what_cannot_be_tried_says_why_and_keeps_what_was_typed(
    as_farrier, record, asked, words
):
    page = text_of(as_farrier.get(effects_of(record, foot="LF", **asked)), 422)
    assert words in page
    for name, value in asked.items():
        if name != "wedge_at":
            assert re.search(rf'name="{name}"[^>]*value="{value}"', page) or re.search(
                rf'value="{value}"[^>]*name="{name}"', page
            )


def test_a_foot_with_too_little_says_what_is_missing(as_farrier, bracken, farrier):
    visit = factories.make_visit(horses=[bracken], farrier=farrier)
    record = visit.records.get()
    factories.make_foot_record(record=record, foot="RF")
    for foot in ("LF", "RF"):
        page = text_of(as_farrier.get(effects_of(record, foot=foot)))
        assert "too little" in page
        assert "Before and after" not in page


def test_without_a_foot_the_first_that_can_be_reckoned_is_shown(
    as_farrier, bracken, farrier
):
    record = measured(bracken, farrier, days_ago=0, feet=["LH"])
    assert "Left hind of Bracken" in text_of(as_farrier.get(effects_of(record)))


def test_nothing_is_kept_and_queries_are_few(as_farrier, record):
    with CaptureQueriesContext(connection) as asked:
        text_of(as_farrier.get(effects_of(record, foot="LF", toe_off="3")))
    assert len(asked) == 7
    assert not any(row["sql"].startswith(("INSERT", "UPDATE")) for row in asked)


def test_the_record_says_how_the_base_is_split(as_farrier, record):
    page = text_of(as_farrier.get(reverse("horses:record", args=[record.pk])))
    assert "60 mm ± 2 mm (50 % ± 1.9 %); 60 mm ± 2.8 mm (50 % ± 1.9 %)" in page
    assert effects_of(record).rstrip("?") in page


# ---- Changes on a record ------------------------------------------------------------
def test_a_record_tells_what_really_changed_and_counts_the_rest(
    as_farrier, bracken, farrier
):
    measured(bracken, farrier, days_ago=365, feet=["LF"], dorsal_angle_deg=56)
    measured(bracken, farrier, days_ago=42, feet=["LF"], dorsal_angle_deg=51)
    record = measured(bracken, farrier, days_ago=0, feet=["LF"])
    measured(bracken, farrier, days_ago=-1, feet=["LF"], dorsal_length_mm=60)
    page = text_of(as_farrier.get(reverse("horses:record_changes", args=[record.pk])))
    assert re.search(r"Toe angle, over a year, from [^:]+: −6° ± 1.4°: real", page)
    assert "Toe angle, since" not in page
    real = page.count(": real")
    compared = 2 * (EVERY - 1)  # the pair's figure needs the other foot
    assert f"{compared - real} changes of {compared} within the error" in page
    assert "Toe length" not in page  # tomorrow's visit doesn't count yet


def test_a_first_record_has_nothing_to_be_held_against(as_farrier, record):
    page = text_of(as_farrier.get(reverse("horses:record_changes", args=[record.pk])))
    assert "no earlier measurement" in page


def test_a_record_s_page_leads_to_its_changes(as_farrier, record):
    page = text_of(as_farrier.get(reverse("horses:record", args=[record.pk])))
    assert reverse("horses:record_changes", args=[record.pk]) in page


def test_changes_ask_no_more_for_a_longer_history(
    as_farrier, bracken, farrier, record, grows_flat
):
    days = iter(range(42, 500, 42))

    def make():
        measured(bracken, farrier, days_ago=next(days))

    url = reverse("horses:record_changes", args=[record.pk])
    assert grows_flat(as_farrier, url, make) == 7


# ---- The practice's tape and gauge ---------------------------------------------------
def test_record_and_report_go_by_the_practice_s_tape_and_gauge(
    as_farrier, bracken, farrier
):
    Practice.objects.update(length_sd_mm=Decimal("1.00"), angle_sd_deg=Decimal("3.00"))
    steep = {"dorsal_angle_deg": 56, "heel_angle_deg": 46}
    visit = factories.make_visit(horses=[bracken], farrier=farrier)
    record = visit.records.get()
    VisitRecord.objects.filter(pk=record.pk).update(is_recorded=True)
    factories.make_foot_record(record=record, **(FULL | steep))
    page = text_of(as_farrier.get(reverse("horses:record", args=[record.pk])))
    # 3° × √2 of two angles, 1 mm × √2 of two lengths
    assert "10° ± 4.2°" in page
    assert "2 mm ± 1.4 mm" in page
    factories.close(visit)
    told = text_of(as_farrier.get(reverse("horses:record", args=[record.pk])))
    assert "10° ± 4.2°" in told
    printed = as_farrier.get(reverse("horses:record_report", args=[record.pk])).content
    words = " ".join(
        sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(printed)).pages
    )
    assert "10° ± 4.2°" in " ".join(words.split())
