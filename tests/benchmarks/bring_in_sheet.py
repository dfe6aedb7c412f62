"""Bringing in a sheet of ten thousand rows: seconds and memory of the whole command.

    .venv/bin/python tests/benchmarks/bring_in_sheet.py [ROWS]

Makes a sheet of invented owners, barns and horses (each owner with two horses or so,
one in ten without contact details, one row in a hundred bad), and runs
`import_records --json` on it three times in a fresh data folder: first time, the same
again, and with every third interval changed. Each run is its own process; memory is
the largest resident size that the system saw of it (Linux: kilobytes).

The last measured table stands at the end of this file.
"""

import csv
import json
import os
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
SYLLABLES = [
    "al",
    "ber",
    "cor",
    "dun",
    "el",
    "fen",
    "gar",
    "hol",
    "in",
    "jes",
    "kel",
    "lor",
    "mun",
    "nor",
    "os",
    "pen",
    "ren",
    "sal",
]
ENDS = [
    "ton",
    "ley",
    "ham",
    "ford",
    "worth",
    "mere",
    "shaw",
    "by",
    "wick",
    "dale",
    "brook",
    "hurst",
]


def word(number: int) -> str:
    """A pronounceable invented name, different for each number."""
    first, second = number % len(SYLLABLES), number // len(SYLLABLES)
    third = second // len(ENDS)
    tail = "" if third == 0 else SYLLABLES[third % len(SYLLABLES)]
    more = third // len(SYLLABLES)
    return (
        SYLLABLES[first]
        + tail
        + ("" if more == 0 else SYLLABLES[more % len(SYLLABLES)])
        + ENDS[second % len(ENDS)]
    ).title()


def write_sheet(path: Path, rows: int, *, more_weeks: int = 0) -> None:
    """A sheet of so many rows; ``more_weeks`` is added to every third interval."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(
            [
                "Owner",
                "Phone",
                "E-mail",
                "Address",
                "Barn",
                "Post code",
                "Horse",
                "Breed",
                "Foaled",
                "Use",
                "Last visit",
                "Interval (weeks)",
                "Usual work",
                "£",
                "Notes",
                "Colour",
            ]
        )
        for row in range(rows):
            owner, barn = row // 2, row // 7
            known = owner % 10 != 0
            weeks = 5 + row % 5 + (more_weeks if row % 3 == 0 else 0)
            out.writerow(
                [
                    f"{word(owner % 211)} {word(owner)}",
                    f"07700 9{owner % 100_000:05}" if known else "",
                    f"owner{owner}@example.org" if known else "",
                    f"{row % 90 + 1} {word(owner % 97)} Lane, {word(barn % 83)}",
                    f"{word(barn)} Farm",
                    f"TD{barn % 15 + 1} {barn % 9 + 1}{'ABDEFGHJLN'[barn % 10]}A",
                    word(row % 4001),
                    ("Cob", "Thoroughbred", "Connemara", "")[row % 4],
                    2005 + row % 18,
                    ("hacking", "dressage", "happy hacker", "")[row % 4],
                    (date(2025, 6, 1) + timedelta(days=row % 90)).strftime("%d/%m/%Y"),
                    "six" if row % 100 == 99 else weeks,
                    ("trim", "full set", "refit")[row % 3],
                    f"{40 + row % 50}.50",
                    "kicks, behind" if row % 11 == 0 else "",
                    ("bay", "grey", "chestnut")[row % 3],
                ]
            )


def run(sheet: Path, data: Path) -> tuple[float, float, float, dict[str, Any]]:
    """Seconds, seconds of processor, MiB at the most, and the report of one run."""
    environment = {**os.environ, "CLENCHLINE_DATA": str(data)}
    environment.pop("CLENCHLINE_DATABASE_URL", None)
    started = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "manage.py", "import_records", str(sheet), "--json"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
    )
    said = child.stdout.read() if child.stdout else b""
    _, _, used = os.wait4(child.pid, 0)
    cpu = used.ru_utime + used.ru_stime
    mib = used.ru_maxrss / 1024
    return time.perf_counter() - started, cpu, mib, json.loads(said)


def say(line: str) -> None:
    """One line to standard output."""
    sys.stdout.write(line + "\n")


def main() -> None:
    """Prints a table of the three runs."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        first, again = Path(folder, "sheet.csv"), Path(folder, "again.csv")
        write_sheet(first, rows)
        write_sheet(again, rows, more_weeks=1)
        data = Path(folder, "data")
        say(f"{rows} rows, {first.stat().st_size / 1e6:.1f} MB")
        for name, sheet in (("first", first), ("same", first), ("changed", again)):
            seconds, cpu, mib, report = run(sheet, data)
            counts = {k: v for k, v in report.items() if isinstance(v, dict)}
            say(f"{name:8} {seconds:6.1f} s {cpu:6.1f} s cpu {mib:6.0f} MiB  {counts}")
            for key in ("rows_bad", "near_matches"):
                say(f"         {key}: {len(report[key])}")


if __name__ == "__main__":
    main()

# Measured on a shared two-core machine (Debian 12, Python 3.11.7, SQLite 3.40.1),
# 2026-11-25, nine other sessions at work (load 6); the first makes the database too:
#
#   10000 rows, 1.6 MB
#   first      13.8 s   12.1 s cpu    153 MiB
#   same        9.2 s    5.7 s cpu    185 MiB
#   changed    12.4 s   11.1 s cpu    195 MiB
#
# The same rows as .xlsx: 16.4 s of processor, 139 MiB (once).
