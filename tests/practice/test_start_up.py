"""What a process loads before its first request: three of them stand all day."""

import subprocess
import sys

from tests.faults.conftest import ROOT

LATE = {
    *("icalendar", "lxml", "matplotlib", "mt940", "openpyxl", "osmium", "pypdf"),
    *("pyvrp", "scipy", "segno", "weasyprint"),
}
"""Heavy, and needed by single pages or jobs alone: imported where they are used."""

WEB = """
import sys
import tests.settings, os
os.environ["DJANGO_SETTINGS_MODULE"] = "practice.settings"
import django
django.setup()
from django.urls import get_resolver
import practice.tasks
assert len(get_resolver().url_patterns) > 3
from django.conf import settings
from django.utils.module_loading import import_string
for job in settings.OUTBOX_JOBS.values():
    import_string(job)
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""


def test_what_few_pages_need_is_not_loaded_at_every_start():
    done = subprocess.run(
        [sys.executable, "-c", WEB],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    loaded = set(done.stdout.split())
    assert {"django", "horses", "billing"} <= loaded
    assert loaded & LATE == set()
