"""Tax regimes as dated data."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing import regimes, tax
from billing.models import BillingSettings, TaxRate
from billing.selectors import tax_on
from billing.services.charges import propose_charge_list
from billing.services.drafts import draft_invoices
from billing.tax import Category
from practice import countries
from tests import factories

PROVINCES = regimes.REGIMES["CA"].places
ALL = [
    *(pytest.param(regime, id=code) for code, regime in regimes.REGIMES.items()),
    *(
        pytest.param(regimes.regime("CA", place), id=f"CA-{place}")
        for place in PROVINCES
    ),
]


@pytest.mark.parametrize("regime", ALL)
def test_every_rate_is_one_that_its_category_may_have(regime):
    small = () if regime.small is None else (regime.small,)
    for rate in (*regime.rates, *small, regime.unregistered):
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


def test_all_regimes_that_are_promised_are_here():
    promised = "GB IE DE FR NL BE AT ES IT US CA AU NZ none"
    assert sorted(regimes.REGIMES) == sorted(promised.split())
    assert len(PROVINCES) == 13


@pytest.mark.parametrize("regime", ALL)
def test_every_rate_says_where_it_comes_from(regime):
    for rate in regime.rates:
        assert rate.source or rate.percent in (None, 0), rate


CHANGES = [
    # regime, the first day of the new rate, before, after, where it was looked up
    ("GB", date(2011, 1, 4), "17.5", "20"),  # UK Government Web Archive, DG_193213
    ("IE", date(2020, 9, 1), "23", "21"),  # notes for guidance, VATCA 2010, s. 46
    ("IE", date(2021, 3, 1), "21", "23"),  # the same
    ("DE", date(2020, 7, 1), "19", "16"),  # Zweites Corona-Steuerhilfegesetz, art. 3
    ("DE", date(2021, 1, 1), "16", "19"),  # the same
    ("FR", date(2014, 1, 1), "19.6", "20"),  # DG TAXUD, June 2021, section VIII
    ("NL", date(2012, 10, 1), "19", "21"),  # the same
    ("ES", date(2012, 9, 1), "18", "21"),  # Real Decreto-ley 20/2012
    ("IT", date(2013, 10, 1), "21", "22"),  # DG TAXUD, June 2021, section VIII
    ("NZ", date(2010, 10, 1), "12.5", "15"),  # Inland Revenue, GST statistics
    ("CA-NS", date(2025, 4, 1), "15", "14"),  # Canada Revenue Agency, NOTICE342
    ("CA-ON", date(2020, 1, 1), "13", "13"),
]


@pytest.mark.parametrize(("code", "day", "before", "after"), CHANGES)
def test_a_rate_that_changes_on_a_day_is_right_on_both_sides(code, day, before, after):
    regime = regimes.regime(*code.split("-"))
    eve = day - timedelta(days=1)
    found = [regimes.rate_on(regime.rates, regime.work_code, d) for d in (eve, day)]
    assert [rate.percent for rate in found] == [Decimal(before), Decimal(after)]


@pytest.mark.parametrize(
    ("code", "percent"),
    [("BE", "21"), ("AT", "20"), ("FR", "20"), ("NL", "21"), ("AU", "10")],
)
def test_the_standard_rate_of_a_day(code, percent):
    """DG TAXUD (as above) and, for Australia, the Australian Taxation Office."""
    rates = regimes.regime(code).rates
    found = regimes.rate_on(rates, "standard", date(2026, 1, 1))
    assert found.percent == Decimal(percent)


@pytest.mark.parametrize(
    ("place", "services", "goods"),
    [
        ("AB", "5", "5"),
        ("BC", "5", "12"),
        ("QC", "14.975", "14.975"),
        ("NB", "15", "15"),
    ],
)
def test_provinces_tax_work_and_goods_each_in_their_way(place, services, goods):
    """Figures: Canada Revenue Agency's table of GST, HST and PST by province."""
    rates = regimes.regime("CA", place).rates
    found = [
        regimes.rate_on(rates, code, date(2026, 1, 1)).percent
        for code in ("services", "goods")
    ]
    assert found == [Decimal(services), Decimal(goods)]


def test_a_province_that_is_not_said_has_no_rate():
    assert (
        regimes.rate_on(regimes.regime("CA").rates, "goods", date(2026, 1, 1)).percent
        is None
    )


SCHEMES = {
    "DE": ("E", "§ 19 UStG", ""),
    "FR": ("E", "art. 293 B du CGI", "VATEX-FR-FRANCHISE"),
    "NL": ("E", "kleineondernemersregeling", ""),
    "BE": ("E", "franchise de taxe", ""),
    "AT": ("E", "§ 6 Abs. 1 Z 27 UStG", ""),
    "IT": ("E", "commi 54-89", ""),
}


@pytest.mark.parametrize("code", sorted(regimes.REGIMES))
def test_a_small_business_says_its_countrys_words_and_others_that_they_are_not_registered(
    code,
):
    regime = regimes.REGIMES[code]
    assert (regime.unregistered.category, regime.unregistered.percent) == ("O", None)
    if code not in SCHEMES:
        assert regime.small is None
        return
    category, words, reason_code = SCHEMES[code]
    assert regime.small.category == category
    assert words in regime.small.reason
    assert regime.small.reason_code == reason_code
    assert regime.unregistered.reason_code == "VATEX-EU-O"


@given(st.integers(0, 10**7), st.sampled_from(["6", "8.25", "7.375", "10"]))
def test_half_up_is_what_the_agreements_of_states_and_australia_ask(units, percent):
    """US, SSUTA s. 324: carried to the third decimal, up when that is greater than
    four. Australia, GST Act s. 9-90: half a cent goes up."""
    basis, rate = Decimal(units).scaleb(-2), Decimal(percent)
    third = int(basis * rate * 10)  # thousandths of a dollar, cut off
    expected = Decimal(third // 10 + (third % 10 > 4)).scaleb(-2)
    found = tax.totals([tax.Entry(basis, Category.S, rate)])
    assert found.tax == expected


@pytest.mark.parametrize(
    ("day", "percent"), [(date(2020, 12, 31), 16), (date(2021, 1, 1), 19)]
)
def test_a_draft_takes_the_rate_of_the_day_of_the_work(
    practice, priced, farrier, day, percent
):
    practice.tax_regime = "DE"
    practice.save(update_fields=["tax_regime"])
    full_set = factories.make_work(name="Full set")
    priced(full_set, "95")
    horse = factories.make_horse(usual_work=full_set)
    visit = factories.make_visit(horses=[horse], farrier=farrier, closed=True, day=day)
    (invoice,) = draft_invoices(visit=visit, by=None)
    assert invoice.tax_total == Decimal(95 * percent) / 100


@pytest.mark.parametrize(
    ("scheme", "category", "words"),
    [("small", "E", "§ 19 UStG"), ("none", "O", "not registered")],
)
def test_who_is_not_registered_chooses_the_scheme(practice, scheme, category, words):
    practice.tax_registered = False
    practice.tax_regime = "DE"
    BillingSettings.objects.create(unregistered_scheme=scheme)
    rate = tax_on(practice, "standard", date(2026, 1, 1))
    assert (rate.category, words in rate.reason) == (category, True)


def test_a_country_that_is_not_known_is_never_given_a_rate():
    found = regimes.regime("SE")
    assert found.code == "SE"
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
