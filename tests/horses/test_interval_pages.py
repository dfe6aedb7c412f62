"""The next visit on the horse's page, and the pages on which intervals are set."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from horses.models import DueWindow, HorseInterval, IntervalLimits, IntervalSettings
from horses.services.horses import refresh_due_window
from practice.days import between, span
from practice.models import Practice
from tests import factories

pytestmark = pytest.mark.once

WEEK = timedelta(weeks=1)


@pytest.fixture
def seen(farrier):
    """A horse measured at four visits, the last two weeks ago; its last LF can be off."""

    def make(slip=None, **over):
        today = timezone.localdate()
        horse = factories.make_horse(
            name="Rollo", foaled_year=today.year - 11, today=today, **over
        )
        for number in (20, 14, 8, 2):
            visit = factories.make_visit(
                horses=[horse], farrier=farrier, day=today - number * WEEK
            )
            for foot in ("LF", "RF", "LH", "RH"):
                before = slip if slip and number == 2 and foot == "LF" else "96.0"
                factories.make_foot_record(
                    record=visit.records.get(),
                    foot=foot,
                    work="new_shoe",
                    dorsal_length_mm=Decimal(before),
                    trimmed_length_mm=Decimal("84.0"),
                    trimmed_angle_deg=Decimal("51.0"),
                )
            factories.close(visit)
        refresh_due_window(horse=horse, today=today)
        return horse

    return make


def text(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


# ---- The horse's page --------------------------------------------------------------
def test_the_page_says_window_why_and_what_would_change_it(as_farrier, seen):
    horse = seen()
    window = DueWindow.objects.get(horse=horse)
    answer = as_farrier.get(f"/horses/{horse.pk}/")
    said = text(answer)
    assert f"{span(window.earliest, window.latest)}, best" in said
    assert "mm a week" in said
    assert "What would change it" in said
    assert "gain at the toe 12" in said
    page = answer.content.decode()
    assert 'class="trend due-chart"' in page
    assert "The limit is 12" in page
    assert "Check a measurement" not in page


def test_a_slip_is_shown_with_the_way_to_mend_it(as_farrier, as_apprentice, seen):
    horse = seen(slip="69.0")  # 96 with its digits changed round
    record = horse.records.order_by("-visit__day").first()
    page = as_farrier.get(f"/horses/{horse.pk}/").content.decode()
    assert "Check a measurement" in page
    assert "69\u00a0mm" in page
    assert f"/records/{record.pk}/amend/#LF" in page
    assert "trend-slip" in page
    other = as_apprentice.get(f"/horses/{horse.pk}/").content.decode()
    assert f"/records/{record.pk}/#LF" in other
    assert "amend" not in other
    assert "check a measurement" in as_farrier.get("/horses/").content.decode()


def test_what_the_feet_come_to_if_left_to_a_day(as_farrier, seen):
    horse = seen()
    day = timezone.localdate() + 4 * WEEK  # six weeks after the visit
    said = text(as_farrier.get(f"/horses/{horse.pk}/?to={day}"))
    told = re.search(r"Left fore \+(\d+)\s?mm \((\d+)–(\d+)\), lever \+(\d+)\s?%", said)
    assert told, said
    gain, low, high, lever = (int(figure) for figure in told.groups())
    assert low < gain < high
    assert 10 <= gain <= 14  # 12 mm were gained in each six weeks before
    assert lever > 5
    assert "no diagnosis" in said


@pytest.mark.parametrize(
    ("to", "sentence"),
    [
        ("soon", "such as 2026-03-24"),
        ("2001-01-01", "from the last visit on"),
        ("2199-01-01", "within a year"),
        ("", "Choose a day"),
    ],
)
def test_a_day_that_cannot_be_is_refused_beside_it(as_farrier, seen, to, sentence):
    horse = seen()
    answer = as_farrier.get(f"/horses/{horse.pk}/?to={to}")
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_inches_are_said_in_inches(as_farrier, seen):
    Practice.objects.update(length_unit="in")
    horse = seen()
    day = timezone.localdate() + 4 * WEEK
    answer = as_farrier.get(f"/horses/{horse.pk}/?to={day}")
    assert "in a week" in text(answer)
    assert (
        " mm"
        not in text(answer).split("What would change it")[0].split("Next visit")[1]
    )


def test_a_horse_never_visited_has_no_chart_but_is_due(as_farrier):
    horse = factories.make_horse()
    page = as_farrier.get(f"/horses/{horse.pk}/").content.decode()
    assert "No visit is recorded yet" in page
    assert "due-chart" not in page


def test_the_owner_is_told_in_plain_words(as_owner, owner, seen):
    horse = seen(owner=owner.client)
    window = DueWindow.objects.get(horse=horse)
    ahead = timezone.localdate() + WEEK
    DueWindow.objects.filter(horse=horse).update(
        earliest=ahead, target=ahead + WEEK, latest=ahead + 2 * WEEK
    )
    window.refresh_from_db()
    words = f"Due {between(window.earliest, window.latest)}."
    assert words in as_owner.get("/my/").content.decode()
    page = as_owner.get(f"/my/horses/{horse.pk}/").content.decode()
    assert words in page
    assert "due-chart" not in page


def test_the_api_gives_the_window_and_why(as_farrier, seen):
    horse = seen()
    due = as_farrier.get(f"/api/v1/horses/{horse.pk}/").json()["due"]
    assert due["basis"] == "growth"
    assert due["earliest"] <= due["ready_by"] <= due["target"] <= due["latest"]
    assert due["guide_foot"] == "LF"
    assert "grows" in due["why"]
    assert due["questionable"] == 0


# ---- A horse's own policy ----------------------------------------------------------
POLICY = {
    "way": "",
    "interval_weeks": "",
    "vet_weeks": "4",
    "vet_name": "M. Strang, vet",
    "vet_said_on": "2026-02-01",
    "vet_until": "",
    "toe_gain_mm": "9",
}


def test_a_farrier_sets_a_horses_policy_and_its_window_moves(as_farrier, seen):
    horse = seen()
    address = f"/horses/{horse.pk}/interval/"
    assert as_farrier.get(address).status_code == 200
    assert as_farrier.post(address, POLICY).status_code == 302
    own = HorseInterval.objects.get()
    assert (own.vet_weeks, own.toe_gain_mm) == (4, Decimal(9))
    window = DueWindow.objects.get(horse=horse)
    assert (window.basis, window.weeks) == ("vet", 4)
    assert "M. Strang, vet asked" in text(as_farrier.get(f"/horses/{horse.pk}/"))


def test_what_is_wrong_stands_beside_its_field_and_the_rest_is_kept(as_farrier, seen):
    horse = seen()
    bad = POLICY | {"vet_name": "", "toe_gain_mm": "a hand", "vet_note": "laminitis"}
    answer = as_farrier.post(f"/horses/{horse.pk}/interval/", bad)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "laminitis" in page
    assert "a hand" in page
    answer = as_farrier.post(f"/horses/{horse.pk}/interval/", POLICY | {"vet_name": ""})
    assert "Say which vet" in answer.content.decode()
    assert not HorseInterval.objects.exists()


def test_apprentice_and_office_set_no_policy(as_apprentice, as_office, seen):
    horse = seen()
    for browser in (as_apprentice, as_office):
        assert browser.post(f"/horses/{horse.pk}/interval/", POLICY).status_code == 403


# ---- For all -----------------------------------------------------------------------
def test_the_head_farrier_sets_limits_of_a_use(as_farrier, seen):
    horse = seen(use="dressage")
    before = DueWindow.objects.get(horse=horse).target
    form = as_farrier.get("/horses/intervals/dressage/").content.decode()
    assert "most weeks 7 (usual)" in re.sub(r"\s+", " ", form)
    given = {"toe_gain_mm": "3/8 in", "most_weeks": "6"}
    assert as_farrier.post("/horses/intervals/dressage/", given).status_code == 302
    row = IntervalLimits.objects.get()
    assert (row.use, row.toe_gain_mm) == ("dressage", Decimal("9.5"))
    assert DueWindow.objects.get(horse=horse).target < before
    assert "set here" in as_farrier.get("/horses/intervals/").content.decode()
    wrong = {"least_weeks": "7", "most_weeks": "5"}
    answer = as_farrier.post("/horses/intervals/practice/", wrong)
    assert answer.status_code == 422
    assert "not fewer than the least" in answer.content.decode()
    assert as_farrier.get("/horses/intervals/moon/").status_code == 404


def test_the_head_farrier_sets_season_and_switches(as_farrier, seen):
    horse = seen(interval_weeks=9)
    assert DueWindow.objects.get(horse=horse).basis == "set_interval"
    given = {"reckons": "on", "learns": "on", "hemisphere": "south", "spring": "1.1"}
    answer = as_farrier.post("/horses/intervals/", given)
    assert answer.status_code == 422
    assert "all four seasons" in answer.content.decode()
    four = {"summer": "1.05", "autumn": "0.95", "winter": "0.9"}
    assert as_farrier.post("/horses/intervals/", given | four).status_code == 302
    row = IntervalSettings.objects.get()
    assert (row.set_weeks_win, row.hemisphere) == (False, "south")
    assert DueWindow.objects.get(horse=horse).basis == "growth"


def test_others_do_not_enter(as_second_farrier, as_office):
    for browser in (as_second_farrier, as_office):
        assert browser.get("/horses/intervals/").status_code == 403
        assert browser.get("/horses/intervals/dressage/").status_code == 403


def test_the_chart_tells_itself_to_those_who_do_not_see_it():
    from horses.drawing.due import Ahead, DueChart, Gained, due_chart
    from horses.growth.terms import Band

    day = date(2026, 3, 2)
    chart = DueChart(
        foot="LF",
        past=(
            Gained(day - 12 * WEEK, day - 6 * WEEK, 11.0),
            Gained(day - 6 * WEEK, day, 41.0, is_questionable=True),
        ),
        ahead=(
            Ahead(day, Band(0.0, 0.0, 0.0)),
            Ahead(day + 6 * WEEK, Band(12.0, 10.0, 14.0)),
        ),
        limit_mm=12.0,
        earliest=day + 4 * WEEK,
        target=day + 6 * WEEK,
        latest=day + 7 * WEEK,
        today=day + WEEK,
    )
    svg = due_chart(chart)
    assert svg.count("trend-slip") >= 1
    assert "41\u00a0mm from 19 January 2026 to 2 March 2026, questionable." in svg
    assert "Due 30 Mar – 20 Apr, best 13 April 2026." in svg
    assert "between 10\u00a0mm and 14\u00a0mm" in svg
