"""EN 16931's totals, and prices that include the tax."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing import tax
from billing.tax import BadRate, Category, Entry

S, Z, E, O = Category.S, Category.Z, Category.E, Category.O  # noqa: E741

CENTS = st.integers(-(10**7), 10**7).map(lambda units: Decimal(units).scaleb(-2))
ENTRIES = st.builds(
    lambda amount, kind: Entry(amount, *kind),
    CENTS,
    st.sampled_from(
        [(S, Decimal(20)), (S, Decimal("5.5")), (Z, Decimal(0)), (E, Decimal(0))]
    ),
)


def lines(*nets, rate="20"):
    return [Entry(Decimal(net), S, Decimal(rate)) for net in nets]


def test_tax_is_reckoned_on_the_group_and_rounded_once():
    # UK: 3 × 12.34 at 20 % is 7.40 on the document (7.41 if each line were rounded).
    assert tax.totals(lines("12.34", "12.34", "12.34")).tax == Decimal("7.40")
    # US: 8.25 % on 10 × 0.33 is 0.27 on the invoice (0.30 by item).
    assert tax.totals(lines(*["0.33"] * 10, rate="8.25")).tax == Decimal("0.27")


def test_rates_compare_as_numbers():
    found = tax.totals(
        [Entry(Decimal(1), S, Decimal("20")), Entry(Decimal(2), S, Decimal("20.00"))]
    )
    assert [(group.rate, group.basis) for group in found.groups] == [(20, 3)]


def test_outside_the_scope_of_tax_has_a_group_without_rate():
    (group,) = tax.totals([Entry(Decimal("40.00"), O, None)]).groups
    assert (group.rate, group.basis, group.tax) == (None, Decimal("40.00"), 0)


def test_prepaid_lowers_and_rounding_raises_what_is_due():
    found = tax.totals(
        lines("100.00"), prepaid=Decimal("20.00"), rounding=Decimal("0.05")
    )
    assert (found.total, found.due) == (Decimal("120.00"), Decimal("100.05"))


def test_a_currency_without_decimals_has_whole_tax():
    assert tax.totals(lines("1005", rate="10"), decimals=0).tax == 101


NEVER = "O:0 S:0 S:-1 S:101 Z:20 E:5 AE:20 S: Z:"


@pytest.mark.parametrize("pair", NEVER.split())
def test_a_rate_that_its_category_cannot_have_is_refused(pair):
    category, _, rate = pair.partition(":")
    entry = Entry(Decimal(1), Category(category), Decimal(rate) if rate else None)
    with pytest.raises(BadRate):
        tax.totals([entry])


@given(
    st.lists(ENTRIES, min_size=1, max_size=8),
    st.lists(ENTRIES, max_size=3),
    st.lists(ENTRIES, max_size=3),
    CENTS,
)
def test_the_totals_hang_together(entries, allowances, charges, prepaid):
    """BR-CO-10 … BR-CO-17, exactly."""
    found = tax.totals(entries, allowances, charges, prepaid=prepaid)
    assert found.line_total == sum(entry.amount for entry in entries)
    basis = found.line_total - found.allowance_total + found.charge_total
    assert found.tax_basis == basis == sum(group.basis for group in found.groups)
    assert found.tax == sum(group.tax for group in found.groups)
    assert found.total == found.tax_basis + found.tax
    assert found.due == found.total - found.prepaid + found.rounding
    for group in found.groups:
        raw = group.basis * (group.rate or 0) / 100
        assert abs(group.tax - raw) <= Decimal("0.005")


@given(st.lists(ENTRIES, min_size=1, max_size=8))
def test_a_document_turned_round_has_its_figures_turned_round(entries):
    found = tax.totals(entries)
    turned = tax.totals([Entry(-e.amount, e.category, e.rate) for e in entries])
    assert (turned.tax, turned.total) == (-found.tax, -found.total)


@given(st.lists(ENTRIES, min_size=1, max_size=8))
def test_the_price_told_is_the_price_due(entries):
    found, nets = tax.totals_of_gross(entries)
    assert found.due == sum(entry.amount for entry in entries)
    assert found.line_total == sum(nets)
    assert abs(found.rounding) <= Decimal("0.01") * len(entries)


def test_one_gross_price_in_six_has_an_odd_cent_at_twenty_per_cent():
    odd = sum(
        tax.totals_of_gross(lines(str(Decimal(units).scaleb(-2))))[0].rounding != 0
        for units in range(1, 6001)
    )
    assert odd == 1000
