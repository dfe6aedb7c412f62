"""OASIS UBL 2.1 in the subset of EN 16931-3-2: an Invoice or a CreditNote.

The order of elements is that of the schemas.
"""

from datetime import date
from decimal import Decimal

from billing.einvoice.cii import PROFILE
from billing.einvoice.document import (
    UNDEFINED,
    Adjustment,
    Document,
    Group,
    Line,
    Party,
)
from billing.einvoice.tree import Node, amount, plain, written

_BASE = "urn:oasis:names:specification:ubl:schema:xsd:"
_SPACES = {
    "cac": f"{_BASE}CommonAggregateComponents-2",
    "cbc": f"{_BASE}CommonBasicComponents-2",
}


def ubl(document: Document) -> bytes:
    """The document as UBL XML, the same bytes for the same document."""
    root = "CreditNote" if document.is_credit else "Invoice"
    spaces = {"ubl": f"{_BASE}{root}-2", **_SPACES}
    currency = document.currency
    return written(
        f"ubl:{root}",
        [
            ("cbc:CustomizationID", PROFILE),
            ("cbc:ID", document.number),
            ("cbc:IssueDate", document.issue_day.isoformat()),
            None if document.is_credit else ("cbc:DueDate", str(document.due_day)),
            (f"cbc:{root}TypeCode", document.kind),
            ("cbc:Note", document.note),
            ("cbc:DocumentCurrencyCode", currency),
            ("cbc:BuyerReference", document.buyer_reference),
            *(_preceding(number, day) for number, day in document.preceding),
            ("cac:AccountingSupplierParty", [("cac:Party", _party(document.seller))]),
            ("cac:AccountingCustomerParty", [("cac:Party", _party(document.buyer))]),
            ("cac:Delivery", _supply(document.supply_day)),
            _means(document),
            ("cac:PaymentTerms", _text("cbc:Note", document.terms)),
            *(_adjustment(part, currency) for part in document.adjustments),
            (
                "cac:TaxTotal",
                [
                    _amount("cbc:TaxAmount", document.totals["tax"], currency),
                    *(_group(group, currency) for group in document.groups),
                ],
            ),
            _totals(document),
            *(_line(line, document) for line in document.lines),
        ],
        spaces,
        default="ubl",
    )


def _text(name: str, value: str) -> list[Node]:
    return [(name, value)] if value else []


def _amount(name: str, value: Decimal, currency: str) -> Node:
    return (name, amount(value), {"currencyID": currency})


def _supply(day: date | None) -> list[Node]:
    return [("cbc:ActualDeliveryDate", day.isoformat())] if day else []


def _preceding(number: str, day: date) -> Node:
    return (
        "cac:BillingReference",
        [
            (
                "cac:InvoiceDocumentReference",
                [("cbc:ID", number), ("cbc:IssueDate", day.isoformat())],
            )
        ],
    )


def _party(party: Party) -> list[Node]:
    endpoint = (
        [("cbc:EndpointID", party.email, {"schemeID": "EM"})] if party.email else []
    )
    return [
        *endpoint,
        ("cac:PartyIdentification", _text("cbc:ID", party.other_id)),
        ("cac:PartyName", _text("cbc:Name", party.trading_name)),
        (
            "cac:PostalAddress",
            [
                ("cbc:StreetName", party.street),
                ("cbc:CityName", party.town),
                ("cbc:PostalZone", party.post_code),
                ("cac:Country", [("cbc:IdentificationCode", party.country)]),
            ],
        ),
        ("cac:PartyTaxScheme", _scheme(party.vat_id, "VAT")),
        ("cac:PartyTaxScheme", _scheme(party.tax_number, "TAX")),
        (
            "cac:PartyLegalEntity",
            [
                ("cbc:RegistrationName", party.name),
                ("cbc:CompanyID", party.legal_id),
            ],
        ),
    ]


def _scheme(number: str, scheme: str) -> list[Node]:
    if not number:
        return []
    return [
        ("cbc:CompanyID", number),
        ("cac:TaxScheme", [("cbc:ID", scheme)]),
    ]


def _means(document: Document) -> Node | None:
    account = document.account
    if document.totals["due"] <= 0:
        return None
    if document.is_credit:  # its schema has the day nowhere else
        return (
            "cac:PaymentMeans",
            [
                ("cbc:PaymentMeansCode", UNDEFINED),
                ("cbc:PaymentDueDate", document.due_day.isoformat()),
                ("cbc:PaymentID", document.remittance),
            ],
        )
    return (
        "cac:PaymentMeans",
        [
            ("cbc:PaymentMeansCode", account.means),
            ("cbc:PaymentID", document.remittance),
            (
                "cac:PayeeFinancialAccount",
                [
                    *_text("cbc:ID", account.iban or account.proprietary),
                    *(
                        [
                            (
                                "cac:FinancialInstitutionBranch",
                                [("cbc:ID", account.bic)],
                            )
                        ]
                        if account.bic
                        else []
                    ),
                ],
            ),
        ],
    )


def _category(
    name: str,
    category: str,
    percent: Decimal | None,
    *,
    reason: str = "",
    code: str = "",
) -> Node:
    return (
        name,
        [
            ("cbc:ID", category),
            ("cbc:Percent", plain(percent)) if percent is not None else None,
            ("cbc:TaxExemptionReasonCode", code),
            ("cbc:TaxExemptionReason", reason),
            ("cac:TaxScheme", [("cbc:ID", "VAT")]),
        ],
    )


def _adjustment(part: Adjustment, currency: str) -> Node:
    tax = None
    if part.category:
        tax = _category("cac:TaxCategory", part.category, part.percent)
    return (
        "cac:AllowanceCharge",
        [
            ("cbc:ChargeIndicator", "true" if part.adds else "false"),
            ("cbc:AllowanceChargeReasonCode", part.code),
            ("cbc:AllowanceChargeReason", part.reason),
            _amount("cbc:Amount", part.amount, currency),
            tax,
        ],
    )


def _group(group: Group, currency: str) -> Node:
    return (
        "cac:TaxSubtotal",
        [
            _amount("cbc:TaxableAmount", group.basis, currency),
            _amount("cbc:TaxAmount", group.tax, currency),
            _category(
                "cac:TaxCategory",
                group.category,
                group.percent,
                reason=group.reason,
                code=group.reason_code,
            ),
        ],
    )


def _totals(document: Document) -> Node:
    totals, currency = document.totals, document.currency

    def used(name: str, key: str) -> Node | None:
        return _amount(name, totals[key], currency) if totals[key] else None

    return (
        "cac:LegalMonetaryTotal",
        [
            _amount("cbc:LineExtensionAmount", totals["line_total"], currency),
            _amount("cbc:TaxExclusiveAmount", totals["tax_basis"], currency),
            _amount("cbc:TaxInclusiveAmount", totals["total"], currency),
            used("cbc:AllowanceTotalAmount", "allowance_total"),
            used("cbc:ChargeTotalAmount", "charge_total"),
            used("cbc:PrepaidAmount", "prepaid"),
            used("cbc:PayableRoundingAmount", "rounding"),
            _amount("cbc:PayableAmount", totals["due"], currency),
        ],
    )


def _line(line: Line, document: Document) -> Node:
    currency = document.currency
    root, quantity = (
        ("CreditNoteLine", "CreditedQuantity")
        if document.is_credit
        else ("InvoiceLine", "InvoicedQuantity")
    )
    unit = {"unitCode": line.unit}
    period: list[Node] = []
    if line.day:
        day = line.day.isoformat()
        period = [("cbc:StartDate", day), ("cbc:EndDate", day)]
    return (
        f"cac:{root}",
        [
            ("cbc:ID", line.key),
            ("cbc:Note", line.note),
            (f"cbc:{quantity}", plain(line.quantity), unit),
            _amount("cbc:LineExtensionAmount", line.net, currency),
            ("cac:InvoicePeriod", period),
            *(_adjustment(part, currency) for part in line.adjustments),
            (
                "cac:Item",
                [
                    ("cbc:Name", line.name),
                    _category("cac:ClassifiedTaxCategory", line.category, line.percent),
                ],
            ),
            (
                "cac:Price",
                [
                    _amount("cbc:PriceAmount", line.price, currency),
                    ("cbc:BaseQuantity", plain(line.base), unit)
                    if line.base != 1
                    else None,
                ],
            ),
        ],
    )
