"""Snapshots of issued documents for tests, made without a database: format 2."""

from copy import deepcopy
from decimal import Decimal

from billing import money, tax

VAT_REASONS = {
    "E": ("VATEX-EU-O", "Exempt."),
    "O": ("VATEX-EU-O", "Not subject to VAT: the seller is not registered."),
    "AE": ("VATEX-EU-AE", "Reverse charge"),
    "Z": ("", ""),
    "S": ("", ""),
}


def line(
    name="Bramble: Full set",
    *,
    net="95.00",
    rate="20",
    category="S",
    quantity="1",
    **over,
):
    """One line at a net price for the whole quantity; its gross is reckoned."""
    amount = Decimal(net)
    pieces = abs(Decimal(quantity))
    return {
        "position": 1,
        "id": "1",
        "name": name,
        "note": "",
        "kind": "work",
        "horse": name.partition(":")[0],
        "horse_id": "",
        "work": "",
        "feet": {},
        "service_day": "2026-11-24",
        "quantity": quantity,
        "unit": "C62",
        "unit_price": f"{money.rounded(abs(amount) / pieces, 2)}",
        "net_price": f"{abs(amount)}",
        "base_quantity": f"{pieces}",
        "includes_tax": False,
        "amount": net,
        "net": net,
        "share": None,
        "whole": None,
        "category": category,
        "percent": None if category == "O" else rate,
        "allowances": [],
        "reason_code": "",
        "reason": "",
        **over,
    }


def snapshot(lines=None, *, seller=None, buyer=None, payment=None, **over):
    """A whole snapshot; the totals are those of ``billing.tax`` over the lines."""
    rows = [
        {**deepcopy(row), "position": n, "id": str(n)}
        for n, row in enumerate(lines or [line()], 1)
    ]
    currency = over.get("currency", "GBP")
    adjustments = over.get("adjustments", [])

    def entry(row):
        rate = row.get("percent", row.get("rate"))
        return tax.Entry(
            Decimal(row["net"]),
            tax.Category(row["category"]),
            None if rate is None else Decimal(rate),
        )

    totals = tax.totals(
        [entry(row) for row in rows],
        [entry({**r, "percent": r["rate"]}) for r in adjustments if not r["charge"]],
        [entry({**r, "percent": r["rate"]}) for r in adjustments if r["charge"]],
        prepaid=Decimal(over.pop("prepaid", "0")),
        rounding=Decimal(over.pop("rounding", "0")),
    )
    number = over.get("number", "INV-00017")
    return {
        "format": 2,
        "profile": "urn:cen.eu:en16931:2017",
        "rules": tax.RULES,
        "tax_regime": "GB",
        "currency_decimals": 2,
        "kind": "380",
        "title": "invoice",
        "number": number,
        "issue_day": "2026-11-25",
        "due_day": "2026-12-09",
        "currency": currency,
        "language": "en",
        "prices_include_tax": False,
        "tax_word": "VAT",
        "corrects": None,
        "seller": {
            "name": "Whinbrae Forge",
            "legal_name": "Whinbrae Forge Ltd",
            "street": "3 Smithy Row",
            "town": "Melrose",
            "post_code": "TD6 9AA",
            "country": "GB",
            "phone": "01632 960321",
            "email": "forge@example.org",
            "tax_number": "GB123456789",
            "number_word": "VAT no.",
            "company_number": "SC000000",
            "vat_id": "GB123456789",
            "tax_id": "",
            "registration": "SC000000",
            "registered": True,
            **(seller or {}),
        },
        "buyer": {
            "id": "7",
            "name": "Elspeth Ainslie",
            "street": "1 Mill Lane",
            "town": "Kelso",
            "post_code": "TD5 7AB",
            "country": "GB",
            "email": "elspeth@example.org",
            "tax_number": "",
            "vat_id": "",
            "reference": "",
            "language": "en",
            **(buyer or {}),
        },
        "barn": "Fairnielaw Stables",
        "lines": rows,
        "adjustments": adjustments,
        "prepayments": [],
        "tax_groups": [
            {
                "category": str(group.category),
                "percent": None if group.rate is None else f"{group.rate}",
                "basis": f"{group.basis}",
                "tax": f"{group.tax}",
                "reason_code": VAT_REASONS[group.category][0],
                "reason": VAT_REASONS[group.category][1],
            }
            for group in totals.groups
        ],
        "totals": {
            name: f"{getattr(totals, name)}"
            for name in (
                *("line_total", "allowance_total", "charge_total", "tax_basis"),
                *("tax", "total", "prepaid", "rounding", "due"),
            )
        },
        "payment": {
            "reference": number,
            "means": "30",
            "remittance": number,
            "rf": "",
            "link": "",
            "account_name": "Whinbrae Forge",
            "bank_name": "Tweed Bank",
            "account": "12345678",
            "sort_code": "00-00-00",
            "iban": "",
            "bic": "",
            **(payment or {}),
        },
        "terms": "Thank you.",
        "note": "",
        "paper": {"size": "", "logo": "", "feet": False},
        **over,
    }


EUROS = {
    "currency": "EUR",
    "payment": {
        "means": "58",
        "iban": "DE75512108001245126199",
        "bic": "",
        "account": "",
        "sort_code": "",
        "rf": "RF18539007547034",
        "remittance": "RF18539007547034",
    },
    "seller": {
        "country": "DE",
        "tax_number": "DE123456789",
        "vat_id": "DE123456789",
        "registration": "",
        "company_number": "",
    },
    "buyer": {"country": "DE"},
    "tax_word": "USt",
}
"""A seller in Germany; the IBAN is the European Payments Council's sample."""
