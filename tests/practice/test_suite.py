"""The test command itself: what it runs, on what, and what it says of the rest."""

import os
import socket
import subprocess
import sys
import threading

import pytest

from practice import suite

pytestmark = pytest.mark.once

ALL = {
    suite.DATABASE: "postgres://127.0.0.1:5432/postgres",
    suite.REDIS: "redis://127.0.0.1:6379/15",
    suite.BROWSER: "/usr/bin/chromium",
}
NONE = dict.fromkeys(ALL, "")


@pytest.fixture
def ran(monkeypatch):
    """The steps that would have run, each passing, and no look around."""
    steps = []

    def run(step, environment, heard=None):
        steps.append((step, environment))
        return 0

    monkeypatch.setattr(suite, "_run", run)
    monkeypatch.setattr(suite.bootstrap, "bring_pdf_libraries", lambda: None)
    monkeypatch.delenv("CI", raising=False)
    return steps


def _around(monkeypatch, found):
    absent = [f"no {key}" for key, value in found.items() if not value]
    monkeypatch.setattr(suite, "_surroundings", lambda: (found, absent))


def _names(ran):
    return [step.name for step, _ in ran]


def test_the_whole_is_lint_types_and_tests_on_both_databases_and_in_a_browser(
    ran, monkeypatch
):
    _around(monkeypatch, ALL)
    assert suite.test([]) == 0
    assert sorted(_names(ran)) == [
        "mypy",
        "ruff check",
        "ruff format",
        "tests in the browser",
        "tests of horses on SQLite",
        "tests of people and rounds on SQLite",
        "tests on PostgreSQL",
        "tests on SQLite",
    ]


def test_every_test_is_of_one_step_and_that_of_the_browser_of_its_own(ran, monkeypatch):
    """What one step leaves out another takes up, whole folders each."""
    _around(monkeypatch, NONE | {suite.BROWSER: ALL[suite.BROWSER]})
    suite.test([])
    commands = [step.command for step, _ in ran if "pytest" in step.command]
    left = {
        word.partition("=")[2]
        for command in commands
        for word in command
        if word.startswith("--ignore=")
    }
    taken = [
        word
        for command in commands
        for word in command
        if word in {*left, str(suite.HERE)}
    ]
    assert sorted(taken) == sorted({str(suite.HERE), *left})
    marked = {
        file.parent
        for file in suite.HERE.rglob("test_*.py")
        if "mark.browser" in file.read_text(encoding="utf-8")
    }
    assert marked - {suite.HERE / "practice"} == {suite.HERE / "browser"}


def test_what_is_absent_is_left_out_and_said(ran, monkeypatch, capsys):
    _around(monkeypatch, NONE)
    assert suite.test([]) == 0
    assert not {"tests in the browser", "tests on PostgreSQL"} & set(_names(ran))
    said = capsys.readouterr().out
    for key in NONE:
        assert f"no {key}" in said


def test_in_ci_what_is_absent_is_a_failure_and_nothing_is_skipped(
    ran, monkeypatch, capsys
):
    monkeypatch.setenv("CI", "true")
    _around(monkeypatch, {**ALL, suite.REDIS: ""})
    assert suite.test([]) == 1
    assert ran == []
    assert f"In CI this is a failure: no {suite.REDIS}" in capsys.readouterr().err


def test_one_failing_step_fails_the_whole_and_the_others_still_run(ran, monkeypatch):
    _around(monkeypatch, ALL)
    passing = suite._run
    monkeypatch.setattr(
        suite,
        "_run",
        lambda step, *more: passing(step, *more) or int(step.name == "ruff check"),
    )
    assert suite.test([]) == 1
    assert len(ran) == 8


def test_what_a_step_says_is_shown_in_one_piece(capsys):
    """On both its outputs, under its name."""
    talk = (
        "import sys; print('out', flush=True); print('err', file=sys.stderr); exit(3)"
    )
    code, line = suite._step(
        suite.Step("a step", (sys.executable, "-c", talk)), dict(os.environ)
    )
    assert code == 3
    assert line.startswith("a step: FAILED (3) in ")
    assert f"== {line}\nout\nerr\n" in capsys.readouterr().out


def test_only_the_step_on_postgresql_is_given_its_url(ran, monkeypatch):
    _around(monkeypatch, ALL)
    suite.test([])
    for step, environment in ran:
        assert suite.DATABASE not in environment
        on_it = step.name == "tests on PostgreSQL"
        assert (dict(step.variables) == {suite.DATABASE: ALL[suite.DATABASE]}) is on_it


def test_arguments_go_to_pytest(ran, monkeypatch):
    _around(monkeypatch, ALL)
    suite.test(["tests/billing", "-k", "split"])
    ((step, _),) = ran
    assert step.command[1:] == ("-m", "pytest", "tests/billing", "-k", "split")


def test_nothing_of_the_installation_reaches_the_tests(monkeypatch, tmp_path):
    monkeypatch.setenv("CLENCHLINE_DATABASE_URL", "postgres://the.real.one/clenchline")
    monkeypatch.setenv("CLENCHLINE_EMAIL_HOST", "smtp.example")
    environment = suite._environment(str(tmp_path), ALL)
    assert environment["CLENCHLINE_DATA"] == str(tmp_path)
    assert "CLENCHLINE_DATABASE_URL" not in environment
    assert "CLENCHLINE_EMAIL_HOST" not in environment


def test_what_is_compiled_once_is_kept_for_all_processes(monkeypatch, tmp_path):
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    environment = {**os.environ, **suite._environment(str(tmp_path), ALL)}
    said = subprocess.run(
        [sys.executable, "-c", "import sys; print(sys.dont_write_bytecode)"],
        env=environment,
        capture_output=True,
        check=True,
    )
    assert said.stdout.strip() == b"False"


@pytest.mark.parametrize(
    ("answer", "is_one"),
    [(b"+PONG\r\n", True), (b"-NOAUTH\r\n", True), (b"HTTP/1.1 400\r\n", False)],
)
def test_a_redis_is_known_by_its_answer(monkeypatch, answer, is_one):
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"redis://127.0.0.1:{server.getsockname()[1]}/0"
        monkeypatch.setenv(suite.REDIS, url)

        def serve():
            line, _ = server.accept()
            with line:
                line.recv(64)
                line.sendall(answer)

        thread = threading.Thread(target=serve)
        thread.start()
        assert suite._redis() == (url if is_one else "")
        thread.join()


def test_a_given_server_that_is_away_is_not_replaced_by_the_usual_one(monkeypatch):
    monkeypatch.setenv(suite.DATABASE, "postgres://127.0.0.1:1/none")
    monkeypatch.setenv(suite.REDIS, "redis://127.0.0.1:1/0")
    assert suite._postgres() == ""
    assert suite._redis() == ""
