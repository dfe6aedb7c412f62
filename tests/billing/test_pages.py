"""The books' pages: what they show, what they do, what they cost in queries."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from billing.models import ChargeItem, Invoice, Payment
from billing.selectors import tax_on
from billing.services.charges import propose_charge_list
from billing.services.invoices import issue_all, issue_invoice
from billing.services.visits import close_visit
from horses.models import Visit
from practice.keys import uuid7
from practice.pdf import PdfUnavailable
from tests import factories


@pytest.fixture
def closed_visit(farrier, priced):
    """``closed_visit(*clients)``: a horse of each client seen and billed at 95.00."""
    work = factories.make_work(name="Full set")

    def make(*clients, close=True):
        priced(work, "95.00", call_out="30.00")
        barn = factories.make_barn()
        horses = [
            factories.make_horse(owner=client, usual_work=work, barn=barn)
            for client in clients or (factories.make_client(),)
        ]
        visit = factories.make_visit(horses=horses, farrier=farrier)
        if close:
            close_visit(visit=visit, by=farrier)
        return visit

    return make


def page(browser, name, *args, status=200):
    answer = browser.get(reverse(f"billing:{name}", args=args))
    assert answer.status_code == status
    return answer.content.decode()


def send(browser, name, /, *args, status=302, **body):
    answer = browser.post(reverse(f"billing:{name}", args=args), body)
    assert answer.status_code == status, answer.content.decode()[:2000]
    return answer.content.decode()


# ---- Closing ------------------------------------------------------------------------
def test_before_leaving_a_visit_is_closed_issued_and_paid(as_farrier, closed_visit):
    anna, bert = factories.make_client(name="Anna"), factories.make_client(name="Bert")
    visit = closed_visit(anna, bert, close=False)
    assert "Close the visit and draft the invoices" in page(
        as_farrier, "closing", visit.pk
    )
    send(as_farrier, "closing", visit.pk)
    send(as_farrier, "closing", visit.pk)
    shown = page(as_farrier, "closing", visit.pk)
    assert shown.count("£132.00") == 2
    assert "£264.00" in shown
    send(as_farrier, "closing_issue", visit.pk)
    send(as_farrier, "closing_issue", visit.pk)
    assert "INV-00002" in page(as_farrier, "closing", visit.pk)
    invoice = Invoice.objects.get(client=anna)
    key = uuid7()
    for _ in range(2):
        send(
            as_farrier,
            "payment_new",
            anna.pk,
            key=key,
            amount="132",
            method="cash",
            day=timezone.localdate(),
            invoice=invoice.pk,
            visit=visit.pk,
        )
    assert Payment.objects.count() == 1
    assert "paid" in page(as_farrier, "closing", visit.pk)


def test_only_a_farrier_closes_but_the_office_may_draft_what_is_closed(
    as_office, closed_visit, farrier
):
    visit = closed_visit(close=False)
    send(as_office, "closing", visit.pk, status=403)
    assert not Visit.objects.get(pk=visit.pk).is_closed
    factories.close(visit)
    send(as_office, "closing", visit.pk)
    assert Invoice.objects.filter(visit=visit).count() == 1


def test_a_visit_that_can_not_be_billed_says_why_and_stays_open(
    as_farrier, closed_visit
):
    visit = closed_visit(close=False)
    for record in visit.records.all():
        record.horse.ownerships.all().delete()
    assert "had no owner" in send(as_farrier, "closing", visit.pk, status=422)
    assert not Visit.objects.get(pk=visit.pk).is_closed


def test_a_draft_without_price_stops_issuing_all_and_names_it(as_farrier, closed_visit):
    visit = closed_visit()
    Invoice.objects.get(visit=visit).lines.filter(horse__isnull=False).update(
        needs_price=True
    )
    shown = send(as_farrier, "closing_issue", visit.pk, status=422)
    assert "has no price yet" in shown
    assert "no price yet</span>" in shown
    assert not Invoice.objects.issued().exists()


# ---- A draft --------------------------------------------------------------------------
def test_a_draft_is_changed_line_by_line_and_issued(as_office, closed_visit):
    invoice = Invoice.objects.get(visit=closed_visit())
    line = invoice.lines.get(horse__isnull=False)
    told = {"name": line.name, "quantity": "1", "tax_code": "standard"}
    send(as_office, "line", invoice.pk, line.pk, unit_price="£80,50", **told)
    assert invoice.lines.get(pk=line.pk).amount == Decimal("80.50")
    send(
        as_office,
        "line_add",
        invoice.pk,
        name="Discount",
        quantity="−1",
        unit_price="10",
    )
    send(as_office, "line_remove", invoice.pk, invoice.lines.get(name="Call-out").pk)
    send(as_office, "invoice_note", invoice.pk, note="With thanks.")
    send(as_office, "invoice_issue", invoice.pk)
    shown = page(as_office, "invoice", invoice.pk)
    assert "£84.60" in shown
    assert "With thanks." in shown
    assert Invoice.objects.get(pk=invoice.pk).snapshot["note"] == "With thanks."


def test_what_was_typed_on_a_line_stays_when_it_is_refused(as_office, closed_visit):
    invoice = Invoice.objects.get(visit=closed_visit())
    line = invoice.lines.first()
    shown = send(
        as_office,
        "line",
        invoice.pk,
        line.pk,
        status=422,
        name="My own words",
        quantity="1",
        unit_price="ninety",
        tax_code="standard",
    )
    assert "My own words" in shown
    assert "ninety" in shown
    assert "such as 95" in shown


def test_a_charge_of_the_list_is_added_with_its_price(as_office, closed_visit, priced):
    invoice = Invoice.objects.get(visit=closed_visit())
    send(as_office, "charge_add", name="Pads", price="24", tax_code="standard")
    item = ChargeItem.objects.get(name="Pads")
    send(as_office, "line_add", invoice.pk, item=item.pk, quantity="2")
    assert invoice.lines.get(name="Pads").amount == 48


def test_a_line_tapped_twice_is_added_once(as_office, closed_visit):
    invoice = Invoice.objects.get(visit=closed_visit())
    told = {"key": uuid7(), "name": "Pads", "quantity": "1", "unit_price": "24"}
    for _ in range(2):
        send(as_office, "line_add", invoice.pk, **told)
    assert invoice.lines.filter(name="Pads").count() == 1


def test_a_discarded_draft_leads_back_to_the_visit(as_office, closed_visit):
    invoice = Invoice.objects.get(visit=closed_visit())
    send(as_office, "invoice_discard", invoice.pk)
    assert "Nothing is drafted" in page(as_office, "closing", invoice.visit_id)


# ---- Issued -----------------------------------------------------------------------------
def test_an_issued_invoice_has_its_pdf_and_can_be_credited(as_office, closed_visit):
    invoice = Invoice.objects.get(visit=closed_visit())
    send(as_office, "invoice_issue", invoice.pk)
    answer = as_office.get(reverse("billing:invoice_pdf", args=[invoice.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Cache-Control"] == "private, no-store"
    assert answer.content.startswith(b"%PDF-")
    send(as_office, "invoice_credit", invoice.pk, status=422, reason="")
    send(as_office, "invoice_credit", invoice.pk, reason="Wrong payer")
    assert "Credited by" in page(as_office, "invoice", invoice.pk)


def test_a_pdf_that_can_not_be_made_names_the_missing_packages(
    as_office, closed_visit, monkeypatch
):
    invoice = Invoice.objects.get(visit=closed_visit())
    send(as_office, "invoice_issue", invoice.pk)

    def lacking(*args, **kwargs):
        raise PdfUnavailable("PDFs can't be made here: pango missing. Install …")

    monkeypatch.setattr("billing.pdf.invoice_pdf", lacking)
    shown = page(as_office, "invoice_pdf", invoice.pk, status=422)
    assert "pango missing" in shown


def test_a_draft_has_no_pdf_page(as_office, closed_visit):
    invoice = Invoice.objects.get(visit=closed_visit())
    assert "issue it first" in page(as_office, "invoice_pdf", invoice.pk, status=422)


# ---- Lists --------------------------------------------------------------------------------
def test_the_list_filters_by_state_and_client(as_office, closed_visit, farrier):
    anna, bert = factories.make_client(name="Anna"), factories.make_client(name="Bert")
    open_visit = closed_visit(anna)
    issue_all(visit=open_visit, by=farrier, today=date(2026, 1, 5))
    closed_visit(bert)

    def rows(query):
        answer = as_office.get(reverse("billing:invoices") + query)
        return [invoice.client.name for invoice, *_ in answer.context["rows"]]

    assert sorted(rows("")) == ["Anna", "Bert"]
    assert rows("?state=draft") == ["Bert"]
    assert rows("?state=open") == ["Anna"]
    assert rows("?state=overdue") == ["Anna"]
    assert rows(f"?client={bert.pk}") == ["Bert"]
    assert len(rows("?state=nonsense&client=x")) == 2


def test_a_closed_visit_without_invoice_is_listed(as_office, closed_visit, farrier):
    closed_visit()
    horse = factories.make_horse()
    factories.make_visit(horses=[horse], farrier=farrier, closed=True)
    assert horse.barn.name in page(as_office, "invoices")


@pytest.mark.parametrize(("name", "queries"), [("invoices", 7), ("payments", 5)])
def test_lists_cost_the_same_however_long(
    name, queries, as_office, closed_visit, grows_flat, farrier
):
    def make():
        client = factories.make_client()
        visit = closed_visit(client)
        issue_all(visit=visit, by=farrier, today=timezone.localdate())
        send(
            as_office,
            "payment_new",
            client.pk,
            key=uuid7(),
            amount="5",
            method="cash",
            day=timezone.localdate(),
        )

    assert grows_flat(as_office, reverse(f"billing:{name}"), make) == queries


def test_before_leaving_costs_the_same_however_many_payers(
    as_farrier, closed_visit, django_assert_num_queries
):
    few = closed_visit(factories.make_client())
    many = closed_visit(*(factories.make_client() for _ in range(6)))
    for visit in (few, many):
        with django_assert_num_queries(7):
            page(as_farrier, "closing", visit.pk)


# ---- The charge list -------------------------------------------------------------------------
def test_prices_are_saved_together_and_a_bad_one_keeps_the_rest_as_typed(
    as_office, practice
):
    work = factories.make_work(name="Trim")
    page(as_office, "charge_list")
    trim = ChargeItem.objects.get(work=work)
    call_out = ChargeItem.objects.get(kind="call_out")
    body = {
        f"price_{trim.pk}": "38",
        f"tax_{trim.pk}": "standard",
        f"price_{call_out.pk}": "lots",
        f"tax_{call_out.pk}": "standard",
    }
    shown = send(as_office, "charge_list", status=422, **body)
    assert "lots" in shown
    assert 'value="38"' in shown
    send(
        as_office,
        "charge_list",
        **(body | {f"price_{call_out.pk}": "25.005"}),
        status=422,
    )
    send(as_office, "charge_list", **(body | {f"price_{call_out.pk}": ""}))
    trim.refresh_from_db()
    assert (trim.price, ChargeItem.objects.get(pk=call_out.pk).price) == (38, None)


def test_an_extra_comes_and_goes_but_work_stays(as_office, practice):
    propose_charge_list(practice=practice)
    send(as_office, "charge_add", name="Pads", price="24", tax_code="standard")
    send(as_office, "charge_add", name="Pads", price="24", tax_code="standard")
    item = ChargeItem.objects.get(name="Pads")
    send(as_office, "charge_retire", item.pk)
    page(as_office, "charge_list")
    assert "Price of Pads" not in page(as_office, "charge_list")
    call_out = ChargeItem.objects.get(kind="call_out")
    send(as_office, "charge_retire", call_out.pk, status=422)


def test_a_new_tax_rate_holds_from_its_day_on(as_office, practice):
    propose_charge_list(practice=practice)
    send(as_office, "tax_rate", code="standard", percent="21", starts="2027-01-01")
    assert tax_on(practice, "standard", date(2026, 12, 31)).percent == 20
    assert tax_on(practice, "standard", date(2027, 1, 1)).percent == 21
    earlier = {"code": "standard", "percent": "22", "starts": "2026-06-01"}
    assert "choose a later day" in send(as_office, "tax_rate", **earlier, status=422)
    assert tax_on(practice, "standard", date(2026, 12, 31)).percent == 20


# ---- Accounts -----------------------------------------------------------------------------------
def test_a_payment_form_keeps_what_was_typed(as_office, practice):
    client = factories.make_client()
    shown = send(
        as_office,
        "payment_new",
        client.pk,
        status=422,
        key=uuid7(),
        amount="-5",
        method="cheque",
        day="2999-01-01",
        reference="No. 1234",
    )
    assert "No. 1234" in shown
    assert "above 0" in shown
    assert "today or earlier" in shown


def test_an_account_is_a_page_and_a_piece_of_the_clients_page(
    as_office, closed_visit, farrier
):
    client = factories.make_client(name="Anna")
    invoice = Invoice.objects.get(visit=closed_visit(client))
    issue_invoice(invoice=invoice, by=farrier, today=timezone.localdate())
    whole = page(as_office, "account", client.pk)
    assert "Movements" in whole
    assert "£150.00" in whole
    answer = as_office.get(
        reverse("billing:account", args=[client.pk]),
        headers={"X-Requested-With": "fetch"},
    )
    piece = answer.content.decode()
    assert "<html" not in piece
    assert "£150.00" in piece


def test_credit_pays_later_invoices_when_asked(as_office, closed_visit, farrier):
    client = factories.make_client()
    send(
        as_office,
        "payment_new",
        client.pk,
        key=uuid7(),
        amount="200",
        method="transfer",
        day=timezone.localdate(),
    )
    visit = closed_visit(client)
    issue_all(visit=visit, by=farrier, today=timezone.localdate())
    send(as_office, "use_credit", client.pk)
    shown = page(as_office, "account", client.pk)
    assert "£50.00</strong> to their credit" in shown
