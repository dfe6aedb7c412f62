"""Late-payment interest against worked examples.

Directive 2011/7/EU art. 2(6), 3, 6 and the Late Payment of Commercial Debts (Interest)
Act 1998 s. 5A: EUR 1000 over 45 days at 10.15 % is 12.51 and 40; GBP 2000 over 45 days
at 11.75 % is 28.97 and 70.
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.interest import LateRate, claim, fixed_sum, interest, stretches

DUE = date(2026, 3, 31)
D = Decimal


@pytest.mark.parametrize(
    ("law", "currency", "amount", "percent", "expected", "fixed"),
    [
        ("EU", "EUR", "1000", "10.15", "12.51", "40"),
        ("EU", "SEK", "1000", "10.15", "12.51", "0"),  # 40 euros are not 40 kronor
        ("UK", "GBP", "2000", "11.75", "28.97", "70"),
    ],
)
def test_worked_examples(law, currency, amount, percent, expected, fixed):
    assert interest(D(amount), 45, D(percent)) == D(expected)
    found = claim(
        law=law,
        amount=D(amount),
        due_day=DUE,
        as_of=DUE + timedelta(days=45),
        rates=[LateRate(date(2026, 1, 1), D(percent))],
        currency=currency,
    )
    assert (found.interest, found.fixed_sum) == (D(expected), D(fixed))
    assert found.total == D(expected) + D(fixed)


@pytest.mark.parametrize(
    ("amount", "fixed"),
    [("999.99", 40), ("1000", 70), ("9999.99", 70), ("10000", 100)],
)
def test_the_three_sums_of_the_act_of_1998(amount, fixed):
    assert fixed_sum("UK", D(amount)) == fixed


def test_a_new_half_year_has_its_own_rate_in_the_eu_and_not_in_the_uk():
    rates = [LateRate(date(2026, 1, 1), D(10)), LateRate(date(2026, 7, 1), D(12))]
    due, as_of = date(2026, 6, 20), date(2026, 7, 10)
    eu = stretches("EU", due, as_of, rates)
    assert [(part.days, part.percent) for part in eu] == [(10, 10), (10, 12)]
    uk = stretches("UK", due, as_of, rates)
    assert [(part.days, part.percent) for part in uk] == [(20, 10)]
    (from_july,) = stretches("UK", date(2026, 6, 30), as_of, rates)
    assert (from_july.days, from_july.percent) == (10, 12)


@pytest.mark.parametrize("law", ["EU", "UK"])
def test_days_that_were_claimed_before_are_not_claimed_again(law):
    """Two claims that follow each other are one: the days meet, the UK's rate stays."""
    rates = [LateRate(date(2026, 1, 1), D(10)), LateRate(date(2026, 7, 1), D(12))]
    told = {"law": law, "amount": D(7300), "due_day": date(2026, 6, 20), "rates": rates}
    told["currency"] = {"EU": "EUR", "UK": "GBP"}[law]
    middle, last = date(2026, 7, 3), date(2026, 7, 10)
    whole = claim(as_of=last, **told)
    first = claim(as_of=middle, **told)
    then = claim(as_of=last, claimed_to=middle, **told)
    assert first.interest + then.interest == whole.interest
    assert (first.fixed_sum, then.fixed_sum) == (whole.fixed_sum, 0)
    assert claim(as_of=last, claimed_to=last, **told).total == 0


def test_on_the_day_itself_nothing_is_late_yet():
    rates = [LateRate(date(2026, 1, 1), D(10))]
    found = claim(
        law="EU", amount=D(50), due_day=DUE, as_of=DUE, rates=rates, currency="EUR"
    )
    assert (found.interest, found.fixed_sum, found.stretches) == (0, 0, ())
