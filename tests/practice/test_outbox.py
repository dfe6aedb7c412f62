"""The outbox: queued with its cause, claimed by one, marked with the answer."""

from datetime import timedelta

import pytest
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.utils import timezone

from practice import outbox
from practice.models import Message

pytestmark = pytest.mark.django_db


def queue(key: str = "hello-1", **over):
    fields = {"kind": "hello", "to": "a@example.org", "subject": "Hello", "body": "Hi."}
    return outbox.queue_mail(key=key, **{**fields, **over})


def test_a_message_is_queued_once_by_its_key():
    first = queue()
    assert queue(subject="Something else") == first
    assert Message.objects.get().subject == "Hello"


def test_a_message_goes_with_the_transaction_that_causes_it():
    with transaction.atomic():
        queue()
        transaction.set_rollback(True)
    assert not Message.objects.exists()


def test_a_mail_goes_out_once_and_is_marked():
    queue()
    assert outbox.drain() == 1
    assert outbox.drain() == 0
    assert [sent.to for sent in mail.outbox] == [["a@example.org"]]
    message = Message.objects.get()
    assert message.state == Message.State.SENT
    assert message.sent_at is not None


def test_a_subject_cannot_smuggle_a_header():
    queue(subject="Hello\nBcc: b@example.org")
    outbox.drain()
    assert mail.outbox[0].subject == "Hello Bcc: b@example.org"


def test_a_claimed_row_is_not_claimed_again_while_its_lease_runs():
    queue()
    assert len(outbox.claim()) == 1
    assert outbox.claim() == []


def test_a_row_claimed_by_a_worker_that_died_is_taken_up_again():
    queue()
    (lost,) = outbox.claim()
    Message.objects.update(lease_until=timezone.now() - timedelta(seconds=1))
    (again,) = outbox.claim()
    assert again.claim != lost.claim
    assert outbox.carry_out(lost) is False, "the first worker wakes and must stop"
    assert outbox.carry_out(again) is True
    assert len(mail.outbox) == 1


def test_a_row_over_which_workers_die_again_and_again_is_given_up():
    message = queue()
    past = timezone.now() - timedelta(seconds=1)
    for tries in range(outbox.MOST_TRIES):
        (taken,) = outbox.claim()
        assert (taken.pk, taken.tries) == (message.pk, tries)
        Message.objects.update(lease_until=past)
    assert outbox.claim() == []
    message.refresh_from_db()
    assert (message.state, message.answer) == ("failed", outbox.DIED)


def test_a_mail_that_may_have_left_is_shown_as_unsure_and_not_sent_again():
    queue()
    outbox.claim()
    past = timezone.now() - timedelta(seconds=1)
    Message.objects.update(handed_over_at=past, lease_until=past)
    assert outbox.drain() == 0
    assert Message.objects.get().state == Message.State.UNSURE
    assert mail.outbox == []


def test_a_mail_that_the_server_refuses_is_tried_later_and_at_last_given_up(settings):
    settings.EMAIL_BACKEND = "tests.practice.test_outbox.Refusing"
    queue()
    for _ in range(outbox.MOST_TRIES):
        assert outbox.drain() == 0
        Message.objects.update(run_after=timezone.now())
    message = Message.objects.get()
    assert message.state == Message.State.FAILED
    assert "mailbox full" in message.answer
    assert outbox.drain() == 0


@pytest.mark.parametrize("how", ["Unreached", "Silent"])
def test_a_line_that_breaks_while_a_mail_is_handed_over_leaves_it_unsure(settings, how):
    """Broken before, it is tried again; after that the server may have taken it."""
    settings.EMAIL_BACKEND = f"tests.practice.test_outbox.{how}"
    queue()
    assert outbox.drain() == 0
    message = Message.objects.get()
    unsure = how == "Silent"
    assert (message.state, message.tries) == (("unsure", 0) if unsure else ("ready", 1))
    assert bool(message.handed_over_at) == unsure
    assert "TimeoutError" in message.answer


class Refusing(BaseEmailBackend):
    """A mail server that takes nothing."""

    def send_messages(self, messages):
        raise OSError("mailbox full")


class Silent(BaseEmailBackend):
    """One that says nothing more once it has the mail."""

    def send_messages(self, messages):
        raise TimeoutError


class Unreached(BaseEmailBackend):
    """One that is not there."""

    def open(self):
        raise TimeoutError


def test_a_row_waits_until_its_time():
    queue(run_after=timezone.now() + timedelta(hours=1))
    assert outbox.drain() == 0


done: list[int] = []


def note_down(*, number: int) -> None:
    done.append(number)


def stumble(**_: object) -> None:
    queue("made-by-the-job")
    raise RuntimeError("half done")


def test_a_job_is_done_once(settings):
    settings.OUTBOX_JOBS = {"note": "tests.practice.test_outbox.note_down"}
    done.clear()
    outbox.queue_job(kind="note", payload={"number": 7}, key="note-7")
    outbox.queue_job(kind="note", payload={"number": 7}, key="note-7")
    assert outbox.drain() == 1
    assert done == [7]


def test_a_job_that_fails_leaves_nothing_behind_and_is_tried_later(settings):
    settings.OUTBOX_JOBS = {"stumble": "tests.practice.test_outbox.stumble"}
    message = outbox.queue_job(kind="stumble", payload={}, key="stumble-1")
    assert outbox.drain() == 0
    message.refresh_from_db()
    assert (message.state, message.tries) == (Message.State.READY, 1)
    assert not Message.objects.filter(key="made-by-the-job").exists()


def test_a_job_that_nobody_knows_is_refused_at_once():
    with pytest.raises(ValueError, match="OUTBOX_JOBS"):
        outbox.queue_job(kind="unheard-of", payload={}, key="x")


def look_around(*, alive, seen: str) -> None:
    """A long job: notes whether a transaction is open, and loses its row if told."""
    message = Message.objects.get(key=seen)
    LONG_SEEN.append((alive(), message.state, message.lease_until - timezone.now()))
    if seen == "taken-over":
        Message.objects.update(claim="another worker's")
        LONG_SEEN.append(alive())


LONG_SEEN: list = []


@pytest.mark.parametrize("key", ["goes-well", "taken-over"])
def test_a_long_job_renews_its_lease_and_knows_when_another_took_over(settings, key):
    settings.OUTBOX_JOBS = {"look": f"{__name__}.look_around"}
    settings.OUTBOX_LONG_JOBS = {"look"}
    LONG_SEEN.clear()
    outbox.queue_job(kind="look", payload={"seen": key}, key=key)
    done = outbox.drain(limit=1)
    alive, state, lease = LONG_SEEN[0]
    assert (alive, state) == (True, "claimed")
    assert lease <= outbox.LONG_LEASE  # a killed one is taken up within it
    if key == "goes-well":
        assert (done, Message.objects.get().state) == (1, "sent")
    else:
        assert (done, LONG_SEEN[1]) == (0, False)
        assert Message.objects.get().state == "claimed"  # the other one's


@pytest.mark.django_db(transaction=True)
def test_a_long_job_runs_outside_any_transaction(settings):
    settings.OUTBOX_JOBS = {"look": f"{__name__}.in_no_transaction"}
    settings.OUTBOX_LONG_JOBS = {"look"}
    outbox.queue_job(kind="look", payload={}, key="look")
    assert outbox.drain(limit=1) == 1


def in_no_transaction(*, alive) -> None:
    assert not transaction.get_connection().in_atomic_block
