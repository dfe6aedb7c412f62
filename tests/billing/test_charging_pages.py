"""The pages of rules, terms, prices, tax, discounts: what is typed is kept and said."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from billing.models import (
    BarnTerms,
    BillingSettings,
    ChargeItem,
    ClientTerms,
    Invoice,
    NoticeStep,
    OffHours,
    Price,
    TravelBand,
)
from billing.selectors import regime_of
from billing.services.lines import NewLine, add_line
from practice.models import Change
from tests import factories

RULES = {
    "split_mode": "by_work",
    "travel": "distance",
    "travel_price": "0.45",
    "travel_free_metres": "10 mi",
    "travel_both_ways": "on",
    "minimum_charge": "60",
    "put_back_days": "14",
    "off_hours_on": "on",
}


@pytest.fixture
def item(practice, priced):
    work = factories.make_work(name="Full set")
    priced(work, "95")
    return ChargeItem.objects.get(work=work)


def page(client, name, *args, data=None):
    address = reverse(f"billing:{name}", args=args)
    return client.get(address) if data is None else client.post(address, data)


def test_rules_are_switched_on_and_their_change_is_kept(as_farrier):
    assert page(as_farrier, "rules").status_code == 200
    assert page(as_farrier, "rules", data=RULES).status_code == 302
    said = BillingSettings.objects.get()
    assert (said.split_mode, said.travel_free_metres) == ("by_work", 16_093)
    assert (said.minimum_charge, said.put_back_days) == (60, 14)
    assert (said.off_hours_on, said.no_show_on) == (True, False)
    assert page(as_farrier, "rules", data=RULES).status_code == 302
    assert Change.objects.filter(action="rules set").count() == 1


def test_distance_without_a_price_is_refused_and_what_was_typed_stays(as_farrier):
    typed = {**RULES, "travel_price": "", "minimum_charge": "61.50"}
    answer = page(as_farrier, "rules", data=typed)
    assert answer.status_code == 422
    assert "what a kilometre or mile costs" in answer.text
    assert 'value="61.50"' in answer.text
    assert not BillingSettings.objects.filter(minimum_charge__gt=0).exists()


def test_zones_off_hours_and_steps_are_added_once_and_removed(as_farrier):
    band = {"band-up_to_metres": "15 km", "band-price": "12"}
    hours = {
        "off_hours-name": "Sunday",
        "off_hours-weekday": "7",
        "off_hours-percent": "25",
    }
    step = {
        "step-kind": "late_call_off",
        "step-under_hours": "24",
        "step-percent": "50",
    }
    for _ in range(2):
        page(as_farrier, "rule_add", "band", data=band)
        page(as_farrier, "rule_add", "off_hours", data=hours)
        page(as_farrier, "rule_add", "step", data=step)
    assert [b.up_to_metres for b in TravelBand.objects.all()] == [15_000]
    assert OffHours.objects.get().percent == 25
    assert NoticeStep.objects.get().under_hours == 24
    shown = page(as_farrier, "rules").text
    assert "less than 24 h before" in shown
    assert "of the work" in shown
    page(as_farrier, "rule_remove", "step", NoticeStep.objects.get().pk, data={})
    assert not NoticeStep.objects.exists()


@pytest.mark.parametrize(
    ("kind", "typed", "sentence"),
    [
        ("band", {"price": "12"}, "one of the two"),
        ("off_hours", {"name": "Late", "percent": "5"}, "Say when"),
        ("off_hours", {"name": "Late", "weekday": "7"}, "percentage or an amount"),
        ("off_hours", {"name": "x", "from_time": "18:00", "amount": "5"}, "from when and to when"),
        ("step", {"kind": "no_show", "percent": "5", "amount": "5"}, "one of the two"),
    ],
)  # fmt: skip
def test_a_rule_that_cannot_be_says_what_mends_it(as_farrier, kind, typed, sentence):
    data = {f"{kind}-{name}": value for name, value in typed.items()}
    answer = page(as_farrier, "rule_add", kind, data=data)
    assert answer.status_code == 422
    assert sentence in answer.text


def test_a_second_step_for_the_same_notice_is_refused(as_farrier):
    NoticeStep.objects.create(kind="no_show", amount=30)
    data = {"step-kind": "no_show", "step-amount": "40"}
    answer = page(as_farrier, "rule_add", "step", data=data)
    assert "There is one like it" in answer.text


def test_an_item_gets_prices_for_a_client_a_barn_and_a_season(as_farrier, item):
    client, barn = factories.make_client(), factories.make_barn()
    for typed in (
        {"amount": "85", "client": client.pk},
        {"amount": "90", "barn": barn.pk, "starts": "2027-01-01"},
        {"amount": "105", "season_from": "1 Nov", "season_to": "28.2."},
    ):
        answer = page(as_farrier, "price_add", item.pk, data=typed)
        assert answer.status_code == 302
    rows = list(
        Price.objects.order_by("pk").values_list("amount", "season_from", "season_to")
    )
    assert rows == [(85, None, None), (90, None, None), (105, 1101, 228)]
    shown = page(as_farrier, "charge", item.pk).text
    assert "1 Nov to 28 Feb, every year" in shown
    assert "3 other prices" in page(as_farrier, "charge_list").text
    assert "Full set" in page(as_farrier, "client_terms", client.pk).text
    row = Price.objects.first()
    page(as_farrier, "price_remove", item.pk, row.pk, data={})
    assert Price.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"amount": "85"}, "Say for whom, where or when"),
        ({"amount": "85", "season_from": "1 Nov"}, "a first and a last day"),
        ({"amount": "85", "season_from": "31 Feb", "season_to": "1 Mar"}, "a day and a month"),
        ({"amount": "-1", "starts": "2027-01-01"}, "negative"),
        ({"amount": "1", "starts": "2027-01-02", "ends": "2027-01-01"}, "before it begins"),
    ],
)  # fmt: skip
def test_a_price_that_cannot_be_says_what_mends_it(as_farrier, item, typed, sentence):
    answer = page(as_farrier, "price_add", item.pk, data=typed)
    assert answer.status_code == 422
    assert sentence in answer.text


def test_an_item_says_its_unit_its_class_and_whether_prices_include_the_tax(
    as_farrier, item
):
    typed = {
        "name": "Full set",
        "price": "114",
        "unit": "SET",
        "includes_tax": "yes",
        "tax_class": "goods",
        "tax_code": "",
        "puts_back": "on",
    }
    assert page(as_farrier, "charge", item.pk, data=typed).status_code == 302
    row = ChargeItem.objects.get(pk=item.pk)
    assert (row.price, row.unit, row.includes_tax) == (114, "SET", True)
    assert (row.tax_class, row.puts_back) == ("goods", True)
    assert 'value="yes" selected' in page(as_farrier, "charge", item.pk).text


def test_a_clients_terms_are_kept_and_an_exemption_needs_its_certificate(as_farrier):
    client = factories.make_client()
    typed = {"treatment": "exempt", "reference": "PO 17"}
    answer = page(as_farrier, "client_terms", client.pk, data=typed)
    assert answer.status_code == 422
    assert "certificate" in answer.text
    typed |= {"exempt_number": "EX-104", "exempt_until": "2027-06-30"}
    assert page(as_farrier, "client_terms", client.pk, data=typed).status_code == 302
    row = ClientTerms.objects.get(client=client)
    assert (row.exempt_number, row.exempt_until) == ("EX-104", date(2027, 6, 30))
    assert row.reference == "PO 17"
    assert page(as_farrier, "client_terms", client.pk).status_code == 200


def test_drafts_follow_an_exemption_that_is_entered_later(as_farrier):
    client = factories.make_client()
    draft = Invoice.objects.create(client=client, currency="GBP")
    add_line(invoice=draft, by=None, line=NewLine(name="Work", unit_price=Decimal(40)))
    typed = {
        "treatment": "exempt",
        "exempt_number": "EX-104",
        "exempt_until": "2099-12-31",
    }
    assert page(as_farrier, "client_terms", client.pk, data=typed).status_code == 302
    assert Invoice.objects.get(pk=draft.pk).due == 40
    assert draft.lines.get().tax_category == "E"
    page(as_farrier, "client_terms", client.pk, data={"treatment": ""})
    assert Invoice.objects.get(pk=draft.pk).due == 48


def test_a_reverse_charge_needs_the_clients_number_and_a_discount_its_reason(
    as_farrier,
):
    client = factories.make_client()
    reverse_charge = {"treatment": "reverse_charge"}
    answer = page(as_farrier, "client_terms", client.pk, data=reverse_charge)
    assert "VAT number" in answer.text
    discount = {"discount_percent": "5"}
    answer = page(as_farrier, "client_terms", client.pk, data=discount)
    assert "Say why" in answer.text


def test_a_barn_gets_one_payer_over_a_period(as_farrier):
    barn, payer = factories.make_barn(), factories.make_client()
    typed = {"payer": payer.pk, "payer_from": "2026-11-01", "split_mode": "equally"}
    bad = {**typed, "payer_to": "2026-10-01"}
    assert page(as_farrier, "barn_terms", barn.pk, data=bad).status_code == 422
    assert page(as_farrier, "barn_terms", barn.pk, data=typed).status_code == 302
    row = BarnTerms.objects.get(barn=barn)
    assert (row.payer, row.payer_from, row.split_mode) == (
        payer,
        date(2026, 11, 1),
        "equally",
    )


def test_the_tax_says_its_sources_and_is_confirmed_by_the_first_farrier(
    as_farrier, practice
):
    shown = page(as_farrier, "tax").text
    assert "Check with your tax adviser" in shown
    assert "UK Government Web Archive" in shown
    assert "from memory" in shown
    assert "not yet confirmed" in page(as_farrier, "charge_list").text
    assert page(as_farrier, "tax_confirm", data={}).status_code == 302
    assert "Confirmed by Ailsa Farrier" in page(as_farrier, "tax").text
    # A confirmation is for one standing: another asks again.
    practice.tax_registered = False
    practice.save(update_fields=["tax_registered"])
    assert "Check with your tax adviser" in page(as_farrier, "tax").text


def test_a_province_brings_its_own_rates(as_farrier, practice):
    practice.tax_regime, practice.country = "CA", "CA"
    practice.save(update_fields=["tax_regime", "country"])
    assert "yours to enter" in page(as_farrier, "tax").text
    typed = {"tax_place": "QC", "unregistered_scheme": "small"}
    assert page(as_farrier, "tax", data=typed).status_code == 302
    assert regime_of(practice).code == "CA-QC"
    assert "GST 5 % + QST 9.975 %" in page(as_farrier, "tax").text


def test_a_draft_gets_a_discount_with_its_reason_on_its_page(as_farrier, practice):
    draft = Invoice.objects.create(client=factories.make_client(), currency="GBP")
    add_line(invoice=draft, by=None, line=NewLine(name="Work", unit_price=Decimal(40)))
    bad = {"percent": "10"}
    answer = page(as_farrier, "discount", draft.pk, data=bad)
    assert answer.status_code == 422
    typed = {"reason": "Ten horses a year", "percent": "10"}
    assert page(as_farrier, "discount", draft.pk, data=typed).status_code == 302
    assert "Ten horses a year" in page(as_farrier, "invoice", draft.pk).text
    assert Invoice.objects.get(pk=draft.pk).due == Decimal("43.20")
    gone = {"reason": "Ten horses a year"}
    page(as_farrier, "discount_remove", draft.pk, data=gone)
    assert Invoice.objects.get(pk=draft.pk).due == 48
