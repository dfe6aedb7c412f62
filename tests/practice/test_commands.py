"""prepare, send and doctor; backup is in tests/faults/test_restore.py."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.management import call_command
from django.utils import timezone

from billing.models import LedgerEntry
from practice import outbox
from practice.management.commands import doctor
from practice.models import Message
from tests import factories
from tests.billing.books import TODAY, draft_over, invoice_over


def _run(*command, **options):
    out = StringIO()
    call_command(*command, stdout=out, stderr=StringIO(), **options)
    return out.getvalue()


def _queue(**over):
    fields = {"kind": "hello", "to": "a@example.org", "subject": "Hi", "body": "Hi."}
    return outbox.queue_mail(key="hello-1", **{**fields, **over})


@pytest.mark.django_db
def test_send_once_does_what_is_due_and_ends():
    _queue()
    assert _run("send", "--once") == "1 done\n"
    assert len(mail.outbox) == 1


def test_send_queues_the_nights_work_too(practice):
    _run("send", "--once")
    assert Message.objects.filter(key__startswith="nightly-").exists()


@pytest.mark.django_db
def test_doctor_finds_this_installation_well():
    report = _run("doctor")
    assert "wrong" not in report
    assert "SQLite" in report or "PostgreSQL" in report


@pytest.mark.django_db
def test_doctor_asks_after_the_worker_when_rows_wait_for_long():
    _queue(run_after=timezone.now() - timedelta(minutes=11))
    out = StringIO()
    with pytest.raises(SystemExit) as told:
        call_command("doctor", stdout=out)
    assert told.value.code == 1
    assert "wrong  outbox: 1 waiting, 1 for more than ten minutes" in out.getvalue()


@pytest.mark.django_db
def test_doctor_looks_at_the_books_and_says_whose_do_not_balance(practice):
    """Booked, and the document is a draft still."""
    assert "nothing in the books yet" in _run("doctor")
    client = factories.make_client()
    invoice_over(client, "10.00")
    assert "ok     the books balance: for each of 1 clients" in _run("doctor")
    LedgerEntry.objects.create(
        client=client,
        kind="issue",
        day=TODAY,
        currency="GBP",
        amount=5,
        invoice=draft_over(client, "5.00"),
    )
    out = StringIO()
    with pytest.raises(SystemExit) as stop:
        call_command("doctor", stdout=out)
    assert stop.value.code == 1
    said = f"books of client {client.pk} do not balance: booked 15.000, open 10"
    assert said in out.getvalue()


def test_doctor_names_what_pdfs_lack(monkeypatch):
    monkeypatch.setattr(doctor.bootstrap, "missing_pdf_libraries", lambda: ["pango"])
    (finding,) = doctor._pdf()
    assert finding.state == "wrong"
    assert "pango" in finding.text


def test_doctor_reports_a_redis_that_does_not_answer(settings):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    (finding,) = doctor._broker()
    assert finding.state == "wrong"


def test_doctor_reports_a_key_that_others_can_read(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    key = tmp_path / "secret_key"
    key.write_text("key")
    key.chmod(0o644)
    assert "wrong" in [finding.state for finding in doctor._folder()]


@pytest.fixture
def fresh(settings, tmp_path):
    """A data folder on its first day, with the bell's folder in it."""
    settings.DATA_DIR = tmp_path
    settings.STATIC_ROOT = tmp_path / "static"
    settings.REDIS_URL = ""
    bells = tmp_path / "broker"
    settings.CELERY_BROKER_TRANSPORT_OPTIONS = {"data_folder_in": str(bells)}
    return tmp_path


@pytest.mark.django_db
def test_prepare_notes_the_first_start_so_that_empty_stays_empty(fresh):
    _run("prepare", "--empty")
    assert (fresh / "started").read_text() == "empty\n"
    assert _run("prepare", "--demo") == ""


@pytest.mark.django_db
def test_prepare_collects_static_files_when_one_has_changed_and_else_not(fresh):
    _run("prepare")
    collected = fresh / "static" / "practice" / "base.css"
    assert collected.exists()
    collected.unlink()
    _run("prepare")
    assert not collected.exists()
    (fresh / "static" / ".sum").write_text("another")
    _run("prepare")
    assert collected.exists()


@pytest.mark.django_db
def test_prepare_throws_away_bells_that_rang_for_nobody(fresh):
    bells = fresh / "broker"
    bells.mkdir()
    (bells / "1_celery.msg").write_text("{}")
    _run("prepare")
    assert list(bells.iterdir()) == []
