"""A test database that is migrated once and copied for each process that tests.

Running all migrations takes ten times as long as copying what they made. The copy is
known by a digest of every migration, so that a changed one is run again.
"""

import fcntl
import hashlib
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import django
from django.apps import apps
from django.db import connection

FOLDER = Path(tempfile.gettempdir()) / f"clenchline-test-tables-{os.getuid()}"
PREFIX = "clenchline_tables_"


def digest() -> str:
    """Of all that decides what the migrations make."""
    sha = hashlib.sha256(f"{django.__version__} {connection.vendor}".encode())
    for app in sorted(apps.get_app_configs(), key=lambda one: one.name):
        for file in sorted(Path(app.path).glob("migrations/*.py")):
            sha.update(f"{app.name} {file.name}\0".encode() + file.read_bytes())
    return sha.hexdigest()[:16]


def kept() -> str:
    """The copy that is ready to be copied again: file or name of a database, or ''."""
    name = digest()
    if connection.vendor == "sqlite":
        source = FOLDER / f"{name}.sqlite3"
        return str(source) if source.exists() else ""
    return PREFIX + name if PREFIX + name in _databases() else ""


def _databases() -> set[str]:
    creation: Any = connection.creation
    with creation._nodb_cursor() as cursor:
        cursor.execute(
            "SELECT datname FROM pg_database WHERE datname LIKE %s", [PREFIX + "%"]
        )
        return {row[0] for row in cursor.fetchall()}


@contextmanager
def migrated_once() -> Iterator[None]:
    """Around the making of the test database: it starts as a copy where there is one,
    and is kept as the next one's source where there is none yet."""
    FOLDER.mkdir(mode=0o700, exist_ok=True)
    with (FOLDER / f"{connection.vendor}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        made = _on_sqlite if connection.vendor == "sqlite" else _on_postgres
        with made(digest()):
            yield


@contextmanager
def _on_sqlite(name: str) -> Iterator[None]:
    source = FOLDER / f"{name}.sqlite3"
    creation: Any = connection.creation
    make = creation._create_test_db

    def copied(*args: Any, **kwargs: Any) -> str:
        database = str(make(*args, **kwargs))
        with closing(sqlite3.connect(source)) as kept:
            # Held open as long as the process lives: memory is freed with the last one.
            creation.held = sqlite3.connect(database, uri=True, check_same_thread=False)
            kept.backup(creation.held)
        return database

    if source.exists():
        creation._create_test_db = copied
    yield
    creation._create_test_db = make
    if not source.exists():
        for old in FOLDER.glob("*.sqlite3"):
            old.unlink()
        half = source.with_suffix(".half")
        half.unlink(missing_ok=True)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(half)])
        half.replace(source)


@contextmanager
def _on_postgres(name: str) -> Iterator[None]:
    source = PREFIX + name
    creation: Any = connection.creation
    there = _databases()
    if source in there:
        connection.settings_dict["TEST"]["TEMPLATE"] = source
    yield
    if source not in there:
        connection.close()
        database = connection.settings_dict["NAME"]
        with creation._nodb_cursor() as cursor:
            for old in there:
                cursor.execute(f'DROP DATABASE IF EXISTS "{old}"')
            cursor.execute(f'CREATE DATABASE "{source}" TEMPLATE "{database}"')
