"""The pages of the books: what they show, and that a second tap does nothing twice."""

import io
from datetime import date

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from billing.models import (
    BankImport,
    BankLine,
    Dispute,
    Invoice,
    IssueRun,
    LedgerEntry,
    MadeFile,
    Payment,
)
from practice import outbox
from practice.keys import uuid7
from tests import factories
from tests.billing.books import (
    ago,
    books_balance,
    draft_over,
    invoice_over,
    open_of,
    pay,
)
from tests.doors import STATEMENT

TODAY = date(2026, 11, 25)


@pytest.fixture
def client(practice):
    return factories.make_client(name="Elspeth Rae")


@pytest.fixture
def at(settings, monkeypatch):
    """The pages' day is the tests' day."""
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *a, **k: TODAY)


def post(browser, name, *args, **said):
    return browser.post(reverse(f"billing:{name}", args=args), said, follow=True)


def test_an_invoice_is_credited_by_line_by_amount_and_the_rest(as_office, client, at):
    invoice = invoice_over(client, "60.00", "40.00")
    key = str(uuid7())
    for _ in range(2):
        post(
            as_office, "invoice_credit", invoice.pk, key=key, positions="1", reason="x"
        )
    assert open_of(invoice) == 40
    page = post(
        as_office, "invoice_credit", invoice.pk, key=uuid7(), amount="41", reason="x"
    )
    assert page.status_code == 422
    assert "40.00 GBP of it can be credited" in page.text
    post(as_office, "invoice_credit", invoice.pk, key=uuid7(), amount="15", reason="x")
    post(as_office, "invoice_credit", invoice.pk, key=uuid7(), reason="x")
    assert open_of(invoice) == 0
    assert Invoice.objects.filter(kind="381").count() == 3
    books_balance()


def test_written_off_and_taken_back(as_office, client, at):
    invoice = invoice_over(client, "60.00")
    page = post(as_office, "write_off", invoice.pk, key=uuid7())
    assert page.status_code == 422
    page = post(as_office, "write_off", invoice.pk, key=uuid7(), reason="moved away")
    assert "written off" in page.text
    post(
        as_office,
        "hope_again",
        invoice.pk,
        LedgerEntry.objects.get(kind="write_off", reverses=None).pk,
    )
    assert open_of(invoice) == 60


def test_a_dispute_is_noted_and_settled(as_office, client, at):
    invoice = invoice_over(client, "60.00")
    for _ in range(2):
        page = post(as_office, "object_to", invoice.pk, reason="shoe lost next day")
    assert "shoe lost next day" in page.text
    assert Dispute.objects.count() == 1
    post(as_office, "settled", invoice.pk)
    assert not Dispute.objects.filter(settled_on=None).exists()


def test_money_is_paid_back_and_a_cheque_bounces(as_office, client, at):
    payment = pay(client, "50.00")
    key = uuid7()
    for _ in range(2):
        post(
            as_office,
            "pay_back",
            payment.pk,
            key=key,
            amount="20",
            method="cash",
            reason="x",
        )
    assert LedgerEntry.objects.filter(kind="refund").count() == 1
    page = post(as_office, "bounced", payment.pk, reason="bounced")
    assert page.status_code == 422
    other = pay(client, "7.00")
    assert (
        "taken out of the books"
        in post(as_office, "bounced", other.pk, reason="b").text
    )
    books_balance()


def test_a_payment_is_told_which_invoices_it_pays(as_office, client, at):
    first, second, third = (invoice_over(client, "10.00") for _ in range(3))
    said = {"key": uuid7(), "amount": "20", "method": "link", "day": TODAY.isoformat()}
    said["chosen"] = [str(second.pk), str(third.pk)]
    post(as_office, "payment_new", client.pk, **said)
    assert [open_of(one) for one in (first, second, third)] == [10, 0, 0]


def test_an_empty_deposit_is_begun_once(as_office, client):
    key = uuid7()
    for _ in range(2):
        page = post(as_office, "begin", client.pk, key=key, kind="386")
    assert page.status_code == 200
    assert Invoice.objects.get().kind == "386"


def test_the_books_page_says_whether_they_balance(as_office, client, at):
    invoice = invoice_over(client, "60.00")
    assert "The books balance" in as_office.get(reverse("billing:books")).text
    LedgerEntry.objects.create(
        client=client,
        kind="write_off",
        day=TODAY,
        currency="GBP",
        amount=-70,
        invoice=invoice,
    )
    assert "do not balance" in as_office.get(reverse("billing:books")).text


def test_what_is_owed_by_age_costs_the_same_however_many_owe(
    as_office, client, grows_flat, at
):
    def make():
        invoice_over(factories.make_client(), "10.00", day=TODAY)

    assert grows_flat(as_office, reverse("billing:owed"), make) < 20
    page = as_office.get(reverse("billing:owed"), {"as_of": "soon"})
    assert page.status_code == 422
    csv = as_office.get(
        reverse("billing:owed"), {"as_of": TODAY.isoformat(), "as": "csv"}
    )
    assert csv.content.decode("utf-8-sig").startswith("client,current,")


def test_month_end_issues_all_drafts_and_the_month_is_one_pdf(as_office, client, at):
    """Steps of the worker, each its own job, none twice."""
    good = [draft_over(factories.make_client(email=""), "10.00") for _ in range(6)]
    bad = draft_over(factories.make_client(name="No Price"), "10.00")
    bad.lines.update(needs_price=True)
    for _ in range(2):
        page = as_office.post(reverse("billing:month_end"), follow=True)
    assert "0 / 7" in page.text
    run = IssueRun.objects.get()
    outbox.drain()
    run.refresh_from_db()
    assert (run.at, run.issued, run.ended_at is not None) == (7, 6, True)
    assert [row[1] for row in run.refused] == ["No Price"]
    numbers = sorted(Invoice.objects.issued().values_list("number", flat=True))
    assert numbers == [f"INV-{n:05}" for n in range(1, 7)]
    assert (
        "has no price yet"
        in as_office.get(reverse("billing:issue_run", args=[run.pk])).text
    )
    as_office.post(reverse("billing:file_ask"), {"period": "2026-11"})
    outbox.drain()
    take = reverse("billing:file_take", args=[MadeFile.objects.get().pk])
    content = b"".join(as_office.get(take).streaming_content)
    reader = PdfReader(io.BytesIO(content))
    assert len(reader.pages) == len(good)
    text = "".join(page.extract_text() for page in reader.pages)
    assert all(number in text for number in numbers)


def test_the_tables_are_taken_away_as_a_workbook_or_csv(as_office, client, at):
    client.name = "=HYPERLINK(1)"
    client.save(update_fields=["name"])
    invoice_over(client, "60.00", tax_code="standard")
    said = {"first": "2026-11-01", "last": "2026-11-30"}
    page = as_office.get(reverse("billing:export"), said)
    assert "Sales journal" in page.text
    assert "12.00" in page.text
    answer = as_office.get(reverse("billing:export"), {**said, "as": "xlsx"})
    book = load_workbook(io.BytesIO(answer.content))
    cells = [cell for row in book["sales_journal"].iter_rows() for cell in row]
    assert "'=HYPERLINK(1)" in [cell.value for cell in cells]
    assert all(
        cell.data_type != "f"
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
    )
    csv = as_office.get(reverse("billing:export"), {**said, "as": "sales_journal"})
    assert ",'=HYPERLINK(1)," in csv.content.decode()
    assert as_office.get(reverse("billing:export"), {"first": "x"}).status_code == 422


# ---- Bank -------------------------------------------------------------------------
def send(browser, data, name="bank.ofx"):
    file = io.BytesIO(data)
    file.name = name
    return browser.post(reverse("billing:bank"), {"file": file}, follow=True)


@pytest.mark.parametrize(
    ("name", "asked", "status"),
    [
        ("export", "first=0001-01-01&last=0001-01-02", 422),
        ("export", "first=9999-12-30&last=9999-12-31&as=changes", 422),
        ("owed", "as_of=9999-12-31", 422),
        ("statement", "last=0001-01-01", 422),
        ("invoices", f"client={10**30}", 200),
    ],
)
def test_what_no_calendar_or_key_has_is_said(as_office, client, name, asked, status):
    args = [client.pk] if name == "statement" else []
    page = as_office.get(f"{reverse(f'billing:{name}', args=args)}?{asked}")
    assert page.status_code == status


def test_a_long_import_shows_its_first_lines_and_asks_for_clients_once(
    as_office, client, django_assert_max_num_queries
):
    made = BankImport.objects.create(name="long.ofx", sha256="0", format="ofx")
    BankLine.objects.bulk_create(
        BankLine(
            brought_by=made,
            key=str(n),
            day=TODAY,
            amount=1,
            currency="GBP",
            payer_name=f"Payer {n}.",
        )
        for n in range(31)
    )
    with django_assert_max_num_queries(12):
        page = as_office.get(reverse("billing:bank_import", args=[made.pk]))
    shown = page.content.decode()
    assert "The first 30 of 31" in shown
    assert ("Payer 30." in shown) != ("Payer 0." in shown)


def test_a_statement_is_brought_in_looked_at_and_taken_back(as_office, client, at):
    page = send(as_office, STATEMENT)
    assert "1 new movements, 0 posted" in page.text
    assert "0 new movements, 0 posted, 1 were known" in send(as_office, STATEMENT).text
    line = BankLine.objects.get()
    for _ in range(2):
        post(as_office, "bank_post", line.pk, client=client.pk)
    assert Payment.objects.get().amount == 9
    made = BankImport.objects.order_by("created_at").first()
    for _ in range(2):
        page = post(as_office, "bank_undo", made.pk)
    assert "Taken back" in page.text
    books_balance()
    assert "1 new movements" in send(as_office, STATEMENT).text
    post(as_office, "bank_leave", BankLine.objects.get(state="waiting").pk)
    assert not BankLine.objects.filter(state="waiting").exists()


def test_a_csv_is_explained_once(as_office, client, at):
    invoice = invoice_over(client, "60.00", day=ago(5))
    csv = f"When,What,Who,Sum\n20/11/2026,{invoice.number},RAE ELSPETH,60.00\n".encode()
    page = send(as_office, csv, "bank.csv")
    assert page.status_code == 422
    assert "Which column is what?" in page.text
    said = {"held": page.context["held"], "day": "0", "text": "1", "payer_name": "2"}
    assert (
        "Say which column is the amount" in post(as_office, "bank_columns", **said).text
    )
    page = post(as_office, "bank_columns", **said, amount="3")
    assert "1 new movements, 1 posted" in page.text
    assert open_of(invoice) == 0
    assert "0 new movements" in send(as_office, csv, "again.csv").text


@pytest.mark.parametrize("data", [b"<a/>", b"", b"one\ntwo\n"])
def test_what_is_no_statement_is_said_beside_the_file(as_office, practice, data):
    page = send(as_office, data)
    assert page.status_code == 422
    assert not BankImport.objects.exists()


def test_how_the_practice_collects(as_office, practice):
    said = {"nudges_on": "on", "days_before": "5", "late_law": "UK"}
    assert "Saved" in post(as_office, "collecting", **said).text
    assert (
        "12.75"
        in post(as_office, "late_percent", starts="2026-07-01", percent="12.75").text
    )
    assert post(as_office, "late_percent", starts="", percent="x").status_code == 422
    assert post(as_office, "collecting", days_before="99").status_code == 422


def test_an_owner_reads_the_account_movement_by_movement(as_owner, owner, at):
    invoice = invoice_over(owner.client, "60.00")
    pay(owner.client, "20.00", invoice)
    page = as_owner.get(reverse("billing:my_invoices"))
    assert "movement by movement" in page.text
    assert "Invoice INV-00001" in page.text
