"""Records: saved whole, once, never silently overwritten; amended openly."""

from dataclasses import replace
from decimal import Decimal

import pytest

from horses.entries import (
    FindingEntry,
    FootEntry,
    RecordEntry,
    ShoeEntry,
    as_document,
)
from horses.feet import Difference
from horses.models import Finding, FootRecord, Shoe, VisitRecord
from horses.selectors.records import (
    entry_of,
    last_record,
    tell,
    timeline,
    with_feet,
)
from horses.services.records import Conflict, amend_record, save_record
from horses.services.visits import close_visit
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Change
from tests.factories import close, make_horse, make_owner, make_visit, make_work

ENTRY = RecordEntry(
    way_of_going="lands lateral first",
    note="stood well",
    feet=(
        FootEntry(
            "LF",
            work="new_shoe",
            dorsal_length_mm=Decimal("84.0"),
            dorsal_angle_deg=Decimal("49.9"),
            heel_angle_deg=Decimal("43.0"),
            findings=(FindingEntry("flare", "lateral_quarter", "slight"),),
            shoe=ShoeEntry(profile="fullered", metal="steel", size="5", nails_medial=3),
        ),
        FootEntry("RF", work="trim", dorsal_angle_deg=Decimal("55.1")),
    ),
)


@pytest.fixture
def horse(practice):
    return make_horse()


@pytest.fixture
def visit(horse, farrier):
    return make_visit(horses=[horse], farrier=farrier)


@pytest.fixture
def record(visit):
    return visit.records.get()


def saved(record, entry=ENTRY, *, by, base=None, key=None):
    return save_record(
        key=key or record.pk,
        visit=record.visit,
        horse=record.horse,
        entry=entry,
        base_revision=base,
        by=by,
    )


def test_a_record_is_kept_whole(record, farrier):
    done = saved(record, by=farrier)
    assert done.outcome == "new"
    assert done.record.revision == 1
    again = with_feet(VisitRecord.objects.all()).get()
    assert again.is_recorded
    assert entry_of(again) == ENTRY


def test_saving_twice_changes_nothing(record, farrier):
    saved(record, by=farrier)
    again = saved(record, by=farrier)
    assert again.outcome == "replay"
    assert again.record.revision == 1
    assert FootRecord.objects.count() == 2
    assert Finding.objects.count() == 1
    assert Shoe.objects.count() == 1
    assert Change.objects.filter(action="record").count() == 1


def test_a_key_made_on_a_phone_takes_the_place_of_what_waits(record, farrier):
    key = uuid7()
    assert saved(record, by=farrier, key=key).outcome == "new"
    assert saved(record, by=farrier, key=key).outcome == "replay"
    assert [row.pk for row in VisitRecord.objects.all()] == [key]


def test_two_phones_do_not_overwrite_each_other(record, farrier, second_farrier):
    saved(record, by=farrier)
    with pytest.raises(Conflict) as conflict:
        saved(record, replace(ENTRY, note="other"), by=second_farrier)
    assert conflict.value.revision == 1
    with pytest.raises(Conflict):
        saved(record, replace(ENTRY, note="other"), by=second_farrier, key=uuid7())
    record.refresh_from_db()
    assert record.note == "stood well"
    done = saved(record, replace(ENTRY, note="other"), by=second_farrier, base=1)
    assert done.outcome == "saved"
    assert done.record.revision == 2
    kept = Change.objects.filter(action="record").first()
    assert kept.before["note"] == "stood well"
    assert kept.after["note"] == "other"


def test_a_key_of_another_horse_is_a_conflict(record, farrier):
    saved(record, by=farrier)
    other = make_visit(horses=[make_horse()], farrier=farrier).records.get()
    with pytest.raises(Conflict):
        saved(other, by=farrier, key=record.pk)


@pytest.mark.parametrize(("who", "may"), [("apprentice", True), ("office", False)])
def test_those_who_treat_record(record, who, may, request):
    by = request.getfixturevalue(who)
    if may:
        assert saved(record, by=by).outcome == "new"
    else:
        with pytest.raises(Refused):
            saved(record, by=by)


def test_what_cannot_be_is_refused_at_its_place_and_nothing_is_kept(record, farrier):
    bad = replace(ENTRY, feet=(FootEntry("LF", dorsal_length_mm=Decimal(900)),))
    with pytest.raises(Refused) as refused:
        saved(record, bad, by=farrier)
    assert refused.value.field == "feet/LF/dorsal_length_mm"
    record.refresh_from_db()
    assert not record.is_recorded
    with pytest.raises(Refused) as refused:
        saved(record, replace(ENTRY, work=999_999), by=farrier)
    assert refused.value.field == "work"


def test_a_closed_visit_takes_no_record_but_answers_a_replay(record, farrier):
    saved(record, by=farrier)
    close_visit(visit=record.visit, by=farrier)
    assert saved(record, by=farrier).outcome == "replay"
    with pytest.raises(Refused, match="amend"):
        saved(record, replace(ENTRY, note="late"), by=farrier, base=1)


def amended(record, entry, *, by, reason="misread", base=1):
    return amend_record(
        record=record, entry=entry, reason=reason, base_revision=base, by=by
    )


def test_an_amendment_keeps_the_old_values_with_its_reason(record, farrier):
    saved(record, by=farrier)
    close_visit(visit=record.visit, by=farrier)
    new = replace(ENTRY, note="right hind was wrong")
    assert amended(record, new, by=farrier).outcome == "saved"
    assert amended(record, new, by=farrier).outcome == "replay"
    kept = Change.objects.get(action="amend")
    assert kept.before == as_document(ENTRY)
    assert kept.after == as_document(new)
    assert kept.reason == "misread"
    assert kept.by == farrier
    told = tell(VisitRecord.objects.all(), practice=None)[0]
    [difference] = told.amendments[0].changed
    assert difference == Difference("note", "stood well", "right hind was wrong")


def test_an_amendment_needs_a_farrier_a_reason_and_what_stands(
    record, farrier, apprentice
):
    saved(record, by=farrier)
    with pytest.raises(Refused, match="open"):
        amended(record, replace(ENTRY, note="x"), by=farrier)
    close_visit(visit=record.visit, by=farrier)
    with pytest.raises(Refused, match="farrier"):
        amended(record, replace(ENTRY, note="x"), by=apprentice)
    with pytest.raises(Refused) as refused:
        amended(record, replace(ENTRY, note="x"), by=farrier, reason=" ")
    assert refused.value.field == "reason"
    with pytest.raises(Conflict):
        amended(record, replace(ENTRY, note="x"), by=farrier, base=0)
    record.refresh_from_db()
    assert record.note == "stood well"


def test_last_time_is_the_newest_record_of_the_same_horse_before(record, farrier):
    import datetime

    def earlier(days):
        visit = make_visit(
            horses=[record.horse],
            farrier=farrier,
            day=record.visit.day - datetime.timedelta(days=days),
        )
        return visit.records.get()

    old, older, unrecorded = earlier(42), earlier(84), earlier(7)
    for row in (older, old):
        saved(row, by=farrier)
    assert last_record(record) == old
    assert last_record(old) == older
    assert last_record(older) is None
    assert not unrecorded.is_recorded


def test_a_timeline_asks_five_things_however_long_it_is(
    horse, farrier, django_assert_num_queries, practice
):
    for _ in range(3):
        visit = make_visit(horses=[horse], farrier=farrier)
        saved(visit.records.get(), by=farrier)
    with django_assert_num_queries(5):
        told = timeline(horse=horse, viewer=farrier, practice=practice)
    assert len(told) == 3
    with django_assert_num_queries(0):
        look = told[0].looks[0]
        assert look.findings == ("flare, lateral quarter, slight",)
        assert {flag.rule.code for flag in look.flags} == {
            "underrun_heel",
            "uneven_pair",
        }
        assert told[0].record.visit.barn.name
        assert told[0].record.visit.farrier.name == farrier.name


def test_an_owner_reads_closed_visits_of_own_days_only(farrier, practice):
    from datetime import date

    seller, buyer = make_owner(), make_owner()
    horse = make_horse(owner=seller.client)
    seller.client.users.get()
    ownership = horse.ownerships.get()
    ownership.ends = date(2026, 1, 31)
    ownership.save(update_fields=["ends"])
    from tests.factories import make_ownership

    make_ownership(horse=horse, client=buyer.client, starts=date(2026, 2, 1))
    before = make_visit(horses=[horse], farrier=farrier, day=date(2026, 1, 5))
    after = make_visit(horses=[horse], farrier=farrier, day=date(2026, 3, 5))
    still_open = make_visit(horses=[horse], farrier=farrier, day=date(2026, 4, 5))
    close(before)
    close(after)

    def days(user):
        told = timeline(horse=horse, viewer=user, practice=practice)
        return {row.day.month for row in told}

    assert days(seller) == {1}
    assert days(buyer) == {1, 3}
    assert days(farrier) == {1, 3, 4}
    assert days(make_owner()) == set()
    assert not still_open.is_closed


def test_work_is_kept_for_the_bill(record, farrier):
    work = make_work()
    saved(record, replace(ENTRY, work=work.pk), by=farrier)
    record.refresh_from_db()
    assert record.work == work
