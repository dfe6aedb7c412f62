"""A year's archive, checked by the script inside it, alone; tax by issue and payment."""

import hashlib
import io
import os
import subprocess
import sys
import zipfile
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from billing.models import Invoice, MadeFile, Rendition
from billing.selectors.books import Period, journal, tax_by_issue, tax_by_payment
from billing.services import files
from billing.services.archive import write_year
from billing.services.credit import credit_amount, credit_in_full
from billing.services.renditions import path_of
from billing.tables import Table, as_csv, harmless
from practice import outbox
from practice.errors import Refused
from tests import factories
from tests.billing.books import TODAY, D, ago, invoice_over, pay

YEAR = Period(date(2026, 1, 1), date(2026, 12, 31))


@pytest.fixture
def client(practice):
    return factories.make_client()


def check(place):
    """The script of the archive itself, by a bare Python that sees nothing of ours."""
    return subprocess.run(
        [sys.executable, "-I", "-S", "verify.py", str(place)],
        cwd=place.parent / "alone",
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def archive(client, tmp_path, monkeypatch):
    """Three documents, their PDFs stood in for, as a zip beside the script."""

    def render(*, invoice):
        there = Rendition.objects.filter(invoice=invoice).first()
        if there:
            return there
        content = f"%PDF- {invoice.number}".encode()
        sha256 = hashlib.sha256(content).hexdigest()
        path = path_of(sha256)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        return Rendition.objects.create(
            invoice=invoice, kind="pdf", sha256=sha256, size=9, maker="test"
        )

    monkeypatch.setattr("billing.services.renditions.render", render)
    first = invoice_over(client, "33.33", "20.00", tax_code=["standard", "zero"])
    pay(client, "50.00", first)
    invoice_over(client, "10.00")
    credit_amount(invoice=first, amount=D("5.01"), by=None, today=TODAY, reason="x")
    out = tmp_path / "books-2026.zip"
    with out.open("wb") as file:
        assert write_year(2026, file) == 3
    alone = tmp_path / "alone"
    alone.mkdir()
    with zipfile.ZipFile(out) as packed:
        (alone / "verify.py").write_bytes(packed.read("verify.py"))
    return out


def repacked(archive, change):
    """The archive with one file changed, added or left out."""
    place = archive.parent / "changed.zip"
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(place, "w") as new:
        files = {name: old.read(name) for name in old.namelist()}
        change(files)
        for name, data in files.items():
            new.writestr(name, data)
    return place


def test_an_archive_is_whole_and_the_same_each_time(archive):
    done = check(archive)
    assert (done.returncode, done.stdout) == (0, "the archive is whole\n"), done.stderr
    again = io.BytesIO()
    write_year(2026, again)
    assert again.getvalue() == archive.read_bytes()
    with zipfile.ZipFile(archive) as packed:
        packed.extractall(archive.parent / "folder")
    assert check(archive.parent / "folder").returncode == 0


def test_the_worker_makes_the_year_once_however_often_it_is_asked_for(
    archive, as_office
):
    """What is taken away is the same archive, and it is whole."""
    ask = reverse("billing:file_ask")
    for _ in range(2):
        page = as_office.post(ask, {"period": "2026"}, follow=True)
    assert "being made" in page.text
    row = MadeFile.objects.get()
    take = reverse("billing:file_take", args=[row.pk])
    assert as_office.get(take).status_code == 404
    outbox.drain()
    row.refresh_from_db()
    progress = as_office.get(reverse("billing:file_progress", args=[row.pk]))
    assert (progress["X-Unfinished"], "ready" in progress.text) == ("0", True)
    answer = as_office.get(take)
    content = b"".join(answer.streaming_content)
    assert content == archive.read_bytes()
    assert hashlib.sha256(content).hexdigest() == row.sha256
    assert answer["Content-Disposition"] == 'attachment; filename="books-2026.zip"'
    as_office.post(ask, {"period": "2026"})  # it is made: asked for anew
    assert MadeFile.objects.count() == 2
    for nonsense in ("2026-13", "", "x", "0000"):
        page = as_office.post(ask, {"period": nonsense}, follow=True)
        assert "Choose a month or a year." in page.text


def test_a_worker_that_died_leaves_nothing_behind_and_the_next_begins_anew(
    archive, settings, monkeypatch
):
    row = files.ask_for(kind="year", first=date(2026, 1, 1), by=None)
    real = files.write_year

    def killed(*args, **kwargs):
        real(*args, **kwargs)
        raise KeyboardInterrupt

    def lost():
        return False

    with monkeypatch.context() as patched:
        patched.setattr(files, "write_year", killed)
        with pytest.raises(KeyboardInterrupt):
            files.make_job(file=str(row.pk), alive=lambda: True)
    files.make_job(file=str(row.pk), alive=lost)  # another worker has it by now
    assert not list(settings.MADE_ROOT.iterdir())
    assert MadeFile.objects.get().ended_at is None
    for _ in range(2):
        files.make_job(file=str(row.pk), alive=lambda: True)
    assert files.path_of(row).read_bytes() == archive.read_bytes()


def test_what_is_booked_while_it_is_made_has_it_made_again(archive, monkeypatch):
    row = files.ask_for(kind="year", first=date(2026, 1, 1), by=None)
    payer = Invoice.objects.first().client
    real, rounds = files.write_year, []

    def busy(*args, **kwargs):
        real(*args, **kwargs)
        rounds.append(1)
        if len(rounds) == 1:
            pay(payer, "3.00")

    monkeypatch.setattr(files, "write_year", busy)
    files.make_job(file=str(row.pk), alive=lambda: True)
    assert len(rounds) == 2
    with zipfile.ZipFile(files.path_of(row)) as packed:
        assert b"3.00" in packed.read("payments.csv")


def test_old_files_are_tidied_with_their_rows(archive, settings):
    row = files.ask_for(kind="year", first=date(2026, 1, 1), by=None)
    files.make_job(file=str(row.pk), alive=lambda: True)
    stray = settings.MADE_ROOT / "left.part"
    stray.write_bytes(b"x")
    for path in (stray, files.path_of(row)):
        os.utime(path, (0, 0))
    files.tidy_job()
    assert [path.name for path in settings.MADE_ROOT.iterdir()] == [f"{row.pk}.zip"]
    MadeFile.objects.update(created_at=timezone.now() - timedelta(days=8))
    files.tidy_job()
    assert not MadeFile.objects.exists()
    assert not list(settings.MADE_ROOT.iterdir())


def test_a_year_without_documents_is_refused(practice):
    with pytest.raises(Refused, match="Nothing was issued"):
        files.ask_for(kind="year", first=date(1999, 1, 1), by=None)


def _amount(files):
    name = "documents/INV-00001.json"
    files[name] = files[name].replace(b'"33.33"', b'"33.34"')


def _journal(files):
    files["sales_journal.csv"] = files["sales_journal.csv"].replace(b"33.33", b"33.30")


def _gone(files):
    del files["documents/INV-00002.pdf"]


def _more(files):
    files["documents/INV-00099.json"] = b"{}"


def _gap(files):
    lines = files["chain.csv"].splitlines(keepends=True)
    files["chain.csv"] = b"".join(lines[:2] + lines[3:])


@pytest.mark.parametrize("change", [_amount, _journal, _gone, _more, _gap])
def test_a_changed_archive_is_found_out(archive, change):
    place = repacked(archive, change)
    done = check(place)
    assert done.returncode == 1, done.stdout
    assert "faults" in done.stdout


def test_a_changed_text_is_found_even_with_a_manifest_to_match(archive):
    def change(files):
        _amount(files)
        files["MANIFEST.sha256"] = "".join(
            f"{hashlib.sha256(data).hexdigest()}  {name}\n"
            for name, data in files.items()
            if name != "MANIFEST.sha256"
        ).encode()

    done = check(repacked(archive, change))
    assert "INV-00001: its text is not what was issued" in done.stdout
    assert "manifest" not in done.stdout


# ---- Tax ---------------------------------------------------------------------------
def sums(rows):
    return {(row.category, row.percent): (row.basis, row.tax) for row in rows}


def test_tax_by_issue_counts_the_day_of_the_document(client):
    invoice = invoice_over(
        client, "100.00", "30.00", day=ago(40), tax_code=["standard", "zero"]
    )
    credit_in_full(invoice=invoice, by=None, today=TODAY, reason="x")
    october = Period(date(2026, 10, 1), date(2026, 10, 31))
    november = Period(date(2026, 11, 1), date(2026, 11, 30))
    assert sums(tax_by_issue(october)) == {("S", 20): (100, 20), ("Z", 0): (30, 0)}
    assert sums(tax_by_issue(november)) == {("S", 20): (-100, -20), ("Z", 0): (-30, 0)}
    assert tax_by_issue(YEAR) == []
    assert tax_by_payment(YEAR) == []
    assert [row[1] for row in journal(YEAR).rows] == ["INV-00001"] * 2 + [
        "CN-00001"
    ] * 2


def test_tax_by_payment_counts_each_rate_in_proportion_to_the_cent(client):
    """What is paid when makes no difference to the sum: thirds of 153.33."""
    invoice = invoice_over(
        client, "100.00", "33.33", day=ago(60), tax_code=["standard", "zero"]
    )
    assert invoice.due == D("153.33")
    for days in (50, 20, 1):
        pay(client, "51.11", invoice, day=ago(days))
    parts = [
        sums(tax_by_payment(Period(ago(a), ago(b))))
        for a, b in ((60, 40), (39, 10), (9, 0))
    ]
    assert parts[0] == {("S", 20): (D("33.33"), D("6.67")), ("Z", 0): (D("11.11"), 0)}
    together = [part[("S", 20)] for part in parts]
    assert (sum(p[0] for p in together), sum(p[1] for p in together)) == (100, 20)
    assert sums(tax_by_payment(YEAR)) == sums(tax_by_issue(YEAR))


def test_what_was_credited_is_not_counted_as_paid(client):
    """The taxed line is credited before anything is paid: the rest bears no tax."""
    from billing.services.credit import credit_lines

    invoice = invoice_over(
        client, "60.00", "40.00", day=ago(9), tax_code=["standard", "zero"]
    )
    credit_lines(invoice=invoice, positions=[1], by=None, today=TODAY, reason="x")
    pay(client, "40.00", invoice)
    assert sums(tax_by_payment(YEAR)) == {("Z", 0): (40, 0)}


# ---- Tables ------------------------------------------------------------------------
@pytest.mark.parametrize("text", ["=1+1", "+44", "-1", "@x", "\t=1", " =1", "\r=1"])
def test_no_text_is_a_formula(text):
    assert harmless(text).startswith("'")


def test_a_pasted_control_character_spoils_no_workbook():
    from openpyxl import load_workbook

    from billing.tables import as_xlsx

    data = as_xlsx([Table("t", ("a",), [["two\x0bfeet\x1f"]])])
    (_, row) = load_workbook(io.BytesIO(data))["t"].values
    assert row == ("two feet ",)


@given(st.text(max_size=30))
def test_csv_brings_back_what_went_in(text):
    import csv

    data = as_csv(Table("t", ("a", "b"), [[text, D("-1.50")]])).decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(data, newline="")))
    assert rows[1] == [harmless(text), "-1.50"]
