"""Who sees money: the books all of it, an owner the own, nobody else anything."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from billing.models import ChargeItem, Invoice, Payment
from billing.services.invoices import issue_invoice
from billing.services.lines import NewLine, add_line
from billing.services.payments import record_payment
from practice.keys import uuid7
from tests import factories

TODAY = date(2026, 11, 25)


def invoice_of(client, *, issued=True):
    draft = Invoice.objects.create(client=client, currency="GBP")
    add_line(
        invoice=draft,
        by=None,
        line=NewLine(name="Work", unit_price=Decimal(40), tax_code="zero"),
    )
    return issue_invoice(invoice=draft, by=None, today=TODAY) if issued else draft


@pytest.fixture
def own(owner):
    return invoice_of(owner.client)


@pytest.fixture
def others(other_owner):
    return invoice_of(other_owner.client)


def code(browser, name, *args):
    return browser.get(reverse(f"billing:{name}", args=args)).status_code


def test_an_owner_sees_the_own_issued_documents_only(as_owner, owner, own, others):
    draft = invoice_of(owner.client, issued=False)
    shown = as_owner.get(reverse("billing:my_invoices")).content.decode()
    assert own.number in shown
    assert others.number not in shown
    for name in ("my_invoice", "my_invoice_pdf"):
        assert code(as_owner, name, own.pk) == 200
        assert code(as_owner, name, others.pk) == 404
        assert code(as_owner, name, draft.pk) == 404
        assert code(as_owner, name, uuid7()) == 404


def test_a_new_owner_does_not_see_the_earlier_owners_invoices(
    as_owner, owner, other_owner, farrier
):
    """Invariant 8: the horse's history goes with the horse, its bills don't."""
    horse = factories.make_horse(owner=other_owner.client)
    horse.ownerships.update(ends=date(2026, 10, 31))
    factories.make_ownership(horse=horse, client=owner.client, starts=date(2026, 11, 1))
    earlier = invoice_of(other_owner.client)
    assert code(as_owner, "my_invoice", earlier.pk) == 404
    assert (
        earlier.number
        not in as_owner.get(reverse("billing:my_invoices")).content.decode()
    )


def test_an_owners_invoice_shows_how_to_pay(as_owner, own, practice):
    shown = as_owner.get(reverse("billing:my_invoice", args=[own.pk])).content.decode()
    assert "How to pay" in shown
    assert own.number in shown


BOOKS_PAGES = ("invoices", "payments", "charge_list")


@pytest.mark.parametrize("name", BOOKS_PAGES)
@pytest.mark.parametrize("who", ["as_apprentice", "as_owner", "as_barn_contact"])
def test_the_books_are_shut_to_others(who, name, request, practice):
    assert code(request.getfixturevalue(who), name) == 403


@pytest.mark.parametrize("name", BOOKS_PAGES)
@pytest.mark.parametrize("who", ["as_farrier", "as_second_farrier", "as_office"])
def test_the_books_are_open_to_those_who_keep_them(who, name, request, practice):
    assert code(request.getfixturevalue(who), name) == 200


@pytest.mark.parametrize(
    "name",
    ["invoice", "invoice_pdf", "my_invoice", "my_invoice_pdf"],
)
@pytest.mark.parametrize("who", ["as_apprentice", "as_barn_contact", "as_stranger"])
def test_a_document_is_shut_to_others(who, name, request, own):
    assert code(request.getfixturevalue(who), name, own.pk) in {302, 403}


def test_an_owner_can_not_use_the_books_doors(as_owner, own, owner):
    for name, args in (
        ("invoice_issue", [own.pk]),
        ("invoice_credit", [own.pk]),
        ("payment_new", [owner.client.pk]),
        ("use_credit", [owner.client.pk]),
        ("closing", [uuid7()]),
    ):
        assert as_owner.post(reverse(f"billing:{name}", args=args)).status_code == 403


def test_rows_exist_only_for_their_viewers(
    owner, other_owner, apprentice, barn_contact, office, own, others
):
    record_payment(
        key=uuid7(),
        client=owner.client,
        amount=Decimal(5),
        method="cash",
        day=TODAY,
        by=office,
    )
    assert set(Invoice.objects.visible_to(owner)) == {own}
    assert set(Invoice.objects.visible_to(office)) == {own, others}
    assert Payment.objects.visible_to(owner).count() == 1
    assert not Payment.objects.visible_to(other_owner).exists()
    for viewer in (apprentice, barn_contact):
        assert not Invoice.objects.visible_to(viewer).exists()
        assert not Payment.objects.visible_to(viewer).exists()
        assert not ChargeItem.objects.visible_to(viewer).exists()
    owner.is_active = False
    assert not Invoice.objects.visible_to(owner).exists()


def test_the_owners_list_costs_the_same_however_long(as_owner, owner, grows_flat):
    url = reverse("billing:my_invoices")
    assert grows_flat(as_owner, url, lambda: invoice_of(owner.client)) == 10
