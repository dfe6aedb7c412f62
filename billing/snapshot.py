"""Reading what an issued document says, whatever format it was frozen in. Pure.

A document is frozen once and kept for years, while the format grows. Keys are only
ever added; ``as_current`` fills what an older one lacks, so that whoever shows or
exports a document knows one format. What is stored is never touched.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from billing import money, tax

FORMAT = 2
PROFILE = "urn:cen.eu:en16931:2017"
"""BT-24."""


def as_current(snapshot: Mapping[str, Any]) -> dict[str, Any]:
    """The snapshot with every key of the newest format.

    Format 1 said no ids, no allowances and no net prices; its net price is reckoned
    from what it says of the line, so that net = price ÷ base × quantity holds.
    """
    if snapshot.get("format", 1) >= FORMAT:
        return dict(snapshot)
    seller, buyer, payment = (
        dict(snapshot[key]) for key in ("seller", "buyer", "payment")
    )
    includes_tax = bool(snapshot["prices_include_tax"])
    number = seller["tax_number"]
    is_vat = looks_like_vat_id(number, seller["country"])
    return {
        **snapshot,
        "format": FORMAT,
        "profile": PROFILE,
        "tax_regime": "",
        "currency_decimals": money.exponent(snapshot["currency"]),
        "seller": {
            "registered": bool(number),
            "vat_id": number if is_vat else "",
            "tax_id": "" if is_vat else number,
            "registration": seller["company_number"],
            **seller,
        },
        "buyer": {
            "id": "",
            "vat_id": buyer["tax_number"],
            "reference": "",
            "language": snapshot["language"],
            **buyer,
        },
        "lines": [
            _line(line, snapshot, includes_tax=includes_tax)
            for line in snapshot["lines"]
        ],
        "adjustments": [],
        "prepayments": [],
        "payment": {
            "means": means_of(payment["iban"], snapshot["currency"], payment),
            "account_name": seller["legal_name"],
            "rf": "",
            "link": "",
            "remittance": payment["reference"],
            **payment,
        },
    }


def _line(
    line: Mapping[str, Any], snapshot: Mapping[str, Any], *, includes_tax: bool
) -> dict[str, Any]:
    price, base = net_price(line, snapshot["currency"], includes_tax=includes_tax)
    reasons = [
        (group["reason_code"], group["reason"])
        for group in snapshot["tax_groups"]
        if (group["category"], group["percent"]) == (line["category"], line["percent"])
    ]
    code, reason = reasons[0] if reasons else ("", "")
    return {
        "id": str(line["position"]),
        "kind": "",
        "horse_id": "",
        "work": "",
        "feet": {},
        "includes_tax": includes_tax,
        "net_price": price,
        "base_quantity": base,
        "allowances": [],
        "reason_code": code,
        "reason": reason,
        **line,
    }


def net_price(
    line: Mapping[str, Any], currency: str, *, includes_tax: bool
) -> tuple[str, str]:
    """BT-146 and BT-149 of a line without allowances, as a document writes them."""
    if not includes_tax:
        return str(line["unit_price"]), "1"
    price, base = tax.price_of(
        Decimal(line["net"]),
        Decimal(line["quantity"]),
        decimals=money.exponent(currency),
    )
    return f"{price:f}", f"{base:f}"


def looks_like_vat_id(number: str, country: str) -> bool:
    """Whether a tax number is a VAT id (BT-31), which bears its country's prefix
    (BR-CO-09; Greece writes EL). Else it is a number of the tax office (BT-32)."""
    bare = number.replace(" ", "").upper()
    prefix = {"GR": "EL"}.get(country, country)
    return bool(prefix) and bare.startswith(prefix) and any(c.isdigit() for c in bare)


def means_of(iban: str, currency: str, payment: Mapping[str, Any]) -> str:
    """BT-81 (UNTDID 4461): 58 a SEPA transfer, 30 another transfer, 1 none named."""
    if iban and currency == "EUR":
        return "58"
    return "30" if iban or payment.get("account") else "1"
