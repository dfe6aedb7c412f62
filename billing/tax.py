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
from fractions import Fraction

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
    return None if rate is None else money.plain(rate)


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


# ---- Lines --------------------------------------------------------------------------
def line_net(
    quantity: Decimal,
    price: Decimal,
    *,
    base_quantity: Decimal = Decimal(1),
    allowances: Sequence[Decimal] = (),
    charges: Sequence[Decimal] = (),
    decimals: int = 2,
) -> Decimal:
    """BT-131: price ÷ base quantity × quantity, less the line's allowances, more its
    charges; each part is rounded apart, and the sum not again."""
    exact = Fraction(price) * Fraction(quantity) / Fraction(base_quantity)
    net = money.ratio(exact, decimals)
    for allowance in allowances:
        net -= money.rounded(allowance, decimals)
    for charge in charges:
        net += money.rounded(charge, decimals)
    return net


def price_of(
    net: Decimal, quantity: Decimal, *, decimals: int = 2
) -> tuple[Decimal, Decimal]:
    """The price without tax (BT-146) and its base quantity (BT-149) that give a line's
    net exactly, for a line whose price was told with tax.

    The shortest price for one that comes out, up to eight decimals; else the net
    itself as the price of the whole quantity. Never negative: the quantity has the
    sign (BR-27).
    """
    exact = Fraction(net) / Fraction(quantity)
    for places in range(decimals, 9):
        price = money.ratio(exact, places)
        if line_net(quantity, price, decimals=decimals) == net:
            return price, Decimal(1)
    return abs(net), abs(quantity)


# ---- Prices that include the tax --------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Told:
    """An amount as the client was told it: with its tax, or without."""

    amount: Decimal
    category: Category
    rate: Decimal | None
    includes_tax: bool = True


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A document's totals, and the nets of its parts in the order given."""

    totals: Totals
    lines: tuple[Decimal, ...]
    allowances: tuple[Decimal, ...]
    charges: tuple[Decimal, ...]


def net_of(gross: Decimal, rate: Decimal | None, *, decimals: int = 2) -> Decimal:
    """The net within a price that includes tax: G − round(G·r ÷ (100 + r))."""
    rate = rate or Decimal(0)
    tax = Fraction(gross) * Fraction(rate) / (100 + Fraction(rate))
    return gross - money.ratio(tax, decimals)


def _entry(told: Told, decimals: int) -> Entry:
    amount = told.amount
    if told.includes_tax:
        amount = net_of(amount, told.rate, decimals=decimals)
    return Entry(amount, told.category, told.rate)


def _promised(signed: Iterable[tuple[int, Told]], decimals: int) -> Decimal:
    """What the client was told to pay in all: prices with tax as they are, those
    without by tax and rate with theirs, rounded once."""
    whole = Decimal(0)
    bare: dict[tuple[Category, Decimal | None], Decimal] = {}
    for sign, told in signed:
        whole += sign * told.amount
        if not told.includes_tax:
            key = (told.category, _same(told.rate))
            bare[key] = bare.get(key, Decimal(0)) + sign * told.amount
    for (_, rate), basis in bare.items():
        whole += money.percent(basis, rate or Decimal(0), decimals)
    return whole


def totals_of_told(
    lines: Sequence[Told],
    allowances: Sequence[Told] = (),
    charges: Sequence[Told] = (),
    *,
    prepaid: Decimal = Decimal(0),
    decimals: int = 2,
) -> Reckoned:
    """Totals of amounts in the modes in which they were told.

    The price told to the client stands: some prices have no net whose tax comes out
    even (at 20 %, one in six), so that what is over goes to the rounding amount
    (BT-114) and the tax stays basis × rate. Without a prepayment, ``due`` is exactly
    the sum of the prices told with tax, plus the others with their tax. Where every
    amount is without tax, the rounding amount is 0.
    """
    parts = [
        [_entry(told, decimals) for told in p] for p in (lines, allowances, charges)
    ]
    plain = totals(*parts, decimals=decimals)
    promised = _promised(
        [
            *((1, told) for told in lines),
            *((-1, told) for told in allowances),
            *((1, told) for told in charges),
        ],
        decimals,
    )
    found = totals(
        *parts, prepaid=prepaid, rounding=promised - plain.total, decimals=decimals
    )
    nets = (tuple(entry.amount for entry in part) for part in parts)
    return Reckoned(found, *nets)


def totals_of_gross(
    lines: Sequence[Entry], *, prepaid: Decimal = Decimal(0), decimals: int = 2
) -> tuple[Totals, tuple[Decimal, ...]]:
    """Totals of lines whose amounts all include the tax, and the lines' nets."""
    told = [Told(line.amount, line.category, line.rate) for line in lines]
    found = totals_of_told(told, prepaid=prepaid, decimals=decimals)
    return found.totals, found.lines
