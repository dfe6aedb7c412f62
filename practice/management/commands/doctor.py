"""``manage.py doctor``: what this installation stands on, and what is wrong with it."""

import platform
import shutil
import socket
import sqlite3
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import django
from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django.utils.module_loading import import_string

from practice import bootstrap
from practice.models import Message

_WAL_MENDED = (3, 51, 3)  # sqlite.org/wal.html#walresetbug
_LITTLE_ROOM = 500_000_000  # bytes


class Finding(NamedTuple):
    """One line of the report: ``ok``, ``note`` or ``wrong``."""

    state: str
    text: str


class Command(BaseCommand):
    help = "Report what this installation stands on; exit 1 when something is wrong."
    requires_system_checks = ()

    def handle(self, *_: object, **__: Any) -> None:
        wrong = False
        for look in LOOKS:
            for finding in look():
                self.stdout.write(f"{finding.state:5}  {finding.text}")
                wrong |= finding.state == "wrong"
        if wrong:
            raise SystemExit(1)


def _versions() -> Iterator[Finding]:
    yield Finding(
        "ok", f"Python {platform.python_version()}, Django {django.get_version()}"
    )


def _database() -> Iterator[Finding]:
    try:
        connection.ensure_connection()
        executor = MigrationExecutor(connection)
        plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as error:
        yield Finding("wrong", f"database does not answer: {str(error).strip()}")
        return
    if connection.vendor == "sqlite":
        yield from _sqlite()
    else:
        version = connection.cursor().connection.info.server_version
        yield Finding("ok", f"PostgreSQL {version // 10000}.{version % 10000}")
    if plan:
        yield Finding("wrong", f"{len(plan)} migrations wait: manage.py migrate")


def _sqlite() -> Iterator[Finding]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA quick_check(1)")
        sound = cursor.fetchone()[0]
        cursor.execute("PRAGMA journal_mode")
        mode = cursor.fetchone()[0]
    version = sqlite3.sqlite_version
    yield Finding(
        "ok", f"SQLite {version}, {mode}, {settings.DATABASES['default']['NAME']}"
    )
    if sound != "ok":
        yield Finding("wrong", f"the database file is damaged: {sound}")
    if sqlite3.sqlite_version_info < _WAL_MENDED:
        yield Finding(
            "note",
            f"SQLite {version} has a rare fault in its write-ahead log (mended in "
            "3.51.3): back up daily, each backup is checked",
        )


def _outbox() -> Iterator[Finding]:
    now = timezone.now()
    waiting = Message.objects.filter(state=Message.State.READY, run_after__lte=now)
    try:
        late = waiting.filter(run_after__lt=now - timedelta(minutes=10)).count()
        counts = {
            state: Message.objects.filter(state=state).count()
            for state in (Message.State.UNSURE, Message.State.FAILED)
        }
        text = f"outbox: {waiting.count()} waiting"
    except DatabaseError:
        return  # said by the database's own line
    if late:
        yield Finding(
            "wrong", f"{text}, {late} for more than ten minutes: is the worker running?"
        )
    else:
        yield Finding("ok", text)
    for state, count in counts.items():
        if count:
            yield Finding("note", f"outbox: {count} {state.label}, see /messages/")


def _apps() -> Iterator[Finding]:
    for name in settings.DOCTOR_LOOKS:
        try:
            yield from (Finding(*said) for said in import_string(name)())
        except DatabaseError:
            return  # said by the database's own line


def _broker() -> Iterator[Finding]:
    if not settings.REDIS_URL:
        yield Finding("ok", "bell: files in the data folder, no Redis")
        return
    place = urlsplit(settings.REDIS_URL)
    where = (place.hostname or "localhost", place.port or 6379)
    try:
        socket.create_connection(where, timeout=3).close()
    except OSError as error:
        yield Finding(
            "wrong", f"Redis at {where[0]}:{where[1]}: {error.strerror or error}"
        )
        return
    yield Finding("ok", f"bell: Redis at {where[0]}:{where[1]}")


def _pdf() -> Iterator[Finding]:
    missing = bootstrap.missing_pdf_libraries()
    if missing:
        yield Finding(
            "wrong",
            f"no PDFs, missing {', '.join(missing)}: {bootstrap.line_for('pdf')}",
        )
    else:
        yield Finding("ok", "libraries for PDFs")


def _mail() -> Iterator[Finding]:
    if settings.EMAIL_HOST:
        yield Finding("ok", f"mail by {settings.EMAIL_HOST}:{settings.EMAIL_PORT}")
    else:
        yield Finding(
            "note", f"no SMTP server set: mail is written to {settings.EMAIL_FILE_PATH}"
        )


def _folder() -> Iterator[Finding]:
    data = Path(settings.DATA_DIR)
    free = shutil.disk_usage(data).free
    state = "ok" if free > _LITTLE_ROOM else "wrong"
    yield Finding(state, f"data in {data}, {free / 1e9:.1f} GB free")
    key = data / "secret_key"
    if key.is_file() and key.stat().st_mode & 0o077:
        yield Finding("wrong", f"others can read the key: chmod 600 {key}")


def _site() -> Iterator[Finding]:
    yield Finding("ok", f"people use {settings.SITE_URL}")
    near = urlsplit(settings.SITE_URL).hostname in {"localhost", "127.0.0.1", "::1"}
    if not settings.IS_HTTPS and not near:
        yield Finding(
            "note", "plain http: passwords travel open, and phones can't record offline"
        )
    if settings.DEBUG:
        yield Finding(
            "wrong", "CLENCHLINE_DEBUG is on: never where others can reach it"
        )


LOOKS: tuple[Callable[[], Iterator[Finding]], ...] = (
    _versions, _database, _outbox, _apps, _broker, _pdf, _mail, _folder, _site,
)  # fmt: skip
