"""Reminders to owners: who is told, once an occasion, and who never is."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.core import mail
from django.test import Client as Browser

from horses.models import DueWindow, Horse
from practice import outbox
from practice.models import Message, Practice
from scheduling.models import (
    Away,
    BookedHorse,
    Booking,
    ClientReminders,
    Reminder,
    ReminderSettings,
)
from scheduling.selectors.reminders import call_list, to_come, went
from scheduling.services.reminders import (
    change_client_reminders,
    change_reminder_settings,
    leaving_headers,
    note_call,
    plan_reminders,
    remind_client,
    stop_reminders,
    token_of,
)
from tests import factories

TODAY = date(2026, 3, 3)
MIDNIGHT = datetime(2026, 3, 3, 0, 10, tzinfo=UTC)
MORNING = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)
EARLIEST, TARGET, LATEST = date(2026, 3, 3), date(2026, 3, 12), date(2026, 3, 20)


@pytest.fixture
def on(practice):
    return ReminderSettings.objects.create(is_on=True)


@pytest.fixture
def client(practice):
    return factories.make_client(
        name="Elspeth Owner", email="elspeth@example.org", phone="01632 960001"
    )


def make_due(client, *, span=(EARLIEST, TARGET, LATEST), **over):
    """A horse with a window as the night has left it."""
    horse = factories.make_horse(owner=client, **over)
    earliest, target, latest = span
    DueWindow.objects.update_or_create(
        horse=horse,
        defaults={
            "earliest": earliest,
            "target": target,
            "latest": latest,
            "basis": DueWindow.Basis.GROWTH,
            "last_visit_day": date(2026, 1, 20),
            "weeks": 7,
        },
    )
    return horse


def night(now=MIDNIGHT):
    return plan_reminders(today=now.date(), now=now)


def day(client, now=MORNING):
    return remind_client(client=client, now=now)


def booked(horse, farrier, **over):
    fields = {"barn": horse.barn, "farrier": farrier, "day": TARGET, **over}
    booking = Booking.objects.create(**fields)
    BookedHorse.objects.create(booking=booking, horse=horse)
    return booking


def test_one_mail_lists_all_horses_that_are_due_or_soon_will_be(on, client):
    make_due(client, name="Rollo")
    soon = tuple(one + timedelta(days=5) for one in (EARLIEST, TARGET, LATEST))
    make_due(client, name="Bracken", span=soon)
    far = tuple(one + timedelta(days=30) for one in (EARLIEST, TARGET, LATEST))
    make_due(client, name="Far Off", span=far)
    message = day(client)
    assert message.to == "elspeth@example.org"
    assert "Rollo" in message.body
    assert "due now, by 20 March" in message.body
    assert "Bracken" in message.body
    assert "due between 8 and 25 March" in message.body
    assert "Far Off" not in message.body
    assert f"/reminders/stop/{token_of(client)[:8]}" in message.body
    assert set(Reminder.objects.values_list("horse__name", "occasion")) == {
        ("Rollo", "opens"),
        ("Bracken", "opens"),
    }


def test_a_reminder_is_in_the_client_s_language_and_names_its_way_out(
    on, practice, settings
):
    settings.SITE_URL = "https://forge.example.org"
    client = factories.make_client(name="Jana Roth", language="de")
    make_due(client, name="Rollo")
    message = day(client)
    assert message.subject == "Rollo: Zeit für den Hufschmied"
    assert message.body.startswith("Guten Tag Jana Roth,")
    assert "jetzt fällig, bis zum 20. März" in message.body
    outbox.drain()
    (sent,) = mail.outbox
    way = sent.extra_headers["List-Unsubscribe"].strip("<>")
    assert way.startswith("https://forge.example.org/reminders/stop/")
    assert way in sent.body
    assert sent.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_by_plain_http_no_press_of_one_button_is_promised():
    way = "http://forge.example.org/x/"
    assert leaving_headers(way) == {"List-Unsubscribe": f"<{way}>"}


def test_a_mail_program_stops_the_mails_by_one_post_however_often(on, client):
    """RFC 8058: no cookie, no token, no redirect."""
    browser = Browser(enforce_csrf_checks=True)
    way = f"/reminders/stop/{token_of(client)}/"
    for _ in range(2):
        answer = browser.post(way, {"List-Unsubscribe": "One-Click"})
        assert answer.status_code == 200
    stopped = ClientReminders.objects.get(client=client).stopped_at
    assert stopped is not None
    make_due(client)
    assert day(client) is None


def test_the_night_queues_one_job_for_the_end_of_the_quiet_hours(on, client):
    make_due(client)
    make_due(client)
    assert (night(), night(), night()) == (1, 1, 1)  # a repeated night queues nothing
    job = Message.objects.get(kind="remind_client")
    assert job.run_after == MORNING
    assert not Message.objects.filter(kind="reminder").exists()


def test_job_after_job_sends_once(on, client, settings):
    make_due(client)
    Message.objects.all().delete()
    assert day(client) is not None
    assert day(client) is None
    assert day(client, MORNING + timedelta(days=1)) is None
    assert Message.objects.filter(kind="reminder").count() == 1


def test_the_job_runs_through_the_outbox(on, client, monkeypatch):
    make_due(client)
    night()
    monkeypatch.setattr("django.utils.timezone.now", lambda: MORNING)
    assert outbox.drain() >= 2  # the job, then the mail
    mail = Message.objects.get(kind="reminder")
    assert mail.state == Message.State.SENT


def test_a_second_mail_goes_near_the_target_and_no_third(on, client):
    horse = make_due(client)
    sent = [
        when.date()
        for when in (MORNING + timedelta(days=n) for n in range(24))
        if day(client, when) is not None
    ]
    assert sent == [EARLIEST, TARGET - timedelta(days=on.near_days)]
    assert Reminder.objects.filter(horse=horse).count() == 2


@pytest.mark.parametrize("status", ["pencilled", "asked", "agreed"])
def test_what_is_booked_between_night_and_morning_is_not_mentioned(
    on, client, farrier, status
):
    horse = make_due(client)
    night()
    booked(horse, farrier, status=status)
    assert day(client) is None
    assert not Reminder.objects.exists()


def test_a_new_visit_begins_a_new_round_of_reminders(on, client):
    horse = make_due(client)
    day(client)
    later = [one + timedelta(days=50) for one in (EARLIEST, TARGET, LATEST)]
    DueWindow.objects.filter(horse=horse).update(
        earliest=later[0],
        target=later[1],
        latest=later[2],
        last_visit_day=date(2026, 3, 10),
    )
    assert day(client, MORNING + timedelta(days=50)) is not None


@pytest.mark.parametrize(
    "status", [s for s in Horse.Status.values if s != Horse.Status.ACTIVE]
)
def test_nobody_is_reminded_of_a_horse_that_is_gone_or_rests(on, client, status):
    horse = make_due(client)
    Horse.objects.filter(pk=horse.pk).update(status=status)  # its window still stands
    assert (night(), day(client)) == (0, None)


def test_nor_after_the_ownership_has_ended_nor_a_client_put_aside(on, client):
    sold = make_due(client)
    sold.ownerships.update(ends=TODAY - timedelta(days=1))
    assert (night(), day(client)) == (0, None)
    make_due(client)
    client.is_active = False
    client.save(update_fields=["is_active"])
    assert (night(), day(client)) == (0, None)


def test_nor_of_one_that_was_never_visited_nor_while_it_is_away(on, client):
    horse = factories.make_horse(owner=client, today=TODAY)
    assert horse.due_window.basis == DueWindow.Basis.NO_VISIT
    away = make_due(client)
    Away.objects.create(horse=away, until=TODAY)
    assert (night(), day(client)) == (0, None)
    assert night(MIDNIGHT + timedelta(days=1)) == 1


def test_off_is_off(practice, client):
    make_due(client)
    assert ReminderSettings.objects.the_one().is_on is False  # until somebody says so
    assert (night(), day(client)) == (0, None)


def test_a_client_without_an_address_or_who_asks_for_it_is_called(on, client, office):
    horse = make_due(client)
    change_client_reminders(client=client, by=office, channel="phone")
    mailless = factories.make_client(name="Fergus", email="", phone="01632 960002")
    make_due(mailless)
    assert night() == 2
    assert night(MIDNIGHT + timedelta(days=1)) == 0  # on the list already
    calls = call_list(viewer=office, today=TODAY)
    assert [one.client.name for one in calls] == ["Elspeth Owner", "Fergus"]
    assert not Message.objects.filter(kind="reminder").exists()
    assert note_call(client=client, by=office, today=TODAY, note="rings back") == 1
    assert note_call(client=client, by=office, today=TODAY) == 0
    assert [one.client.name for one in call_list(viewer=office, today=TODAY)] == [
        "Fergus"
    ]
    assert [one.client.name for one in went(viewer=office, today=TODAY)] == [
        "Elspeth Owner"
    ]
    assert horse.name


def test_a_booked_horse_leaves_the_call_list(on, client, office, farrier):
    horse = make_due(client)
    change_client_reminders(client=client, by=office, channel="phone")
    night()
    booked(horse, farrier)
    assert call_list(viewer=office, today=TODAY) == []


def test_each_clients_own_quiet_hours_hold_also_for_the_job(on, client, office):
    make_due(client)
    change_client_reminders(
        client=client,
        by=office,
        channel="mail",
        quiet_from=time(22),
        quiet_until=time(11, 30),
    )
    night()
    job = Message.objects.get(kind="remind_client")
    assert job.run_after == MORNING.replace(hour=11, minute=30)
    assert day(client) is None  # a worker that woke too early puts it off
    assert Message.objects.filter(kind="remind_client").count() == 2
    assert not Message.objects.filter(kind="reminder").exists()
    assert day(client, MORNING.replace(hour=12)) is not None


def test_the_clock_is_the_practices(on, client):
    Practice.objects.update(time_zone="America/New_York")
    make_due(client)
    night(datetime(2026, 3, 3, 5, 10, tzinfo=UTC))  # ten past midnight there
    job = Message.objects.get(kind="remind_client")
    assert job.run_after == datetime(2026, 3, 3, 13, 0, tzinfo=UTC)


def test_the_night_the_clock_changes_eight_is_eight(on, client):
    make_due(
        client, span=(date(2026, 3, 29), TARGET + timedelta(days=26), date(2026, 4, 20))
    )
    night(datetime(2026, 3, 29, 0, 10, tzinfo=UTC))
    job = Message.objects.get(kind="remind_client")
    assert job.run_after == datetime(2026, 3, 29, 7, 0, tzinfo=UTC)  # 08:00 BST


def test_every_owner_of_a_shared_horse_is_told(on, client):
    horse = make_due(client)
    other = factories.make_client(name="Other", email="other@example.org")
    factories.make_ownership(horse=horse, client=other)
    assert night() == 2
    assert day(client) is not None
    assert day(other) is not None


def test_the_link_stops_the_mails_without_an_account(on, client, as_stranger):
    make_due(client)
    address = f"/reminders/stop/{token_of(client)}/"
    assert "Stop the reminders?" in as_stranger.get(address).content.decode()
    assert ClientReminders.objects.count() == 0  # opening it does nothing
    page = as_stranger.post(address, {"what": "stop"}, follow=True)
    assert "No more reminders" in page.content.decode()
    assert (night(), day(client)) == (0, None)
    as_stranger.post(address, {"what": "again"})
    assert night() == 1


def test_a_made_up_link_opens_nothing(practice, as_stranger):
    assert as_stranger.get("/reminders/stop/MTI:abc:def/").status_code == 404


def test_stopping_twice_and_choosing_mail_again(on, client, office):
    token = token_of(client)
    stop_reminders(token=token)
    stop_reminders(token=token)
    own = ClientReminders.objects.get()
    assert own.stopped_at is not None
    change_client_reminders(client=client, by=office, channel="mail")
    own.refresh_from_db()
    assert own.stopped_at is None


def test_the_pages_show_what_is_to_come_and_what_went(on, client, as_office, office):
    Practice.objects.update(time_zone="UTC")
    make_due(client, name="Rollo")
    ahead = to_come(today=TODAY - timedelta(days=3))
    assert [(one.day, [h.occasion for h in one.horses]) for one in ahead] == [
        (EARLIEST, ["opens"]),
        (TARGET - timedelta(days=3), ["near"]),
    ]
    day(client)
    page = as_office.get("/reminders/").content.decode()
    assert "Quiet" not in page
    assert "20:00 to 08:00" in page
    change_client_reminders(client=client, by=office, channel="none")
    assert (
        "not wanted"
        in as_office.get(f"/reminders/of-client/{client.pk}/").content.decode()
    )


def test_the_settings_are_kept_with_who_changed_them(as_farrier, practice, farrier):
    bad = {"near_days": "40", "quiet_from": "20:00", "quiet_until": "8", "words": "Hi"}
    page = as_farrier.post("/reminders/settings/", bad)
    assert page.status_code == 422
    assert "Hi" in page.content.decode()
    assert "such as 20:00" in page.content.decode()
    good = {
        "is_on": "on",
        "near_days": "4",
        "quiet_from": "21:00",
        "quiet_until": "07:30",
    }
    assert as_farrier.post("/reminders/settings/", good).status_code == 302
    row = ReminderSettings.objects.get()
    assert (row.is_on, row.near_days, row.quiet_from) == (True, 4, time(21))
    changed = change_reminder_settings(by=farrier, near_days=4)
    assert changed.near_days == 4


def test_who_is_due_costs_the_same_however_many(on, client, django_assert_num_queries):
    for _ in range(3):
        make_due(factories.make_client(email="a@example.org"))
    with django_assert_num_queries(6):
        to_come(today=TODAY)
    for _ in range(6):
        make_due(client)
    with django_assert_num_queries(6):
        to_come(today=TODAY)
