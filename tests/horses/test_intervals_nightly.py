"""The night's work on windows: in blocks, for as long as the claim is ours."""

from datetime import timedelta

import pytest
from django.utils import timezone

from horses.models import DueWindow, IntervalSettings
from horses.services import intervals
from tests import factories


@pytest.fixture
def horses(practice):
    return [factories.make_horse() for _ in range(5)]


def test_the_night_reckons_all_and_learns(horses):
    DueWindow.objects.all().delete()
    intervals.nightly_job(alive=lambda: True, day="2026-03-02")
    assert DueWindow.objects.count() == len(horses)
    assert IntervalSettings.objects.get().prior_on == timezone.localdate()


def test_a_claim_that_is_lost_ends_it_between_two_blocks(horses, monkeypatch):
    monkeypatch.setattr(intervals, "AT_ONCE", 2)
    DueWindow.objects.all().delete()
    left = iter([True, False])
    intervals.nightly_job(alive=lambda: next(left))
    assert DueWindow.objects.count() == 2


def test_a_practice_that_does_not_learn_keeps_what_it_had(horses):
    before = timezone.localdate() - timedelta(days=9)
    IntervalSettings.objects.update_or_create(
        pk=1, defaults={"learns": False, "prior_on": before}
    )
    intervals.nightly_job(alive=lambda: True)
    assert IntervalSettings.objects.get().prior_on == before
