"""When a horse is due: last visit and set weeks."""

from datetime import date, timedelta

import pytest

from horses.models import DueWindow, Horse, IntervalSettings
from horses.services.horses import refresh_all_due_windows, refresh_due_window
from tests import factories

TODAY = date(2026, 3, 2)


def test_a_horse_without_a_visit_is_due_today_and_says_so(practice):
    horse = factories.make_horse(today=TODAY)
    assert horse.due_window.target == TODAY
    assert horse.due_window.basis == DueWindow.Basis.NO_VISIT


def test_target_is_the_last_closed_visit_and_the_horses_weeks(farrier):
    horse = factories.make_horse(interval_weeks=5)
    factories.make_visit(
        horses=[horse], farrier=farrier, closed=True, day=date(2026, 2, 2)
    )
    factories.make_visit(horses=[horse], farrier=farrier, day=date(2026, 2, 20))
    window = refresh_due_window(horse=horse, today=TODAY)
    assert window is not None
    assert (window.earliest, window.target, window.latest) == (
        date(2026, 3, 2),
        date(2026, 3, 9),
        date(2026, 3, 23),
    )
    assert window.basis == DueWindow.Basis.SET_INTERVAL


def test_where_nothing_is_reckoned_the_practices_interval_holds(farrier):
    IntervalSettings.objects.create(reckons=False)
    horse = factories.make_horse()
    factories.make_visit(
        horses=[horse], farrier=farrier, closed=True, day=date(2026, 2, 2)
    )
    window = refresh_due_window(horse=horse, today=TODAY)
    assert window is not None
    assert window.target == date(2026, 2, 2) + timedelta(weeks=6)
    assert window.basis == DueWindow.Basis.USUAL_INTERVAL


@pytest.mark.parametrize(
    "status", [Horse.Status.DEAD, Horse.Status.SOLD, Horse.Status.RESTING]
)
def test_a_horse_that_is_not_active_has_no_window(practice, status):
    horse = factories.make_horse()
    horse.status = status
    horse.save(update_fields=["status"])
    assert refresh_due_window(horse=horse, today=TODAY) is None


def test_all_windows_are_refreshed_in_few_queries(
    practice, django_assert_max_num_queries
):
    for _ in range(12):
        factories.make_horse()
    with django_assert_max_num_queries(13):
        assert refresh_all_due_windows(today=TODAY) == 12
    assert set(DueWindow.objects.values_list("target", flat=True)) == {TODAY}
