"""The fixed words of documents, and how figures and days are written, by language. Pure.

For invoices, credit notes, statements, receipts and the mail with them; what people
typed (names, notes, terms) stays as they typed it. The words were written for this
house and have not been read by a native speaker of each language yet.

    w = words("de-AT")
    w.t("amount_due")                       # Zu zahlen
    w.money(Decimal("1045"), "EUR")         # 1.045,00 €
    w.day(date(2026, 11, 25))               # 25. November 2026
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing import money
from billing.words.catalogue import CATALOGUE
from practice import days, languages
from practice.languages import FIXED

__all__ = ["CATALOGUE", "Words", "words"]

NARROW = "\N{NARROW NO-BREAK SPACE}"

SIGNS = {"GBP": "£", "EUR": "€", "USD": "$", "CAD": "CA$", "AUD": "A$", "NZD": "NZ$"}
"""Signs that a reader takes for one currency; any other shows its ISO 4217 code."""


@dataclass(frozen=True, slots=True)
class _Figures:
    """How a language writes numbers (Unicode CLDR, from memory)."""

    point: str
    group: str
    sign_first: bool
    gap: str


_FIGURES = {
    "en": _Figures(".", ",", sign_first=True, gap=""),
    "de": _Figures(",", ".", sign_first=False, gap=FIXED),
    "fr": _Figures(",", NARROW, sign_first=False, gap=FIXED),
    "nl": _Figures(",", ".", sign_first=True, gap=FIXED),
    "es": _Figures(",", ".", sign_first=False, gap=FIXED),
    "it": _Figures(",", ".", sign_first=False, gap=FIXED),
}


@dataclass(frozen=True, slots=True)
class Words:
    """One language's words."""

    language: str

    def t(self, key: str, /, **parts: object) -> str:
        """The words under ``key``, with ``{name}`` filled from ``parts``.

        Raises KeyError for a key that is not in the catalogue.
        """
        said = _BY_LANGUAGE[self.language][key]
        return said.format(**parts) if parts else said

    def number(self, value: Decimal) -> str:
        """A quantity, without trailing noughts."""
        return self._figures(f"{value.normalize():f}" if value else "0")

    def percent(self, value: Decimal) -> str:
        return f"{self.number(value)}{FIXED}%"

    def money(self, amount: Decimal, currency: str) -> str:
        """All of the currency's decimals, rounded half up: ``£1,045.00``."""
        exact = money.rounded(amount, money.exponent(currency))
        minus = "−" if exact < 0 else ""
        text = self._figures(f"{abs(exact):f}")
        style = _FIGURES[self.language]
        sign = SIGNS.get(currency)
        if not style.sign_first:
            return f"{minus}{text}{FIXED}{sign or currency}"
        gap = style.gap if sign else FIXED
        return f"{minus}{sign or currency}{gap}{text}"

    def _figures(self, plain: str) -> str:
        style = _FIGURES[self.language]
        minus = "−" if plain.startswith("-") else ""
        whole, _, rest = plain.lstrip("-").partition(".")
        groups = f"{int(whole):,}".replace(",", style.group)
        return f"{minus}{groups}{style.point + rest if rest else ''}"

    def day(self, day: date) -> str:
        """A day in words: ``Wed 25 Nov 2026``, ``25. November 2026``."""
        return languages.day(self.language, day)

    def short_day(self, day: date) -> str:
        """A day for a column: ``25 Nov 2026``, ``25.11.2026``."""
        match self.language:
            case "en":
                return days.short(day, year=True).replace(" ", FIXED)
            case "de":
                return f"{day:%d.%m.%Y}"
            case "nl":
                return f"{day:%d-%m-%Y}"
            case _:
                return f"{day:%d/%m/%Y}"


_BY_LANGUAGE = languages.by_language(CATALOGUE)
_KNOWN = {language: Words(language) for language in languages.LANGUAGES}


def words(language: str) -> Words:
    """The words of a language by its tag (BCP 47); English where it has none here."""
    return _KNOWN[languages.known(language)]
