"""The regimes of the United Kingdom and of countries of the European Union. Pure.

Standard rates and their days are the European Commission's, read from the history
that github.com/vatnode/eu-vat-rates-data (2026-09-23) transcribes from DG TAXUD's
"VAT rates applied in the Member States" (June 2021, section VIII) and from its
database TEDB. Reduced rates are from memory unless a source is beside them.
"""

from datetime import date
from decimal import Decimal

from billing.regimes.kinds import (
    ZERO,
    Rate,
    Regime,
    outside,
    reduced,
    scheme,
    standard,
)

TAXUD = (
    "European Commission, DG TAXUD: VAT rates applied in the Member States, "
    "June 2021, section VIII"
)
TEDB = "European Commission: Taxes in Europe Database (TEDB)"

NOT_REGISTERED = outside(
    "Not subject to VAT: the seller is not registered.", code="VATEX-EU-O"
)


def _intermediate(percent: str, starts: date) -> Rate:
    return Rate("intermediate", "Intermediate rate", "S", Decimal(percent), starts)


GB = Regime(
    code="GB",
    name="United Kingdom: VAT",
    tax_word="VAT",
    number_word="VAT no.",
    rates=(
        standard(
            *("17.5", date(2010, 1, 1), date(2011, 1, 3)),
            source="UK Government Web Archive, direct.gov.uk DG_193213, 5 January 2011",
        ),
        standard(
            *("20", date(2011, 1, 4)),
            source="UK Government Web Archive, direct.gov.uk DG_193213, 5 January 2011",
        ),
        reduced("5", date(1997, 9, 1)),
        ZERO,
    ),
    unregistered=outside("Not registered for VAT.", name="No VAT"),
    source="Value Added Tax Act 1994, s. 2 and 29A",
    rounding="By document, half up: within VAT Notice 700, 17.5.",
)
_IE_SECTION_46 = (
    "Chartered Accountants Ireland, notes for guidance on the VAT Consolidation Act "
    "2010, s. 46"
)
IE = Regime(
    code="IE",
    name="Ireland: VAT",
    tax_word="VAT",
    number_word="VAT no.",
    rates=(
        standard("23", date(2012, 1, 1), date(2020, 8, 31), source=TAXUD),
        standard("21", date(2020, 9, 1), date(2021, 2, 28), source=_IE_SECTION_46),
        standard("23", date(2021, 3, 1), source=_IE_SECTION_46),
        reduced("13.5", date(2003, 1, 1), source=_IE_SECTION_46),
        ZERO,
    ),
    unregistered=NOT_REGISTERED,
    source="Value-Added Tax Consolidation Act 2010, s. 46",
)
_DE_2020 = "Zweites Corona-Steuerhilfegesetz of 29 June 2020, art. 3 (UStG § 28)"
DE = Regime(
    code="DE",
    name="Germany: Umsatzsteuer",
    tax_word="VAT (USt)",
    number_word="USt-IdNr.",
    rates=(
        standard("19", date(2007, 1, 1), date(2020, 6, 30), source=TAXUD),
        standard("16", date(2020, 7, 1), date(2020, 12, 31), source=_DE_2020),
        standard("19", date(2021, 1, 1), source=_DE_2020),
        reduced("7", date(2007, 1, 1), date(2020, 6, 30)),
        reduced("5", date(2020, 7, 1), date(2020, 12, 31), source=_DE_2020),
        reduced("7", date(2021, 1, 1), source=_DE_2020),
    ),
    small=scheme(
        "Kleinunternehmer",
        "Steuerfrei nach § 19 UStG (Kleinunternehmer).",
        source="UStG § 19 and § 34a (wording from memory)",
    ),
    unregistered=NOT_REGISTERED,
    source="UStG § 12, § 19",
)
FR = Regime(
    code="FR",
    name="France: TVA",
    tax_word="VAT (TVA)",
    number_word="No TVA",
    rates=(
        standard("19.6", date(2000, 4, 1), date(2013, 12, 31), source=TAXUD),
        standard("20", date(2014, 1, 1), source=TAXUD),
        _intermediate("10", date(2014, 1, 1)),
        reduced("5.5", date(2014, 1, 1)),
    ),
    small=scheme(
        "Franchise en base",
        "TVA non applicable, art. 293 B du CGI",
        code="VATEX-FR-FRANCHISE",
        source="Code général des impôts, art. 293 B and 293 E",
    ),
    unregistered=NOT_REGISTERED,
    source="Code général des impôts, art. 278, 278-0 bis, 279, 293 B",
)
NL = Regime(
    code="NL",
    name="Netherlands: btw",
    tax_word="VAT (btw)",
    number_word="Btw-id",
    rates=(
        standard("19", date(2001, 1, 1), date(2012, 9, 30), source=TAXUD),
        standard("21", date(2012, 10, 1), source=TAXUD),
        reduced("6", date(2001, 1, 1), date(2018, 12, 31)),
        reduced("9", date(2019, 1, 1)),
        ZERO,
    ),
    small=scheme(
        "Kleineondernemersregeling",
        "Vrijgesteld van btw (kleineondernemersregeling).",
        source="Wet op de omzetbelasting 1968, art. 25 (wording from memory)",
    ),
    unregistered=NOT_REGISTERED,
    source="Wet op de omzetbelasting 1968, art. 9, art. 25",
)
BE = Regime(
    code="BE",
    name="Belgium: btw/TVA",
    tax_word="VAT (btw/TVA)",
    number_word="Btw/TVA",
    rates=(
        standard("21", date(1996, 1, 1), source=TAXUD),
        _intermediate("12", date(2000, 1, 1)),
        reduced("6", date(2000, 1, 1)),
        ZERO,
    ),
    small=scheme(
        "Vrijstellingsregeling / Régime de la franchise",
        "Régime particulier de la franchise de taxe / Bijzondere vrijstellingsregeling",
        source="Arrêté royal no 1, art. 5, § 1, 10° quater (Dutch words from memory)",
    ),
    unregistered=NOT_REGISTERED,
    source="Code de la TVA, art. 37 and 56bis; arrêté royal no 20",
)
AT = Regime(
    code="AT",
    name="Austria: Umsatzsteuer",
    tax_word="VAT (USt)",
    number_word="UID",
    rates=(
        standard("20", date(1984, 1, 1), source=TAXUD),
        reduced("10", date(1984, 1, 1)),
        _intermediate("13", date(2016, 1, 1)),
    ),
    small=scheme(
        "Kleinunternehmer",
        "Umsatzsteuerfrei gemäß § 6 Abs. 1 Z 27 UStG 1994 (Kleinunternehmer).",
        source="Wirtschaftskammer Österreich: Kleinunternehmerregelung ab 2025",
    ),
    unregistered=NOT_REGISTERED,
    source="UStG 1994, § 6 (1) 27, § 10",
)
_ES_2012 = "Real Decreto-ley 20/2012, de 13 de julio"
ES = Regime(
    code="ES",
    name="Spain: IVA",
    tax_word="VAT (IVA)",
    number_word="NIF",
    rates=(
        standard("18", date(2010, 7, 1), date(2012, 8, 31), source=TAXUD),
        standard("21", date(2012, 9, 1), source=_ES_2012),
        reduced("8", date(2010, 7, 1), date(2012, 8, 31), source=_ES_2012),
        reduced("10", date(2012, 9, 1), source=_ES_2012),
    ),
    unregistered=NOT_REGISTERED,
    source="Ley 37/1992, art. 90, 91",
)
IT = Regime(
    code="IT",
    name="Italy: IVA",
    tax_word="VAT (IVA)",
    number_word="Partita IVA",
    rates=(
        standard("21", date(2011, 9, 17), date(2013, 9, 30), source=TAXUD),
        standard("22", date(2013, 10, 1), source=TAXUD),
        reduced("10", date(2000, 1, 1)),
    ),
    small=scheme(
        "Regime forfettario",
        "Operazione in franchigia da IVA ai sensi dell'art. 1, commi 54-89, "
        "legge n. 190/2014",
        source="Legge 190/2014, art. 1, commi 54-89 (wording as commonly printed)",
    ),
    unregistered=NOT_REGISTERED,
    source="DPR 633/1972, art. 16",
)
EUROPE = (GB, IE, DE, FR, NL, BE, AT, ES, IT)
