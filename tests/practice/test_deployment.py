"""Locks, image and compose file, read and compared: no engine runs here."""

import re
import stat
import tomllib
from pathlib import Path

import pytest
import yaml
from packaging.requirements import Requirement

from practice import bootstrap
from practice.env import PREFIX, VARIABLES

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[2]
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
OURS = ("web", "worker", "beat")
NAMES = {PREFIX + variable.name for variable in VARIABLES}


def _locked(file: str) -> dict[str, str]:
    """Version by name, out of a lock."""
    text = (ROOT / file).read_text(encoding="utf-8")
    return dict(re.findall(r"^([a-z0-9._-]+)==([^ ;]+)", text, re.MULTILINE))


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


LOCKS = ["requirements.lock", "requirements-test.lock", "requirements-bench.lock"]


@pytest.mark.parametrize("file", LOCKS)
def test_a_lock_names_hashes_and_no_host(file):
    text = (ROOT / file).read_text(encoding="utf-8")
    assert "://" not in text
    blocks = re.split(r"^(?=\S)", text, flags=re.MULTILINE)[1:]
    assert len(blocks) > 40
    for block in blocks:
        assert "--hash=sha256:" in block, block.splitlines()[0]


def test_the_locks_hold_what_pyproject_asks_for():
    run = PROJECT["project"]["dependencies"]
    test = run + PROJECT["dependency-groups"]["test"]
    bench = test + PROJECT["dependency-groups"]["bench"]
    for file, asked in zip(LOCKS, (run, test, bench), strict=True):
        locked = _locked(file)
        for line in asked:
            need = Requirement(line)
            version = locked.get(_plain(need.name), "")
            assert version, f"{file} lacks {need.name}"
            assert need.specifier.contains(version), f"{file}: {line}, has {version}"


def test_the_tests_run_on_the_versions_that_are_run():
    run, test, bench = (_locked(file).items() for file in LOCKS)
    assert run <= test <= bench


@pytest.mark.parametrize("name", [*OURS, "postgres", "redis"])
def test_each_service_has_a_healthcheck_and_comes_back(name):
    service = COMPOSE["services"][name]
    assert service["healthcheck"]["test"]
    assert service["restart"] == "unless-stopped"


def test_only_the_web_is_reached_from_outside_and_only_from_this_machine():
    for name, service in COMPOSE["services"].items():
        ports = service.get("ports", [])
        assert ports == (["127.0.0.1:8000:8000"] if name == "web" else [])


def test_no_secret_stands_in_the_compose_file():
    secret = {PREFIX + v.name for v in VARIABLES if v.kind == "secret"}
    for service in COMPOSE["services"].values():
        for name, value in (
            service["environment"].items() if ("environment" in service) else ()
        ):
            if name in secret or "PASSWORD" in name:
                rest = re.sub(r"\$\{[^}]+\}", "", str(value))
                assert not re.search(r"://[^/]*:[^/@]+@", rest), name
                assert rest == "" or "://" in rest, name


def test_the_compose_file_passes_on_every_variable_but_those_of_the_image():
    image = {f"{PREFIX}DATA", f"{PREFIX}DEBUG"}
    for name in OURS:
        given = set(COMPOSE["services"][name]["environment"])
        assert given == NAMES - image


def test_there_is_one_beat_and_it_is_not_in_the_worker():
    commands = {name: COMPOSE["services"][name]["command"] for name in OURS}
    assert "celery --app practice.celery beat" in commands["beat"]
    assert "--beat" not in commands["worker"]
    assert " -B" not in commands["worker"]


def test_what_the_image_copies_is_there():
    text = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    for line in re.findall(r"^COPY (.+)$", text, re.MULTILINE):
        for source in line.split()[:-1]:
            assert (ROOT / source).exists(), source


def test_the_image_installs_what_pdfs_need_and_runs_as_nobody_special():
    text = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    for package in bootstrap.PACKAGES["pdf"]["debian"].split():
        assert package in text
    assert re.search(r"^USER clenchline$", text, re.MULTILINE)


def test_no_data_key_or_environment_of_ours_gets_into_the_image():
    ignored = (ROOT / ".dockerignore").read_text(encoding="utf-8").splitlines()
    assert {"data", ".env", ".venv", ".git"} <= set(ignored)


def test_ci_can_be_run():
    assert stat.S_IMODE((ROOT / ".ci" / "run").stat().st_mode) & 0o111
