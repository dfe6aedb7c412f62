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
    ("law", "amount", "percent", "expected", "fixed"),
    [
        ("EU", "1000", "10.15", "12.51", "40"),
        ("UK", "2000", "11.75", "28.97", "70"),
    ],
)
def test_worked_examples(law, amount, percent, expected, fixed):
    assert interest(D(amount), 45, D(percent)) == D(expected)
    found = claim(
        law=law,
        amount=D(amount),
        due_day=DUE,
        as_of=DUE + timedelta(days=45),
        rates=[LateRate(date(2026, 1, 1), D(percent))],
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


def test_on_the_day_itself_nothing_is_late_yet():
    rates = [LateRate(date(2026, 1, 1), D(10))]
    found = claim(law="EU", amount=D(50), due_day=DUE, as_of=DUE, rates=rates)
    assert (found.interest, found.fixed_sum, found.stretches) == (0, 0, ())
