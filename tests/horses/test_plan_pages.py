"""The pages of foot plans: typed, looked at, kept, accepted, printed."""

import re
from io import BytesIO

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape
from pypdf import PdfReader

from horses.forms.plans import FIELD_AT, PlanForm, as_typed
from horses.models import FootPlan
from horses.pdf import visit_report
from horses.selectors.records import tell
from horses.services.plans import accept_plan
from horses.shoe.document import SHOE_IN
from horses.shoe.proposal import proposed
from practice.keys import uuid7
from practice.reckoning import check
from tests.factories import make_horse, make_plan
from tests.horses.test_plans import recorded

TODAY = timezone.localdate()


@pytest.fixture
def horse(practice):
    return make_horse(name="Moss", use="hacking")


def typed(foot="LF", **over):
    """What the form posts for a usual foot."""
    said = as_typed(proposed(foot, measured={}).document, "mm")
    said = {name: value for name, value in said.items() if value not in (None, False)}
    return said | {"key": uuid7()} | over


def look(browser, horse, foot="LF", **over):
    address = reverse("horses:plan_look", args=[horse.pk, foot])
    return browser.post(address, typed(foot, **over)).content.decode()


def new(browser, horse, foot="LF", **over):
    return browser.post(
        reverse("horses:plan_new", args=[horse.pk, foot]), typed(foot, **over)
    )


@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
def test_what_the_form_shows_it_also_takes(unit):
    document = proposed("LF", measured={}).document
    document["shoe"]["fit_mm"] = {"lateral_heel": -3.2, "toe": 1.6}
    document["shoe"]["toe"]["by_mm"] = 5.0
    form = PlanForm(as_typed(document, unit), unit=unit)
    assert form.is_valid(), form.errors
    found = form.document("LF", use="")
    check(found, SHOE_IN)
    assert found["shoe"]["fit_mm"] == pytest.approx(
        {"lateral_heel": -3.2, "toe": 1.6}, abs=0.8
    )
    assert found["hoof"] == pytest.approx(document["hoof"], abs=0.8)


def test_each_number_of_the_document_has_its_field():
    form = PlanForm({}, unit="mm")
    assert set(FIELD_AT.values()) <= set(form.fields)
    assert len(FIELD_AT) == len(set(FIELD_AT.values()))


def test_a_flag_appears_with_its_mend_and_goes_when_it_is_followed(as_farrier, horse):
    page = look(as_farrier, horse, out_lateral_heel="5")
    assert (
        escape("Set the lateral heel at least 2.0 mm toward the middle of the foot.")
        in page
    )
    assert "1 flagged" in page
    assert "our own figure" in page
    page = look(as_farrier, horse, out_lateral_heel="5", fit_lateral_heel="−2")
    assert "no rule speaks against it" in page
    assert "<svg" in page


def test_a_look_saves_nothing_and_tells_what_is_wrong(as_farrier, horse):
    page = look(as_farrier, horse, width="wide")
    assert "Width at the widest part" in page
    assert "83 mm" in page
    page = look(as_farrier, horse, section_width="80")
    assert "Bar width" in page
    assert not FootPlan.objects.exists()


def test_the_new_plan_is_filled_from_the_last_record(as_farrier, farrier, horse):
    recorded(horse, farrier, width_mm=134)
    page = as_farrier.get(reverse("horses:plan_new", args=[horse.pk, "LF"]))
    assert re.search(r'name="width" value="134"', page.content.decode())
    assert b"Not measured on this foot yet" in page.content


def test_the_new_plan_works_without_script(as_farrier, horse):
    page = new(as_farrier, horse, reckon="1", toe_treatment="rocker")
    assert page.status_code == 200
    assert b"rocker" in page.content
    assert b"Dress the foot to fit" in page.content
    assert not FootPlan.objects.exists()


def test_a_bad_value_stands_beside_its_field_with_all_that_was_typed(as_farrier, horse):
    page = new(as_farrier, horse, keep="1", last_medial="200", note="for later")
    assert page.status_code == 422
    text = page.content.decode()
    assert "The last nail stands ahead of the heel" in text
    assert 'name="last_medial" value="200"' in text
    assert "for later" in text


def test_fullering_is_said_of_both_branches_or_none(as_farrier, horse):
    page = new(as_farrier, horse, keep="1", fuller_medial="60")
    assert page.status_code == 422
    assert b"Say it of both branches" in page.content


def test_a_plan_is_kept_mended_accepted(as_farrier, horse):
    key = uuid7()
    answer = new(as_farrier, horse, keep="1", key=key, fit_toe="2")
    plan = FootPlan.objects.get()
    assert answer.url == reverse("horses:plan", args=[key])
    page = as_farrier.get(answer.url).content.decode()
    assert "can&#x27;t be accepted" in page or "can't be accepted" in page
    accept = reverse("horses:plan_accept", args=[key])
    assert as_farrier.post(accept).status_code == 422
    edit = reverse("horses:plan_edit", args=[key])
    assert b'name="fit_toe" value="2"' in as_farrier.get(edit).content
    as_farrier.post(edit, typed(keep="1", key=key))
    assert as_farrier.post(accept).status_code == 302
    plan.refresh_from_db()
    assert plan.state == "accepted"
    assert as_farrier.get(edit).url == answer.url
    assert b"Accepted" in as_farrier.get(answer.url).content


def test_a_double_tap_keeps_one_plan(as_farrier, horse):
    data = typed(keep="1")
    for _ in range(2):
        as_farrier.post(reverse("horses:plan_new", args=[horse.pk, "LF"]), data)
    assert FootPlan.objects.count() == 1


def test_a_hot_foot_asks_for_the_vets_name_and_day(as_farrier, farrier, horse):
    recorded(horse, farrier, seen=["heat"])
    plan = make_plan(horse=horse, by=farrier)
    accept = reverse("horses:plan_accept", args=[plan.pk])
    assert (
        b"A vet has seen this horse"
        in as_farrier.get(reverse("horses:plan", args=[plan.pk])).content
    )
    assert as_farrier.post(accept).status_code == 422
    page = as_farrier.post(accept, {"vet_agreed": "on", "vet_name": "A. Vet"})
    assert page.status_code == 422
    assert b"the day on which" in page.content
    said = {"vet_agreed": "on", "vet_name": "A. Vet", "vet_day": TODAY.isoformat()}
    assert as_farrier.post(accept, said).status_code == 302
    page = as_farrier.get(reverse("horses:plan", args=[plan.pk]))
    assert b"A vet agreed to this plan: A. Vet" in page.content


def test_a_draft_is_thrown_away(as_farrier, farrier, horse):
    plan = make_plan(horse=horse, by=farrier)
    as_farrier.post(reverse("horses:plan_drop", args=[plan.pk]))
    assert not FootPlan.objects.exists()


def test_the_office_reads_and_may_not_accept(as_office, farrier, horse):
    plan = make_plan(horse=horse, by=farrier)
    page = as_office.get(reverse("horses:plan", args=[plan.pk])).content
    assert b"Accept this plan" not in page
    assert (
        b"Plan this foot"
        not in as_office.get(reverse("horses:plans", args=[horse.pk])).content
    )


def test_a_foot_that_is_none_is_not_found(as_farrier, horse):
    for name in ("plan_new", "plan_look"):
        address = reverse(f"horses:{name}", args=[horse.pk, "XX"])
        assert as_farrier.post(address).status_code == 404


def test_the_plan_is_held_against_the_one_before(as_farrier, farrier, horse):
    first = make_plan(horse=horse, by=farrier)
    accept_plan(plan=first, by=farrier, today=TODAY)
    second = make_plan(horse=horse, by=farrier)
    page = as_farrier.get(reverse("horses:plan", args=[second.pk])).content
    assert b"Against the plan of" in page
    assert 'stroke-dasharray="2 3"' in look(as_farrier, horse, overlay="on")
    assert 'stroke-dasharray="2 3"' not in look(as_farrier, horse)


def test_the_plans_of_a_horse_take_as_many_queries_however_many(
    as_farrier, farrier, horse, grows_flat
):
    days = iter(range(1, 60))

    def more():
        recorded(horse, farrier, days=next(days))
        plan = make_plan(horse=horse, by=farrier)
        accept_plan(plan=plan, by=farrier, today=TODAY)

    count = grows_flat(as_farrier, reverse("horses:plans", args=[horse.pk]), more)
    assert count <= 12


def test_the_report_prints_the_accepted_plan(practice, farrier, horse):
    record = recorded(horse, farrier)
    plan = make_plan(horse=horse, by=farrier)
    told = tell(type(record).objects.filter(pk=record.pk), practice=practice)[0]
    bare = visit_report(told, practice=practice).content
    accept_plan(plan=plan, by=farrier, today=TODAY)
    full = visit_report(told, practice=practice).content
    assert _words(full).count("What is planned") == 1
    assert "What is planned" not in _words(bare)


def _words(pdf):
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


def test_clips_pad_and_traction_are_kept_drawn_and_carried_on(
    as_farrier, farrier, horse
):
    put_on = {"clips": "toe and quarter", "pad": "rim", "traction": "studs"}
    new(as_farrier, horse, keep="1", **put_on)
    plan = FootPlan.objects.get()
    assert plan.fittings == list(put_on.items())
    page = as_farrier.get(reverse("horses:plan", args=[plan.pk])).content.decode()
    assert "Clips: toe and quarter" in page
    accept_plan(plan=plan, by=farrier, today=TODAY)
    page = as_farrier.get(reverse("horses:plan_new", args=[horse.pk, "LF"]))
    assert page.context["form"]["traction"].value() == "studs"
    bare, clipped = look(as_farrier, horse), look(as_farrier, horse, clips="toe")
    assert clipped.count("<path") == bare.count("<path") + 1


def test_a_plan_is_reckoned_over_the_api_too(as_owner, practice):
    document = proposed("LF", measured={}).document
    address = "/api/v1/reckon/shoe/"
    answer = as_owner.post(address, document, content_type="application/json")
    assert answer.status_code == 200
    assert answer.json()["flags"] == []
    document["shoe"]["clips"] = "toe"
    answer = as_owner.post(address, document, content_type="application/json")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "#/shoe/clips"
