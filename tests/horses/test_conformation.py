"""How limbs are built: noted once, amended with the old kept, ended, carried to visits;
and answers to considerations, which change nothing else."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from horses.conformation import Built
from horses.models import Conformation, ConsiderationChoice
from horses.selectors.limbs import (
    age_on,
    limb_file,
    limbs_for,
    limbs_on,
    weighing_at,
    weighing_of,
)
from horses.services.conformation import (
    amend_conformation,
    consider,
    end_conformation,
    record_conformation,
)
from practice.errors import Refused
from practice.models import Change
from tests import factories

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 3)
KNEE = Built("LF", "angular", "carpus", "valgus", "moderate", "since a foal")


@pytest.fixture
def horse(practice, owner):
    return factories.make_horse(
        name="Bracken", owner=owner.client, foaled_year=2012, use="driving"
    )


def note(horse, by, said=KNEE, **over):
    given = {"key": uuid4(), "seen_on": TODAY, "today": TODAY} | over
    return record_conformation(horse=horse, said=said, by=by, **given)


def refusal(action, *args, **more):
    with pytest.raises(Refused) as told:
        action(*args, **more)
    return told.value


def test_a_trait_is_noted_once_however_often_it_is_sent(horse, apprentice):
    key = uuid4()
    rows = {note(horse, apprentice, key=key).pk for _ in range(3)}
    assert rows == {key}
    assert Change.objects.filter(action="note conformation").count() == 1
    row = Conformation.objects.get()
    assert (row.limb, row.direction, row.grade) == ("LF", "valgus", "moderate")
    assert row.seen_by == apprentice


def test_the_same_again_or_its_opposite_is_refused_beside_what_was_chosen(
    horse, farrier
):
    note(horse, farrier)
    assert refusal(note, horse, farrier).field == "trait"
    varus = Built("LF", "angular", "carpus", "varus")
    assert "can't be both" in refusal(note, horse, farrier, varus).sentence
    note(horse, farrier, Built("RF", "angular", "carpus", "varus"))
    assert Conformation.objects.count() == 2


def test_the_database_holds_one_standing_trait_a_limb_but_many_injuries(horse):
    factories.make_conformation(horse=horse)
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.make_conformation(horse=horse)
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.make_conformation(horse=horse, limb="XX")
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.make_conformation(
            horse=horse, limb="RF", ended_on=factories.LONG_AGO - timedelta(days=1)
        )
    for _ in range(2):
        factories.make_conformation(
            horse=horse, kind="old_injury", place="fetlock", direction=""
        )


def test_what_can_not_be_is_refused(horse, farrier, office):
    assert "Farriers and apprentices" in refusal(note, horse, office).sentence
    hock = Built("LF", "angular", "tarsus", "valgus")
    assert refusal(note, horse, farrier, hock).field == "trait"
    later = TODAY + timedelta(days=1)
    assert refusal(note, horse, farrier, seen_on=later).field == "seen_on"
    row = note(horse, farrier)
    other = factories.make_horse()
    assert refusal(note, other, farrier, key=row.pk).field == "key"


def amend(row, by, said, **over):
    given = {"seen_on": TODAY, "reason": "looked again", "today": TODAY} | over
    return amend_conformation(row=row, said=said, by=by, **given)


def test_amending_keeps_the_old_values_and_the_reason(horse, farrier, apprentice):
    row = note(horse, farrier)
    slight = Built("LF", "angular", "carpus", "valgus", "slight")
    assert "A farrier amends" in refusal(amend, row, apprentice, slight).sentence
    assert refusal(amend, row, farrier, slight, reason=" ").field == "reason"
    for _ in range(2):
        amend(row, farrier, slight)
    change = Change.objects.get(action="amend conformation")
    assert change.before["grade"] == "moderate"
    assert change.before["note"] == "since a foal"
    assert change.after["grade"] == "slight"
    assert change.reason == "looked again"
    (told,) = limb_file(horse, today=TODAY).changes
    assert told.before == (
        "valgus at the carpus, moderate, seen 2026-03-03, since a foal"
    )
    assert told.after == "valgus at the carpus, slight, seen 2026-03-03"
    assert (told.limb, told.by, told.reason) == ("LF", farrier.name, "looked again")


def test_amending_into_another_that_stands_is_refused(horse, farrier):
    note(horse, farrier)
    row = note(horse, farrier, Built("LF", "axial_rotation", "limb", "toes_out"))
    assert refusal(amend, row, farrier, KNEE).field == "trait"
    hind = Built("LH", "axial_rotation", "limb", "toes_out")
    assert refusal(amend, row, farrier, hind).field == "trait"


def end(row, by, day=TODAY, text="straightened"):
    return end_conformation(row=row, day=day, note=text, by=by, today=TODAY)


def test_what_ended_leaves_the_visits_after_it_and_stays_in_the_history(horse, farrier):
    first = TODAY - timedelta(days=60)
    row = note(horse, farrier, seen_on=first)
    assert refusal(end, row, farrier, first - timedelta(days=1)).field == "ended_on"
    assert refusal(end, row, farrier, TODAY + timedelta(days=1)).field == "ended_on"
    for _ in range(2):
        end(row, farrier)
    assert Change.objects.filter(action="end conformation").count() == 1
    assert limbs_on(horse, day=TODAY) == []
    assert len(limbs_on(horse, day=TODAY - timedelta(days=1))) == 1
    assert limbs_on(horse, day=first - timedelta(days=1)) == []
    file = limb_file(horse, today=TODAY)
    assert [trait.row.pk for trait in file.ended] == [row.pk]
    row.refresh_from_db()
    assert "has ended" in refusal(amend, row, farrier, KNEE).sentence
    note(horse, farrier)  # it may be so again


def test_reads_cost_the_same_however_much_is_said(
    horse, farrier, django_assert_num_queries
):
    for limb in ("LF", "RF", "LH", "RH"):
        for direction in ("toes_out", "base_wide"):
            kind = "stance" if direction == "base_wide" else "axial_rotation"
            factories.make_conformation(
                horse=horse, limb=limb, kind=kind, direction=direction
            )
    with django_assert_num_queries(1):
        assert sum(len(look.traits) for look in limbs_on(horse, day=TODAY)) == 8
    with django_assert_num_queries(2):
        limb_file(horse, today=TODAY)


def test_traits_are_numbered_alike_whenever_they_were_noted(horse, farrier):
    note(horse, farrier, Built("LF", "side", "pastern", "sloping_pastern"))
    note(horse, farrier, Built("LF", "axial_rotation", "limb", "toes_out"))
    note(horse, farrier)
    (look,) = limbs_on(horse, day=TODAY)
    assert [trait.built.kind for trait in look.traits] == [
        "angular",
        "axial_rotation",
        "side",
    ]
    assert [built.kind for built in look.picture.built] == [
        trait.built.kind for trait in look.traits
    ]


def test_who_may_see_how_a_horse_is_built(horse, farrier, owner, other_owner):
    contact = factories.make_user("barn_contact")
    factories.make_barn_contact(barn=horse.barn, user=contact)
    note(horse, farrier)
    for viewer, count in (
        (farrier, 1),
        (owner, 1),
        (other_owner, 0),
        (contact, 0),
    ):
        assert Conformation.objects.visible_to(viewer).count() == count
        assert len(limbs_for(viewer, horse, day=TODAY)) == count


def test_an_owner_sees_nothing_that_was_seen_after_the_last_day(horse, farrier, owner):
    ends = TODAY - timedelta(days=10)
    horse.ownerships.update(ends=ends)
    note(horse, farrier, seen_on=ends)
    note(
        horse,
        farrier,
        Built("RF", "angular", "carpus", "valgus"),
        seen_on=ends + timedelta(days=1),
    )
    seen = Conformation.objects.visible_to(owner)
    assert [row.limb for row in seen] == ["LF"]


@pytest.mark.parametrize(
    ("told", "age"),
    [
        ({"foaled_year": 2012}, 14),
        ({"foaled_year": 2026}, 0),
        ({"foaled_year": 2012, "foaled_on": date(2012, 3, 4)}, 13),
        ({"foaled_year": 2012, "foaled_on": date(2012, 3, 3)}, 14),
        ({}, None),
    ],
)
def test_age_in_whole_years(practice, told, age):
    assert age_on(factories.make_horse(**told), TODAY) == age


# ---- Considerations --------------------------------------------------------------
def record_with(horse, farrier, *, day=TODAY, kind="flare", place="lateral_quarter"):
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=day)
    record = visit.records.get()
    foot = factories.make_foot_record(
        record=record, work="new_shoe", dorsal_angle_deg="48.0"
    )
    foot.findings.create(kind=kind, place=place, grade="moderate")
    record.is_recorded = True
    record.save(update_fields=["is_recorded"])
    return record


def codes(weighing):
    return {row.weighed.rule.code: row for row in weighing.rows}


def test_a_record_is_weighed_from_its_own_findings_and_the_limbs(
    horse, farrier, practice
):
    note(horse, farrier, seen_on=TODAY - timedelta(days=5))
    record = record_with(horse, farrier)
    found = codes(weighing_at(record, practice=practice))
    assert {"flare_dressed", "carpus_valgus_support", "low_angle_front"} <= set(found)
    assert "driving_roads" in found  # by the shoe that was fitted
    assert found["flare_dressed"].feet_words == "LF"


def test_a_trait_among_the_findings_is_weighed_once(horse, farrier, practice):
    factories.make_conformation(horse=horse)
    record = record_with(horse, farrier)
    record.feet.get().findings.create(kind="axial_rotation", grade="toes_out")
    record.feet.get().findings.create(kind="stance", grade="base_narrow")
    found = codes(weighing_at(record, practice=practice))
    assert "toes_out_breakover" in found
    assert "base_narrow_lateral_support" in found
    assert "several_deviations" not in found


def test_before_anything_is_recorded_the_last_time_speaks(horse, farrier, practice):
    earlier = TODAY - timedelta(days=40)
    record_with(horse, farrier, day=earlier)
    record = factories.make_visit(horses=[horse], farrier=farrier, day=TODAY)
    weighing = weighing_at(record.records.get(), practice=practice)
    assert weighing.from_day == earlier
    assert "flare_dressed" in codes(weighing)


def test_what_a_limb_was_on_the_day_is_what_is_weighed(horse, farrier, practice):
    record = record_with(horse, farrier, day=TODAY - timedelta(days=40))
    note(horse, farrier, seen_on=TODAY)
    assert "carpus_valgus_support" not in codes(weighing_at(record, practice=practice))
    now = weighing_of(horse, practice=practice, today=TODAY)
    assert "carpus_valgus_support" in codes(now)
    assert now.record == record


def test_an_answer_is_kept_changed_and_ignored_again_and_changes_nothing_else(
    horse, farrier, practice
):
    record = record_with(horse, farrier)
    before = type(record).objects.values().get(pk=record.pk)
    for answer in ("accepted", "accepted", "set_aside", "", ""):
        consider(record=record, code="flare_dressed", answer=answer, by=farrier)
        row = codes(weighing_at(record, practice=practice))["flare_dressed"]
        assert row.answer == answer
    assert not ConsiderationChoice.objects.exists()
    assert Change.objects.filter(action="consider flare_dressed").count() == 3
    assert type(record).objects.values().get(pk=record.pk) == before


def test_the_answer_of_last_time_is_told_and_not_taken_over(horse, farrier, practice):
    earlier = record_with(horse, farrier, day=TODAY - timedelta(days=40))
    consider(
        record=earlier, code="flare_dressed", answer="accepted", note="half", by=farrier
    )
    record = record_with(horse, farrier)
    row = codes(weighing_at(record, practice=practice))["flare_dressed"]
    assert row.answer == ""
    assert row.before.note == "half"
    assert ConsiderationChoice.objects.count() == 1


def test_only_a_farrier_answers_and_only_known_words_count(
    horse, farrier, apprentice, office
):
    record = record_with(horse, farrier)
    for by in (apprentice, office):
        told = refusal(consider, record=record, code="flare_dressed", answer="", by=by)
        assert "A farrier" in told.sentence
    told = refusal(consider, record=record, code="no_such", answer="", by=farrier)
    assert told.field == "code"
    told = refusal(
        consider, record=record, code="flare_dressed", answer="maybe", by=farrier
    )
    assert told.field == "answer"


def test_a_vet_stands_first_where_a_finding_is_for_one(horse, farrier, practice):
    record = record_with(horse, farrier, kind="heat", place="whole_foot")
    weighing = weighing_at(record, practice=practice)
    assert weighing.has_vet
    assert weighing.by_heading[0][0] == "Call a vet first"
    assert all(row.weighed.waits for row in weighing.rows[1:])


def test_weighing_costs_the_same_however_long_the_story(
    horse, farrier, practice, django_assert_max_num_queries
):
    for days in range(6):
        record = record_with(horse, farrier, day=TODAY - timedelta(days=days * 7))
        consider(record=record, code="flare_dressed", answer="accepted", by=farrier)
    fresh = type(record).objects.select_related("visit", "horse").get(pk=record.pk)
    with django_assert_max_num_queries(9):
        weighing_at(fresh, practice=practice)
    with django_assert_max_num_queries(7):
        weighing_of(horse, practice=practice, today=TODAY)
