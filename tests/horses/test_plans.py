"""Foot plans: kept, accepted, superseded; what may not stand; where one starts."""

import copy
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from horses.models import Finding, FootPlan
from horses.selectors.plans import foot_stories, printed_plans, start_of
from horses.services.plans import VetWord, accept_plan, drop_plan, save_plan
from horses.shoe.proposal import proposed
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Change
from tests.factories import make_foot_record, make_horse, make_plan, make_visit

TODAY = timezone.localdate()


@pytest.fixture
def horse(practice):
    return make_horse(name="Moss", use="hacking")


def usual(foot="LF", **over):
    document = proposed(foot, measured={}).document
    document["shoe"] |= over
    return document


def recorded(horse, farrier, *, days=0, foot="LF", seen=(), **measures):
    """A record of one foot with its findings."""
    day = TODAY - timedelta(days=days)
    visit = make_visit(horses=[horse], farrier=farrier, day=day)
    record = visit.records.get()
    record.is_recorded = True
    record.save(update_fields=["is_recorded"])
    row = make_foot_record(record=record, foot=foot, **measures)
    for kind in seen:
        Finding.objects.create(foot_record=row, kind=kind, place="whole_foot")
    return record


def test_a_plan_is_kept_as_a_draft_with_what_it_comes_to(horse, farrier):
    plan = make_plan(horse=horse, by=farrier)
    assert plan.is_draft
    assert plan.result["mass_g"] > 100
    assert plan.rules == plan.result["rules"]
    assert Change.objects.filter(object_id=str(plan.pk), action="plan").count() == 1


def test_the_same_key_twice_is_one_plan(horse, farrier):
    key = uuid7()
    said = {"horse": horse, "foot": "LF", "day": TODAY, "by": farrier}
    one = save_plan(key=key, document=usual(), **said)
    two = save_plan(key=key, document=usual(), **said)
    assert one.pk == two.pk
    assert FootPlan.objects.count() == 1
    assert Change.objects.filter(object_id=str(key)).count() == 1


def test_a_draft_is_mended_under_its_key(horse, farrier):
    plan = make_plan(horse=horse, by=farrier, document=usual(fit_mm={"toe": 2}))
    assert [f["code"] for f in plan.flags] == ["overhang_ahead"]
    mended = save_plan(
        key=plan.pk, horse=horse, foot="LF", day=TODAY, document=usual(), by=farrier
    )
    assert mended.flags == []
    assert FootPlan.objects.get().result["flags"] == []


def test_a_refused_plan_cannot_be_accepted_even_with_a_vets_word(horse, farrier):
    plan = make_plan(horse=horse, by=farrier, document=usual(fit_mm={"toe": 2}))
    with pytest.raises(Refused, match="closer"):
        accept_plan(plan=plan, by=farrier, today=TODAY, vet=VetWord("A. Vet", TODAY))
    assert FootPlan.objects.get().is_draft


def test_a_flagged_plan_is_the_farriers_to_judge(horse, farrier):
    document = usual(heel_past_buttress_mm={"medial": 6, "lateral": 20})
    plan = make_plan(horse=horse, by=farrier, document=document)
    assert [f["state"] for f in plan.flags] == ["flagged"]
    assert accept_plan(plan=plan, by=farrier, today=TODAY).state == "accepted"


@pytest.mark.parametrize("kind", ["lameness", "heat", "laminitic_gait"])
def test_a_lame_hot_or_laminitic_foot_waits_for_a_vets_word(horse, farrier, kind):
    recorded(horse, farrier, seen=[kind])
    plan = make_plan(horse=horse, by=farrier)
    assert [f["code"] for f in plan.flags] == ["waits_for_vet"]
    with pytest.raises(Refused, match="vet") as refused:
        accept_plan(plan=plan, by=farrier, today=TODAY)
    assert refused.value.field == "vet_name"
    tomorrow = VetWord("A. Vet", TODAY + timedelta(days=1))
    with pytest.raises(Refused, match="later day"):
        accept_plan(plan=plan, by=farrier, today=TODAY, vet=tomorrow)
    word = VetWord("A. Vet", TODAY)
    accepted = accept_plan(plan=plan, by=farrier, today=TODAY, vet=word)
    assert (accepted.vet_name, accepted.vet_day) == ("A. Vet", TODAY)
    row = Change.objects.get(object_id=str(plan.pk), action="accept")
    assert "A. Vet" in row.after["vet"]


def test_a_foot_gone_lame_since_the_draft_waits_too(horse, farrier):
    recorded(horse, farrier, days=3)
    plan = make_plan(horse=horse, by=farrier)
    assert plan.flags == []
    recorded(horse, farrier, seen=["lameness"])
    with pytest.raises(Refused, match="vet"):
        accept_plan(plan=plan, by=farrier, today=TODAY)


def test_findings_come_from_the_record_and_not_from_the_document(horse, farrier):
    recorded(horse, farrier, seen=["heat"])
    document = usual() | {"findings": []}
    plan = make_plan(horse=horse, by=farrier, document=document)
    assert plan.document["findings"][0]["kind"] == "heat"


def test_another_foot_of_a_lame_horse_does_not_wait(horse, farrier):
    recorded(horse, farrier, foot="RF", seen=["heat"])
    assert make_plan(horse=horse, by=farrier, foot="LF").flags == []


def test_accepting_takes_the_place_of_the_plan_before(horse, farrier):
    first, second = (make_plan(horse=horse, by=farrier) for _ in range(2))
    other = make_plan(horse=horse, by=farrier, foot="RF")
    for plan in (first, other, second, second):
        accept_plan(plan=plan, by=farrier, today=TODAY)
    states = {p.pk: p.state for p in FootPlan.objects.all()}
    assert states[first.pk] == "superseded"
    assert states[second.pk] == states[other.pk] == "accepted"
    assert Change.objects.filter(action="accept").count() == 3


def test_an_accepted_plan_stays_as_it_is(horse, farrier):
    plan = make_plan(horse=horse, by=farrier)
    accept_plan(plan=plan, by=farrier, today=TODAY)
    with pytest.raises(Refused, match="make a new one"):
        save_plan(
            key=plan.pk,
            horse=horse,
            foot="LF",
            day=TODAY,
            document=usual(metal="aluminium"),
            by=farrier,
        )
    with pytest.raises(Refused, match="stays"):
        drop_plan(plan=plan, by=farrier)


def test_the_database_holds_one_accepted_plan_a_foot(horse, farrier):
    for _ in range(2):
        make_plan(horse=horse, by=farrier)
    with pytest.raises(IntegrityError), transaction.atomic():
        FootPlan.objects.update(state="accepted", accepted_at=timezone.now())


def test_a_draft_may_be_thrown_away_twice(horse, farrier):
    plan = make_plan(horse=horse, by=farrier)
    drop_plan(plan=plan, by=farrier)
    drop_plan(plan=plan, by=farrier)
    assert not FootPlan.objects.exists()
    assert Change.objects.filter(action="drop").count() == 1


def test_an_apprentice_plans_no_foot(horse, farrier, apprentice):
    with pytest.raises(Refused, match="farrier"):
        make_plan(horse=horse, by=apprentice)
    plan = make_plan(horse=horse, by=farrier)
    for refuse in (
        lambda: accept_plan(plan=plan, by=apprentice, today=TODAY),
        lambda: drop_plan(plan=plan, by=apprentice),
    ):
        with pytest.raises(Refused, match="farrier"):
            refuse()


def test_a_document_that_cannot_be_reckoned_points_at_its_fault(horse, farrier):
    document = copy.deepcopy(usual())
    document["hoof"]["width_mm"] = 3
    with pytest.raises(Refused) as refused:
        make_plan(horse=horse, by=farrier, document=document)
    assert refused.value.field == "/hoof/width_mm"
    with pytest.raises(Refused, match="another foot"):
        make_plan(horse=horse, by=farrier, foot="RF", document=usual("LF"))


def test_a_key_or_record_of_another_horse_is_refused(horse, farrier):
    plan = make_plan(horse=horse, by=farrier)
    other = make_horse()
    said = {"foot": "LF", "day": TODAY, "document": usual(), "by": farrier}
    with pytest.raises(Refused, match="another foot"):
        save_plan(key=plan.pk, horse=other, **said)
    record = recorded(horse, farrier)
    with pytest.raises(Refused, match="another horse"):
        save_plan(key=uuid7(), horse=other, record=record, **said)


# ---- Where a plan starts ---------------------------------------------------------
def test_a_plan_starts_from_the_last_measures_of_the_foot(horse, farrier):
    recorded(horse, farrier, days=60, width_mm=Decimal("131"), length_mm=Decimal("128"))
    recorded(horse, farrier, days=5, width_mm=Decimal("134"))
    start = start_of(horse=horse, foot="LF", use="hacking", today=TODAY)
    hoof = start.document["hoof"]
    assert (hoof["width_mm"], hoof["length_mm"]) == (134, 128)
    assert start.unmeasured == ("widest_from_toe_mm",)
    assert start.document["use"] == "hacking"


def test_a_plan_starts_from_the_plan_that_stands(horse, farrier):
    document = usual(metal="aluminium")
    plan = make_plan(horse=horse, by=farrier, document=document)
    accept_plan(plan=plan, by=farrier, today=TODAY)
    start = start_of(horse=horse, foot="LF", use="", today=TODAY)
    assert start.document["shoe"]["metal"] == "aluminium"
    assert start.unmeasured == ()


@pytest.mark.parametrize("foot", ["LF", "RF", "LH", "RH"])
def test_a_usual_foot_is_a_plan_that_no_rule_speaks_against(horse, farrier, foot):
    assert make_plan(horse=horse, by=farrier, foot=foot).flags == []


def test_a_shorter_foot_brings_widest_part_and_nails_with_it():
    before = proposed("LF", measured={}).document
    start = proposed("LF", measured={"length_mm": 60.0}, last_plan=before)
    hoof, nails = start.document["hoof"], start.document["shoe"]["nails"]
    assert hoof["widest_from_toe_mm"] < 60
    assert nails["last_nail_from_toe_mm"]["medial"] < 60


# ---- Read -------------------------------------------------------------------------
def test_two_years_of_a_foot_hold_its_plans_and_its_visits(horse, farrier):
    recorded(horse, farrier, days=800)
    recorded(horse, farrier, days=700)
    recorded(horse, farrier, days=10)
    old = make_plan(horse=horse, by=farrier, day=TODAY - timedelta(days=300))
    accept_plan(plan=old, by=farrier, today=TODAY)
    make_plan(horse=horse, by=farrier)
    story = foot_stories(horse=horse, viewer=farrier, today=TODAY)[0]
    assert [one.kind for one in story.shown] == ["visit", "plan", "visit"]
    assert story.standing == old
    assert len(story.drafts) == 1


def test_the_report_prints_the_newest_accepted_plan_of_each_foot(horse, farrier):
    record = recorded(horse, farrier)
    make_plan(horse=horse, by=farrier, record=record)
    plans = [make_plan(horse=horse, by=farrier) for _ in range(2)]
    for plan in plans:
        accept_plan(plan=plan, by=farrier, today=TODAY)
    assert printed_plans(record) == [plans[1]]
    assert plans[0].record == record  # it was made on the visit's day


def test_owners_and_strangers_see_no_plan(horse, farrier, owner, barn_contact):
    make_plan(horse=horse, by=farrier)
    for viewer in (owner, barn_contact):
        assert not FootPlan.objects.visible_to(viewer).exists()
    assert FootPlan.objects.visible_to(farrier).exists()


def test_a_practice_sets_its_own_limits(horse, farrier, practice):
    document = usual(fit_mm={"lateral_heel": 4})
    codes = {
        f["code"] for f in make_plan(horse=horse, by=farrier, document=document).flags
    }
    assert codes == {"heel_edge"}
    practice.overhang_limit_mm, practice.heel_edge_limit_mm = Decimal(3), Decimal(4)
    practice.save(update_fields=["overhang_limit_mm", "heel_edge_limit_mm"])
    codes = {
        f["code"] for f in make_plan(horse=horse, by=farrier, document=document).flags
    }
    assert codes == {"overhang_behind"}
