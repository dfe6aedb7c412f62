"""The API of money."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from billing.models import ChargeItem, Invoice, Payment
from billing.services.collecting import set_collecting
from billing.services.invoices import issue_invoice
from billing.services.visits import close_visit
from practice.keys import uuid7
from practice.models import Message
from tests import factories
from tests.billing.books import books_balance
from tests.openapi import assert_described


@pytest.fixture
def invoice(farrier, priced):
    """A draft over 95.00 + 20 %."""
    work = factories.make_work(name="Full set")
    priced(work, "95.00")
    visit = factories.make_visit(
        horses=[factories.make_horse(usual_work=work)], farrier=farrier
    )
    (made,) = close_visit(visit=visit, by=farrier)
    return made


def get(browser, name, *args, status=200, query=""):
    answer = browser.get(reverse(f"billing:{name}", args=args) + query)
    assert answer.status_code == status, answer.content
    return assert_described(answer)


def post(browser, name, *args, body=None, status=200):
    answer = browser.post(
        reverse(f"billing:{name}", args=args),
        body or {},
        content_type="application/json",
    )
    assert answer.status_code == status, answer.content
    return assert_described(answer)


def test_a_draft_is_read_issued_and_credited(as_office, invoice):
    told = get(as_office, "api_invoice", invoice.pk)
    assert (told["state"], told["number"], told["due"]) == ("draft", None, "114.00")
    assert [line["amount"] for line in told["lines"]] == ["95.00"]
    for _ in range(2):
        told = post(as_office, "api_invoice_issue", invoice.pk)
        assert (told["number"], told["open_amount"]) == ("INV-00001", "114.00")
    answer = as_office.get(reverse("billing:api_invoice_pdf", args=[invoice.pk]))
    assert answer.content.startswith(b"%PDF-")
    body = {"reason": "Wrong payer"}
    note = post(as_office, "api_invoice_credit", invoice.pk, body=body, status=201)
    assert note["corrects"] == str(invoice.pk)
    assert get(as_office, "api_invoice", invoice.pk)["open_amount"] == "0.00"


def test_the_list_narrows_by_state(as_office, invoice):
    assert get(as_office, "api_invoices")["count"] == 1
    assert get(as_office, "api_invoices", query="?state=open")["count"] == 0
    get(as_office, "api_invoices", query="?state=beads", status=422)


def test_a_refusal_is_problem_details_with_a_pointer(as_office, invoice):
    invoice.lines.update(needs_price=True)
    answer = as_office.post(reverse("billing:api_invoice_issue", args=[invoice.pk]))
    assert answer.status_code == 422
    assert answer["Content-Type"].startswith("application/problem+json")
    assert "no price yet" in answer.json()["detail"]


def payment_of(client, /, **over):
    return {
        "key": str(uuid7()),
        "client": client.pk,
        "amount": "40.00",
        "method": "cash",
        "day": str(timezone.localdate()),
    } | over


def test_a_payment_is_recorded_once_however_often_it_is_sent(as_office, invoice):
    issue_invoice(invoice=invoice, by=None, today=timezone.localdate())
    body = payment_of(invoice.client, invoices=[str(invoice.pk)])
    first = post(as_office, "api_payments", body=body, status=201)
    assert first["allocations"][0]["amount"] == "40.00"
    assert post(as_office, "api_payments", body=body, status=200) == first
    assert Payment.objects.count() == 1
    assert get(as_office, "api_invoice", invoice.pk)["open_amount"] == "74.00"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"amount": 40}, "#/amount"),
        ({"amount": "1.005"}, "#/amount"),
        ({"amount": "-1.00"}, "#/amount"),
        ({"method": "beads"}, "#/method"),
        ({"day": "2999-01-01"}, "#/day"),
        ({"client": 10**6}, "#/client"),
        ({"invoices": [str(uuid7())]}, "#/invoices"),
        ({"tip": "1.00"}, "#/tip"),
    ],
)
def test_a_payment_with_something_wrong_is_pointed_at(
    as_office, practice, change, pointer
):
    body = payment_of(factories.make_client(), **change)
    answer = post(as_office, "api_payments", body=body, status=422)
    assert [error["pointer"] for error in answer["errors"]] == [pointer]
    assert not Payment.objects.exists()


def test_a_part_is_credited_written_off_and_paid_back_once_a_key(as_office, invoice):
    """Of 114.00: 14.00 credited, all paid, 20.00 credited and paid back, twice sent."""
    issue_invoice(invoice=invoice, by=None, today=timezone.localdate())
    keys = [str(uuid7()) for _ in range(4)]
    for _ in range(2):
        body = {"reason": "late", "amount": "14.00", "key": keys[0]}
        note = post(as_office, "api_invoice_credit", invoice.pk, body=body, status=201)
        assert note["due"] == "14.00"
    for status in (201, 200):
        body = {"reason": "small", "amount": "10.00", "key": keys[1]}
        told = post(as_office, "api_write_off", invoice.pk, body=body, status=status)
        assert (told["kind"], told["amount"]) == ("write_off", "-10.00")
    told = get(as_office, "api_invoice", invoice.pk)
    assert (told["written_off"], told["open_amount"]) == ("10.00", "90.00")
    paid = payment_of(invoice.client, amount="90.00")
    post(as_office, "api_payments", body=paid, status=201)
    body = {"reason": "a shoe", "positions": [9], "key": keys[2]}
    post(as_office, "api_invoice_credit", invoice.pk, body=body, status=422)
    body = {"reason": "a shoe", "amount": "20.00", "key": keys[2]}
    post(as_office, "api_invoice_credit", invoice.pk, body=body, status=201)
    back = {"reason": "a shoe", "amount": "20.00", "method": "cash", "key": keys[3]}
    for status in (201, 200):
        told = post(as_office, "api_refund", paid["key"], body=back, status=status)
        assert (told["kind"], told["payment"]) == ("refund", paid["key"])
    more = {**back, "key": str(uuid7())}
    post(as_office, "api_refund", paid["key"], body=more, status=422)
    books_balance()


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"amount": "1.00"}, "#/key"),
        ({"amount": "1.00", "positions": [1], "key": str(uuid7())}, "#/amount"),
        ({"positions": [], "key": str(uuid7())}, "#/positions"),
    ],
)
def test_what_is_credited_is_said_plainly(as_office, invoice, body, pointer):
    body = {"reason": "x", **body}
    answer = post(as_office, "api_invoice_credit", invoice.pk, body=body, status=422)
    assert [error["pointer"] for error in answer["errors"]] == [pointer]


def test_the_charge_list_is_read_with_its_other_prices(as_office, invoice, grows_flat):
    item = ChargeItem.objects.get(work__isnull=False, price=95)
    item.prices.create(client=invoice.client, amount=Decimal("80.5"))
    rows = get(as_office, "api_charge_list")
    told = next(row for row in rows if row["id"] == item.pk)
    assert (told["name"], told["price"]) == ("Full set", "95.00")
    assert told["prices"] == [
        {
            "amount": "80.50",
            "client": invoice.client_id,
            **dict.fromkeys(["barn", "starts", "ends", "season_from", "season_to"]),
        }
    ]

    def make():
        made = ChargeItem.objects.create(kind="extra", name=f"Extra {uuid7()}")
        made.prices.create(client=invoice.client, amount=Decimal(5))

    assert grows_flat(as_office, reverse("billing:api_charge_list"), make) == 5


def test_a_receipt_goes_out_by_itself_where_the_practice_wants_it(as_office, practice):
    body = payment_of(factories.make_client())
    post(as_office, "api_payments", body=body, status=201)
    set_collecting(
        by=None, nudges_on=False, days_before=3, late_law="", receipts_on=True
    )
    for client in (factories.make_client(), factories.make_client(email="")):
        post(as_office, "api_payments", body=payment_of(client), status=201)
    assert Message.objects.filter(kind="receipt").count() == 1


def test_an_owner_reads_the_own_and_writes_nothing(
    as_owner, as_other_owner, owner, invoice
):
    Invoice.objects.filter(pk=invoice.pk).update(client=owner.client)
    get(as_owner, "api_invoice", invoice.pk, status=404)
    invoice.refresh_from_db()
    issue_invoice(invoice=invoice, by=None, today=timezone.localdate())
    assert get(as_owner, "api_invoices")["count"] == 1
    assert get(as_other_owner, "api_invoices")["count"] == 0
    get(as_other_owner, "api_invoice", invoice.pk, status=404)
    post(as_owner, "api_payments", body=payment_of(owner.client), status=403)
    post(as_owner, "api_invoice_issue", invoice.pk, status=403)


@pytest.mark.parametrize("who", ["as_apprentice", "as_barn_contact"])
def test_money_is_shut_to_others(who, request, invoice):
    browser = request.getfixturevalue(who)
    get(browser, "api_invoices", status=403)
    get(browser, "api_payments", status=403)
    post(browser, "api_closing", invoice.visit_id, status=403)


def test_a_visit_is_closed_by_a_farrier_and_drafts_come_back(
    as_farrier, as_office, farrier, priced
):
    work = factories.make_work()
    priced(work, "95.00")
    horse = factories.make_horse(usual_work=work)
    visit = factories.make_visit(
        horses=[horse], farrier=farrier, day=date(2026, 11, 20)
    )
    post(as_office, "api_closing", visit.pk, status=403)
    first = post(as_farrier, "api_closing", visit.pk)
    assert [document["due"] for document in first] == ["114.00"]
    assert post(as_office, "api_closing", visit.pk) == first


def test_lists_cost_the_same_however_long(as_office, grows_flat, practice):
    def make():
        client = factories.make_client()
        Invoice.objects.create(client=client, currency="GBP")
        Payment.objects.create(
            client=client,
            day=timezone.localdate(),
            currency="GBP",
            amount=Decimal(5),
            method="cash",
        )

    assert grows_flat(as_office, reverse("billing:api_invoices"), make) == 5
    assert grows_flat(as_office, reverse("billing:api_payments"), make) == 6
