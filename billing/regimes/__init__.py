"""Tax regimes as dated data, enough to propose a practice's rates. Pure.

Nothing here is tax advice: rates are proposals for the practice to check with its tax
adviser before it issues an invoice, and every one can be changed on the charge list's
page. Each rate names where it was looked up, or says ``from memory``.
"""

from dataclasses import replace
from datetime import date

from billing.regimes.elsewhere import ELSEWHERE, OTHER
from billing.regimes.europe import EUROPE
from billing.regimes.kinds import DAMAGES, FROM_MEMORY, Place, Rate, Regime

__all__ = [
    "DAMAGES",
    "FROM_MEMORY",
    "REGIMES",
    "VERSION",
    "Place",
    "Rate",
    "Regime",
    "rate_on",
    "regime",
]

VERSION = "2026-11-25"
"""When the data were last looked over."""

REGIMES: dict[str, Regime] = {found.code: found for found in (*EUROPE, *ELSEWHERE)}
"""By code: the country's ISO 3166-1 letters, or 'none'."""


def regime(code: str, place: str = "") -> Regime:
    """The regime of a practice's ``tax_regime``, with the rates of its province where
    the country's differ (its code then names both, such as CA-ON).

    A country that isn't known here gets one whose rates the practice enters: none is
    ever guessed.
    """
    found = REGIMES.get(code)
    if found is None:
        return replace(OTHER, code=code)
    own = found.places.get(place)
    if own is None:
        return found
    kept = tuple(rate for rate in found.rates if rate.percent is not None)
    return replace(
        found,
        code=f"{found.code}-{own.code}",
        name=f"{found.name}, {own.name}",
        rates=(*own.rates, *kept),
    )


def rate_on(rates: tuple[Rate, ...], code: str, day: date) -> Rate | None:
    """The code's rate on a day; None if there is none."""
    for rate in rates:
        ended = rate.ends is not None and rate.ends < day
        if rate.code == code and rate.starts <= day and not ended:
            return rate
    return None
