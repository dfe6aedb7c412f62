"""Tax regimes as dated data."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

from billing import regimes, tax
from billing.models import TaxRate
from billing.services.charges import propose_charge_list
from billing.tax import Category
from practice import countries

ALL = [pytest.param(regime, id=code) for code, regime in regimes.REGIMES.items()]


@pytest.mark.parametrize("regime", ALL)
def test_every_rate_is_one_that_its_category_may_have(regime):
    for rate in (*regime.rates, regime.small):
        if rate.percent is not None or rate.category == "O":
            tax.check_rate(Category(rate.category), rate.percent)
        assert rate.category in {"S", "Z", "E", "O"}
        assert rate.reason or rate.category in {"S", "Z"}


@pytest.mark.parametrize("regime", ALL)
def test_the_periods_of_a_code_neither_overlap_nor_leave_a_gap(regime):
    for code in {rate.code for rate in regime.rates}:
        periods = sorted(
            (rate for rate in regime.rates if rate.code == code),
            key=lambda rate: rate.starts,
        )
        for before, after in pairwise(periods):
            assert before.ends + timedelta(days=1) == after.starts
        assert periods[-1].ends is None


@pytest.mark.parametrize("regime", ALL)
def test_what_is_proposed_for_work_and_goods_is_a_code_of_the_regime(regime):
    codes = {rate.code for rate in regime.rates}
    assert {regime.work_code, regime.goods_code} <= codes


@pytest.mark.parametrize(
    ("code", "day", "percent"),
    [
        # From memory; the laws are named as each regime's source.
        ("GB", date(2011, 1, 3), "17.5"),
        ("GB", date(2011, 1, 4), "20"),
        ("IE", date(2020, 12, 31), "21"),
        ("IE", date(2021, 3, 1), "23"),
        ("DE", date(2020, 7, 1), "16"),
        ("DE", date(2021, 1, 1), "19"),
        ("FR", date(2026, 1, 1), "20"),
        ("NL", date(2026, 1, 1), "21"),
    ],
)
def test_the_standard_rate_of_a_day(code, day, percent):
    rates = regimes.regime(code).rates
    assert regimes.rate_on(rates, "standard", day).percent == Decimal(percent)


def test_a_country_that_is_not_known_is_never_given_a_rate():
    found = regimes.regime("AU")
    assert found.code == "AU"
    assert [r.percent for r in found.rates if r.category == "S"] == [None, None]


def test_every_regime_that_a_country_proposes_can_be_worked_with():
    for country in countries.COUNTRIES.values():
        assert regimes.regime(country.tax_regime).rates


def test_the_proposals_become_rows_once(practice):
    propose_charge_list(practice=practice)
    propose_charge_list(practice=practice)
    rows = TaxRate.objects.filter(regime="GB", code="standard")
    assert list(rows.order_by("starts").values_list("percent", flat=True)) == [
        Decimal("17.5"),
        Decimal(20),
    ]
