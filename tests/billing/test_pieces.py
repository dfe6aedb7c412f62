"""Pieces of money that other pages load."""

import pytest
from django.urls import reverse
from django.utils import timezone

from billing.services.invoices import issue_all
from billing.services.visits import close_visit
from tests import factories

FETCH = {"X-Requested-With": "fetch"}


@pytest.fixture
def billed(farrier, priced, owner):
    """Elspeth's horse, shod and billed at 95.00 + 20 %; the draft not issued yet."""
    work = factories.make_work()
    priced(work, "95.00")
    horse = factories.make_horse(owner=owner.client, usual_work=work)
    visit = factories.make_visit(horses=[horse], farrier=farrier)
    close_visit(visit=visit, by=farrier)
    return visit


def piece(browser, name, *args):
    answer = browser.get(reverse(f"billing:{name}", args=args), headers=FETCH)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "<html" not in text
    return text


def test_today_shows_what_waits(as_office, billed, farrier):
    assert "1 draft to issue" in piece(as_office, "drafts_fragment")
    issue_all(visit=billed, by=farrier, today=timezone.localdate())
    shown = piece(as_office, "drafts_fragment")
    assert "to issue" not in shown
    assert "£114.00" in shown
    answer = as_office.get(reverse("billing:drafts_fragment"))
    assert answer["Location"] == reverse("billing:invoices")


def test_a_horses_page_shows_its_invoices(as_office, billed):
    horse = billed.records.get().horse
    assert "£114.00" in piece(as_office, "horse_money", horse.pk)
    other = factories.make_horse()
    assert "No invoice" in piece(as_office, "horse_money", other.pk)
    whole = as_office.get(reverse("billing:horse_money", args=[horse.pk]))
    assert horse.name in whole.content.decode()


def test_an_owner_is_told_what_is_owed(as_owner, as_other_owner, billed, farrier):
    assert "all paid" in piece(as_owner, "my_account")
    issue_all(visit=billed, by=farrier, today=timezone.localdate())
    assert "£114.00" in piece(as_owner, "my_account")
    assert "all paid" in piece(as_other_owner, "my_account")
    answer = as_owner.get(reverse("billing:my_account"))
    assert answer["Location"] == reverse("billing:my_invoices")


def test_pieces_cost_the_same_however_much_there_is(
    as_office, billed, farrier, django_assert_num_queries
):
    horse = billed.records.get().horse
    for count in (1, 5):
        for _ in range(count):
            visit = factories.make_visit(horses=[horse], farrier=farrier)
            close_visit(visit=visit, by=farrier)
        with django_assert_num_queries(6):
            piece(as_office, "drafts_fragment")
        with django_assert_num_queries(5):
            piece(as_office, "horse_money", horse.pk)
