"""The night reckons windows while a farrier closes a visit: the visit's word stands."""

import threading
from datetime import date, timedelta

import pytest
from django.db import OperationalError, connections
from django.utils import timezone

from horses.models import DueWindow
from horses.services import horses as service
from horses.services.visits import close_visit
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_visit_closed_while_the_night_reckons_is_not_overwritten(monkeypatch):
    """The night has read the horse and not written yet, when the visit is closed."""
    factories.make_practice()
    today = timezone.localdate()
    farrier = factories.make_user("farrier")
    horse = factories.make_horse(today=today)
    visit = factories.make_visit(horses=[horse], farrier=farrier, day=today)
    has_read, reckon = threading.Event(), service._windows
    night = threading.current_thread()

    def slowly(*args):
        found = reckon(*args)
        if threading.current_thread() is night:
            has_read.set()
            closing.join(0.7)  # who has to wait for us is done after us
        return found

    def close():
        has_read.wait()
        done = False
        while not done:
            try:
                close_visit(visit=visit, by=farrier)
                done = True
            except OperationalError as error:
                if "is locked" not in str(error):
                    raise
        connections.close_all()

    monkeypatch.setattr(service, "_windows", slowly)
    closing = threading.Thread(target=close)
    closing.start()
    service.refresh_all_due_windows(today=today)
    closing.join()
    window = DueWindow.objects.get(horse=horse)
    assert window.last_visit_day == today
    assert window.earliest > today


def test_windows_of_settings_changed_meanwhile_are_reckoned_by_the_new_ones(
    monkeypatch,
):
    """What holds for all is read after the windows are held, not before."""
    factories.make_practice()
    factories.make_horse(today=date(2026, 3, 2))
    order = []

    def noted(name, act):
        def run(*args):
            order.append(name)
            return act(*args)

        return run

    for name in ("_hold", "house"):
        monkeypatch.setattr(service, name, noted(name, getattr(service, name)))
    service.refresh_all_due_windows(today=date(2026, 3, 2) + timedelta(days=1))
    assert order == ["_hold", "house"]
