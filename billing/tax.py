"""An invoice's totals by EN 16931. Pure.

The order of reckoning is that of EN 16931-1, 6.5, as its validation rules state it
(CEN artefacts 1.3.16): the lines' nets are added (BT-106), allowances (BT-107) and
charges (BT-108) of the document put in, giving the amount without tax (BT-109); tax
is reckoned per category and rate on the group's whole basis and rounded once
(BT-117); sums of rounded amounts aren't rounded again. Amounts may be negative.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from billing import money

RULES = "EN 16931-1:2017, validation artefacts 1.3.16"
"""What the totals follow, for answers that name it."""


class Category(StrEnum):
    """The duty or tax category codes that EN 16931 takes from UNTDID 5305."""

    S = "S"  # standard (any rate above zero)
    Z = "Z"  # zero rated
    E = "E"  # exempt
    AE = "AE"  # reverse charge
    K = "K"  # intra-community supply
    G = "G"  # export
    O = "O"  # noqa: E741 - the code of the standard: outside the scope of tax
    L = "L"  # Canary Islands general indirect tax
    M = "M"  # tax of Ceuta and Melilla
    B = "B"  # transferred tax, Italy


_ALWAYS_ZERO = frozenset({Category.Z, Category.E, Category.AE, Category.K, Category.G})
_ABOVE_ZERO = frozenset({Category.S, Category.B})
_HUNDRED = Decimal(100)


class BadRate(ValueError):
    """A rate that its category doesn't allow."""


@dataclass(frozen=True, slots=True)
class Entry:
    """An amount with its tax: a line's net, an allowance or a charge.

    ``amount`` in the major unit, already rounded to the currency's decimals;
    ``rate`` in per cent, None for O.
    """

    amount: Decimal
    category: Category
    rate: Decimal | None


@dataclass(frozen=True, slots=True)
class TaxGroup:
    """BG-23: one category and rate, its basis (BT-116) and its tax (BT-117)."""

    category: Category
    rate: Decimal | None
    basis: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True)
class Totals:
    """BT-106, 107, 108, 109, 110, 112, 113, 114, 115, and BG-23, in the major unit."""

    line_total: Decimal
    allowance_total: Decimal
    charge_total: Decimal
    tax_basis: Decimal
    tax: Decimal
    total: Decimal
    prepaid: Decimal
    rounding: Decimal
    due: Decimal
    groups: tuple[TaxGroup, ...]


def check_rate(category: Category, rate: Decimal | None) -> None:
    """Raise BadRate unless the rate is one that the category may have
    (BR-S-05, BR-Z-05, BR-E-05, BR-AE-05, BR-O-05 and their siblings)."""
    if category is Category.O:
        if rate is not None:
            raise BadRate("Category O (outside the scope of tax) has no rate.")
        return
    if rate is None:
        raise BadRate(f"Category {category} needs a rate.")
    if category in _ALWAYS_ZERO and rate != 0:
        raise BadRate(f"The rate of category {category} is always 0.")
    if category in _ABOVE_ZERO and rate <= 0:
        raise BadRate(f"The rate of category {category} is above 0.")
    if not 0 <= rate <= _HUNDRED:
        raise BadRate("A rate lies between 0 and 100 per cent.")


def _same(rate: Decimal | None) -> Decimal | None:
    """Rates compare as numbers: 20 and 20.0 are one group, shown as 20."""
    return None if rate is None else Decimal(f"{rate.normalize():f}")


def _groups(signed: Iterable[tuple[int, Entry]], decimals: int) -> tuple[TaxGroup, ...]:
    bases: dict[tuple[Category, Decimal | None], Decimal] = {}
    zero = money.rounded(Decimal(0), decimals)
    for sign, entry in signed:
        check_rate(entry.category, entry.rate)
        key = (entry.category, _same(entry.rate))
        bases[key] = bases.get(key, zero) + sign * entry.amount
    return tuple(
        TaxGroup(
            category=category,
            rate=rate,
            basis=money.rounded(basis, decimals),
            tax=money.percent(basis, rate or Decimal(0), decimals),
        )
        for (category, rate), basis in bases.items()
    )


def totals(
    lines: Sequence[Entry],
    allowances: Sequence[Entry] = (),
    charges: Sequence[Entry] = (),
    *,
    prepaid: Decimal = Decimal(0),
    rounding: Decimal = Decimal(0),
    decimals: int = 2,
) -> Totals:
    """The document's totals; groups in the order in which they first appear.

    Raises BadRate for a rate that its category can't have.
    """
    groups = _groups(
        [
            *((1, line) for line in lines),
            *((-1, allowance) for allowance in allowances),
            *((1, charge) for charge in charges),
        ],
        decimals,
    )

    def added(parts: Iterable[Decimal]) -> Decimal:
        return money.rounded(sum(parts, Decimal(0)), decimals)

    line_total = added(line.amount for line in lines)
    allowance_total = added(allowance.amount for allowance in allowances)
    charge_total = added(charge.amount for charge in charges)
    tax_basis = line_total - allowance_total + charge_total
    tax = added(group.tax for group in groups)
    total = tax_basis + tax
    return Totals(
        line_total=line_total,
        allowance_total=allowance_total,
        charge_total=charge_total,
        tax_basis=tax_basis,
        tax=tax,
        total=total,
        prepaid=money.rounded(prepaid, decimals),
        rounding=money.rounded(rounding, decimals),
        due=added((total, -prepaid, rounding)),
        groups=groups,
    )


def line_net(quantity: Decimal, price: Decimal, *, decimals: int = 2) -> Decimal:
    """BT-131 of a line without allowances: quantity × price, rounded once."""
    return money.times(quantity, price, decimals)


def net_of(gross: Decimal, rate: Decimal | None, *, decimals: int = 2) -> Decimal:
    """The net within a price that includes tax: G − round(G·r ÷ (100 + r))."""
    rate = rate or Decimal(0)
    return gross - money.rounded(gross * rate / (_HUNDRED + rate), decimals)


def totals_of_gross(
    lines: Sequence[Entry], *, prepaid: Decimal = Decimal(0), decimals: int = 2
) -> tuple[Totals, tuple[Decimal, ...]]:
    """Totals of lines whose amounts include the tax, and the lines' nets.

    The price told to the client stands: some prices have no net whose tax comes out
    even (at 20 %, one in six), so that what is over goes to the rounding amount
    (BT-114) and the tax stays basis × rate. Without a prepayment, ``due`` is exactly
    the sum of the prices told.
    """
    nets = tuple(net_of(line.amount, line.rate, decimals=decimals) for line in lines)
    entries = [
        Entry(net, line.category, line.rate)
        for net, line in zip(nets, lines, strict=True)
    ]
    plain = totals(entries, decimals=decimals)
    told = sum((line.amount for line in lines), Decimal(0))
    return (
        totals(
            entries, prepaid=prepaid, rounding=told - plain.total, decimals=decimals
        ),
        nets,
    )
