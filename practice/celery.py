"""The Celery app: the bell and the sweeper of the outbox, never the queue itself.

Its settings are Django's with ``CELERY_`` before them. Start it with
``-A practice.celery``. It is not imported by the package, so that the pure modules
stay free of it; ``practice.tasks`` imports it.
"""

import logging
import os
from pathlib import Path

from celery import Celery
from celery.signals import beat_embedded_init, worker_init, worker_process_init

from practice.supervisor import watch_supervisor

logger = logging.getLogger(__name__)
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "practice.settings")

app = Celery("practice")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["practice"])
if _bells := app.conf.broker_transport_options.get("data_folder_in"):
    Path(_bells).mkdir(parents=True, exist_ok=True)  # kombu expects to find it


@worker_init.connect
@beat_embedded_init.connect
def _die_with_the_tree(**_: object) -> None:
    """Each process of the embedded worker looks after the supervisor for itself."""
    watch_supervisor()


@worker_process_init.connect
def _warm_up(**_: object) -> None:
    """After the fork, since what is warmed is not shared by processes. The first
    invoice after a start is then as quick as the next."""
    from django.conf import settings
    from django.utils.module_loading import import_string

    for name in settings.WARMED_AFTER_FORK:
        try:
            import_string(name)()
        except RuntimeError as lacking:  # a machine without PDF libraries says so
            logger.warning("%s", lacking)
