"""The demo's hours and rounds."""

from datetime import date

import pytest

from practice import demo as practice_demo
from practice.models import Barn, User
from scheduling import demo
from scheduling.models import Booking, Round, UsualDay
from scheduling.selectors.due import due_horses
from tests import factories

TODAY = date(2026, 3, 24)


@pytest.fixture
def whinbrae(db):
    """The demo's people and places, with three horses at each barn."""
    practice_demo.load(today=TODAY)
    owner = factories.make_client()
    for barn in Barn.objects.all():
        for _ in range(3):
            factories.make_horse(barn=barn, owner=owner, today=TODAY)


def test_the_demo_has_a_round_today_some_ahead_and_horses_left_due(whinbrae):
    demo.load(today=TODAY)
    days = {round_.day for round_ in Round.objects.all()}
    assert TODAY in days
    assert max(days) > TODAY
    assert not any(round_.breaks_a_rule for round_ in Round.objects.filter(day=TODAY))
    farrier = User.objects.farriers().first()
    assert due_horses(viewer=farrier, today=TODAY).count() >= 10


def test_loading_the_demo_again_changes_nothing_and_erasing_leaves_nothing(whinbrae):
    demo.load(today=TODAY)
    before = set(Booking.objects.values_list("pk", "starts_at"))
    demo.load(today=TODAY)
    assert set(Booking.objects.values_list("pk", "starts_at")) == before
    demo.erase()
    for model in (Booking, Round, UsualDay):
        assert not model.objects.exists()


def test_a_practice_that_is_no_demo_gets_no_demo_rounds(practice, farrier):
    factories.make_horse()
    demo.load(today=TODAY)
    assert not Round.objects.exists()
