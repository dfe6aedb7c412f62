"""``manage.py send``: the outbox without Celery, for a house without a worker."""

import signal
import threading
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections

from practice import outbox
from practice.lane import Lane
from practice.tasks import nightly


class Command(BaseCommand):
    help = "Carry out what waits in the outbox, again and again, without a worker."
    requires_system_checks = []  # no page is needed

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--once", action="store_true", help="do what is due now and end"
        )
        parser.add_argument(
            "--every", type=float, default=10, help="seconds between looks (10)"
        )

    def handle(self, *_: object, **options: Any) -> None:
        if options["once"]:
            nightly()
            self.stdout.write(f"{outbox.drain()} done")
            return
        told, lane = threading.Event(), Lane()
        for word in (signal.SIGTERM, signal.SIGINT):
            signal.signal(word, lambda _signal, _frame: told.set())
        while not told.is_set():
            nightly()
            lane.look()
            while outbox.drain(long=False) and not told.is_set():
                pass  # a hundred at a time
            close_old_connections()
            told.wait(max(1.0, options["every"]))
        lane.end()
