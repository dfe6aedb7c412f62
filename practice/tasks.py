"""What Celery may be told: to sweep the outbox, and to queue the night's work.

A message through the broker is only a bell: lost ones are made good by the next
sweep, doubled ones find nothing to do.
"""

import logging
from typing import Any

from celery.exceptions import CeleryError
from django.conf import settings
from django.utils import timezone
from kombu.exceptions import KombuError

from practice import outbox
from practice.celery import app
from practice.lane import Lane
from practice.models import Practice
from practice.services.nightly import queue_nightly_jobs

logger = logging.getLogger(__name__)
lane = Lane()


@app.task(name="practice.tasks.sweep")
def sweep() -> int:
    """Carry out what is due in the outbox, long jobs beside it; the number of rows
    done here."""
    lane.look()
    return outbox.drain(long=False)


@app.task(name="practice.tasks.nightly")
def nightly() -> int:
    """Queue the jobs of the practice's day, each once; the number of kinds."""
    practice = Practice.objects.filter(pk=1).first()
    if practice is None:
        return 0
    day = timezone.localdate(timezone=practice.zone)
    return queue_nightly_jobs(kinds=settings.NIGHTLY_JOBS, day=day)


def ring() -> None:
    """Tell the worker that something waits. A dead broker is no one's failure.

    Tried once, on a connection of its own: the worker's patience with a broker that is
    away (it tries for as long as it takes) would be a page that hangs.
    """
    once = {**app.conf.broker_transport_options, "max_retries": 1, "interval_start": 0}
    try:
        with app.connection_for_write(transport_options=once) as line:
            how: dict[str, Any] = {"retry": False, "connection": line}
            sweep.apply_async(expires=10, **how)
    except (CeleryError, KombuError, OSError) as error:
        logger.warning("the bell did not ring: %s", type(error).__name__)
