"""How long all due windows take: 2,000 horses, each with years of measured visits.

    nice .venv/bin/python tests/benchmarks/refresh_windows.py [HORSES] [VISITS]

Makes a practice of so many horses in a database of its own (SQLite on disk, below a
temporary folder; or the one that CLENCHLINE_TEST_DATABASE_URL names, as a test database
beside it), each with so many closed visits six weeks apart and four measured feet at
each. Then, as every night: learns prior and season from all records, reckons and stores
every window. Wall and processor seconds, median of three; the bound is 5 s for 2,000
horses' windows. The last measured table stands at the end of this file.
"""

import os
import statistics
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django  # noqa: E402 -- run as a script, the house isn't installed

django.setup()

from django.db import connection  # noqa: E402
from django.test.utils import setup_databases, teardown_databases  # noqa: E402
from django.utils import timezone  # noqa: E402

from horses.models import DueWindow, FootRecord, Horse, Visit, VisitRecord  # noqa: E402
from horses.services.horses import (  # noqa: E402
    refresh_all_due_windows,
    refresh_due_windows,
)
from horses.services.intervals import learn_from_records  # noqa: E402
from tests import factories  # noqa: E402

TODAY = date(2026, 3, 2)
USES = ("hacking", "dressage", "jumping", "retired", "youngstock", "racing")
A_VISIT = 20
"""Horses attended at one visit."""


def fill(horses: int, visits: int) -> None:
    """The practice: rates differ by horse, feet and seasons are alike."""
    factories.make_practice()
    farrier = factories.make_user("farrier", runs_practice=True)
    barn = factories.make_barn()
    stock = Horse.objects.bulk_create(
        Horse(
            name=f"Horse {number}",
            barn=barn,
            use=USES[number % len(USES)],
            foaled_year=2026 - 3 - number % 20,
            interval_weeks=7 if number % 10 == 0 else None,
        )
        for number in range(horses)
    )
    rows: dict[type, list[object]] = {Visit: [], VisitRecord: [], FootRecord: []}
    for turn in range(visits):
        for start in range(0, horses, A_VISIT):
            day = TODAY - timedelta(weeks=6 * turn + 2, days=start // A_VISIT % 30)
            visit = Visit(
                barn=barn,
                farrier=farrier,
                day=day,
                state=Visit.State.CLOSED,
                closed_at=timezone.now(),
            )
            rows[Visit].append(visit)
            for horse in stock[start : start + A_VISIT]:
                record = VisitRecord(visit=visit, horse=horse, is_recorded=True)
                rows[VisitRecord].append(record)
                grown = 6 * (1.6 + horse.pk % 11 / 10)
                for at, foot in enumerate(("LF", "RF", "LH", "RH")):
                    noise = (horse.pk * 7 + turn * 13 + at * 5) % 5 - 2
                    kept = 82 + at
                    rows[FootRecord].append(
                        FootRecord(
                            record=record,
                            foot=foot,
                            work=FootRecord.Work.NEW_SHOE,
                            dorsal_length_mm=Decimal(round(kept + grown + noise)),
                            trimmed_length_mm=Decimal(kept),
                            trimmed_angle_deg=Decimal(50 + at),
                        )
                    )
    for model, made in rows.items():
        model._default_manager.bulk_create(made, batch_size=1000)  # type: ignore[attr-defined]


def took(what: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor seconds, the median of three."""
    walls, cpus = [], []
    for _ in range(3):
        wall, cpu = time.perf_counter(), time.process_time()
        what()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return statistics.median(walls), statistics.median(cpus)


def main() -> None:
    horses = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    visits = int(sys.argv[2]) if len(sys.argv) > 2 else 17
    old = setup_databases(verbosity=0, interactive=False)
    try:
        fill(horses, visits)
        one = list(Horse.objects.values_list("pk", flat=True)[:1])
        twenty = list(Horse.objects.values_list("pk", flat=True)[:20])
        print(f"{connection.vendor}, {horses} horses, {visits} visits each")  # noqa: T201
        for word, what in (
            ("learn prior and season", lambda: learn_from_records(today=TODAY)),
            ("all windows", lambda: refresh_all_due_windows(today=TODAY)),
            (
                "one visit of 20 horses",
                lambda: refresh_due_windows(horses=twenty, today=TODAY),
            ),
            ("one horse", lambda: refresh_due_windows(horses=one, today=TODAY)),
        ):
            wall, cpu = took(what)
            print(f"  {word:<24} {wall:7.2f} s wall {cpu:7.2f} s processor")  # noqa: T201
        assert DueWindow.objects.count() == horses
    finally:
        teardown_databases(old, verbosity=0)


if __name__ == "__main__":
    main()

# Measured on 25 November 2026, two cores shared with other work (load 5), Python 3.11,
# SQLite, 2,000 horses with 17 visits of four measured feet (136,000 foot records):
#
#   learn prior and season   8.1 s wall   4.1 s processor
#   all windows              3.2 s wall   3.1 s processor
#   one visit of 20 horses   0.05 s
#   one horse                0.02 s
#
# Changed on 1 December 2026 (rows read without converters, readings as tuples). Both
# versions side by side at the same time, 600 horses, SQLite, six runs each, median:
# 1.41 s of processor before, 1.14 s after. 2,000 horses on the same crowded machine
# (load 13, so up to twice what a calm one needs): all windows 3.7 s processor on SQLite
# and on PostgreSQL; with load 8 2.8 s and 3.1 s.
