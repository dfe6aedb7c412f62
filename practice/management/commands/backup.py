"""``manage.py backup``: database, photos, documents and the key in one checked file."""

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import tarfile
import tempfile
from argparse import ArgumentParser
from contextlib import closing
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

_SQLITE = "clenchline.sqlite3"
_DUMP = "clenchline.dump"


class Command(BaseCommand):
    help = "Write database, photos, documents and key to one file, and check it."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder",
            nargs="?",
            help="where the file goes (default: backups in the data folder); copy it "
            "to another machine afterwards",
        )

    def handle(self, *_: object, **options: Any) -> None:
        folder = Path(options["folder"] or settings.DATA_DIR / "backups")
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            target = _write(folder)
        except OSError as error:
            raise CommandError(
                f"Could not write the backup to {folder}: {error.strerror or error}",
                returncode=2,
            ) from error
        size = target.stat().st_size / 1_000_000
        self.stdout.write(f"{target} ({size:.1f} MB, read back and checked)")


def _write(folder: Path) -> Path:
    """The database first: files are only ever added, so a row's file is there."""
    name = f"clenchline-{timezone.now():%Y%m%d-%H%M%S}"
    target = folder / f"{name}.tar"
    unfinished = folder / f"{name}.unfinished"
    with tempfile.TemporaryDirectory(dir=folder) as work:
        dump = _dump(Path(work))
        sums = {}
        handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as raw, tarfile.open(fileobj=raw, mode="w") as tar:
            for path, inside in [(dump, dump.name), *_files()]:
                sums[inside] = _sum(path)
                tar.add(path, arcname=inside)
            listing = Path(work) / "sums.json"
            listing.write_text(json.dumps(sums, indent=1), encoding="utf-8")
            tar.add(listing, arcname=listing.name)
        _read_back(unfinished, sums)
    unfinished.replace(target)
    return target


def _dump(work: Path) -> Path:
    if connection.vendor == "sqlite":
        copy = work / _SQLITE
        # Not the backup API in steps: it starts anew at each write of another.
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(copy)])
        with closing(sqlite3.connect(copy)) as opened:
            found = opened.execute("PRAGMA integrity_check").fetchall()
            loose = opened.execute("PRAGMA foreign_key_check").fetchall()
        if found != [("ok",)] or loose:
            raise CommandError(
                "The copied database is not sound; keep the last backup and see "
                f"`manage.py doctor`: {(found + loose)[:3]}"
            )
        return copy
    return _pg_dump(work / _DUMP)


def _pg_dump(copy: Path) -> Path:
    if shutil.which("pg_dump") is None:
        raise CommandError(
            "pg_dump is missing: sudo apt-get install postgresql-client", returncode=2
        )
    given = connection.settings_dict
    environment = dict(os.environ)
    names = ("HOST", "PORT", "USER", "PASSWORD")
    for name in names:
        if given[name]:
            environment[f"PG{name}"] = str(given[name])
    for command in (
        ["pg_dump", "--format=custom", f"--file={copy}", str(given["NAME"])],
        ["pg_restore", "--list", str(copy)],
    ):
        done = subprocess.run(  # noqa: S603 -- fixed program, arguments of our settings
            command, env=environment, capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise CommandError(f"{command[0]}: {done.stderr.strip()}")
    return copy


def _files() -> list[tuple[Path, str]]:
    """Photos, documents and the key, with their names inside the backup."""
    key = settings.DATA_DIR / "secret_key"
    found = [(key, key.name)] if key.is_file() else []
    for root in (Path(settings.MEDIA_ROOT), Path(settings.DOCUMENTS_ROOT)):
        found += [
            (path, f"{root.name}/{path.relative_to(root)}")
            for path in sorted(root.rglob("*"))
            if path.is_file()
        ]
    return found


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _read_back(archive: Path, sums: dict[str, str]) -> None:
    with tarfile.open(archive) as tar:
        for name, expected in sums.items():
            file = tar.extractfile(name)
            if file is None or hashlib.file_digest(file, "sha256").hexdigest() != (  # type: ignore[arg-type]  # a file of the archive, opened to read
                expected
            ):
                raise CommandError(f"{name} was not written whole; run it again.")
