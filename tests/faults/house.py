"""The house's own settings with a job that counts and a mailbox that can stall."""

import os

from practice.settings import *  # noqa: F403
from practice.settings import OUTBOX_JOBS

OUTBOX_JOBS = {**OUTBOX_JOBS, "count": "tests.faults.acts.count"}
EMAIL_BACKEND = os.environ.get(
    "FAULTS_MAILBOX", "django.core.mail.backends.filebased.EmailBackend"
)
CELERY_TASK_DEFAULT_QUEUE = os.environ.get("FAULTS_QUEUE", "celery")
