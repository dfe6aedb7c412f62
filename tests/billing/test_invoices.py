"""Issuing and crediting: numbers, snapshots, and that the issued never changes."""

import hashlib
from datetime import date, timedelta
from decimal import Decimal
from importlib import import_module

import pytest
from django.db import IntegrityError, connection, transaction

from billing.models import Allocation, Invoice, InvoiceLine, LedgerEntry, Rendition
from billing.services import renditions
from billing.services.charges import set_tax_rate
from billing.services.credit import credit_in_full
from billing.services.drafts import draft_invoices
from billing.services.invoices import issue_all, issue_invoice
from billing.services.lines import (
    LineWish,
    NewLine,
    add_line,
    change_line,
    discard_draft,
    remove_line,
    set_note,
)
from billing.services.payments import record_payment
from billing.services.snapshots import digest
from billing.services.visits import close_visit
from horses.models import Visit
from practice.errors import Refused
from practice.keys import uuid7
from practice.models import Message
from tests import factories

TODAY = date(2026, 11, 25)


@pytest.fixture
def draft_of(farrier, priced):
    """``draft_of(client)``: a draft of 95.00 + 20 % for a horse of this client."""
    work = factories.make_work(name="Full set")
    priced(work, "95.00")

    def make(client=None, horses=1):
        client = client or factories.make_client()
        barn = factories.make_barn()
        made = [
            factories.make_horse(owner=client, usual_work=work, barn=barn)
            for _ in range(horses)
        ]
        visit = factories.make_visit(
            horses=made, farrier=farrier, closed=True, day=TODAY
        )
        (invoice,) = draft_invoices(visit=visit, by=farrier)
        return invoice

    return make


@pytest.fixture
def issued_of(draft_of, farrier):
    def make(client=None, horses=1, today=TODAY):
        draft = draft_of(client, horses)
        return issue_invoice(invoice=draft, by=farrier, today=today)

    return make


# ---- Issuing ----------------------------------------------------------------------
def test_an_issued_invoice_has_number_days_snapshot_and_its_digest(issued_of, practice):
    invoice = issued_of()
    assert invoice.number == "INV-00001"
    assert invoice.issue_day == TODAY
    assert invoice.due_day == TODAY + timedelta(days=practice.payment_days)
    stored = Invoice.objects.get(pk=invoice.pk)
    assert digest(stored.snapshot) == stored.snapshot_sha256
    assert stored.snapshot["seller"]["tax_number"] == "GB123456789"
    assert stored.snapshot["totals"]["due"] == "114.00"
    assert stored.snapshot["tax_groups"] == [
        {
            "category": "S",
            "percent": "20",
            "basis": "95.00",
            "tax": "19.00",
            "reason_code": "",
            "reason": "",
        }
    ]


def test_the_clients_own_days_to_pay_win(issued_of):
    client = factories.make_client(payment_days=30)
    assert issued_of(client).due_day == TODAY + timedelta(days=30)


def test_issuing_twice_gives_one_number_one_job_and_one_mail(issued_of, farrier):
    invoice = issued_of()
    again = issue_invoice(invoice=invoice, by=farrier, today=TODAY + timedelta(1))
    assert (again.number, again.issue_day) == (invoice.number, TODAY)
    assert Message.objects.filter(kind="render_invoice").count() == 1
    (mail,) = Message.objects.filter(kind="invoice")
    assert invoice.number in mail.subject
    assert "£114.00" in mail.body
    assert mail.to == invoice.client.email


def test_a_client_without_address_gets_no_mail(issued_of):
    issued_of(factories.make_client(email=""))
    assert not Message.objects.filter(kind="invoice").exists()
    assert Message.objects.filter(kind="render_invoice").exists()


def test_numbers_follow_each_other_and_a_failed_issue_leaves_no_gap(
    draft_of, farrier, monkeypatch
):
    first = issue_invoice(invoice=draft_of(), by=farrier, today=TODAY)
    draft = draft_of()

    def burst(*args, **kwargs):
        raise RuntimeError("the power went")

    with monkeypatch.context() as patch:
        patch.setattr("practice.outbox.queue_job", burst)
        with pytest.raises(RuntimeError):
            issue_invoice(invoice=draft, by=farrier, today=TODAY)
    draft.refresh_from_db()
    assert draft.is_draft
    second = issue_invoice(invoice=draft, by=farrier, today=TODAY)
    assert (first.number, second.number) == ("INV-00001", "INV-00002")


def test_numbers_follow_the_calendar(issued_of, draft_of, farrier):
    issued_of()
    with pytest.raises(Refused, match="follow the calendar"):
        issue_invoice(invoice=draft_of(), by=farrier, today=TODAY - timedelta(1))


def test_a_line_without_price_can_not_be_issued(draft_of, farrier):
    draft = draft_of()
    draft.lines.update(needs_price=True)
    with pytest.raises(Refused, match="has no price yet"):
        issue_invoice(invoice=draft, by=farrier, today=TODAY)


def test_nothing_on_it_or_less_than_nothing_due_can_not_be_issued(draft_of, farrier):
    draft = draft_of()
    add_line(
        invoice=draft,
        by=farrier,
        line=NewLine(
            name="Taken off", unit_price=Decimal("100.00"), quantity=Decimal(-1)
        ),
    )
    with pytest.raises(Refused, match="Less than nothing"):
        issue_invoice(invoice=draft, by=farrier, today=TODAY)
    for line in draft.lines.all():
        remove_line(line=line, by=farrier)
    with pytest.raises(Refused, match="nothing on it"):
        issue_invoice(invoice=draft, by=farrier, today=TODAY)


def test_a_taxed_invoice_needs_the_practices_tax_number(draft_of, farrier, practice):
    """BR-S-02: a document with a standard-rated line names the seller's number."""
    practice.tax_number = ""
    practice.save(update_fields=["tax_number"])
    with pytest.raises(Refused, match="tax number"):
        issue_invoice(invoice=draft_of(), by=farrier, today=TODAY)


def test_a_discarded_draft_is_not_issued(draft_of, farrier):
    draft = draft_of()
    discard_draft(invoice=draft, by=farrier)
    discard_draft(invoice=draft, by=farrier)
    with pytest.raises(Refused, match="discarded"):
        issue_invoice(invoice=draft, by=farrier, today=TODAY)


def test_all_drafts_of_a_visit_are_issued_or_none(farrier, priced):
    work = factories.make_work()
    priced(work, "95.00")
    barn = factories.make_barn()
    horses = [factories.make_horse(usual_work=work, barn=barn) for _ in range(3)]
    visit = factories.make_visit(horses=horses, farrier=farrier, closed=True, day=TODAY)
    drafts = draft_invoices(visit=visit, by=farrier)
    drafts[1].lines.update(needs_price=True)
    with pytest.raises(Refused, match=drafts[1].client.name):
        issue_all(visit=visit, by=farrier, today=TODAY)
    assert not Invoice.objects.issued().exists()
    drafts[1].lines.update(needs_price=False)
    assert len(issue_all(visit=visit, by=farrier, today=TODAY)) == 3
    assert issue_all(visit=visit, by=farrier, today=TODAY) == []
    assert Invoice.objects.issued().count() == 3


# ---- The issued stays ---------------------------------------------------------------
def refused(action):
    with pytest.raises(IntegrityError), transaction.atomic():
        action()


def test_the_database_refuses_to_change_or_delete_an_issued_invoice(issued_of):
    """Invariant 4, past the services, by queryset and by raw SQL."""
    invoice = issued_of()
    rows = Invoice.objects.filter(pk=invoice.pk)
    refused(lambda: rows.update(due=Decimal(1)))
    refused(lambda: rows.update(state="draft", number=None, snapshot=None))
    refused(lambda: rows._raw_delete(rows.db))
    line = invoice.lines.get()
    line.name = "Something else"
    refused(lambda: line.save(update_fields=["name"]))
    refused(line.delete)
    line.pk, line.position, line._state.adding = None, 99, True
    refused(lambda: InvoiceLine.objects.bulk_create([line]))

    def by_hand():
        with connection.cursor() as cursor:
            cursor.execute("UPDATE billing_invoice SET due = 0")

    refused(by_hand)
    stored = Invoice.objects.get(pk=invoice.pk)
    assert stored.due == Decimal("114.00")
    assert stored.lines.get().name == invoice.lines.get().name


def test_a_line_can_not_be_moved_onto_an_issued_invoice(issued_of, draft_of):
    issued, draft = issued_of(), draft_of()
    refused(lambda: draft.lines.update(invoice=issued, position=50))
    refused(lambda: issued.lines.update(invoice=draft, position=50))


def test_a_draft_can_have_no_number_and_an_issued_one_must(draft_of):
    rows = Invoice.objects.filter(pk=draft_of().pk)
    refused(lambda: rows.update(number="INV-00009"))
    refused(lambda: rows.update(state="issued"))
    refused(lambda: rows.update(kind="381"))


def test_what_the_practice_or_the_client_becomes_later_changes_nothing(
    issued_of, practice
):
    invoice = issued_of()
    before = renditions.read(renditions.render(invoice=invoice))
    practice.name = "Renamed Forge"
    practice.save(update_fields=["name"])
    invoice.client.name = "Renamed Client"
    invoice.client.save(update_fields=["name"])
    stored = Invoice.objects.get(pk=invoice.pk)
    assert stored.snapshot == invoice.snapshot
    assert renditions.read(renditions.render(invoice=stored)) == before


def test_changing_an_issued_document_is_refused_with_a_way_out(issued_of, farrier):
    invoice = issued_of()
    line = invoice.lines.get()
    for change in (
        lambda: change_line(line=line, by=farrier, wish=LineWish(name="x")),
        lambda: remove_line(line=line, by=farrier),
        lambda: add_line(
            invoice=invoice,
            by=farrier,
            line=NewLine(name="x", unit_price=Decimal("1.00")),
        ),
        lambda: set_note(invoice=invoice, by=farrier, note="x"),
        lambda: discard_draft(invoice=invoice, by=farrier),
    ):
        with pytest.raises(Refused, match="credit note"):
            change()


def test_the_demos_documents_may_go(issued_of, practice):
    invoice = issued_of()
    practice.is_demo = True
    practice.save(update_fields=["is_demo"])
    entries = LedgerEntry.objects.filter(invoice=invoice)
    entries._raw_delete(entries.db)
    lines = InvoiceLine.objects.filter(invoice=invoice)
    lines._raw_delete(lines.db)
    rows = Invoice.objects.filter(pk=invoice.pk)
    rows._raw_delete(rows.db)
    assert not Invoice.objects.exists()


# ---- Renditions -----------------------------------------------------------------------
def test_the_pdf_is_made_once_and_filed_under_its_digest(issued_of, monkeypatch):
    invoice = issued_of()
    first = renditions.render(invoice=invoice)
    content = renditions.read(first)
    assert content.startswith(b"%PDF-")
    assert hashlib.sha256(content).hexdigest() == first.sha256
    assert renditions.path_of(first.sha256).is_file()

    def never(*args, **kwargs):
        raise AssertionError("rendered again")

    monkeypatch.setattr("billing.pdf.invoice_pdf", never)
    assert renditions.render(invoice=invoice) == first
    renditions.render_job(invoice=str(invoice.pk))
    name, attached, kind = renditions.attachment(str(invoice.pk))
    assert (name, attached, kind) == ("INV-00001.pdf", content, "application/pdf")
    assert Rendition.objects.count() == 1


def test_a_lost_or_changed_file_is_said_and_not_made_anew(issued_of):
    rendition = renditions.render(invoice=issued_of())
    path = renditions.path_of(rendition.sha256)
    path.write_bytes(b"%PDF-1.7 something else")
    with pytest.raises(Refused, match="not what was issued"):
        renditions.read(rendition)
    path.unlink()
    with pytest.raises(Refused, match="backup"):
        renditions.read(rendition)


def test_a_draft_has_no_pdf(draft_of):
    with pytest.raises(Refused, match="issue it first"):
        renditions.render(invoice=draft_of())


def test_stored_bytes_can_not_be_pointed_elsewhere(issued_of):
    rendition = renditions.render(invoice=issued_of())
    refused(lambda: Rendition.objects.update(sha256="0" * 64))
    refused(lambda: Rendition.objects.filter(pk=rendition.pk).delete())


# ---- Changing a draft -------------------------------------------------------------------
def test_a_drafts_line_is_changed_and_the_totals_follow(draft_of, farrier):
    draft = draft_of()
    wish = LineWish(unit_price=Decimal("80.00"), quantity=Decimal("1.5"))
    change_line(line=draft.lines.get(), by=farrier, wish=wish)
    draft.refresh_from_db()
    figures = (draft.line_total, draft.tax_total, draft.due)
    assert figures == (Decimal("120.00"), Decimal("24.00"), Decimal("144.00"))


def test_a_price_may_be_nothing_once_it_is_said(draft_of, farrier):
    draft = draft_of()
    draft.lines.update(needs_price=True, unit_price=0)
    wish = LineWish(unit_price=Decimal("0.00"))
    change_line(line=draft.lines.get(), by=farrier, wish=wish)
    assert issue_invoice(invoice=draft, by=farrier, today=TODAY).due == 0


@pytest.mark.parametrize(
    ("wish", "field"),
    [
        (LineWish(unit_price=Decimal("-1.00")), "unit_price"),
        (LineWish(unit_price=Decimal("1.005")), "unit_price"),
        (LineWish(quantity=Decimal(0)), "quantity"),
        (LineWish(quantity=Decimal("0.0001")), "quantity"),
        (LineWish(name="  "), "name"),
    ],
)
def test_a_line_that_can_not_be_is_refused_beside_its_field(
    draft_of, farrier, wish, field
):
    with pytest.raises(Refused) as refusal:
        change_line(line=draft_of().lines.get(), by=farrier, wish=wish)
    assert refusal.value.field == field


def test_a_rate_entered_after_the_draft_is_taken_at_issue(farrier, practice, priced):
    """US sales tax on goods: the program knows no rate until the practice enters it."""
    practice.tax_regime, practice.currency, practice.country = "US", "USD", "US"
    practice.save(update_fields=["tax_regime", "currency", "country"])
    work = factories.make_work()
    priced(work, "100.00", tax_code="goods")
    visit = factories.make_visit(
        horses=[factories.make_horse(usual_work=work)],
        farrier=farrier,
        closed=True,
        day=TODAY,
    )
    (draft,) = draft_invoices(visit=visit, by=farrier)
    with pytest.raises(Refused, match="rate is not entered"):
        issue_invoice(invoice=draft, by=farrier, today=TODAY)
    set_tax_rate(by=farrier, code="goods", percent=Decimal(6), starts=date(2026, 1, 1))
    invoice = issue_invoice(invoice=draft, by=farrier, today=TODAY)
    assert (invoice.tax_total, invoice.due) == (Decimal("6.00"), Decimal("106.00"))


def test_a_rate_entered_late_takes_its_tax_out_of_a_price_that_includes_it(
    farrier, practice, priced
):
    """Australia: no rate is known here, and prices are told with the tax. A tenth on
    top is an eleventh of the price (GST Act 1999, s 9-70 and 9-75; from memory)."""
    practice.tax_regime, practice.currency = "AU", "AUD"
    practice.prices_include_tax = True
    practice.save(update_fields=["tax_regime", "currency", "prices_include_tax"])
    work = factories.make_work()
    priced(work, "110.00")
    horse = factories.make_horse(usual_work=work)
    visit = factories.make_visit(
        horses=[horse], farrier=farrier, closed=True, day=TODAY
    )
    (draft,) = draft_invoices(visit=visit, by=farrier)
    set_tax_rate(
        by=farrier, code="standard", percent=Decimal(10), starts=date(2026, 1, 1)
    )
    invoice = issue_invoice(invoice=draft, by=farrier, today=TODAY)
    told = invoice.snapshot
    assert (told["totals"]["tax"], told["totals"]["due"]) == ("10.00", "110.00")
    assert told["lines"][0]["net"] == told["totals"]["line_total"] == "100.00"
    assert invoice.lines.get().net == 100


# ---- Crediting --------------------------------------------------------------------------
def test_a_credit_note_mirrors_the_invoice_in_positive_amounts(issued_of, farrier):
    invoice = issued_of()
    note = credit_in_full(
        invoice=invoice, by=farrier, today=TODAY, reason="Wrong horse"
    )
    assert (note.kind, note.number, note.corrects) == ("381", "CN-00001", invoice)
    assert (note.due, note.snapshot["corrects"]["number"]) == (114, invoice.number)
    stored = Invoice.objects.with_balance().get(pk=invoice.pk)
    assert (stored.credited, stored.open_amount) == (114, 0)
    again = credit_in_full(invoice=invoice, by=farrier, today=TODAY, reason="Again")
    assert again == note


def test_crediting_frees_what_had_been_paid(issued_of, farrier):
    client = factories.make_client()
    first, second = issued_of(client), issued_of(client)
    record_payment(
        key=uuid7(),
        client=client,
        amount=Decimal("114.00"),
        method="cash",
        day=TODAY,
        by=farrier,
        invoices=[first],
    )
    credit_in_full(invoice=first, by=farrier, today=TODAY, reason="Twice")
    assert sum(row.amount for row in Allocation.objects.all()) == 0
    record_payment(
        key=uuid7(),
        client=client,
        amount=Decimal("1.00"),
        method="cash",
        day=TODAY,
        by=farrier,
    )
    assert Invoice.objects.with_balance().get(pk=second.pk).open_amount == 113


def test_what_can_not_be_credited_says_why(issued_of, draft_of, farrier):
    with pytest.raises(Refused, match="Only an issued"):
        credit_in_full(invoice=draft_of(), by=farrier, today=TODAY, reason="x")
    invoice = issued_of()
    with pytest.raises(Refused, match="Say why"):
        credit_in_full(invoice=invoice, by=farrier, today=TODAY, reason=" ")
    note = credit_in_full(invoice=invoice, by=farrier, today=TODAY, reason="x")
    with pytest.raises(Refused, match="Only an issued"):
        credit_in_full(invoice=note, by=farrier, today=TODAY, reason="x")


# ---- Closing ----------------------------------------------------------------------------
def test_closing_locks_the_visit_and_drafts_in_one_go(farrier, priced):
    work = factories.make_work()
    priced(work, "95.00")
    visit = factories.make_visit(
        horses=[factories.make_horse(usual_work=work)], farrier=farrier
    )
    drafts = close_visit(visit=visit, by=farrier)
    assert close_visit(visit=visit, by=farrier) == drafts
    assert len(drafts) == 1
    assert Visit.objects.get(pk=visit.pk).is_closed


def test_a_visit_that_can_not_be_billed_stays_open(farrier, priced):
    priced()
    horse = factories.make_horse()
    horse.ownerships.all().delete()
    visit = factories.make_visit(horses=[horse], farrier=farrier)
    with pytest.raises(Refused, match="no owner"):
        close_visit(visit=visit, by=farrier)
    assert not Visit.objects.get(pk=visit.pk).is_closed


# ---- The guards themselves ----------------------------------------------------------------
def test_every_guard_stands_after_all_migrations(db):
    """A migration that lets SQLite remake a table would drop them without a word."""
    guards = {}
    for name in ("0002_the_issued_stays", "0003_charge_rules"):
        guards |= import_module(f"billing.migrations.{name}").GUARDS
    table = "sqlite_master" if connection.vendor == "sqlite" else "pg_trigger"
    column = "name" if connection.vendor == "sqlite" else "tgname"
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {column} FROM {table}")  # noqa: S608 - our two names
        there = {row[0] for row in cursor.fetchall()}
    assert {f"billing_{name}" for name in guards} <= there


@pytest.mark.django_db(transaction=True)
def test_neither_replace_nor_truncate_slips_past_the_guards(issued_of):
    """SQLite's INSERT OR REPLACE fires delete triggers only with recursive_triggers;
    PostgreSQL's TRUNCATE fires no trigger of rows at all.
    """
    invoice = issued_of()
    if connection.vendor != "sqlite":

        def empty():
            with connection.cursor() as cursor:
                cursor.execute("TRUNCATE billing_invoice CASCADE")

        refused(empty)
        assert Invoice.objects.filter(pk=invoice.pk).exists()
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM billing_invoice")
        row = cursor.fetchone()
        marks = ", ".join(["%s"] * len(row))

        def replace():
            cursor.execute(
                f"INSERT OR REPLACE INTO billing_invoice VALUES ({marks})",  # noqa: S608
                row,
            )

        refused(replace)
    assert Invoice.objects.get().snapshot_sha256 == invoice.snapshot_sha256
