"""The house keeps its shape: what import-linter sees, and what it can't."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from django.apps import apps
from django.db.models import ForeignKey, ManyToManyField, OneToOneField

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parent.parent
HOUSE = ["practice", "horses", "scheduling", "billing"]
BELOW = {
    "practice": set(),
    "horses": {"practice"},
    "scheduling": {"practice", "horses"},
    "billing": {"practice", "horses"},
}
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
PURE = sorted(
    {
        *next(
            contract["source_modules"]
            for contract in CONTRACTS["contracts"]
            if contract["type"] == "forbidden"
        )
    }
)
# Longer by reason: (none)
LONGER: dict[str, int] = {}


def _sources(*patterns: str) -> list[Path]:
    return [
        path
        for app in HOUSE
        for pattern in patterns
        for path in sorted((ROOT / app).rglob(pattern))
        if "migrations" not in path.parts and "vendor" not in path.parts
    ]


def test_imports_point_down():
    done = subprocess.run(
        [Path(sys.executable).parent / "lint-imports"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("module", PURE)
def test_a_pure_module_loads_where_there_is_no_django(module):
    code = (
        "import sys; sys.modules.update(django=None, celery=None, "
        f"rest_framework=None); import {module}"
    )
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("app", HOUSE)
def test_the_package_file_of_an_app_is_empty(app):
    assert (ROOT / app / "__init__.py").read_text().strip() == ""


def test_keys_across_apps_point_down_and_cannot_be_followed_back():
    faults = []
    for app in HOUSE:
        for model in apps.get_app_config(app).get_models():
            for field in model._meta.get_fields():
                if not isinstance(field, ForeignKey | OneToOneField | ManyToManyField):
                    continue
                there = field.related_model._meta.app_label
                if there == app or there not in HOUSE:
                    continue
                if there not in BELOW[app]:
                    faults.append(f"{model.__name__}.{field.name} points to {there}")
                if not field.remote_field.hidden:
                    faults.append(f"{model.__name__}.{field.name} can be followed back")
    assert faults == []


def test_views_get_rows_through_access_alone():
    faults = [
        f"{path.relative_to(ROOT)}: {line.strip()}"
        for path in _sources("*.py")
        if {"views", "views.py", "portal.py", "api.py"} & {*path.parts}
        for line in path.read_text().splitlines()
        if re.search(r"\.objects\.get\(|get_object_or_404\(|get_list_or_404\(", line)
    ]
    assert faults == []


def test_nobody_uses_signals_or_queues_tasks_in_services():
    faults = [
        str(path.relative_to(ROOT))
        for path in _sources("*.py")
        if re.search(r"django[\w.]*signals|@receiver", path.read_text())
        or ("services" in path.parts and re.search(r"\.delay\w*\(", path.read_text()))
    ]
    assert faults == []


def test_files_stay_readable():
    faults = []
    for path in _sources("*.py", "*.js"):
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        pure = any(f"{module}.".startswith(f"{one}.") for one in PURE)
        limit = LONGER.get(module, 600 if pure else 400)
        lines = len(path.read_text().splitlines())
        if lines > limit:
            faults.append(f"{module}: {lines} of {limit} lines")
    for path in sorted((ROOT / "tests").rglob("*.py")):
        lines = len(path.read_text().splitlines())
        if lines > 600:
            faults.append(f"{path.relative_to(ROOT)}: {lines} of 600 lines")
    faults += [
        f"{path.relative_to(ROOT)}: over 150 lines"
        for path in sorted((ROOT / "templates").rglob("*"))
        if path.is_file() and len(path.read_text().splitlines()) > 150
    ]
    assert faults == []


def test_templates_keep_the_content_policy():
    bad = re.compile(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=|hx-on")
    faults = [
        f"{path.relative_to(ROOT)}: {line.strip()[:80]}"
        for path in sorted((ROOT / "templates").rglob("*.html"))
        if "pdf" not in path.parts
        for line in path.read_text().splitlines()
        if bad.search(line)
    ]
    assert faults == []


def test_a_template_names_no_page_of_an_upper_app_outside_navigation_and_fragments():
    faults = []
    for app in ("practice", "horses"):
        for path in sorted((ROOT / "templates" / app).rglob("*.html")):
            for line in path.read_text().splitlines():
                for upper in re.findall(r"['\"](\w+):\w+['\"]", line):
                    above = upper in HOUSE and app in BELOW[upper]
                    if above and "data-fragment" not in line and "door:" not in line:
                        faults.append(f"{path.relative_to(ROOT)}: {line.strip()[:90]}")
    assert faults == []
