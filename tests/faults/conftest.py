"""An installation of its own for each test, with real processes on a real database.

On the database that the suite runs on: SQLite, or with CLENCHLINE_TEST_DATABASE_URL a
database made for the test on that PostgreSQL.
"""

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
from pytest_django import DjangoDbBlocker

from tests.database import kept

ROOT = Path(__file__).resolve().parents[2]
SERVER = os.environ.get("CLENCHLINE_TEST_DATABASE_URL", "")


def until(what: Callable[[], Any], *, seconds: float = 60) -> Any:
    """Waits for something true and returns it; fails when it never is."""
    last = time.monotonic() + seconds
    while not (found := what()):
        assert time.monotonic() < last, f"not within {seconds} s"
        time.sleep(0.05)
    return found


def hear(process: subprocess.Popen[str], word: str, *, seconds: float = 60) -> None:
    """Waits for a line of its output with ``word``; fails when none comes, as with a
    process that ended or says something else."""
    heard: list[str] = []

    def listen() -> None:
        assert process.stdout is not None
        for line in process.stdout:
            heard.append(line)
            if word in line:
                return

    listener = threading.Thread(target=listen, daemon=True)
    listener.start()
    listener.join(seconds)
    assert any(word in line for line in heard), f"no {word!r} in {heard}"


@dataclass
class Installation:
    """A data folder, a database and the processes that were started on them."""

    data: Path
    database_url: str
    started: list[subprocess.Popen[str]]

    def environment(self, **more: str) -> dict[str, str]:
        kept = {k: v for k, v in os.environ.items() if not k.startswith("CLENCHLINE_")}
        own = {
            "CLENCHLINE_DATA": str(self.data),
            "CLENCHLINE_DATABASE_URL": self.database_url,
            "CLENCHLINE_SECRET_KEY": "faults-and-nothing-but-faults-are-tried-here",
            "DJANGO_SETTINGS_MODULE": "tests.faults.house",
            "PYTHONUNBUFFERED": "1",
            "CELERY_SKIP_CHECKS": "true",  # a second a worker, and none is on trial
        }
        return {**kept, **own, **more}

    def run(self, *command: str, **more: str) -> subprocess.CompletedProcess[str]:
        """Runs ``python …`` to its end."""
        return subprocess.run(
            [sys.executable, *command],
            cwd=ROOT,
            env=self.environment(**more),
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    def start(self, *command: str, **more: str) -> subprocess.Popen[str]:
        """Starts ``python …`` as the leader of its own session."""
        process = subprocess.Popen(
            [sys.executable, *command],
            cwd=ROOT,
            env=self.environment(**more),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        self.started.append(process)
        return process

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        """Rows of a query, or the empty list of a change, past Django."""
        if self.database_url:
            with psycopg.connect(self.database_url, autocommit=True) as line:
                cursor = line.execute(sql)  # type: ignore[arg-type]
                return cursor.fetchall() if cursor.description else []
        file = self.data / "clenchline.sqlite3"
        with closing(sqlite3.connect(file, timeout=20)) as line:
            rows = line.execute(sql).fetchall()
            line.commit()
            return rows

    def states(self) -> dict[str, int]:
        """How many outbox rows are in each state."""
        sql = "SELECT state, count(*) FROM practice_message GROUP BY state"
        return dict(self.ask(sql))

    def let_leases_run_out(self) -> None:
        """As if five minutes had passed since the worker died."""
        self.ask(
            "UPDATE practice_message SET lease_until = '2000-01-01 00:00:00+00:00' "
            "WHERE state = 'claimed'"
        )

    def mails(self) -> list[str]:
        """Subjects of all that went out, in the order of the files."""
        found: list[str] = []
        for file in sorted((self.data / "mail").glob("*.log")):
            lines = file.read_text(encoding="utf-8").splitlines()
            found += [line for line in lines if line.startswith("Subject: ")]
        return found


def _make_database(name: str, template: str = "template1") -> str:
    """Makes a database beside that of the suite; its URL."""
    with psycopg.connect(SERVER, autocommit=True) as line:
        line.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')  # type: ignore[arg-type]
    return urlsplit(SERVER)._replace(path=f"/{name}").geturl()


def _drop_database(url: str) -> None:
    name = urlsplit(url).path.lstrip("/")
    with psycopg.connect(SERVER, autocommit=True) as line:
        line.execute(f'DROP DATABASE "{name}" WITH (FORCE)')  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def prepared(
    tmp_path_factory: pytest.TempPathFactory,
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Installation]:
    """One that is ready to be copied: tables made, static files collected."""
    data = tmp_path_factory.mktemp("prepared")
    with django_db_blocker.unblock():
        url, tables = "", kept()
    if SERVER:
        name = f"clenchline_faults_{uuid.uuid4().hex[:8]}"
        url = _make_database(name, tables or "template1")
    elif tables:
        shutil.copyfile(tables, data / "clenchline.sqlite3")
    installation = Installation(data=data, database_url=url, started=[])
    done = installation.run("manage.py", "prepare", "--empty")
    assert done.returncode == 0, done.stderr
    yield installation
    if url:
        _drop_database(url)


@pytest.fixture
def installation(prepared: Installation, tmp_path: Path) -> Iterator[Installation]:
    data = tmp_path / "data"
    shutil.copytree(prepared.data, data)
    url = ""
    if SERVER:
        template = urlsplit(prepared.database_url).path.lstrip("/")
        url = _make_database(f"{template}_{uuid.uuid4().hex[:8]}", template)
    copy = Installation(data=data, database_url=url, started=[])
    yield copy
    for process in copy.started:
        kill_tree(process)
    if url:
        _drop_database(url)


def running(data: Path) -> dict[int, str]:
    """Processes that were started on this data folder, ended ones left out."""
    found = {}
    for folder in Path("/proc").iterdir():
        if folder.name.isdecimal():
            try:
                around = (folder / "environ").read_bytes()
                line = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode()
            except OSError:
                continue
            if f"CLENCHLINE_DATA={data}\0".encode() in around and line:
                found[int(folder.name)] = line
    return found


def kill_tree(process: subprocess.Popen[str]) -> None:
    """As a power cut does it: nobody in the group has time for a word."""
    if process.poll() is None:
        os.killpg(process.pid, 9)
    process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            pipe.close()


@pytest.fixture
def redis_url() -> str:
    """A Redis that answers; in CI its absence is a failure."""
    url = os.environ.get("CLENCHLINE_TEST_REDIS_URL", "")
    if not url:
        message = "no Redis: run `python3 manage.py test`, which looks for one"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    return url
