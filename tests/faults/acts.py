"""What the faulty processes do: jobs, mailboxes that stall, and their entry points."""

import sys
import time
from typing import Any

from django.core.mail.backends.filebased import EmailBackend


def count(n: int) -> None:
    """A job: one row, so that twice would be seen as two."""
    from practice.models import Change

    Change.objects.create(label="faults", object_id=str(n), action="counted")
    time.sleep(0.01)


def _stall(word: str) -> None:
    sys.stdout.write(word + "\n")
    sys.stdout.flush()
    time.sleep(600)


class StallsBeforeSending(EmailBackend):
    """Dies, if one kills it, with the mail still in the house."""

    def send_messages(self, email_messages: Any) -> int:
        _stall("before")
        return 0


class StallsAfterSending(EmailBackend):
    """Dies, if one kills it, with the mail gone and nobody told."""

    def send_messages(self, email_messages: Any) -> int:
        sent = super().send_messages(email_messages)
        _stall("after")
        return sent or 0


def main(act: str) -> None:
    """``python -m tests.faults.acts claim|drain|mail|jobs|weeks``."""
    import django

    django.setup()
    from django.db import transaction

    from practice import outbox

    if act == "claim":
        assert outbox.claim(limit=1)
        _stall("claimed")
    elif act == "drain":
        _stall_until_line()
        outbox.drain(limit=10_000)
    elif act == "mail":
        with transaction.atomic():
            for n in range(int(sys.argv[2])):
                outbox.queue_mail(
                    kind="fault",
                    to="elspeth@example.org",
                    subject=f"Number {n}",
                    body="Read me once.",
                    key=f"mail-{n}",
                )
    elif act == "jobs":
        with transaction.atomic():
            for n in range(int(sys.argv[2])):
                outbox.queue_job(kind="count", payload={"n": n}, key=f"job-{n}")

    elif act == "weeks":
        _ask_for_weeks(seconds=60)


def _ask_for_weeks(seconds: int) -> None:
    """Weeks of more barns than are searched in a moment, asked of the worker."""
    from django.utils import timezone

    from tests import factories
    from tests.scheduling.proposed import start

    factories.make_practice()
    farrier = factories.make_user("farrier")
    today = timezone.localdate()
    for n in range(60):
        north, east = f"55.{60 + n % 8}", f"-2.{80 + n // 8}"
        barn = factories.make_barn(latitude=north, longitude=east)
        factories.make_horse(barn=barn, today=today)
    start(by=farrier, today=today, weeks=2, seconds=seconds)


def _stall_until_line() -> None:
    """Ready, and off at the same moment as the other."""
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()


if __name__ == "__main__":
    main(sys.argv[1])
