"""Planning a foot: server time of one look (reckoned and drawn) against an empty view.

    .venv/bin/python tests/benchmarks/plan_a_foot.py [TIMES]

In a fresh data folder: a horse with twelve recorded visits and an accepted plan. Then,
in one process and turn by turn, so that both meet the same machine: an empty view
behind the same middleware and door; the pure reckoning; the drawing; the look that the
page asks for at each change (form read, findings fetched, reckoned, drawn, page piece
rendered); and the whole page of a new plan. Times are milliseconds of server time, by
the clock and, for a machine that others use too, of the processor.

The last measured table stands at the end of this file.
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

ROOT = Path(__file__).resolve().parent.parent.parent
HOST = "localhost"


def prepare(folder: str) -> None:
    """Django on an empty database in this folder, with one more address: /empty/."""
    sys.path.insert(0, str(ROOT))
    os.environ["CLENCHLINE_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "practice.settings"
    os.environ["CLENCHLINE_SECRET_KEY"] = "for one benchmark and no other use " * 2
    import django

    django.setup()
    from django.core.management import call_command
    from django.http import HttpRequest, HttpResponse
    from django.urls import path

    from practice import access, urls

    @access.door(access.STAFF)
    def empty(request: HttpRequest) -> HttpResponse:
        return HttpResponse()

    urls.urlpatterns.append(path("empty/", empty))
    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def cast() -> tuple[Any, Any, dict[str, Any]]:
    """A signed-in farrier's browser, the horse, and what the form posts."""
    from django.test import Client
    from django.utils import timezone

    from horses.forms.plans import as_typed
    from horses.services.plans import accept_plan
    from horses.shoe.proposal import proposed
    from tests import factories

    factories.make_practice()
    farrier = factories.make_user("farrier")
    horse = factories.make_horse()
    today = timezone.localdate()
    for n in range(12):
        day = today - timedelta(days=42 * (n + 1))
        visit = factories.make_visit(horses=[horse], farrier=farrier, day=day)
        record = visit.records.get()
        record.is_recorded = True
        record.save(update_fields=["is_recorded"])
        for foot in ("LF", "RF", "LH", "RH"):
            factories.make_foot_record(record=record, foot=foot, width_mm=131)
    plan = factories.make_plan(horse=horse, by=farrier)
    accept_plan(plan=plan, by=farrier, today=today)
    browser = Client(SERVER_NAME=HOST)
    browser.force_login(farrier)
    document = proposed("LF", measured={}).document
    document["hoof"]["out_mm"] = {"lateral_heel": 5.0, "medial_heel": -4.0}
    document["shoe"]["toe"] |= {"treatment": "rolled", "by_mm": 5.0}
    typed = {name: said for name, said in as_typed(document, "mm").items() if said}
    return browser, horse, typed


def ways(
    browser: Any, horse: Any, typed: dict[str, Any]
) -> dict[str, Callable[[], object]]:
    """What is timed, by name."""
    from horses.drawing.plan import PlanPicture, plan_view
    from horses.shoe.document import run_shoe
    from horses.shoe.proposal import proposed

    document = proposed("LF", measured={}).document
    picture = PlanPicture(document, run_shoe(document))
    page = f"/horses/{horse.pk}/plans/LF/"

    def fetched(answer: Any) -> None:
        assert answer.status_code == 200, answer.status_code

    return {
        "an empty view": lambda: fetched(browser.get("/empty/")),
        "reckoned (pure)": lambda: run_shoe(document),
        "drawn (pure)": lambda: plan_view(picture),
        "look: reckoned, drawn, rendered": lambda: fetched(
            browser.post(
                page + "look/",
                urlencode(typed),
                content_type="application/x-www-form-urlencoded",
            )
        ),
        "page of a new plan": lambda: fetched(browser.get(page)),
    }


def measure(times: int) -> list[tuple[str, float, float, float, float]]:
    """Name; median, nine in ten under, median over that of the empty view; and the
    median of the processor's time."""
    with tempfile.TemporaryDirectory() as folder:
        prepare(folder)
        timed = ways(*cast())
        taken: dict[str, list[tuple[float, float]]] = {name: [] for name in timed}
        for turn in range(times + 5):
            for name, do in timed.items():
                start, busy = time.perf_counter(), time.process_time()
                do()
                if turn >= 5:  # the first turns load templates
                    spent = time.perf_counter() - start, time.process_time() - busy
                    taken[name].append((spent[0] * 1000, spent[1] * 1000))
    empty = statistics.median(clock for clock, _ in taken["an empty view"])
    rows = []
    for name, found in taken.items():
        clock = [one for one, _ in found]
        middle, most = statistics.median(clock), statistics.quantiles(clock, n=10)[-1]
        busy = statistics.median(cpu for _, cpu in found)
        rows.append((name, middle, most, middle - empty, busy))
    return rows


def main() -> None:
    rows = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    say = sys.stdout.write
    say(f"{'':34}{'median ms':>10}{'90 % under':>12}{'over empty':>12}")
    say(f"{'processor':>12}\n")
    for name, median, most, over, cpu in rows:
        say(f"{name:34}{median:10.1f}{most:12.1f}{over:12.1f}{cpu:12.1f}\n")


if __name__ == "__main__":
    main()

# Measured on a shared two-core machine (Debian 12, Python 3.11.7, SQLite 3.40.1),
# 2026-11-25, 200 turns while other sessions held both cores (load 8):
#
#                                    median ms  90 % under  over empty   processor
# an empty view                            5.3        11.7         0.0         3.0
# reckoned (pure)                          5.7        10.8         0.4         2.7
# drawn (pure)                             1.0         5.3        -4.2         1.0
# look: reckoned, drawn, rendered         23.0        45.3        17.8        11.6
# page of a new plan                     115.9       221.1       110.6        58.0
#
# The same at load 6, 150 turns: empty view 3.2 ms, look 18.8 ms (15.6 over it).
