"""What a practice in a country most likely wants: proposals, each changeable. Pure.

Currencies are those of ISO 4217, time zones those of the IANA database (the zone of
the largest part of the country where it has several). Units: what people of the
country measure with by law or custom (roads in the United Kingdom and the United
States are signed in miles; elsewhere in kilometres). Prices named to consumers carry
the tax by law in the European Union (Directive 98/6/EC) and in the United Kingdom,
Switzerland, Norway, Australia and New Zealand; in the United States and Canada the
tax is added at the till. That last sentence is from memory.
"""

from dataclasses import dataclass
from typing import Literal

LengthUnit = Literal["mm", "cm", "in"]
MassUnit = Literal["kg", "lb"]
RoadUnit = Literal["km", "mi"]
DateOrder = Literal["dmy", "mdy", "ymd"]

POST_CODE_LAST = frozenset({"GB", "IE", "US", "CA", "AU", "NZ"})
"""Where the post code stands behind the town; elsewhere before it. From memory (the
postal union's addressing pages show it country by country)."""


def town_line(town: str, post_code: str, country: str) -> str:
    """Town and code as the country writes them: ``Melrose TD6 0ZZ``, ``8001 Zürich``."""
    parts = (town, post_code) if country in POST_CODE_LAST else (post_code, town)
    return " ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class Proposals:
    """What follows from a country, to be offered and changed.

    ``currency`` is an ISO 4217 code; ``tax_regime`` names the rules that billing
    knows by the country's code, or 'none'; ``tax_word`` is what people there call
    the tax; ``language`` is that of documents and mails to clients, of those that
    the house writes (``practice.languages``); ``date_order`` is how days are written
    in figures.
    """

    code: str
    name: str
    currency: str
    time_zone: str
    length_unit: LengthUnit = "mm"
    mass_unit: MassUnit = "kg"
    road_unit: RoadUnit = "km"
    date_order: DateOrder = "dmy"
    tax_regime: str = "none"
    tax_word: str = "tax"
    prices_include_tax: bool = True
    language: str = "en"


def _euro(code: str, name: str, zone: str, word: str, language: str) -> Proposals:
    return Proposals(
        *(code, name, "EUR", zone), tax_regime=code, tax_word=word, language=language
    )


_KNOWN = (
    Proposals(
        *("GB", "United Kingdom", "GBP", "Europe/London"),
        road_unit="mi",
        tax_regime="GB",
        tax_word="VAT",
    ),
    _euro("IE", "Ireland", "Europe/Dublin", "VAT", "en"),
    _euro("DE", "Germany", "Europe/Berlin", "USt", "de"),
    _euro("FR", "France", "Europe/Paris", "TVA", "fr"),
    _euro("NL", "Netherlands", "Europe/Amsterdam", "btw", "nl"),
    _euro("BE", "Belgium", "Europe/Brussels", "btw/TVA", "nl"),
    _euro("AT", "Austria", "Europe/Vienna", "USt", "de"),
    _euro("ES", "Spain", "Europe/Madrid", "IVA", "es"),
    _euro("IT", "Italy", "Europe/Rome", "IVA", "it"),
    Proposals(
        *("CH", "Switzerland", "CHF", "Europe/Zurich"),
        tax_regime="CH",
        tax_word="MWST",
        language="de",
    ),
    Proposals(
        *("US", "United States", "USD", "America/New_York"),
        length_unit="in",
        mass_unit="lb",
        road_unit="mi",
        date_order="mdy",
        tax_regime="US",
        tax_word="sales tax",
        prices_include_tax=False,
    ),
    Proposals(
        *("CA", "Canada", "CAD", "America/Toronto"),
        date_order="ymd",
        tax_regime="CA",
        tax_word="GST/HST",
        prices_include_tax=False,
    ),
    Proposals(
        *("AU", "Australia", "AUD", "Australia/Sydney"),
        tax_regime="AU",
        tax_word="GST",
    ),
    Proposals(
        *("NZ", "New Zealand", "NZD", "Pacific/Auckland"),
        tax_regime="NZ",
        tax_word="GST",
    ),
    Proposals(
        *("SE", "Sweden", "SEK", "Europe/Stockholm"),
        date_order="ymd",
        tax_regime="SE",
        tax_word="moms",
    ),
    Proposals(*("NO", "Norway", "NOK", "Europe/Oslo"), tax_regime="NO", tax_word="mva"),
    Proposals(
        *("DK", "Denmark", "DKK", "Europe/Copenhagen"),
        tax_regime="DK",
        tax_word="moms",
    ),
)
COUNTRIES: dict[str, Proposals] = {country.code: country for country in _KNOWN}
"""The countries whose proposals are known, by ISO 3166-1 alpha-2 code."""

ELSEWHERE = Proposals("ZZ", "another country", "EUR", "UTC", prices_include_tax=False)
"""The neutral proposals: metric, no tax regime, a currency that is sure to be looked
at. 'ZZ' is a code that ISO 3166-1 leaves to its users."""

CURRENCIES: tuple[str, ...] = tuple(sorted({country.currency for country in _KNOWN}))
"""The currencies of the known countries; any other ISO 4217 code can be typed."""


def proposals(country: str) -> Proposals:
    """The proposals for an ISO 3166-1 alpha-2 code, in either letter case; the
    neutral ones for a country that isn't known here."""
    return COUNTRIES.get(country.strip().upper(), ELSEWHERE)
