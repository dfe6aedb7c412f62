"""``manage.py reckon WHAT FILE.json``: the arithmetic alone, without a database."""

import json
import os
import sys
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, Never

from django.conf import settings
from django.core.management.base import BaseCommand

from practice.reckoning import BadDocument, Bounds, Reckoning, answer, gather, read


def _cores() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _age_seconds() -> float:
    """How long ago this process began; where that can't be read, what it has used."""
    try:
        began = int(Path("/proc/self/stat").read_text().rpartition(")")[2].split()[19])
        up = float(Path("/proc/uptime").read_text().split()[0])
        return max(0.0, up - began / os.sysconf("SC_CLK_TCK"))
    except (OSError, ValueError, IndexError):
        return time.process_time()


class Command(BaseCommand):
    help = (
        "Run one reckoning on a JSON file (- for standard input) and print one JSON "
        "object. Bad input: one line with a JSON pointer on standard error, exit 2."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("what", metavar="WHAT", help="e.g. totals, split, foot")
        parser.add_argument("file", metavar="FILE", nargs="?", help="- reads stdin")
        parser.add_argument(
            "--schema",
            action="store_true",
            help="print the JSON Schema (2020-12) of input and output instead",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            result = self._result(options["what"], options["file"], options["schema"])
        except BadDocument as fault:
            self._refuse(fault.line)
        else:
            text = json.dumps(result, indent=2, ensure_ascii=False, allow_nan=False)
            self.stdout.write(text)

    def _result(self, what: str, file: str | None, schema: bool) -> dict[str, Any]:
        reckonings = gather(settings.HOUSE_APPS)
        if what not in reckonings:
            known = ", ".join(sorted(reckonings))
            self._refuse(f'"": no reckoning is called {what[:40]!r}. Known: {known}.')
        reckoning: Reckoning = reckonings[what]
        if schema:
            return {
                "input": dict(reckoning.schema_in),
                "output": dict(reckoning.schema_out),
            }
        bounds = Bounds(spent_seconds=_age_seconds(), workers=min(2, _cores()))
        return answer(reckoning, read(self._bytes(file)), bounds)

    def _bytes(self, file: str | None) -> bytes:
        if file is None:
            self._refuse('"": name a file, or - for standard input.')
        if file == "-":
            return sys.stdin.buffer.read()
        try:
            return Path(file).read_bytes()
        except OSError as fault:
            self._refuse(f'"": {file[:80]!r} can\'t be read: {fault.strerror}.')

    def _refuse(self, line: str) -> Never:
        self.stderr.write(line.replace("\n", " "))
        raise SystemExit(2)
