"""UN/CEFACT Cross Industry Invoice (D16B) in the subset of EN 16931-3-3.

The order of elements is that of the schema. It is the XML within the PDF (Factur-X
1.09 / ZUGFeRD 2.x, profile EN 16931).
"""

from datetime import date
from decimal import Decimal

from billing.einvoice.document import (
    UNDEFINED,
    Adjustment,
    Document,
    Group,
    Line,
    Party,
)
from billing.einvoice.tree import Node, amount, plain, written

PROFILE = "urn:cen.eu:en16931:2017"
SPACES = {
    "rsm": "urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100",
    "ram": "urn:un:unece:uncefact:data:standard:"
    "ReusableAggregateBusinessInformationEntity:100",
    "qdt": "urn:un:unece:uncefact:data:standard:QualifiedDataType:100",
    "udt": "urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100",
}


def cii(document: Document) -> bytes:
    """The document as CII XML, the same bytes for the same document."""
    return written(
        "rsm:CrossIndustryInvoice",
        [
            (
                "rsm:ExchangedDocumentContext",
                [
                    (
                        "ram:GuidelineSpecifiedDocumentContextParameter",
                        [("ram:ID", PROFILE)],
                    )
                ],
            ),
            (
                "rsm:ExchangedDocument",
                [
                    ("ram:ID", document.number),
                    ("ram:TypeCode", document.kind),
                    ("ram:IssueDateTime", _day(document.issue_day)),
                    ("ram:IncludedNote", _text("ram:Content", document.note)),
                ],
            ),
            (
                "rsm:SupplyChainTradeTransaction",
                [
                    *(_line(line) for line in document.lines),
                    (
                        "ram:ApplicableHeaderTradeAgreement",
                        [
                            ("ram:BuyerReference", document.buyer_reference),
                            ("ram:SellerTradeParty", _party(document.seller)),
                            ("ram:BuyerTradeParty", _party(document.buyer)),
                        ],
                    ),
                    _delivery(document),
                    ("ram:ApplicableHeaderTradeSettlement", _settlement(document)),
                ],
            ),
        ],
        SPACES,
    )


def _text(name: str, value: str) -> list[Node]:
    return [(name, value)] if value else []


def _day(day: date | None, kind: str = "udt") -> list[Node]:
    if day is None:
        return []
    return [(f"{kind}:DateTimeString", f"{day:%Y%m%d}", {"format": "102"})]


def _line(line: Line) -> Node:
    return (
        "ram:IncludedSupplyChainTradeLineItem",
        [
            (
                "ram:AssociatedDocumentLineDocument",
                [
                    ("ram:LineID", line.key),
                    ("ram:IncludedNote", _text("ram:Content", line.note)),
                ],
            ),
            ("ram:SpecifiedTradeProduct", [("ram:Name", line.name)]),
            ("ram:SpecifiedLineTradeAgreement", [_price(line)]),
            (
                "ram:SpecifiedLineTradeDelivery",
                [
                    (
                        "ram:BilledQuantity",
                        plain(line.quantity),
                        {"unitCode": line.unit},
                    )
                ],
            ),
            (
                "ram:SpecifiedLineTradeSettlement",
                [
                    (
                        "ram:ApplicableTradeTax",
                        [
                            ("ram:TypeCode", "VAT"),
                            ("ram:CategoryCode", line.category),
                            _rate(line.percent),
                        ],
                    ),
                    _period(line.day),
                    *(_adjustment(part) for part in line.adjustments),
                    (
                        "ram:SpecifiedTradeSettlementLineMonetarySummation",
                        [("ram:LineTotalAmount", amount(line.net))],
                    ),
                ],
            ),
        ],
    )


def _price(line: Line) -> Node:
    base: Node | None = None
    if line.base != 1:
        base = ("ram:BasisQuantity", plain(line.base), {"unitCode": line.unit})
    return (
        "ram:NetPriceProductTradePrice",
        [("ram:ChargeAmount", amount(line.price)), base],
    )


def _rate(percent: Decimal | None) -> Node | None:
    if percent is None:
        return None
    return ("ram:RateApplicablePercent", plain(percent))


def _period(day: date | None) -> Node | None:
    if day is None:
        return None
    return (
        "ram:BillingSpecifiedPeriod",
        [("ram:StartDateTime", _day(day)), ("ram:EndDateTime", _day(day))],
    )


def _adjustment(part: Adjustment) -> Node:
    tax: list[Node | None] = []
    if part.category:
        tax = [
            ("ram:TypeCode", "VAT"),
            ("ram:CategoryCode", part.category),
            _rate(part.percent),
        ]
    return (
        "ram:SpecifiedTradeAllowanceCharge",
        [
            (
                "ram:ChargeIndicator",
                [("udt:Indicator", "true" if part.adds else "false")],
            ),
            ("ram:ActualAmount", amount(part.amount)),
            ("ram:ReasonCode", part.code),
            ("ram:Reason", part.reason),
            ("ram:CategoryTradeTax", tax),
        ],
    )


def _party(party: Party) -> list[Node | None]:
    return [
        ("ram:ID", party.other_id),
        ("ram:Name", party.name),
        (
            "ram:SpecifiedLegalOrganization",
            [
                *_text("ram:ID", party.legal_id),
                *_text("ram:TradingBusinessName", party.trading_name),
            ],
        ),
        (
            "ram:PostalTradeAddress",
            [
                ("ram:PostcodeCode", party.post_code),
                ("ram:LineOne", party.street),
                ("ram:CityName", party.town),
                ("ram:CountryID", party.country),
            ],
        ),
        (
            "ram:URIUniversalCommunication",
            [("ram:URIID", party.email, {"schemeID": "EM"})] if party.email else [],
        ),
        _registration(party.vat_id, "VA"),
        _registration(party.tax_number, "FC"),
    ]


def _registration(number: str, scheme: str) -> Node | None:
    if not number:
        return None
    return (
        "ram:SpecifiedTaxRegistration",
        [("ram:ID", number, {"schemeID": scheme})],
    )


def _delivery(document: Document) -> Node:
    day = _day(document.supply_day)
    # The schema wants the element, empty where the day is not known.
    event = [("ram:ActualDeliverySupplyChainEvent", [("ram:OccurrenceDateTime", day)])]
    return ("ram:ApplicableHeaderTradeDelivery", event if day else ())


def _settlement(document: Document) -> list[Node | None]:
    return [
        ("ram:PaymentReference", document.remittance),
        ("ram:InvoiceCurrencyCode", document.currency),
        _means(document),
        *(_group(group) for group in document.groups),
        *(_adjustment(part) for part in document.adjustments),
        (
            "ram:SpecifiedTradePaymentTerms",
            [
                ("ram:Description", document.terms),
                ("ram:DueDateDateTime", _day(document.due_day)),
            ],
        ),
        _summation(document),
        *(
            (
                "ram:InvoiceReferencedDocument",
                [
                    ("ram:IssuerAssignedID", number),
                    ("ram:FormattedIssueDateTime", _day(day, "qdt")),
                ],
            )
            for number, day in document.preceding
        ),
    ]


def _means(document: Document) -> Node | None:
    account = document.account
    if document.is_credit or document.totals["due"] <= 0:
        return None
    if account.means == UNDEFINED:
        return (
            "ram:SpecifiedTradeSettlementPaymentMeans",
            [("ram:TypeCode", UNDEFINED)],
        )
    return (
        "ram:SpecifiedTradeSettlementPaymentMeans",
        [
            ("ram:TypeCode", account.means),
            (
                "ram:PayeePartyCreditorFinancialAccount",
                [
                    ("ram:IBANID", account.iban),
                    ("ram:ProprietaryID", account.proprietary),
                ],
            ),
            (
                "ram:PayeeSpecifiedCreditorFinancialInstitution",
                _text("ram:BICID", account.bic),
            ),
        ],
    )


def _group(group: Group) -> Node:
    return (
        "ram:ApplicableTradeTax",
        [
            ("ram:CalculatedAmount", amount(group.tax)),
            ("ram:TypeCode", "VAT"),
            ("ram:ExemptionReason", group.reason),
            ("ram:BasisAmount", amount(group.basis)),
            ("ram:CategoryCode", group.category),
            ("ram:ExemptionReasonCode", group.reason_code),
            _rate(group.percent),
        ],
    )


def _summation(document: Document) -> Node:
    totals = document.totals

    def used(name: str, key: str) -> Node | None:
        return (name, amount(totals[key])) if totals[key] else None

    return (
        "ram:SpecifiedTradeSettlementHeaderMonetarySummation",
        [
            ("ram:LineTotalAmount", amount(totals["line_total"])),
            used("ram:ChargeTotalAmount", "charge_total"),
            used("ram:AllowanceTotalAmount", "allowance_total"),
            ("ram:TaxBasisTotalAmount", amount(totals["tax_basis"])),
            (
                "ram:TaxTotalAmount",
                amount(totals["tax"]),
                {"currencyID": document.currency},
            ),
            used("ram:RoundingAmount", "rounding"),
            ("ram:GrandTotalAmount", amount(totals["total"])),
            used("ram:TotalPrepaidAmount", "prepaid"),
            ("ram:DuePayableAmount", amount(totals["due"])),
        ],
    )
