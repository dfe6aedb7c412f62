"""``manage.py prepare``: what stands between the code and the first page."""

import hashlib
from argparse import ArgumentParser
from io import StringIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor

from practice import demo
from practice.management.commands.demo import sign_ins
from practice.models import Practice

# Pages of the API's library that we never show: two thirds of the files' bytes.
NOT_SHOWN = ["rest_framework"]


class Command(BaseCommand):
    help = (
        "Make the tables, collect the static files and empty the bell's folder; with "
        "--demo also load the demo practice on the first start."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        choice = parser.add_mutually_exclusive_group()
        choice.add_argument(
            "--demo", action="store_true", help="load the demo on the first start"
        )
        choice.add_argument(
            "--empty", action="store_true", help="note that it began without the demo"
        )

    def handle(self, *_: object, **options: Any) -> None:
        try:
            _make_tables()
        except OperationalError as error:
            why = " ".join(str(error).split())
            raise CommandError(
                f"The database does not answer: {why}", returncode=2
            ) from error
        _collect_static()
        _empty_bells()
        if options["demo"] or options["empty"]:
            self._first_start(with_demo=options["demo"])
            if demo.set_in_house():
                self.stdout.write(sign_ins())

    def _first_start(self, *, with_demo: bool) -> None:
        """The note says that there was one, so that an emptied practice stays so."""
        note = settings.DATA_DIR / "started"
        if not note.exists():
            if with_demo and not Practice.objects.exists():
                self.stderr.write("Loading the demo practice …")
                call_command("demo", stdout=StringIO())
            note.write_text("demo\n" if with_demo else "empty\n", encoding="utf-8")


def _make_tables() -> None:
    """Migrate only where something is left to do: asking is the quicker half."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        call_command("migrate", verbosity=0)


def _collect_static() -> None:
    """Collect when a file came, went or changed since the last time."""
    root = Path(settings.STATIC_ROOT)
    note = root / ".sum"
    found = _sum_of_static()
    if not note.exists() or note.read_text(encoding="utf-8") != found:
        call_command(
            "collectstatic", interactive=False, verbosity=0, ignore_patterns=NOT_SHOWN
        )
        note.write_text(found, encoding="utf-8")


def _sum_of_static() -> str:
    digest = hashlib.sha256()
    for finder in get_finders():
        for name, storage in finder.list(NOT_SHOWN):
            status = Path(storage.path(name)).stat()
            digest.update(f"{name} {status.st_size} {status.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def _empty_bells() -> None:
    """Bells that rang for nobody: the outbox knows what waits."""
    if not settings.REDIS_URL:
        folder = Path(settings.CELERY_BROKER_TRANSPORT_OPTIONS["data_folder_in"])
        folder.mkdir(parents=True, exist_ok=True)
        for bell in folder.glob("*.msg"):
            bell.unlink(missing_ok=True)
