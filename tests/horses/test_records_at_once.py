"""Many phones at once: one visit, one record, one word that stands."""

from dataclasses import replace
from datetime import date
from itertools import count

import pytest

from horses.entries import FootEntry, RecordEntry
from horses.models import FootRecord, Visit, VisitRecord
from horses.services.records import save_record
from horses.services.visits import close_visit, open_visit
from practice.keys import uuid7
from practice.models import Change
from tests.factories import make_horse, make_practice, make_user, make_visit
from tests.practice.conftest import at_once  # noqa: F401 -- a fixture

pytestmark = pytest.mark.django_db(transaction=True)

ENTRY = RecordEntry(feet=(FootEntry("LF", work="trim"), FootEntry("RF", work="trim")))


@pytest.fixture
def shoeing():
    make_practice()
    return make_user("farrier")


def test_of_many_that_save_at_once_one_stands_and_none_is_lost_silently(
    shoeing,
    at_once,  # noqa: F811
):
    record = make_visit(horses=[make_horse()], farrier=shoeing).records.get()
    numbers = count()

    def save():
        save_record(
            key=record.pk,
            visit=record.visit,
            horse=record.horse,
            entry=replace(ENTRY, note=f"phone {next(numbers)}"),
            base_revision=None,
            by=shoeing,
        )

    assert at_once(6, save) == 1
    record.refresh_from_db()
    assert record.revision == 1
    assert FootRecord.objects.count() == 2
    assert Change.objects.get(action="record").after["note"] == record.note


def test_the_same_record_sent_many_times_at_once_is_one(
    shoeing,
    at_once,  # noqa: F811
):
    visit = make_visit(horses=[make_horse()], farrier=shoeing)
    record = visit.records.get()
    key = uuid7()

    def save():
        save_record(
            key=key,
            visit=visit,
            horse=record.horse,
            entry=ENTRY,
            base_revision=None,
            by=shoeing,
        )

    assert at_once(6, save) == 6
    assert [row.pk for row in VisitRecord.objects.all()] == [key]
    assert FootRecord.objects.count() == 2


def test_a_visit_opened_and_closed_many_times_at_once_is_one(
    shoeing,
    at_once,  # noqa: F811
):
    horse = make_horse()
    key = uuid7()

    def attend():
        visit = open_visit(
            key=key,
            barn=horse.barn,
            farrier=shoeing,
            day=date(2026, 3, 3),
            horses=[horse],
            by=shoeing,
        )
        close_visit(visit=visit, by=shoeing)

    assert at_once(6, attend) == 6
    assert Visit.objects.get().is_closed
    assert VisitRecord.objects.count() == 1
    assert Change.objects.filter(action="close").count() == 1


def test_two_phones_that_open_one_attendance_share_its_visit(
    shoeing,
    at_once,  # noqa: F811
):
    horse = make_horse()

    def attend():
        open_visit(
            key=uuid7(),
            barn=horse.barn,
            farrier=shoeing,
            day=date(2026, 3, 3),
            horses=[horse],
            by=shoeing,
        )

    assert at_once(6, attend) == 6
    assert Visit.objects.count() == 1
