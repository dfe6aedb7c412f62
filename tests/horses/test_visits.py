"""Visits: opened once, filled, closed by a farrier, never lost."""

from datetime import date, timedelta
from uuid import UUID

import pytest
from django.utils import timezone

from horses.models import DueWindow, Visit, VisitRecord, Work
from horses.services.visits import (
    add_horse,
    close_visit,
    note_visit,
    open_visit,
    record_no_show,
    take_horse_off,
)
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Change
from tests.factories import make_barn, make_horse, make_work

DAY = date(2026, 3, 3)


@pytest.fixture
def barn(practice):
    return make_barn()


@pytest.fixture
def horses(barn):
    work = make_work()
    return [make_horse(barn=barn, usual_work=work) for _ in range(3)]


@pytest.fixture
def visit(barn, farrier, horses):
    return open_visit(
        key=uuid7(), barn=barn, farrier=farrier, day=DAY, horses=horses[:2], by=farrier
    )


def test_a_visit_opens_with_a_record_waiting_for_each_horse(visit, horses):
    records = VisitRecord.objects.filter(visit=visit)
    assert {record.horse for record in records} == set(horses[:2])
    assert not any(record.is_recorded for record in records)
    assert {record.work for record in records} == {horses[0].usual_work}


def test_the_same_key_gives_the_same_visit(visit, barn, farrier, horses):
    again = open_visit(
        key=visit.pk, barn=barn, farrier=farrier, day=DAY, horses=horses, by=farrier
    )
    assert again == visit
    assert Visit.objects.count() == 1
    assert VisitRecord.objects.filter(visit=visit).count() == 3
    assert Change.objects.filter(object_id=str(visit.pk), action="open").count() == 1


def test_one_attendance_is_one_visit_whoever_made_the_key(visit, barn, farrier, horses):
    other = open_visit(
        key=uuid7(),
        barn=barn,
        farrier=farrier,
        day=DAY,
        horses=horses[:1],
        by=farrier,
        travel_minutes=25,
        travel_metres=18_000,
    )
    assert other == visit
    visit.refresh_from_db()
    assert (visit.travel_minutes, visit.travel_metres) == (25, 18_000)


def test_another_farrier_or_day_is_another_visit(
    visit, barn, farrier, second_farrier, horses
):
    for who, day in ((second_farrier, DAY), (farrier, DAY + timedelta(days=1))):
        other = open_visit(
            key=uuid7(), barn=barn, farrier=who, day=day, horses=horses, by=who
        )
        assert other != visit
    assert Visit.objects.count() == 3


def test_a_key_of_another_barns_visit_is_refused(visit, farrier, horses):
    with pytest.raises(Refused):
        open_visit(
            key=visit.pk,
            barn=make_barn(),
            farrier=farrier,
            day=DAY,
            horses=horses,
            by=farrier,
        )


def test_a_horse_is_added_once_and_taken_off_while_not_recorded(visit, horses, farrier):
    first = add_horse(visit=visit, horse=horses[2], by=farrier)
    assert add_horse(visit=visit, horse=horses[2], by=farrier) == first
    take_horse_off(visit=visit, horse=horses[2], by=farrier)
    take_horse_off(visit=visit, horse=horses[2], by=farrier)
    assert VisitRecord.objects.filter(visit=visit).count() == 2
    VisitRecord.objects.filter(visit=visit, horse=horses[0]).update(is_recorded=True)
    with pytest.raises(Refused, match="recorded already"):
        take_horse_off(visit=visit, horse=horses[0], by=farrier)


def test_a_note_and_the_road_are_kept(visit, farrier):
    for _ in range(2):
        note_visit(
            visit=visit,
            note="gate code 12",
            travel_minutes=30,
            travel_metres=20_000,
            by=farrier,
        )
    visit.refresh_from_db()
    assert (visit.note, visit.travel_minutes) == ("gate code 12", 30)
    assert Change.objects.filter(object_id=str(visit.pk), action="note").count() == 1


def test_closing_locks_and_moves_the_due_windows(visit, horses, farrier):
    close_visit(visit=visit, by=farrier)
    visit.refresh_from_db()
    assert visit.is_closed
    assert visit.closed_by == farrier
    window = DueWindow.objects.get(horse=horses[0])
    assert window.last_visit_day == DAY
    # Nothing was measured: its use alone says when.
    assert window.basis == DueWindow.Basis.USE
    assert timedelta(weeks=4) <= window.target - DAY <= timedelta(weeks=8)
    assert DueWindow.objects.get(horse=horses[2]).last_visit_day is None
    for change in (add_horse, take_horse_off):
        with pytest.raises(Refused, match="closed"):
            change(visit=visit, horse=horses[2], by=farrier)
    with pytest.raises(Refused, match="closed"):
        note_visit(
            visit=visit, note="x", travel_minutes=None, travel_metres=None, by=farrier
        )


def test_closing_twice_changes_nothing(visit, farrier, second_farrier):
    close_visit(visit=visit, by=farrier)
    closed_at = Visit.objects.get(pk=visit.pk).closed_at
    close_visit(visit=visit, by=second_farrier)
    visit.refresh_from_db()
    assert visit.closed_at == closed_at
    assert visit.closed_by == farrier
    assert Change.objects.filter(object_id=str(visit.pk), action="close").count() == 1


@pytest.mark.parametrize("who", ["apprentice", "office"])
def test_only_a_farrier_closes(visit, who, request):
    with pytest.raises(Refused, match="farrier"):
        close_visit(visit=visit, by=request.getfixturevalue(who))
    visit.refresh_from_db()
    assert not visit.is_closed


def test_an_empty_visit_is_not_closed(barn, farrier):
    empty = open_visit(
        key=uuid7(), barn=barn, farrier=farrier, day=DAY, horses=[], by=farrier
    )
    with pytest.raises(Refused, match="No horse"):
        close_visit(visit=empty, by=farrier)


@pytest.mark.parametrize("kind", ["no_show", "late_call_off"])
def test_a_missed_visit_is_closed_at_once_and_moves_no_window(
    kind, barn, farrier, horses
):
    work = make_work(kind=kind, minutes=0)
    before = DueWindow.objects.get(horse=horses[0]).target
    key = uuid7()
    for _ in range(2):
        visit = record_no_show(
            key=key,
            barn=barn,
            farrier=farrier,
            day=timezone.localdate(),
            horses=horses[:2],
            kind=kind,
            by=farrier,
        )
    assert visit.is_closed
    assert visit.kind == kind
    assert {r.work for r in VisitRecord.objects.filter(visit=visit)} == {work}
    assert VisitRecord.objects.filter(visit=visit).count() == 2
    assert DueWindow.objects.get(horse=horses[0]).target == before


def test_a_missed_visit_without_its_kind_of_work_has_none(barn, farrier, horses):
    visit = record_no_show(
        key=UUID(int=7),
        barn=barn,
        farrier=farrier,
        day=DAY,
        horses=horses,
        kind="no_show",
        by=farrier,
    )
    assert not Work.objects.filter(kind="no_show").exists()
    assert {r.work for r in VisitRecord.objects.filter(visit=visit)} == {None}


def test_a_missed_visit_is_one_of_two_kinds(barn, farrier, horses):
    with pytest.raises(Refused):
        record_no_show(
            key=uuid7(),
            barn=barn,
            farrier=farrier,
            day=DAY,
            horses=horses,
            kind="attended",
            by=farrier,
        )
