"""Amounts of money: Decimal in the major unit, with the currency's decimals. Pure.

Rounding is half up, away from zero for negatives, everywhere in the house: EN 16931
asks for it, and the CEN's own vector has −6491.34 × 25 % = −1622.84.
"""

import re
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

_BY_DECIMALS = {  # ISO 4217, list one (active codes, from memory)
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF",
    2: "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP "
    "BYN BZD CAD CDF CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP "
    "GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW "
    "KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR "
    "MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR "
    "SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS "
    "UAH USD UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG",
    3: "BHD IQD JOD KWD LYD OMR TND",
}
EXPONENTS: dict[str, int] = {
    code: decimals for decimals, codes in _BY_DECIMALS.items() for code in codes.split()
}
"""Currency code → number of decimals (ISO 4217; from memory)."""

MOST_DIGITS = 15
"""Whole digits that an amount may have; a farrier's invoice needs six."""

_AMOUNT = re.compile(r"(-?)([0-9]+)(?:\.([0-9]+))?", re.ASCII)
_WIDE = Context(prec=60)


class BadAmount(ValueError):
    """A text that isn't an amount of this currency; the message says why."""


def exponent(currency: str) -> int:
    """Decimals of a currency by its ISO 4217 code. Raises BadAmount if unknown."""
    try:
        return EXPONENTS[currency]
    except KeyError:
        raise BadAmount(f"{currency!r} is not a currency code of ISO 4217.") from None


def rounded(amount: Decimal, decimals: int) -> Decimal:
    """To so many decimals, half up away from zero; never minus zero."""
    step = Decimal(1).scaleb(-decimals)
    # `+ 0` after quantize would keep the sign of −0.00; abs() drops it.
    result = amount.quantize(step, rounding=ROUND_HALF_UP, context=_WIDE)
    return result if result else abs(result)


def times(amount: Decimal, factor: Decimal, decimals: int) -> Decimal:
    """The product, reckoned exactly and rounded once."""
    return rounded(_WIDE.multiply(amount, factor), decimals)


def ratio(exact: Fraction, decimals: int) -> Decimal:
    """An exact fraction to so many decimals, half up away from zero: for prices of a
    base quantity and for taxes taken out of a price, whose quotients never end."""
    sign = -1 if exact < 0 else 1
    units, left = divmod(abs(exact.numerator) * 10**decimals, exact.denominator)
    if 2 * left >= exact.denominator:
        units += 1
    return major(sign * units, decimals)


def percent(base: Decimal, rate: Decimal, decimals: int) -> Decimal:
    """``rate`` per cent of ``base``, rounded once."""
    return rounded(_WIDE.multiply(base, rate).scaleb(-2, context=_WIDE), decimals)


def plain(number: Decimal) -> Decimal:
    """The number without zeros at its end: 20 for 20.00, at any length."""
    return Decimal(f"{number.normalize(_WIDE):f}")


def read(text: str, currency: str) -> Decimal:
    """An amount written as in a document: digits, a point, no more decimals than the
    currency has, a minus sign allowed. Raises BadAmount."""
    decimals = exponent(currency)
    found = _AMOUNT.fullmatch(text)
    if not found:
        raise BadAmount(f"{text[:40]!r} is not an amount such as 12.50.")
    _, whole, fraction = found.groups()
    if len(whole.lstrip("0")) > MOST_DIGITS:
        raise BadAmount(f"The amount has more than {MOST_DIGITS} whole digits.")
    if fraction and len(fraction) > decimals:
        raise BadAmount(
            f"{text[:40]!r} has {len(fraction)} decimals; {currency} has {decimals}."
        )
    return rounded(Decimal(text), decimals)


def written(amount: Decimal, currency: str) -> str:
    """The amount as a document writes it: always all of the currency's decimals.

    Raises BadAmount if that would lose something: rounding is asked for by name.
    """
    fixed = rounded(amount, exponent(currency))
    if fixed != amount:
        raise BadAmount(f"{amount} has more decimals than {currency}.")
    return f"{fixed:f}"


def minor(amount: Decimal, decimals: int) -> int:
    """Whole minor units (cents). Raises BadAmount if it isn't whole."""
    units = amount.scaleb(decimals, context=_WIDE)
    if units != units.to_integral_value():
        raise BadAmount(f"{amount} has more than {decimals} decimals.")
    return int(units)


def major(units: int, decimals: int) -> Decimal:
    """The amount that so many minor units make."""
    return rounded(Decimal(units).scaleb(-decimals, context=_WIDE), decimals)
