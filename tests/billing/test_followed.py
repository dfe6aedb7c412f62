"""What drafts follow: rates, how the practice stands, prices that come later. And what
they don't: a deposit's own document, another currency."""

from datetime import timedelta

import pytest

from billing.models import ChargeItem, Invoice, InvoiceAllowance
from billing.selectors import invoice_list
from billing.selectors.deposits import left_of
from billing.services.charges import propose_charge_list, set_tax_rate
from billing.services.deposits import deduct_prepayment
from billing.services.discounts import set_discount
from billing.services.invoices import issue_invoice
from billing.services.ledger import allocate, write_off
from billing.services.lines import (
    LineWish,
    NewLine,
    add_line,
    change_line,
    discard_draft,
    remove_line,
)
from billing.services.totals import Wish, refresh_totals
from practice.errors import Refused
from practice.models import Practice
from practice.services.practice import change_practice
from tests import factories
from tests.billing.books import TODAY, D, ago, draft_over, invoice_over, open_of, pay


@pytest.fixture
def client(practice):
    return factories.make_client()


def issued(draft):
    return issue_invoice(invoice=draft, by=None, today=TODAY + timedelta(30))


# ---- The tax ------------------------------------------------------------------------
def test_drafts_follow_a_rate_that_is_entered_later(client, practice):
    propose_charge_list(practice=practice)
    late, early = (draft_over(client, "100.00", tax_code="standard") for _ in range(2))
    early.lines.update(service_day=ago(400))
    day = late.lines.get().service_day
    set_tax_rate(by=None, code="standard", percent=D(25), starts=day)
    assert [issued(draft).tax_total for draft in (late, early)] == [25, 20]


def test_drafts_follow_when_the_practice_is_no_longer_registered(client):
    draft = draft_over(client, "100.00", tax_code="standard")
    change_practice(by=None, tax_registered=False)
    done = issued(draft)
    assert (done.due, done.snapshot["tax_groups"][0]["category"]) == (100, "O")


def test_the_currency_stays_once_there_are_documents_or_payments(client):
    draft = draft_over(client, "100.00")
    with pytest.raises(Refused, match="old currency") as refusal:
        change_practice(by=None, currency="EUR")
    assert refusal.value.field == "currency"
    discard_draft(invoice=draft, by=None)
    assert change_practice(by=None, currency="EUR").currency == "EUR"
    pay(client, "1.00")
    with pytest.raises(Refused, match="old currency"):
        change_practice(by=None, currency="GBP")


def test_money_of_one_currency_pays_nothing_of_another(client):
    invoice = invoice_over(client, "100.00")
    Practice.objects.update(currency="EUR")  # as an older version let it
    payment = pay(client, "100.00", invoice)
    assert allocate(payment, [invoice.pk], day=TODAY) == 0
    assert open_of(invoice) == 100


# ---- Prices -------------------------------------------------------------------------
def test_an_item_keeps_the_price_mode_of_the_practice_on_an_older_draft(client):
    """The draft was begun without tax; the list is now told with it: 12 stay 12."""
    draft = draft_over(client, "100.00", tax_code="standard")
    change_practice(by=None, prices_include_tax=True)
    item = ChargeItem.objects.create(
        kind="extra", name="Pads", price=D(12), tax_code="standard"
    )
    add_line(invoice=draft, by=None, line=NewLine(item=item))
    draft.refresh_from_db()
    assert draft.due == 132


def test_a_standing_discount_waits_for_a_price(client):
    draft = Invoice.objects.create(client=client, currency="GBP")
    free = NewLine(name="Work", unit_price=D(0), tax_code="zero")
    line = add_line(invoice=draft, by=None, line=free)
    InvoiceAllowance.objects.create(
        invoice=draft,
        position=1,
        amount=0,
        net=0,
        percent=10,
        reason="friend",
        tax_code="zero",
        tax_category="Z",
    )
    refresh_totals(invoice=draft)
    change_line(line=line, by=None, wish=LineWish(unit_price=D(100)))
    draft.refresh_from_db()
    assert draft.due == 90
    remove_line(line=line, by=None)
    add_line(invoice=draft, by=None, line=NewLine(name="Other", unit_price=D(50)))
    done = issued(draft)
    assert [row["amount"] for row in done.snapshot["adjustments"]] == ["5.00"]


def test_a_discount_of_nothing_is_not_on_the_document(client):
    draft = draft_over(client, "100.00")
    set_discount(invoice=draft, by=None, wish=Wish("friend", percent=D(10)))
    change_line(line=draft.lines.get(), by=None, wish=LineWish(unit_price=D(0)))
    with pytest.raises(Refused, match="nothing on it yet"):
        set_discount(invoice=draft, by=None, wish=Wish("other", percent=D(10)))
    assert issued(draft).snapshot["adjustments"] == []


# ---- Deposits -------------------------------------------------------------------------
def test_a_deposit_on_a_draft_is_not_changed_by_hand(client):
    deposit = invoice_over(client, "50.00", kind="386")
    draft = draft_over(client, "500.00")
    (line,) = deduct_prepayment(invoice=draft, prepayment=deposit, by=None)
    with pytest.raises(Refused, match="take the deposit off anew"):
        change_line(line=line, by=None, wish=LineWish(quantity=D(-5)))
    assert left_of(deposit) == 0


def test_a_deposit_that_was_given_up_is_not_taken_off(client):
    deposit = invoice_over(client, "50.00", kind="386")
    write_off(invoice=deposit, by=None, today=TODAY, reason="moved", amount=D(20))
    assert left_of(deposit) == 30


# ---- The list -----------------------------------------------------------------------
def test_drafts_stand_above_what_is_issued(client):
    """Where databases differ: SQLite puts what has no day last."""
    invoice_over(client, "1.00")
    draft_over(client, "2.00")
    viewer = factories.make_user("farrier")
    rows = invoice_list(viewer, state="", client=None, today=TODAY)
    assert [row.state for row in rows] == ["draft", "issued"]
