"""What an issued document says, as one JSON value: parties, lines, totals, tax.

The PDF is made from this alone, so that nothing that changes later changes it.
"""

import hashlib
import json
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from billing import money, tax
from billing.models import Invoice, InvoiceLine
from billing.selectors import regime_of
from billing.services.lines import reckon
from practice.models import Client, Practice

FORMAT = 1


def digest(snapshot: dict[str, Any]) -> str:
    """SHA-256 of the snapshot in one canonical spelling."""
    text = json.dumps(
        snapshot, sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )
    return hashlib.sha256(text.encode()).hexdigest()


def build(
    *,
    invoice: Invoice,
    lines: Sequence[InvoiceLine],
    practice: Practice,
    number: str,
    issue_day: date,
    due_day: date,
) -> dict[str, Any]:
    """The snapshot of a document that is about to be issued."""
    regime = regime_of(practice)
    totals, _ = reckon(invoice, lines)
    currency = invoice.currency
    corrects = invoice.corrects
    return {
        "format": FORMAT,
        "rules": tax.RULES,
        "kind": invoice.kind,
        "title": invoice.get_kind_display(),
        "number": number,
        "issue_day": issue_day.isoformat(),
        "due_day": due_day.isoformat(),
        "currency": currency,
        "language": practice.language,
        "prices_include_tax": invoice.prices_include_tax,
        "tax_word": regime.tax_word,
        "corrects": corrects
        and {"number": corrects.number, "issue_day": str(corrects.issue_day)},
        "seller": _seller(practice, regime.number_word),
        "buyer": _buyer(invoice.client),
        "barn": invoice.visit.barn.name if invoice.visit and invoice.visit.barn else "",
        "lines": [_line(line, currency) for line in lines],
        "tax_groups": [_group(group, lines, currency) for group in totals.groups],
        "totals": {
            name: money.written(getattr(totals, name), currency)
            for name in (
                *("line_total", "allowance_total", "charge_total", "tax_basis"),
                *("tax", "total", "prepaid", "rounding", "due"),
            )
        },
        "payment": {
            "reference": number,
            "bank_name": practice.bank_name,
            "account": practice.bank_account,
            "sort_code": practice.bank_sort_code,
            "iban": practice.iban,
            "bic": practice.bic,
        },
        "terms": practice.invoice_terms,
        "note": invoice.note,
    }


def _seller(practice: Practice, number_word: str) -> dict[str, str]:
    return {
        "name": practice.name,
        "legal_name": practice.legal_name or practice.name,
        **_address(practice),
        "phone": practice.phone,
        "email": practice.email,
        "tax_number": practice.tax_number if practice.tax_registered else "",
        "number_word": number_word,
        "company_number": practice.company_number,
    }


def _buyer(client: Client) -> dict[str, str]:
    return {
        "name": client.name,
        **_address(client),
        "email": client.email,
        "tax_number": client.tax_number,
    }


def _address(party: Practice | Client) -> dict[str, str]:
    return {
        "street": party.street,
        "town": party.town,
        "post_code": party.post_code,
        "country": party.country,
    }


def _number(value: Decimal | None) -> str | None:
    return None if value is None else f"{value.normalize():f}"


def _line(line: InvoiceLine, currency: str) -> dict[str, Any]:
    return {
        "position": line.position,
        "name": line.name,
        "note": line.note,
        "horse": line.horse.name if line.horse else "",
        "service_day": line.service_day and line.service_day.isoformat(),
        "quantity": _number(line.quantity),
        "unit": line.unit,
        "unit_price": money.written(line.unit_price, currency),
        "amount": money.written(line.amount, currency),
        "net": money.written(line.net, currency),
        "share": _number(line.share),
        "whole": None if line.whole is None else money.written(line.whole, currency),
        "category": line.tax_category,
        "percent": _number(line.tax_percent),
    }


def _group(
    group: tax.TaxGroup, lines: Sequence[InvoiceLine], currency: str
) -> dict[str, Any]:
    reasons = sorted(
        {
            (line.tax_reason_code, line.tax_reason)
            for line in lines
            if line.tax_category == group.category and line.tax_reason
        }
    )
    code, reason = reasons[0] if reasons else ("", "")
    return {
        "category": str(group.category),
        "percent": _number(group.rate),
        "basis": money.written(group.basis, currency),
        "tax": money.written(group.tax, currency),
        "reason_code": code,
        "reason": reason,
    }
