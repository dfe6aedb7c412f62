"""Late-payment interest and the fixed sum, for debts of businesses. Pure.

Directive 2011/7/EU: the European Central Bank's reference rate of the half-year plus
eight points (art. 2(6), 3), and EUR 40 (art. 6). United Kingdom: Late Payment of
Commercial Debts (Interest) Act 1998, base rate of the half-year's eve plus eight, which
stays for the debt, and GBP 40, 70 or 100 by its size (s. 5A). Simple interest, by days
over 365. The rates are the operator's dated table: nothing here knows today's.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from billing import money

DAYS_OF_YEAR = 365
FIXED_SUM_IN = {"EU": "EUR", "UK": "GBP"}
"""The currency of each law's fixed sum. Elsewhere it is a sum of another currency,
which the practice asks its adviser for: none is reckoned."""
EU_FIXED_SUM = Decimal(40)
UK_FIXED_SUMS = (
    (Decimal(1000), Decimal(40)),
    (Decimal(10_000), Decimal(70)),
)
UK_FIXED_SUM_ABOVE = Decimal(100)


@dataclass(frozen=True, slots=True)
class LateRate:
    """Interest in per cent a year, all included, from a day on."""

    starts: date
    percent: Decimal


@dataclass(frozen=True, slots=True)
class Stretch:
    """Days at one rate; ``first`` and ``last`` both bear interest."""

    first: date
    last: date
    percent: Decimal

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1


@dataclass(frozen=True, slots=True)
class Claim:
    """What may be claimed beside the debt on a day."""

    stretches: tuple[Stretch, ...]
    interest: Decimal
    fixed_sum: Decimal

    @property
    def total(self) -> Decimal:
        return self.interest + self.fixed_sum


def interest(
    amount: Decimal, days: int, percent: Decimal, *, decimals: int = 2
) -> Decimal:
    """Simple interest on an amount over so many days, rounded once."""
    exact = amount * percent * days / (100 * DAYS_OF_YEAR)
    return money.rounded(exact, decimals)


def fixed_sum(law: str, amount: Decimal) -> Decimal:
    """The compensation for collecting: by law ``EU`` or ``UK``, by the debt's size."""
    if law == "EU":
        return EU_FIXED_SUM
    if law == "UK":
        for below, sum_ in UK_FIXED_SUMS:
            if amount < below:
                return sum_
        return UK_FIXED_SUM_ABOVE
    return Decimal(0)


def stretches(
    law: str,
    due_day: date,
    as_of: date,
    rates: Sequence[LateRate],
    *,
    claimed_to: date | None = None,
) -> tuple[Stretch, ...]:
    """The days from the one after ``due_day`` to ``as_of`` by rate, without those that
    were claimed before (up to ``claimed_to``).

    In the UK the rate of the first day stays; elsewhere each day has its own. Days
    before the first known rate bear none.
    """
    begun_late = due_day + timedelta(days=1)
    first = max(begun_late, (claimed_to or due_day) + timedelta(days=1))
    known = sorted(rates, key=lambda rate: rate.starts)
    if as_of < first or not known:
        return ()
    if law == "UK":
        begun = [rate for rate in known if rate.starts <= begun_late]
        return (Stretch(first, as_of, begun[-1].percent),) if begun else ()
    found = []
    for here, following in zip(known, [*known[1:], None], strict=True):
        begins = max(first, here.starts)
        ends = as_of
        if following is not None:
            ends = min(as_of, following.starts - timedelta(days=1))
        if begins <= ends:
            found.append(Stretch(begins, ends, here.percent))
    return tuple(found)


def claim(
    *,
    law: str,
    amount: Decimal,
    due_day: date,
    as_of: date,
    rates: Sequence[LateRate],
    currency: str,
    claimed_to: date | None = None,
) -> Claim:
    """What may be claimed on ``as_of`` for an amount that was due on ``due_day``.

    Args:
        law: ``EU``, ``UK``, or another word for interest alone.
        amount: still open, in the major unit of ``currency``.
        claimed_to: the last day of an earlier claim, which had the fixed sum too.
    """
    parts = stretches(law, due_day, as_of, rates, claimed_to=claimed_to)
    exact = sum((amount * part.percent * part.days for part in parts), Decimal(0)) / (
        100 * DAYS_OF_YEAR
    )
    is_late = as_of > due_day and amount > 0
    has_sum = is_late and claimed_to is None and FIXED_SUM_IN.get(law) == currency
    return Claim(
        stretches=parts,
        interest=money.rounded(exact, money.exponent(currency)),
        fixed_sum=fixed_sum(law, amount) if has_sum else Decimal(0),
    )
