"""The ledger: what is booked, what is refused, what the database itself refuses."""

import sqlite3
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from billing.models import Allocation, Invoice, LedgerEntry, Payment
from billing.selectors import account, unapplied
from billing.selectors.accounts import statement
from billing.selectors.deposits import left_of
from billing.selectors.ledger import age_of, aged, control
from billing.services.credit import credit_amount, credit_in_full, credit_lines
from billing.services.deposits import deduct_prepayment
from billing.services.discounts import set_discount
from billing.services.invoices import issue_invoice
from billing.services.ledger import undo_write_off, write_off
from billing.services.payments import apply_credit, pay_back, reverse_payment
from billing.services.totals import Wish
from practice.errors import Refused
from practice.keys import uuid7
from tests import factories
from tests.billing.books import (
    TODAY,
    D,
    ago,
    balance,
    books_balance,
    draft_over,
    invoice_over,
    open_of,
    pay,
)


@pytest.fixture
def client(practice):
    return factories.make_client()


def kinds(client):
    rows = LedgerEntry.objects.filter(client=client).order_by("pk")
    return [(row.kind, row.amount) for row in rows]


# ---- Booking ----------------------------------------------------------------------
def test_what_happens_is_booked_with_its_sign(client):
    invoice = invoice_over(client, "100.00")
    payment = pay(client, "130.00", invoice)
    pay_back(
        payment=payment, amount=D("10"), method="cash", day=TODAY, by=None, reason="x"
    )
    other = invoice_over(client, "50.00")
    write_off(invoice=other, by=None, today=TODAY, reason="too small")
    credit_in_full(invoice=invoice, by=None, today=TODAY, reason="wrong horse")
    assert kinds(client) == [
        ("issue", 100),
        ("payment", -130),
        ("refund", 10),
        ("issue", 50),
        ("write_off", -50),
        ("credit", -100),
    ]
    (found,) = books_balance()
    assert (found.entries, found.open, found.unapplied) == (-120, 0, 120)


def test_the_control_equation_sees_what_is_booked_on_one_side_only(client):
    """It is no tautology: each side is reckoned from tables of its own."""
    invoice = invoice_over(client, "100.00")
    books_balance()
    LedgerEntry.objects.create(
        client=client,
        kind="write_off",
        day=TODAY,
        currency="GBP",
        amount=-130,
        invoice=invoice,
    )
    (found,) = control()
    assert not found.holds
    assert "INV-00001: -30" in found.faults[0]
    payment = Payment.objects.create(
        client=factories.make_client(),
        day=TODAY,
        currency="GBP",
        amount=5,
        method="cash",
    )
    found = control([payment.client_id])
    assert [(one.entries, one.unapplied, one.holds) for one in found] == [(0, 5, False)]


def test_a_write_off_closes_and_is_taken_back_once(client):
    invoice = invoice_over(client, "100.00")
    pay(client, "60.00", invoice)
    key = uuid7()
    told = {
        "invoice": invoice,
        "by": None,
        "today": TODAY,
        "reason": "moved",
        "key": key,
    }
    entry = write_off(**told)
    assert write_off(**told) == entry
    assert (entry.amount, open_of(invoice)) == (-40, 0)
    for _ in range(2):
        undo_write_off(entry=entry, by=None, today=TODAY, reason="paid after all")
    assert open_of(invoice) == 40
    assert account(client, today=TODAY).entries[-1].words.endswith("taken back")
    books_balance()


@pytest.mark.parametrize("amount", ["0", "-1", "100.01", "1.005"])
def test_no_more_is_written_off_than_is_open(client, amount):
    invoice = invoice_over(client, "100.00")
    with pytest.raises(Refused) as refusal:
        write_off(invoice=invoice, by=None, today=TODAY, reason="x", amount=D(amount))
    assert refusal.value.field == "amount"


# ---- Payments back ------------------------------------------------------------------
def test_only_what_is_left_of_a_payment_is_paid_back_and_once(client):
    payment = pay(client, "130.00", invoice_over(client, "100.00"))
    told = {"method": "transfer", "day": TODAY, "by": None, "reason": "paid twice"}
    with pytest.raises(Refused, match=r"30\.00 GBP of it is left"):
        pay_back(payment=payment, amount=D("30.01"), **told)
    key = uuid7()
    one = pay_back(payment=payment, amount=D(30), key=key, **told)
    assert pay_back(payment=payment, amount=D(30), key=key, **told) == one
    assert unapplied(client) == 0
    books_balance()


def test_a_bounced_cheque_opens_what_it_paid(client):
    invoice = invoice_over(client, "100.00")
    payment = pay(client, "100.00", invoice, method="cheque")
    for _ in range(2):
        reverse_payment(payment=payment, by=None, today=TODAY, reason="bounced")
    assert (open_of(invoice), unapplied(client)) == (100, 0)
    assert sum(row.amount for row in Allocation.objects.all()) == 0
    books_balance()


def test_a_payment_that_was_paid_back_in_part_is_not_reversed(client):
    payment = pay(client, "100.00")
    pay_back(
        payment=payment, amount=D(10), method="cash", day=TODAY, by=None, reason="x"
    )
    with pytest.raises(Refused, match="paid back"):
        reverse_payment(payment=payment, by=None, today=TODAY, reason="bounced")


def test_credit_goes_where_its_reference_says_else_to_the_longest_due(client):
    payment = pay(client, "80.00", reference="for INV-00002")
    early = invoice_over(client, "50.00", day=ago(20))
    named = invoice_over(client, "50.00", day=ago(10))
    apply_credit(client=client, by=None, today=TODAY)
    assert (open_of(named), open_of(early)) == (0, 20)
    assert payment.allocations.count() == 2


def test_one_payment_pays_several_invoices_in_their_order(client):
    first, second, third = (invoice_over(client, "50.00") for _ in range(3))
    pay(client, "80.00", third, first)
    assert [open_of(one) for one in (first, second, third)] == [20, 50, 0]


# ---- Credit in part -----------------------------------------------------------------
def test_a_credit_of_an_amount_takes_each_rate_in_proportion(client):
    invoice = invoice_over(client, "100.00", "50.00", tax_code=["standard", "zero"])
    assert invoice.due == 170
    note = credit_amount(
        invoice=invoice, amount=D("17.00"), by=None, today=TODAY, reason="late"
    )
    assert (note.due, note.corrects, note.kind) == (17, invoice, "381")
    groups = {
        g["category"]: (g["basis"], g["tax"]) for g in note.snapshot["tax_groups"]
    }
    assert groups == {"S": ("10.00", "2.00"), "Z": ("5.00", "0.00")}
    assert open_of(invoice) == 153
    books_balance()


def test_what_is_left_after_parts_is_credited_to_the_cent(client):
    """3 × 12.34 + 20 % is 44.42 by document, 44.43 by line (VAT Notice 700 § 17.5)."""
    invoice = invoice_over(client, *["12.34"] * 3, tax_code="standard")
    assert invoice.due == D("44.42")
    for position in (1, 2):
        credit_lines(
            invoice=invoice, positions=[position], by=None, today=TODAY, reason="x"
        )
    credit_in_full(invoice=invoice, by=None, today=TODAY, reason="x")
    assert (open_of(invoice), balance(invoice).credited) == (0, invoice.due)
    books_balance()


def test_a_line_is_credited_less_its_part_of_the_discount(client):
    """10 % off 100 and 40, and 7 off both: the first line bore 10 and 5 of it."""
    draft = draft_over(client, "100.00", "40.00", tax_code="standard")
    set_discount(invoice=draft, by=None, wish=Wish("friend", percent=D(10)))
    set_discount(invoice=draft, by=None, wish=Wish("late", amount=D("7.00")))
    invoice = issue_invoice(invoice=draft, by=None, today=TODAY)
    told = {"invoice": invoice, "by": None, "today": TODAY, "reason": "x"}
    assert invoice.due == D("142.80")  # (140 − 14 − 7) × 1.2
    assert credit_lines(positions=[1], **told).due == D("102.00")
    assert credit_in_full(**told).due == D("40.80")
    books_balance()


def test_no_more_is_credited_at_a_rate_than_is_left_at_it(client):
    """Else the tax of the credit notes is not that of the invoice."""
    codes = ["standard", "zero"]
    invoice = invoice_over(client, "100.00", "100.00", tax_code=codes)
    told = {"invoice": invoice, "by": None, "today": TODAY, "reason": "x"}
    first = credit_amount(amount=D(110), **told)
    with pytest.raises(Refused, match=r"Only 50\.00 GBP at 0 % is left") as refusal:
        credit_lines(positions=[2], **told)
    assert refusal.value.field == "positions"
    rest = credit_in_full(**told)
    assert (rest.due, first.tax_total + rest.tax_total) == (110, invoice.tax_total)


def test_a_deposit_comes_back_with_the_last_of_its_invoice(client):
    """Also where parts were credited by amount, and at the deposit's own rate."""
    deposit = invoice_over(client, "50.00", kind="386")
    draft = draft_over(client, "100.00", tax_code="standard")
    deduct_prepayment(invoice=draft, prepayment=deposit, by=None)
    invoice = issue_invoice(invoice=draft, by=None, today=TODAY)
    told = {"invoice": invoice, "by": None, "today": TODAY, "reason": "x"}
    first = credit_amount(amount=D(10), **told)
    rest = credit_amount(amount=D(60), **told)
    assert first.tax_total + rest.tax_total == invoice.tax_total == 20
    assert (left_of(deposit), open_of(invoice)) == (50, 0)
    books_balance()


def test_a_line_is_credited_once_and_under_one_key_once(client):
    invoice = invoice_over(client, "10.00", "20.00")
    key = uuid7()
    told = {"invoice": invoice, "by": None, "today": TODAY, "reason": "x"}
    one = credit_lines(positions=[1], key=key, **told)
    assert credit_lines(positions=[1], key=key, **told) == one
    with pytest.raises(Refused, match="credited before"):
        credit_lines(positions=[1, 2], **told)
    with pytest.raises(Refused, match=r"20\.00 GBP of it can be credited"):
        credit_amount(amount=D("20.01"), **told)
    assert credit_in_full(**told).due == 20
    assert credit_in_full(**told).due == 20
    assert open_of(invoice) == 0


def test_a_credit_of_a_paid_invoice_frees_the_newest_money_alone(client):
    invoice = invoice_over(client, "100.00")
    first = pay(client, "60.00", invoice)
    second = pay(client, "40.00", invoice)
    credit_amount(invoice=invoice, amount=D(10), by=None, today=TODAY, reason="x")
    paid = {
        row.pk: sum(part.amount for part in row.allocations.all())
        for row in (first, second)
    }
    assert paid == {first.pk: 60, second.pk: 30}
    assert (open_of(invoice), unapplied(client)) == (0, 10)
    books_balance()


def test_what_is_written_off_is_not_credited(client):
    invoice = invoice_over(client, "100.00")
    write_off(invoice=invoice, by=None, today=TODAY, reason="x")
    with pytest.raises(Refused, match="written off is taken back first"):
        credit_in_full(invoice=invoice, by=None, today=TODAY, reason="x")


# ---- As of a day ----------------------------------------------------------------------
@pytest.mark.parametrize(
    ("late", "place"),
    [(-3, 0), (0, 0), (1, 1), (30, 1), (31, 2), (60, 2), (61, 3), (90, 3), (91, 4)],
)
def test_ages_begin_the_day_after(late, place):
    assert age_of(ago(late), TODAY) == place


def test_what_was_owed_on_a_day_is_the_same_whenever_it_is_asked(client, practice):
    invoice = invoice_over(client, "100.00", day=ago(80))  # due 14 days later
    pay(client, "30.00", invoice, day=ago(50))
    before = aged(ago(40))
    assert before.rows[0].ages == (0, 70, 0, 0, 0)
    pay(client, "20.00", invoice, day=ago(30))
    credit_amount(invoice=invoice, amount=D(10), by=None, today=TODAY, reason="x")
    write_off(invoice=invoice, by=None, today=TODAY, reason="x")
    later = invoice_over(client, "5.00")
    again = aged(ago(40))
    assert again.rows[0].ages == before.rows[0].ages
    assert (aged(TODAY).owed, aged(ago(81)).rows) == (open_of(later), [])
    assert aged(ago(20)).rows[0].ages == (0, 0, 50, 0, 0)


def test_credit_stands_beside_what_is_owed(client):
    pay(client, "25.00", day=ago(5))
    found = aged(TODAY)
    assert (found.owed, found.credit) == (0, 25)
    assert aged(ago(6)).credit == 0


def test_a_statement_runs_from_opening_to_closing(client):
    invoice = invoice_over(client, "100.00", day=ago(60))
    pay(client, "40.00", invoice, day=ago(40))
    pay(client, "80.00", day=ago(5))
    found = statement(client, first=ago(50), last=ago(1))
    assert (found.opening, found.closing) == (100, -20)
    assert [entry.balance for entry in found.entries] == [60, -20]
    assert (found.owed, found.credit) == (0, 20)
    assert statement(client, first=TODAY, last=TODAY).opening == -20


def test_an_account_costs_the_same_however_much_is_on_it(
    client, django_assert_num_queries
):
    for _ in range(3):
        pay(client, "5.00", invoice_over(client, "10.00"))
    with django_assert_num_queries(4):
        account(client, today=TODAY)
    with django_assert_num_queries(4):
        aged(TODAY)
    with django_assert_num_queries(5):
        control()


# ---- The database itself ---------------------------------------------------------------
def refused(action):
    with pytest.raises(IntegrityError), transaction.atomic():
        action()


@pytest.fixture(autouse=True)
def triggers_as_they_were():
    yield
    if connection.vendor == "sqlite" and connection.connection is not None:
        connection.connection.execute("PRAGMA recursive_triggers = ON")


@pytest.fixture
def booked(client):
    invoice = invoice_over(client, "100.00", "20.00")
    pay(client, "30.00", invoice)
    return invoice


@pytest.mark.parametrize("model", [LedgerEntry, Allocation, Payment])
def test_nothing_of_the_ledger_is_changed_or_deleted(booked, model):
    rows = model.objects.all()
    refused(lambda: rows.update(amount=1))
    refused(lambda: rows._raw_delete(rows.db))
    table = model._meta.db_table

    def by_hand():
        with connection.cursor() as cursor:
            cursor.execute(f"UPDATE {table} SET amount = amount")  # noqa: S608

    refused(by_hand)
    if connection.vendor == "postgresql":

        def emptied():
            with connection.cursor() as cursor:
                # What is deferred is looked at first: it would refuse in another way.
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
                cursor.execute(f"TRUNCATE {table} CASCADE")

        refused(emptied)


REPLACED = (
    ("billing_invoice", "id", "draft_key = 'x'"),
    ("billing_invoiceline", "id", "name = 'x'"),
    ("billing_payment", "id", "amount = 1"),
    ("billing_allocation", "id", "amount = 1"),
    ("billing_ledgerentry", "id", "amount = 0"),
)


@pytest.mark.parametrize(("table", "key", "change"), REPLACED)
def test_insert_or_replace_on_a_bare_connection_is_refused(booked, table, key, change):
    """It deletes the row in its way without asking the DELETE trigger, as long as
    recursive_triggers is off: the state in which every foreign tool connects."""
    if connection.vendor != "sqlite":
        pytest.skip("SQLite's own way round")
    raw = connection.connection
    raw.execute("PRAGMA recursive_triggers = OFF")
    assert raw.execute("PRAGMA recursive_triggers").fetchone() == (0,)
    columns = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
    name, _, value = change.partition(" = ")
    picked = ", ".join(value if each == name else each for each in columns)
    look = f"SELECT * FROM {table}"  # noqa: S608 - names of this file
    put = f"INSERT OR REPLACE INTO {table} SELECT {picked} FROM {table}"  # noqa: S608
    before = raw.execute(look).fetchall()
    assert before
    with (
        pytest.raises(sqlite3.IntegrityError, match=r"kept|no line"),
        transaction.atomic(),
    ):
        raw.execute(put)
    assert raw.execute(look).fetchall() == before


def test_a_draft_does_not_push_out_an_issued_document(booked, client):
    if connection.vendor != "sqlite":
        pytest.skip("SQLite's own way round")
    draft = draft_over(client, "1.00")
    raw = connection.connection
    raw.execute("PRAGMA recursive_triggers = OFF")
    with pytest.raises(sqlite3.IntegrityError), transaction.atomic():
        raw.execute(
            "UPDATE OR REPLACE billing_invoice SET id = ? WHERE id = ?",
            (booked.pk.hex, draft.pk.hex),
        )
    assert Invoice.objects.filter(pk=booked.pk).exists()


def test_entries_have_the_sign_and_the_cause_of_their_kind(client):
    invoice = invoice_over(client, "10.00")
    bad = [
        {"kind": "issue", "amount": -5, "invoice": invoice},
        {"kind": "write_off", "amount": 5, "invoice": invoice},
        {"kind": "payment", "amount": -5, "invoice": invoice},
        {"kind": "issue", "amount": 5, "invoice": invoice},  # a second time
    ]
    for one in bad:
        refused(
            lambda one=one: LedgerEntry.objects.create(
                client=client, day=TODAY, currency="GBP", **one
            )
        )


def test_books_from_before_the_ledger_are_brought_over(client, practice):
    """Migration 0005 on what a house of the first version has."""
    invoice = invoice_over(client, "100.00")
    pay(client, "130.00", invoice)
    credit_in_full(invoice=invoice, by=None, today=TODAY, reason="x")
    wanted = sorted(kinds(client))
    practice.is_demo = True  # whose rows may go
    practice.save(update_fields=["is_demo"])
    rows = LedgerEntry.objects.all()
    rows._raw_delete(rows.db)
    import_module("billing.migrations.0005_bring_the_books_over").bring_over(apps, None)
    assert sorted(kinds(client)) == wanted
    books_balance()
