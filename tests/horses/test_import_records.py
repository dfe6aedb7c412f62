"""The command: its report, its exit codes, what it asks and what it never asks."""

import csv
import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import openpyxl
import pytest
from django.core.management import call_command

from horses.models import Horse, Visit
from practice.models import Client, Practice
from tests.database import kept

# A thin shell: what it calls is tried on both databases in test_sheets.
pytestmark = [pytest.mark.django_db, pytest.mark.once]
ROOT = Path(__file__).resolve().parent.parent.parent
MESSY = ROOT / "tests" / "data" / "messy_practice.csv"
ONE = "Owner,E-mail,Horse,Last visit\nAnn,ann@example.org,Kit,03/04/2026\n"


def run(*args):
    """Standard output, standard error and the exit code."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    try:
        call_command("import_records", *map(str, args), stdout=out, stderr=err)
    except SystemExit as end:
        code = int(end.code or 0)
    return out.getvalue(), err.getvalue(), code


def report(*args):
    out, err, code = run(*args, "--json")
    assert (err, code) == ("", 0)
    return json.loads(out)


@pytest.fixture
def sheet(tmp_path):
    def write(text, name="sheet.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_the_report_has_the_agreed_shape(practice):
    found = report(MESSY)
    assert list(found) == [
        *("clients", "barns", "horses", "visits"),
        *("rows_bad", "near_matches"),
    ]
    assert found["clients"] == {"new": 19, "changed": 0, "same": 0}
    assert found["barns"] == {"new": 14, "changed": 0, "same": 0}
    assert found["horses"] == {"new": 53, "changed": 0, "same": 0}
    assert found["visits"] == {"new": 20, "changed": 0, "same": 0}
    assert [(bad["line"], bad["code"]) for bad in found["rows_bad"]] == [
        (50, "date_bad"),
        (51, "interval_bad"),
        (52, "price_negative"),
        (53, "missing_horse"),
        (54, "missing_owner"),
        (55, "interval_range"),
        (56, "date_future"),
    ]
    assert found["rows_bad"][1] == {
        "line": 51,
        "column": "Every (wks)",
        "value": "six",
        "code": "interval_bad",
        "message": "This is no whole number of weeks: write digits, such as 6.",
    }
    assert [(n["kind"], n["name"], n["like"]) for n in found["near_matches"]] == [
        ("client", "Jane Ashe", "Jane Ash"),
        ("client", "Thomas Reed", "Tom Reed"),
        ("barn", "The Glebe", "The Glebe"),
        ("barn", "Knowe Crofts", "Knowe Croft"),
        ("barn", "Mossbank Livery", "Mossbank Livery"),
        ("barn", "Whitelee Steading", "Whitelee Steading"),
    ]


def test_the_counts_are_those_of_the_database(practice):
    found = report(MESSY)
    assert Client.objects.count() == found["clients"]["new"]
    assert Horse.objects.count() == found["horses"]["new"]
    assert Visit.objects.count() == found["visits"]["new"]
    again = report(MESSY)
    for kind in ("clients", "barns", "horses", "visits"):
        assert again[kind] == {"new": 0, "changed": 0, "same": found[kind]["new"]}
    assert again["near_matches"] == []
    assert again["rows_bad"] == found["rows_bad"]


def test_a_workbook_of_the_same_rows_is_the_same_sheet(practice, tmp_path):
    report(MESSY)
    book = openpyxl.Workbook()
    with MESSY.open(encoding="cp1252", newline="") as file:
        for row in csv.reader(file, delimiter=";"):
            book.active.append(row)
    book.save(tmp_path / "same.xlsx")
    again = report(tmp_path / "same.xlsx")
    for kind in ("clients", "barns", "horses", "visits"):
        assert again[kind]["new"] == again[kind]["changed"] == 0


def test_a_dry_run_reports_the_same_and_writes_nothing(practice):
    dry = report(MESSY, "--dry-run")
    assert not Horse.objects.exists()
    assert report(MESSY) == dry


def test_an_empty_installation_gets_its_practice(db, sheet):
    report(sheet(ONE))
    practice = Practice.objects.the_one()
    assert (practice.country, practice.currency) == ("GB", "GBP")
    assert str(Visit.objects.get().day) == "2026-04-03"


def test_an_empty_installation_gets_its_practice_in_the_country_given(db, sheet):
    report(sheet(ONE), "--country", "us")
    practice = Practice.objects.the_one()
    assert (practice.country, practice.currency) == ("US", "USD")
    assert (practice.length_unit, practice.time_zone) == ("in", "America/New_York")
    assert str(Visit.objects.get().day) == "2026-03-04"


def test_a_dry_run_makes_no_practice(db, sheet):
    report(sheet(ONE), "--dry-run")
    assert not Practice.objects.exists()


def test_the_country_given_goes_before_the_practice_s(practice, sheet):
    report(sheet(ONE), "--country", "US")
    assert str(Visit.objects.get().day) == "2026-03-04"
    assert Practice.objects.the_one().country == "GB"


def test_a_mapping_file_is_obeyed(practice, sheet):
    mapping = sheet('{"Nag": "horse", "Whose": "owner", "Owner": null}', "m.json")
    text = "Whose,Nag,Owner\nAnn,Kit,someone else\n"
    report(sheet(text), "--mapping", mapping)
    assert Horse.objects.get().notes == "Owner: someone else"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("Owner,Price\nAnn,4\n", "no heading for the horse's name"),
        ("Horse,Price\nKit,4\n", "no heading for the owner's name"),
        ("\x00\x01\x02", "not a sheet"),
    ],
)
@pytest.mark.parametrize("more", [(), ("--json",), ("--dry-run",)])
def test_what_is_no_sheet_is_one_line_and_exit_2(practice, sheet, text, said, more):
    out, err, code = run(sheet(text), *more)
    assert (out, code) == ("", 2)
    assert said in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["nowhere.csv"], "nowhere.csv can't be read: No such file"),
        (["/"], "/ can't be read"),
        ([MESSY, "--country", "XX"], "'XX' is no country"),
        ([MESSY, "--country", "England"], "'ENGLAND' is no country"),
        ([MESSY, "--mapping", "nowhere.json"], "nowhere.json can't be read"),
        ([MESSY, "--mapping", MESSY], "is no JSON in UTF-8"),
    ],
)
def test_bad_words_on_the_command_line_are_one_line_and_exit_2(practice, args, said):
    out, err, code = run(*args, "--json")
    assert (out, code) == ("", 2)
    assert said in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    "mapping", ['{"Nag": "horse"}', '{"Horse": "nag"}', "[1]", "{", '{"Horse": 1}']
)
def test_a_bad_mapping_is_one_line_and_exit_2(practice, sheet, mapping):
    out, err, code = run(sheet(ONE), "--mapping", sheet(mapping, "m.json"))
    assert (out, code) == ("", 2)
    assert err.count("\n") == 1


def test_rows_that_are_all_bad_are_a_report_not_a_fault(practice, sheet):
    found = report(sheet("Owner,Horse\n,Kit\nAnn,\n"))
    assert [bad["line"] for bad in found["rows_bad"]] == [2, 3]
    assert found["horses"] == {"new": 0, "changed": 0, "same": 0}


def test_the_report_for_people_names_counts_faults_and_likenesses(practice):
    out, err, code = run(MESSY)
    assert (err, code) == ("", 0)
    assert "horses: 53 new, 0 changed, 0 same" in out
    assert "line 51: Every (wks) 'six': This is no whole number of weeks" in out
    assert "line 44: client 'Jane Ashe' is like 'Jane Ash' (line 4)." in out


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def terminal(monkeypatch):
    """A terminal that answers what it is asked, in order; keeps the questions."""
    asked = []

    def answering(*answers):
        waiting = list(answers)

        def answer(question):
            asked.append(question)
            return waiting.pop(0)

        monkeypatch.setattr("sys.stdin", Terminal())
        monkeypatch.setattr("sys.stdout", Terminal())
        monkeypatch.setattr("builtins.input", answer)
        return asked

    return answering


TWO = ONE + "Anne,anne@example.org,Tin,05/06/2026\n"


def test_at_a_terminal_the_order_and_likenesses_are_asked(practice, sheet, terminal):
    asked = terminal("n", "y", "")
    _, err, code = run(sheet(TWO))
    assert (err, code) == ("", 0)
    assert "Is 03/04/2026 written day first? [Y/n]" in asked[0]
    assert "client 'Anne' is like 'Ann' (line 2). The same?" in asked[1]
    assert "2 good rows, 0 bad. Bring the good rows in?" in asked[2]
    assert Client.objects.count() == 1
    assert {str(v.day) for v in Visit.objects.all()} == {"2026-03-04", "2026-05-06"}


def test_a_no_at_the_end_brings_nothing_in(practice, sheet, terminal):
    terminal("", "q", "n")
    out, _, _ = run(sheet(TWO))
    assert out.startswith("What would come in:")
    assert not Horse.objects.exists()


def test_a_likeness_that_was_answered_is_told_as_answered(practice, sheet, terminal):
    terminal("", "y", "")
    out, _, _ = run(sheet(TWO))
    assert "1 near match, kept apart unless said otherwise" not in out
    assert "1 near match, taken as the same:" in out


def test_a_dry_run_asks_how_to_read_but_not_whether_to_bring_in(
    practice, sheet, terminal
):
    asked = terminal("", "n")
    out, _, code = run(sheet(TWO), "--dry-run")
    assert (len(asked), code) == (2, 0)
    assert "1 near match, kept apart unless said otherwise:" in out
    assert "0 bad rows." in out
    assert not Horse.objects.exists()


def test_with_json_nothing_is_asked_even_at_a_terminal(practice, sheet, terminal):
    asked = terminal()
    assert report(sheet(TWO))["clients"]["new"] == 2
    assert asked == []


@pytest.mark.slow
def test_from_a_fresh_folder_standard_output_holds_the_json_alone(tmp_path):
    """Tables that are there to be copied spare it all but the last to be made."""
    data = tmp_path / "data"
    if tables := kept():
        data.mkdir()
        shutil.copyfile(tables, data / "clenchline.sqlite3")
        with closing(sqlite3.connect(data / "clenchline.sqlite3")) as line:
            line.execute("DROP TABLE django_session")
            line.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
            line.commit()
    environment = {
        key: value for key, value in os.environ.items() if "CLENCHLINE" not in key
    }
    environment["CLENCHLINE_DATA"] = str(data)
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    done = subprocess.run(
        [sys.executable, "manage.py", "import_records", str(MESSY), "--json"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["horses"]["new"] == 53


def test_the_work_grows_with_steps_not_with_rows(
    practice, sheet, django_assert_max_num_queries
):
    lines = [
        f"Owner {n},o{n}@example.org,Horse {n},0{n % 9 + 1}/06/2026\n"
        for n in range(900)
    ]
    with django_assert_max_num_queries(130):
        found = report(sheet("Owner,E-mail,Horse,Last visit\n" + "".join(lines)))
    assert found["horses"]["new"] == 900
