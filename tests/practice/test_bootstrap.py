"""From nothing to a running command: the virtual environment, the system, the key."""

import ast
import json
import os
import runpy
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from practice import bootstrap

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def venv(monkeypatch, tmp_path):
    """An empty place for .venv, and a list of the commands that would make it.

    Only what leaves the machine is played: `python -m venv` makes the interpreter's
    link and pip leaves a note.
    """
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    ran = []

    def run(command, **_):
        ran.append(command)
        if "venv" in command:
            python = tmp_path / ".venv" / "bin" / "python"
            python.parent.mkdir(parents=True)
            python.symlink_to(os.path.realpath(sys.executable))
        return 0

    monkeypatch.setattr(bootstrap, "_run", run)
    return ran


def test_manage_py_can_be_read_by_any_python_3():
    source = (ROOT / "manage.py").read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 4))


def test_an_old_python_is_told_which_it_needs(monkeypatch, capsys):
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    with pytest.raises(SystemExit) as told:
        runpy.run_path(str(ROOT / "manage.py"), run_name="__main__")
    assert told.value.code == 2
    assert "needs Python 3.11 or later; this is 3.9." in capsys.readouterr().err


def test_it_is_made_from_the_lock_by_hash_and_wheels_only(venv):
    bootstrap.ensure("run")
    made, installed = venv
    assert made[1:3] == ["-m", "venv"]
    assert {"--require-hashes", "--only-binary"} <= set(installed)
    assert installed[-1] == str(ROOT / "requirements.lock")


def test_a_finished_one_is_left_alone(venv):
    bootstrap.ensure("run")
    venv.clear()
    bootstrap.ensure("run")
    assert venv == []


def test_a_half_made_one_is_made_anew(venv):
    bootstrap.ensure("run")
    (bootstrap.VENV / "clenchline.json").unlink()
    (bootstrap.VENV / "leftover").write_text("half")
    venv.clear()
    bootstrap.ensure("run")
    assert len(venv) == 2
    assert not (bootstrap.VENV / "leftover").exists()


def test_a_changed_lock_is_installed_into_the_same_one(venv, monkeypatch, tmp_path):
    bootstrap.ensure("run")
    changed = tmp_path / "requirements.lock"
    changed.write_text("other==1 --hash=sha256:00\n")
    monkeypatch.setitem(bootstrap.LOCKS, "run", changed)
    venv.clear()
    bootstrap.ensure("run")
    (installed,) = venv
    assert installed[-1] == str(changed)


def test_one_whose_python_went_away_is_made_anew(venv):
    bootstrap.ensure("run")
    mark = bootstrap.VENV / "clenchline.json"
    found = json.loads(mark.read_text())
    mark.write_text(json.dumps({**found, "python": "/usr/bin/python3.10"}))
    venv.clear()
    bootstrap.ensure("run")
    assert len(venv) == 2


def test_the_tests_packages_hold_those_of_the_run(venv):
    bootstrap.ensure("test")
    venv.clear()
    bootstrap.ensure("run")
    assert venv == []


def test_a_failed_install_is_one_line_exit_2_and_not_taken_for_done(
    venv, monkeypatch, capfd
):
    whole = bootstrap._run
    monkeypatch.setattr(bootstrap, "_run", lambda c, **_: "pip" in c or whole(c))
    with pytest.raises(SystemExit) as told:
        bootstrap.ensure("run")
    assert told.value.code == 2
    assert "Could not install from requirements.lock" in capfd.readouterr().err
    assert not (bootstrap.VENV / "clenchline.json").exists()


def test_without_ensurepip_the_package_is_named(venv, monkeypatch, capfd):
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda _: None)
    monkeypatch.setattr(bootstrap, "install", lambda *_: False)
    monkeypatch.setattr(bootstrap, "system", lambda: "debian")
    with pytest.raises(SystemExit) as told:
        bootstrap.ensure("run")
    assert told.value.code == 2
    assert "sudo apt-get install -y python3-venv" in capfd.readouterr().err


def test_the_missing_library_is_named_with_this_systems_line(monkeypatch, capfd):
    monkeypatch.setattr(
        bootstrap, "_PDF_LIBRARIES", {"pango": ("libno-such-pango.so.0",)}
    )
    monkeypatch.setattr(bootstrap, "install", lambda *_: False)
    monkeypatch.setattr(bootstrap, "system", lambda: "fedora")
    bootstrap.bring_pdf_libraries()
    said = capfd.readouterr().err
    assert "pango missing" in said
    assert "sudo dnf install -y pango" in said
    assert "everything else works" in said


def test_an_unknown_system_gets_a_line_for_each_known_one():
    line = bootstrap.line_for("pdf", "")
    assert "apt-get" in line
    assert "dnf" in line
    assert "brew install pango" in line


def test_without_root_and_sudo_nothing_is_installed(monkeypatch):
    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: 1000)
    there = {"apt-get": "/usr/bin/apt-get"}
    monkeypatch.setattr(bootstrap.shutil, "which", there.get)
    monkeypatch.setattr(bootstrap, "system", lambda: "debian")
    monkeypatch.setattr(bootstrap, "_run", lambda *_: pytest.fail("installed"))
    assert bootstrap.install("pdf", "PDFs") is False


@pytest.fixture
def data(monkeypatch, tmp_path):
    """A data folder that is not there yet, and no key in the environment."""
    for name in ("SECRET_KEY", "SECRET_KEY_FILE", "DATABASE_URL"):
        monkeypatch.delenv(f"CLENCHLINE_{name}", raising=False)
    monkeypatch.setenv("CLENCHLINE_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_key_is_made_once_and_for_its_owner_alone(data):
    bootstrap.make_secret_key()
    key = data / "secret_key"
    first = key.read_text()
    bootstrap.make_secret_key()
    assert key.read_text() == first
    assert len(first.strip()) >= 50
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    assert list(data.iterdir()) == [key]


def test_a_given_key_is_enough(data, monkeypatch):
    monkeypatch.setenv("CLENCHLINE_SECRET_KEY", "given")
    bootstrap.make_secret_key()
    assert not data.exists()


def test_on_a_given_database_only_up_makes_a_key(data, monkeypatch):
    monkeypatch.setenv("CLENCHLINE_DATABASE_URL", "postgres://localhost/clenchline")
    bootstrap.make_secret_key()
    assert not data.exists()
    bootstrap.make_secret_key(always=True)
    assert (data / "secret_key").exists()


def test_tables_are_missing_until_there_are_some(data):
    assert bootstrap.needs_tables("import_records")
    assert not bootstrap.needs_tables("reckon")
    data.mkdir()
    database = sqlite3.connect(data / "clenchline.sqlite3")
    assert bootstrap.needs_tables("import_records")  # a file that someone only opened
    database.execute("CREATE TABLE t (n)")
    database.close()
    assert not bootstrap.needs_tables("import_records")


@pytest.mark.slow
def test_a_first_command_leaves_standard_output_to_the_answer(data):
    """What is made on the way is told to standard error."""
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", "print(1 + 1)"],
        cwd=ROOT,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "practice.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, "2\n")
    assert "Making the database" in done.stderr
