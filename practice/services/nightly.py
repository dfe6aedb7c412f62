"""The work of the night, queued once a day whoever asks and however often."""

from collections.abc import Sequence
from datetime import date

from django.contrib.sessions.backends.db import SessionStore
from django.db import transaction

from practice import outbox


@transaction.atomic
def queue_nightly_jobs(*, kinds: Sequence[str], day: date) -> int:
    """Queue one job a kind for ``day``; a second call for the day changes nothing.

    Args:
        kinds: names out of ``OUTBOX_JOBS``; each job is given ``day`` as ISO text.

    Returns:
        how many kinds there are.
    """
    for kind in kinds:
        outbox.queue_job(
            kind=kind,
            payload={"day": day.isoformat()},
            key=f"nightly-{kind}-{day.isoformat()}",
        )
    return len(kinds)


def drop_ended_sessions(**_: object) -> None:
    """The outbox's nightly job: rows of sessions that have ended only pile up."""
    SessionStore.clear_expired()
