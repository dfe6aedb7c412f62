"""Kinds of work."""

from uuid import UUID

import pytest

from horses.models import Work
from horses.services.works import change_work, create_work, propose_works
from practice.errors import Refused
from practice.models import Change

pytestmark = pytest.mark.django_db


def test_a_new_practice_begins_with_works_and_keeps_them_when_asked_again():
    works = propose_works()
    kinds = {work.kind for work in works}
    assert {Work.Kind.TRIM, Work.Kind.NO_SHOW, Work.Kind.LATE_CALL_OFF} <= kinds
    assert [work.name for work in works][:3] == ["Trim", "Front shoes", "Full set"]
    assert propose_works() == works


def test_a_practice_s_own_works_are_not_added_to(farrier):
    create_work(name="Trim", kind="trim", minutes=15, by=farrier)
    assert [work.minutes for work in propose_works()] == [15]


def test_a_new_work_comes_last_and_once(farrier):
    propose_works()
    key = UUID("0190c0de-0000-7000-8000-000000000002")
    for _ in range(2):
        work = create_work(
            name="Glue-on", kind="other", minutes=90, key=key, by=farrier
        )
    assert Work.objects.last() == work
    assert Work.objects.filter(name="Glue-on").count() == 1


@pytest.mark.parametrize(
    ("field", "value"), [("name", "tRIM"), ("name", " "), ("minutes", 481)]
)
def test_a_taken_name_or_a_whole_day_is_refused(farrier, field, value):
    propose_works()
    fields = {"name": "Else", "kind": "other", "minutes": 10, field: value}
    with pytest.raises(Refused) as refusal:
        create_work(**fields, by=farrier)
    assert refusal.value.field == field


def test_changed_minutes_are_kept_with_what_they_were(farrier):
    work = propose_works()[0]
    change_work(work=work, minutes=25, by=farrier)
    change_work(work=work, minutes=25, by=farrier)
    note = Change.objects.get(action="change work")
    assert (note.before, note.after) == ({"minutes": 20}, {"minutes": 25})
