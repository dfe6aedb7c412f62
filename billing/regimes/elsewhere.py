"""The regimes of North America, Australia and New Zealand, and of none. Pure.

Nobody can know from afar what a state or province taxes of a farrier's work: for the
United States the practice enters the rate, for Canada the rates of GST, HST and PST
are proposed by province, and which of them work and goods bear is for an adviser.
"""

from datetime import date
from decimal import Decimal

from billing.regimes.kinds import ALWAYS, ZERO, Place, Rate, Regime, outside, standard

NO_TAX = outside("No tax applies.")

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
        Rate("taxed_services", "Sales tax on services", "S", None),
    ),
    unregistered=NO_TAX,
    source="State and local law: what is taxed and the rate differ by place",
    needs_number=False,
    work_code="services",
    goods_code="goods",
    rounding="By invoice, half a cent up: Streamlined Sales and Use Tax Agreement, "
    "s. 324 (third decimal, up when greater than four).",
)

CRA = "Canada Revenue Agency: GST/HST calculator (and rates), rates by province"


def _hst(*periods: tuple[str, date, date | None]) -> tuple[Rate, ...]:
    """HST alike on services and goods."""
    return tuple(
        Rate(code, f"HST on {code}", "S", Decimal(percent), starts, ends, source=CRA)
        for code in ("services", "goods")
        for percent, starts, ends in periods
    )


def _gst(
    pst: str = "0",
    since: date = date(2008, 1, 1),
    *,
    word: str = "PST",
    on_services: bool = False,
) -> tuple[Rate, ...]:
    """GST of 5 %, with the province's own tax beside it where it bears on goods, or
    on services too. One rate a line: the name says what it is made of.

    ``since``: from when the province's figure holds (from memory).
    """
    both = Decimal(5) + Decimal(pst)
    joined = f"GST 5 % + {word} {pst} %"
    return (
        Rate(
            *("services", joined if on_services else "GST on services", "S"),
            both if on_services else Decimal(5),
            since,
            source=CRA,
        ),
        Rate(
            *("goods", joined if Decimal(pst) else "GST on goods", "S", both),
            since,
            source=CRA,
        ),
    )


_ATLANTIC = (
    ("13", date(2008, 1, 1), date(2016, 6, 30)),
    ("15", date(2016, 7, 1), None),
)
PROVINCES = (
    Place("AB", "Alberta", _gst()),
    Place("BC", "British Columbia", _gst("7", date(2013, 4, 1))),
    Place("MB", "Manitoba", _gst("7", date(2019, 7, 1), word="RST")),
    Place("NB", "New Brunswick", _hst(*_ATLANTIC)),
    Place("NL", "Newfoundland and Labrador", _hst(*_ATLANTIC)),
    Place("NT", "Northwest Territories", _gst()),
    Place(
        *("NS", "Nova Scotia"),
        _hst(
            ("15", date(2010, 7, 1), date(2025, 3, 31)),
            ("14", date(2025, 4, 1), None),
        ),
    ),
    Place("NU", "Nunavut", _gst()),
    Place("ON", "Ontario", _hst(("13", date(2010, 7, 1), None))),
    Place(
        *("PE", "Prince Edward Island"),
        _hst(
            ("14", date(2013, 4, 1), date(2016, 9, 30)),
            ("15", date(2016, 10, 1), None),
        ),
    ),
    Place(
        "QC", "Quebec", _gst("9.975", date(2013, 1, 1), word="QST", on_services=True)
    ),
    Place("SK", "Saskatchewan", _gst("6", date(2017, 3, 23))),
    Place("YT", "Yukon", _gst()),
)
CA = Regime(
    code="CA",
    name="Canada: GST, HST and PST",
    tax_word="GST/HST",
    number_word="GST/HST no.",
    rates=(
        Rate("services", "GST/HST on services", "S", None),
        Rate("goods", "GST/HST and PST on goods", "S", None),
        ZERO,
    ),
    unregistered=outside("Small supplier: not registered for GST/HST."),
    source="Excise Tax Act, part IX; the provinces' own acts",
    work_code="services",
    goods_code="goods",
    places={place.code: place for place in PROVINCES},
)
AU = Regime(
    code="AU",
    name="Australia: GST",
    tax_word="GST",
    number_word="ABN",
    rates=(
        standard(
            *("10", date(2000, 7, 1)),
            source="Australian Taxation Office: comparing the New Zealand and "
            "Australian tax system, GST",
        ),
        ZERO,
    ),
    unregistered=outside("No GST: the seller is not registered."),
    source="A New Tax System (Goods and Services Tax) Act 1999",
    rounding="By invoice, half a cent up: GST Act s. 9-90, total invoice rule.",
)
_IRD = (
    "Inland Revenue: net GST statistics, technical information (12.5 % to 15 % on "
    "1 October 2010)"
)
NZ = Regime(
    code="NZ",
    name="New Zealand: GST",
    tax_word="GST",
    number_word="GST no.",
    rates=(
        standard("12.5", ALWAYS, date(2010, 9, 30), source=_IRD),
        standard("15", date(2010, 10, 1), source=_IRD),
        ZERO,
    ),
    unregistered=outside("No GST: the seller is not registered."),
    source="Goods and Services Tax Act 1985, s. 8",
)
NONE = Regime(
    code="none",
    name="No tax reckoned",
    tax_word="tax",
    number_word="Tax no.",
    rates=(NO_TAX,),
    unregistered=NO_TAX,
    source="",
    needs_number=False,
    work_code="none",
    goods_code="none",
)
OTHER = Regime(
    code="",
    name="Tax rates entered by the practice",
    tax_word="tax",
    number_word="Tax no.",
    rates=(
        Rate("standard", "Standard rate", "S", None),
        Rate("reduced", "Reduced rate", "S", None),
        ZERO,
    ),
    unregistered=NO_TAX,
    source="Not known to the program: ask the tax office",
    needs_number=False,
)
ELSEWHERE = (US, CA, AU, NZ, NONE)
