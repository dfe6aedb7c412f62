"""Tax regimes as dated data, enough to propose a practice's rates. Pure.

Nothing here is tax advice: rates are proposals for the practice to check with its
adviser or tax office before it issues an invoice, and every one can be changed on the
charge list's page. Figures are from memory, with the law that they stand in.
"""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

VERSION = "2026-11, from memory"
ALWAYS = date(2000, 1, 1)


@dataclass(frozen=True, slots=True)
class Rate:
    """One code's rate over a period.

    ``percent``: None for O, and where only the practice can know it (US sales tax).
    ``reason_code`` and ``reason``: BT-121 and BT-120, for E and O.
    """

    code: str
    name: str
    category: str
    percent: Decimal | None
    starts: date = ALWAYS
    ends: date | None = None
    reason_code: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Regime:
    """How a country taxes a farrier's invoice.

    ``rates``: for a registered practice; ``small``: for one that isn't registered.
    ``needs_number``: a taxed invoice must bear the seller's tax number (BR-S-02).
    ``work_code``, ``goods_code``: what is proposed for services and for goods.
    """

    code: str
    name: str
    tax_word: str
    number_word: str
    rates: tuple[Rate, ...]
    small: Rate
    source: str
    needs_number: bool = True
    work_code: str = "standard"
    goods_code: str = "standard"


def _standard(percent: str, starts: date, ends: date | None = None) -> Rate:
    return Rate("standard", "Standard rate", "S", Decimal(percent), starts, ends)


def _reduced(percent: str, starts: date, ends: date | None = None) -> Rate:
    return Rate("reduced", "Reduced rate", "S", Decimal(percent), starts, ends)


ZERO = Rate("zero", "Zero rate", "Z", Decimal(0))
OUTSIDE = Rate(
    "none",
    "No tax",
    "O",
    None,
    reason_code="VATEX-EU-O",
    reason="Not subject to VAT: the seller is not registered.",
)
_NO_TAX = Rate("none", "No tax", "O", None, reason="No tax applies.")

GB = Regime(
    code="GB",
    name="United Kingdom: VAT",
    tax_word="VAT",
    number_word="VAT no.",
    rates=(
        _standard("17.5", date(2010, 1, 1), date(2011, 1, 3)),
        _standard("20", date(2011, 1, 4)),
        _reduced("5", date(1997, 9, 1)),
        ZERO,
    ),
    small=Rate("none", "No VAT", "O", None, reason="Not registered for VAT."),
    source="Value Added Tax Act 1994, s. 2 and 29A",
)
IE = Regime(
    code="IE",
    name="Ireland: VAT",
    tax_word="VAT",
    number_word="VAT no.",
    rates=(
        _standard("23", date(2012, 1, 1), date(2020, 8, 31)),
        _standard("21", date(2020, 9, 1), date(2021, 2, 28)),
        _standard("23", date(2021, 3, 1)),
        _reduced("13.5", date(2003, 1, 1)),
        ZERO,
    ),
    small=OUTSIDE,
    source="Value-Added Tax Consolidation Act 2010, s. 46",
)
DE = Regime(
    code="DE",
    name="Germany: Umsatzsteuer",
    tax_word="VAT (USt)",
    number_word="USt-IdNr.",
    rates=(
        _standard("19", date(2007, 1, 1), date(2020, 6, 30)),
        _standard("16", date(2020, 7, 1), date(2020, 12, 31)),
        _standard("19", date(2021, 1, 1)),
        _reduced("7", date(2007, 1, 1), date(2020, 6, 30)),
        _reduced("5", date(2020, 7, 1), date(2020, 12, 31)),
        _reduced("7", date(2021, 1, 1)),
    ),
    small=Rate(
        "none",
        "Kleinunternehmer",
        "E",
        Decimal(0),
        reason="Steuerfrei nach § 19 UStG (Kleinunternehmer).",
    ),
    source="UStG § 12, § 19",
)
FR = Regime(
    code="FR",
    name="France: TVA",
    tax_word="VAT (TVA)",
    number_word="No TVA",
    rates=(
        _standard("20", date(2014, 1, 1)),
        Rate("intermediate", "Intermediate rate", "S", Decimal("10"), date(2014, 1, 1)),
        _reduced("5.5", date(2014, 1, 1)),
    ),
    small=Rate(
        "none",
        "Franchise en base",
        "E",
        Decimal(0),
        reason_code="VATEX-FR-FRANCHISE",
        reason="TVA non applicable, art. 293 B du CGI",
    ),
    source="Code général des impôts, art. 278, 278-0 bis, 279, 293 B",
)
NL = Regime(
    code="NL",
    name="Netherlands: btw",
    tax_word="VAT (btw)",
    number_word="Btw-id",
    rates=(
        _standard("21", date(2012, 10, 1)),
        _reduced("6", date(2001, 1, 1), date(2018, 12, 31)),
        _reduced("9", date(2019, 1, 1)),
        ZERO,
    ),
    small=Rate(
        "none",
        "Kleineondernemersregeling",
        "E",
        Decimal(0),
        reason="Vrijgesteld van btw (kleineondernemersregeling).",
    ),
    source="Wet op de omzetbelasting 1968, art. 9, art. 25",
)
US = Regime(
    code="US",
    name="United States: sales tax on goods",
    tax_word="sales tax",
    number_word="Sales tax permit",
    rates=(
        Rate(
            "services",
            "Services, not taxed",
            "E",
            Decimal(0),
            reason="Services: no sales tax.",
        ),
        Rate("goods", "Sales tax on goods", "S", None),
    ),
    small=_NO_TAX,
    source="State and local law: what is taxed and the rate differ by place",
    needs_number=False,
    work_code="services",
    goods_code="goods",
)
NONE = Regime(
    code="none",
    name="No tax reckoned",
    tax_word="tax",
    number_word="Tax no.",
    rates=(_NO_TAX,),
    small=_NO_TAX,
    source="",
    needs_number=False,
    work_code="none",
    goods_code="none",
)

_OTHER = Regime(
    code="",
    name="Tax rates entered by the practice",
    tax_word="tax",
    number_word="Tax no.",
    rates=(
        Rate("standard", "Standard rate", "S", None),
        Rate("reduced", "Reduced rate", "S", None),
        ZERO,
    ),
    small=_NO_TAX,
    source="Not known to the program: ask the tax office",
    needs_number=False,
)

REGIMES: dict[str, Regime] = {r.code: r for r in (GB, IE, DE, FR, NL, US, NONE)}
"""By code: the country's ISO 3166-1 letters, or 'none'."""


def regime(code: str) -> Regime:
    """The regime of a practice's ``tax_regime``. A country that isn't known here gets
    one whose rates the practice enters: none is ever guessed.
    """
    return REGIMES.get(code) or replace(_OTHER, code=code)


def rate_on(rates: tuple[Rate, ...], code: str, day: date) -> Rate | None:
    """The code's rate on a day; None if there is none."""
    for rate in rates:
        ended = rate.ends is not None and rate.ends < day
        if rate.code == code and rate.starts <= day and not ended:
            return rate
    return None
