"""Payments: once, allocated within what is paid and what is open."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from billing.models import Allocation, Invoice, Payment
from billing.selectors import account, unapplied
from billing.services.credit import credit_in_full
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from billing.services.payments import apply_credit, record_payment
from practice.errors import Refused
from practice.keys import uuid7
from tests import factories

TODAY = date(2026, 11, 25)


def invoice_over(client, amount, *, day=TODAY):
    """An issued invoice without tax over this amount."""
    draft = Invoice.objects.create(client=client, currency="GBP")
    add_line(
        invoice=draft,
        by=None,
        line=NewLine(name="Work", unit_price=Decimal(amount), tax_code="zero"),
    )
    return issue_invoice(invoice=draft, by=None, today=day)


def pay(client, amount, *invoices, key=None, **over):
    told = {"method": "cash", "day": TODAY, "by": None, **over}
    return record_payment(
        key=key or uuid7(),
        client=client,
        amount=Decimal(amount),
        invoices=invoices,
        **told,
    )


def open_of(invoice):
    return Invoice.objects.with_balance().get(pk=invoice.pk).open_amount


@pytest.fixture
def client(practice):
    return factories.make_client()


def test_the_same_key_is_the_same_payment(client):
    invoice = invoice_over(client, "100.00")
    key = uuid7()
    first = pay(client, "40.00", invoice, key=key)
    assert pay(client, "40.00", invoice, key=key) == first
    assert open_of(invoice) == 60
    assert Payment.objects.count() == 1


def test_the_key_of_another_payment_is_refused(client):
    key = uuid7()
    pay(client, "40.00", key=key)
    with pytest.raises(Refused, match="start anew"):
        pay(client, "41.00", key=key)


def test_money_without_a_name_pays_what_is_due_longest(client):
    early = invoice_over(client, "50.00", day=TODAY - timedelta(20))
    late = invoice_over(client, "50.00")
    pay(client, "70.00")
    assert (open_of(early), open_of(late)) == (0, 30)


def test_money_for_an_invoice_pays_that_one(client):
    early = invoice_over(client, "50.00", day=TODAY - timedelta(20))
    late = invoice_over(client, "50.00")
    pay(client, "50.00", late)
    assert (open_of(early), open_of(late)) == (50, 0)


def test_what_is_over_stays_to_the_clients_credit_until_applied(client):
    invoice = invoice_over(client, "50.00")
    pay(client, "80.00", invoice)
    assert unapplied(client) == 30
    later = invoice_over(client, "100.00")
    assert apply_credit(client=client, by=None, today=TODAY) == 30
    assert apply_credit(client=client, by=None, today=TODAY) == 0
    assert open_of(later) == 70


@pytest.mark.parametrize(
    ("amount", "over", "field"),
    [
        ("0", {}, "amount"),
        ("-5", {}, "amount"),
        ("1.005", {}, "amount"),
        ("5", {"method": "beads"}, "method"),
    ],
)
def test_a_payment_that_can_not_be_is_refused(client, amount, over, field):
    with pytest.raises(Refused) as refusal:
        pay(client, amount, **over)
    assert refusal.value.field == field


def test_one_client_does_not_pay_anothers_invoice(client):
    with pytest.raises(Refused, match="is not"):
        pay(client, "5.00", invoice_over(factories.make_client(), "5.00"))


def test_a_credit_note_or_a_draft_takes_no_money(client):
    invoice = invoice_over(client, "50.00")
    note = credit_in_full(invoice=invoice, by=None, today=TODAY, reason="x")
    draft = Invoice.objects.create(client=client, currency="GBP")
    pay(client, "50.00", invoice, note, draft)
    assert not Allocation.objects.exists()
    assert unapplied(client) == 50


def test_an_account_runs_from_invoice_to_payment(client):
    invoice = invoice_over(client, "100.00", day=TODAY - timedelta(30))
    pay(client, "60.00", invoice, day=TODAY - timedelta(5))
    found = account(client, today=TODAY)
    assert [entry.balance for entry in found.entries] == [100, 40]
    assert (found.owed, found.overdue, found.credit) == (40, 40, 0)


STEPS = st.lists(
    st.tuples(st.sampled_from(["bill", "pay", "credit"]), st.integers(1, 50_000)),
    max_size=12,
)


@settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(STEPS)
def test_whatever_happens_the_books_balance(practice, steps):
    """Invariant 5: allocations never exceed a payment nor an invoice, and what is
    billed less credited less paid is what is open less the client's credit."""
    client = factories.make_client()
    billed = Decimal(0)
    for step, units in steps:
        amount = Decimal(units).scaleb(-2)
        rows = Invoice.objects.filter(client=client).open()
        if step == "bill":
            invoice_over(client, amount)
            billed += amount
        elif step == "pay":
            pay(client, amount)
            billed -= amount
        elif rows.exists():
            row = rows.first()
            billed -= row.due
            credit_in_full(invoice=row, by=None, today=TODAY, reason="x")
    for invoice in Invoice.objects.filter(client=client).with_balance():
        if invoice.kind == "380":
            assert 0 <= invoice.open_amount <= invoice.due
            assert invoice.allocated + invoice.credited <= invoice.due
    for payment in Payment.objects.filter(client=client):
        assert sum(row.amount for row in payment.allocations.all()) >= 0
        assert sum(row.amount for row in payment.allocations.all()) <= payment.amount
    found = account(client, today=TODAY)
    assert found.balance == billed
    assert (found.entries[-1].balance if found.entries else 0) == billed
