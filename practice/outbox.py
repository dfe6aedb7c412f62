"""The outbox: queue in the caller's transaction, claim, hand over, mark.

The table is the truth; Celery is only the bell and the sweeper. A row is claimed by
one worker with a lease. A job is done and marked in one transaction: exactly once. A
mail leaves the machine between two transactions: it is marked as handed over just
before, so that a worker killed in that gap leaves a row that is shown as `unsure`
('may have gone out twice' if sent again) and is not sent again by itself.
"""

import contextlib
import logging
import secrets
import smtplib
import ssl
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import connection, transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.module_loading import import_string

from practice.models import Client, Message, Practice

logger = logging.getLogger(__name__)
State = Message.State
LEASE = timedelta(minutes=5)
LONG_LEASE = timedelta(seconds=60)
"""Of a long job, renewed while it runs: a killed one is taken up again within it."""
MOST_TRIES = 6
DIED = "The worker died over this again and again."
_FELL_SILENT = (
    *(smtplib.SMTPServerDisconnected, ssl.SSLError),
    *(TimeoutError, ConnectionError),
)
"""A line that broke while a mail was handed over: the server may have taken it."""


def queue_mail(
    *,
    kind: str,
    to: str,
    subject: str,
    body: str,
    key: str,
    attach: Sequence[tuple[str, str | int]] = (),
    client: Client | None = None,
    run_after: datetime | None = None,
    headers: Mapping[str, str] | None = None,
) -> Message:
    """Queues a mail in the caller's transaction.

    Args:
        key: names this mail for ever; a second call with the same key changes nothing.
        attach: pairs of provider (a key of ``OUTBOX_ATTACHMENTS``) and id.
        headers: further fields of the mail's head.
    """
    return _queue(
        key,
        channel=Message.Channel.MAIL,
        kind=kind,
        to=to,
        subject=" ".join(subject.split()),
        body=body,
        client=client,
        payload={
            "attach": [[name, str(pk)] for name, pk in attach],
            **({"headers": dict(headers)} if headers else {}),
        },
        run_after=run_after,
    )


def queue_job(
    *,
    kind: str,
    payload: dict[str, Any],
    key: str,
    run_after: datetime | None = None,
) -> Message:
    """Queues a job, done by the function that ``OUTBOX_JOBS[kind]`` names.

    The function is called with the payload as keyword arguments, inside the
    transaction that marks the row as done.

    A kind in ``OUTBOX_LONG_JOBS`` is called outside any transaction, which on SQLite
    would keep everyone else from writing, and with ``alive`` beside the payload:
    ``alive()`` renews the lease and is False once another worker has taken the row
    over. Such a job is safe to repeat, asks ``alive()`` every second or so, and once
    more inside each transaction in which it stores something.
    """
    if kind not in settings.OUTBOX_JOBS:
        raise ValueError(f"{kind} is not in OUTBOX_JOBS")
    return _queue(
        key,
        channel=Message.Channel.JOB,
        kind=kind,
        payload=payload,
        run_after=run_after,
    )


def _queue(key: str, *, run_after: datetime | None, **fields: Any) -> Message:
    message, is_new = Message.objects.get_or_create(
        key=key, defaults={"run_after": run_after or timezone.now(), **fields}
    )
    if is_new and run_after is None and settings.OUTBOX_BELL:
        # Only a bell, and only for rows that stand: the sweep finds them without it.
        transaction.on_commit(import_string(settings.OUTBOX_BELL), robust=True)
    return message


def _free(now: datetime, long: bool | None) -> Q:
    """Rows that a worker may take, in the lane that it works in."""
    free = Q(state=State.READY) | Q(state=State.CLAIMED, lease_until__lt=now)
    kinds = Q(kind__in=settings.OUTBOX_LONG_JOBS)
    return free if long is None else free & (kinds if long else ~kinds)


def waits(*, long: bool | None = None) -> bool:
    """Whether a row is due. ``long`` as in ``claim``. One query."""
    now = timezone.now()
    return Message.objects.filter(_free(now, long), run_after__lte=now).exists()


def claim(*, limit: int = 1, long: bool | None = None) -> list[Message]:
    """Takes up to ``limit`` rows that are due, for this worker alone.

    A claimed row whose lease has run out is taken again, unless it is a mail that was
    already handed over: that one becomes `unsure`. Its worker has died; one over which
    workers die again and again (memory may be short) is given up.

    Args:
        long: long jobs alone, or all others alone; None: both.
    """
    now = timezone.now()
    free = _free(now, long)
    waiting = Message.objects.filter(free, run_after__lte=now)
    if not waiting.exists():
        return []
    token = secrets.token_hex(16)
    with transaction.atomic():
        Message.objects.filter(
            state=State.CLAIMED, lease_until__lt=now, handed_over_at__isnull=False
        ).update(state=State.UNSURE, claim="", changed_at=now)
        died = Message.objects.filter(state=State.CLAIMED, lease_until__lt=now)
        died.filter(tries__gte=MOST_TRIES - 1).update(
            state=State.FAILED, claim="", answer=DIED, changed_at=now
        )
        rows = waiting.order_by("run_after", "pk")
        if connection.features.has_select_for_update_skip_locked:
            rows = rows.select_for_update(skip_locked=True)
        ids = list(rows.values_list("pk", flat=True)[:limit])
        died.filter(pk__in=ids).update(tries=F("tries") + 1)
        Message.objects.filter(free, pk__in=ids).update(
            state=State.CLAIMED, claim=token, lease_until=now + LEASE, changed_at=now
        )
    return list(Message.objects.filter(claim=token).order_by("run_after", "pk"))


def carry_out(message: Message) -> bool:
    """Does what a claimed row asks for and marks it. True when it was done."""
    try:
        if message.kind in settings.OUTBOX_LONG_JOBS:
            return _do_long_job(message)
        if message.channel == Message.Channel.JOB:
            return _do_job(message)
        return _send_mail(message)
    except Exception as error:  # noqa: BLE001  # whatever a provider throws is retried
        logger.warning("outbox %s failed: %s", message.pk, type(error).__name__)
        _try_later(message, f"{type(error).__name__}: {error}"[:300])
        return False


def _mine(message: Message) -> Any:
    return Message.objects.filter(
        pk=message.pk, state=State.CLAIMED, claim=message.claim
    )


def _do_job(message: Message) -> bool:
    job: Callable[..., object] = import_string(settings.OUTBOX_JOBS[message.kind])
    with transaction.atomic():
        # Marked first: a worker whose lease was taken over finds no row and stops.
        if not _mark(message, State.SENT, answer="done", sent_at=timezone.now()):
            return False
        job(**message.payload)
    return True


def _do_long_job(message: Message) -> bool:
    job: Callable[..., object] = import_string(settings.OUTBOX_JOBS[message.kind])

    def alive() -> bool:
        now = timezone.now()
        return bool(_mine(message).update(lease_until=now + LONG_LEASE, changed_at=now))

    if not alive():
        return False
    job(alive=alive, **message.payload)
    return _mark(message, State.SENT, answer="done", sent_at=timezone.now())


def _send_mail(message: Message) -> bool:
    mail = EmailMessage(
        subject=message.subject,
        body=message.body,
        from_email=sender(),
        to=[message.to],
        # RFC 5322 has no colon in the left part of an identifier.
        headers={
            **message.payload.get("headers", {}),
            "Message-ID": f"<outbox-{message.pk}-{message.key.replace(':', '.')}@clenchline>",
        },
    )
    for name, pk in message.payload.get("attach", []):
        provider = import_string(settings.OUTBOX_ATTACHMENTS[name])
        mail.attach(*provider(pk))
    line = mail.connection = get_connection()
    line.open()  # a server that is not reached has nothing of it
    try:
        now = timezone.now()
        if not _mine(message).update(handed_over_at=now, changed_at=now):
            return False
        return _hand_over(message, mail)
    finally:
        with contextlib.suppress(OSError):  # its fate is known by now
            line.close()


def _hand_over(message: Message, mail: EmailMessage) -> bool:
    try:
        mail.send(fail_silently=False)
    except _FELL_SILENT as error:
        answer = f"{type(error).__name__}: {error}"[:300]
        _mark(message, State.UNSURE, answer=answer)
        return False
    except Exception:
        # The server refused it: it did not go out.
        _mine(message).update(handed_over_at=None)
        raise
    _mark(message, State.SENT, answer="accepted", sent_at=timezone.now())
    return True


def _mark(message: Message, state: State, **said: Any) -> bool:
    """The row's end, by the worker whose row it still is."""
    now = timezone.now()
    rows = _mine(message).update(state=state, claim="", changed_at=now, **said)
    return bool(rows)


def sender() -> str:
    """The address that mail comes from."""
    if settings.EMAIL_FROM:
        return str(settings.EMAIL_FROM)
    practice = Practice.objects.filter(pk=1).first()
    return (practice.email if practice else "") or "clenchline@localhost"


def _try_later(message: Message, answer: str) -> None:
    now = timezone.now()
    tries = message.tries + 1
    over = tries >= MOST_TRIES
    _mine(message).update(
        state=State.FAILED if over else State.READY,
        tries=tries,
        claim="",
        answer=answer,
        run_after=now + timedelta(minutes=2**tries),
        changed_at=now,
    )


def drain(*, limit: int = 100, long: bool | None = None) -> int:
    """Claims and carries out rows one by one until none is due or ``limit`` is met.

    Args:
        long: as in ``claim``.

    Returns:
        how many were done.
    """
    done = 0
    for _ in range(limit):
        rows = claim(limit=1, long=long)
        if not rows:
            break
        done += sum(carry_out(row) for row in rows)
    return done
