"""The sweep, the night's work and the bell."""

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.sessions.models import Session
from django.core import mail
from django.utils import timezone

from practice import outbox, tasks
from practice.celery import app
from practice.models import Message
from practice.services.nightly import drop_ended_sessions, queue_nightly_jobs


@pytest.fixture
def at(monkeypatch):
    """Sets the clock that the edges read."""

    def setter(moment: datetime) -> None:
        monkeypatch.setattr(timezone, "now", lambda: moment)

    return setter


def _queue(key="hello-1"):
    return outbox.queue_mail(
        kind="hello", to="a@example.org", subject="Hello", body="Hi.", key=key
    )


@pytest.mark.django_db
def test_a_sweep_carries_out_what_waits():
    _queue()
    assert tasks.sweep() == 1
    assert len(mail.outbox) == 1


@pytest.mark.django_db
def test_before_the_practice_is_set_up_there_is_no_work_of_the_night():
    assert tasks.nightly() == 0
    assert not Message.objects.exists()


def test_the_nights_work_is_queued_once_a_day(practice, settings):
    assert tasks.nightly() == len(settings.NIGHTLY_JOBS)
    tasks.nightly()
    assert Message.objects.count() == len(settings.NIGHTLY_JOBS)


def test_the_night_follows_the_practices_clock(practice, settings, at):
    practice.time_zone = "Pacific/Auckland"
    practice.save(update_fields=["time_zone"])
    at(datetime(2026, 3, 1, 12, 0, tzinfo=UTC))  # 01:00 on the 2nd in Auckland
    tasks.nightly()
    keys = set(Message.objects.values_list("key", flat=True))
    assert keys == {f"nightly-{kind}-2026-03-02" for kind in settings.NIGHTLY_JOBS}


def test_each_job_is_given_the_day(practice, settings):
    day = datetime(2026, 3, 2, tzinfo=UTC).date()
    queue_nightly_jobs(kinds=["refresh_due_windows"], day=day)
    assert Message.objects.get().payload == {"day": "2026-03-02"}


def test_every_task_of_the_schedule_is_there(settings):
    for entry in settings.CELERY_BEAT_SCHEDULE.values():
        assert entry["task"] in app.tasks
        assert entry["options"]["expires"] <= entry["schedule"]


@pytest.mark.django_db(transaction=True)
def test_the_bell_rings_after_commit_and_only_for_new_rows_that_are_due(
    settings, monkeypatch
):
    rung = []
    monkeypatch.setattr(tasks, "ring", lambda: rung.append(Message.objects.count()))
    settings.OUTBOX_BELL = "practice.tasks.ring"
    _queue("first")
    assert rung == [1]
    _queue("first")
    outbox.queue_mail(
        kind="later",
        to="a@example.org",
        subject="Later",
        body="Hi.",
        key="later",
        run_after=datetime(2030, 1, 1, tzinfo=UTC),
    )
    assert rung == [1]


def test_a_broker_that_is_away_is_logged_and_no_failure(monkeypatch, caplog):
    def refused(**_):
        raise OSError("no such folder")

    monkeypatch.setattr(tasks.sweep, "apply_async", refused)
    tasks.ring()
    assert caplog.messages == ["the bell did not ring: OSError"]


@pytest.mark.django_db
def test_sessions_that_have_ended_are_dropped_and_others_stay():
    now = timezone.now()
    Session.objects.create(
        session_key="old", session_data="", expire_date=now - timedelta(days=1)
    )
    Session.objects.create(
        session_key="new", session_data="", expire_date=now + timedelta(days=1)
    )
    drop_ended_sessions()
    assert [row.session_key for row in Session.objects.all()] == ["new"]
