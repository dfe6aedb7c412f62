"""``manage.py reckon`` and its twin in the API."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from jsonschema import Draft202012Validator

from practice.reckoning import gather

ROOT = Path(__file__).resolve().parents[2]
SPLIT = {"currency": "GBP", "amount": "100.01", "weights": {"a": 60, "b": 40}}


def run(capsys, what, text=None, *options, tmp_path=None):
    """Exit code, standard output, standard error."""
    arguments = [what]
    if text is not None:
        file = tmp_path / "document.json"
        file.write_text(text, encoding="utf-8")
        arguments.append(str(file))
    code = 0
    try:
        call_command("reckon", *arguments, *options)
    except SystemExit as left:
        code = left.code
    out, err = capsys.readouterr()
    return code, out, err


def test_a_document_is_answered_by_one_json_object(capsys, tmp_path):
    code, out, err = run(capsys, "split", json.dumps(SPLIT), tmp_path=tmp_path)
    assert (code, err) == (0, "")
    assert json.loads(out)["shares"] == {"a": "60.01", "b": "40.00"}


@pytest.mark.parametrize(
    ("text", "pointer"),
    [
        (json.dumps(SPLIT | {"amount": "1.005"}), "/amount"),
        (json.dumps(SPLIT | {"weights": {"a": -1}}), "/weights/a"),
        (json.dumps(SPLIT | {"note\nx": 1}), "/note"),
        ('{"currency": "GBP"}', "/amount"),
        ('{"amount": NaN}', '""'),
        ("{nonsense\n", '""'),
        (json.dumps(SPLIT | {"weights": {"a\ud800": 1}}), '""'),
        ("", '""'),
    ],
)
def test_bad_input_is_one_line_with_a_pointer_and_nothing_else(
    capsys, tmp_path, text, pointer
):
    code, out, err = run(capsys, "split", text, tmp_path=tmp_path)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert err.startswith(pointer)


def test_what_is_not_there_is_said_in_one_line(capsys, tmp_path):
    for what, file in (("nonsense", "x.json"), ("split", str(tmp_path / "no.json"))):
        with pytest.raises(SystemExit) as left:
            call_command("reckon", what, file)
        out, err = capsys.readouterr()
        assert (left.value.code, out) == (2, "")
        assert err.count("\n") == 1


def test_every_reckoning_tells_its_schemas(capsys, settings):
    reckonings = gather(settings.HOUSE_APPS)
    assert {"totals", "split", "foot", "lever"} <= set(reckonings)
    for what in reckonings:
        code, out, _ = run(capsys, what, None, "--schema")
        told = json.loads(out)
        assert code == 0
        for way in ("input", "output"):
            Draft202012Validator.check_schema(told[way])
            assert told[way]["$schema"].endswith("2020-12/schema")


def test_it_reads_standard_input_and_needs_no_database(tmp_path):
    """As a stranger runs it: a folder without a database, and none is made."""
    done = subprocess.run(
        [sys.executable, "-m", "django", "reckon", "split", "-"],
        input=json.dumps(SPLIT),
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=False,
        env={
            "CLENCHLINE_DATA": str(tmp_path),
            "CLENCHLINE_SECRET_KEY": "for this run alone",
            "DJANGO_SETTINGS_MODULE": "practice.settings",
            "PATH": "",
        },
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["shares"] == {"a": "60.01", "b": "40.00"}
    assert not list(tmp_path.glob("*.sqlite3"))


# ---- The API ---------------------------------------------------------------------
def post(browser, what, text):
    return browser.post(f"/api/v1/reckon/{what}", text, content_type="application/json")


def test_any_signed_in_user_may_reckon(as_owner, as_barn_contact, as_stranger):
    for browser in (as_owner, as_barn_contact):
        answer = post(browser, "split", json.dumps(SPLIT))
        assert answer.status_code == 200
        assert answer.json()["shares"]["a"] == "60.01"
    assert post(as_stranger, "split", json.dumps(SPLIT)).status_code == 401


@pytest.mark.parametrize(
    ("text", "pointer"),
    [
        (json.dumps(SPLIT | {"amount": "1.005"}), "#/amount"),
        (json.dumps(SPLIT | {"more": 1}), "#/more"),
        ('{"amount": Infinity}', "#"),
        ("[", "#"),
        ("[]", "#"),
    ],
)
def test_a_bad_document_is_problem_details_with_its_pointer(as_owner, text, pointer):
    answer = post(as_owner, "split", text)
    assert answer.status_code == 422
    assert answer["Content-Type"].startswith("application/problem+json")
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_size_is_bounded_and_names_are_known(as_owner):
    assert post(as_owner, "split", " " * 1_000_001).status_code == 413
    assert post(as_owner, "nonsense", "{}").status_code == 404


def test_the_schemas_are_there_too(as_owner):
    told = as_owner.get("/api/v1/reckon/totals/").json()
    assert set(told) == {"input", "output"}
