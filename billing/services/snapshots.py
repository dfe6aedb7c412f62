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
from billing.models import ClientTerms, Invoice, InvoiceAllowance, InvoiceLine
from billing.selectors import paper_of, paper_settings, regime_of, terms_of
from billing.services.totals import DISCOUNT, reckon, told_with_tax
from billing.snapshot import FORMAT, PROFILE, looks_like_vat_id, means_of, net_price
from practice.models import Client, Practice


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
    """The snapshot of a document that is about to be issued. Format 2: every key of
    format 1 keeps its meaning, keys were only added (``billing.snapshot``)."""
    regime = regime_of(practice)
    allowances = list(invoice.allowances.order_by("position"))
    totals = reckon(invoice, lines, allowances).totals
    currency = invoice.currency
    corrects = invoice.corrects
    terms = terms_of(invoice.client)
    seller = _seller(practice, regime.number_word)
    return {
        "format": FORMAT,
        "profile": PROFILE,
        "rules": tax.RULES,
        "kind": invoice.kind,
        "title": invoice.get_kind_display(),
        "number": number,
        "issue_day": issue_day.isoformat(),
        "due_day": due_day.isoformat(),
        "currency": currency,
        "currency_decimals": money.exponent(currency),
        "language": practice.language_to(invoice.client),
        "prices_include_tax": invoice.prices_include_tax,
        "tax_word": regime.tax_word,
        "tax_regime": regime.code,
        "corrects": corrects
        and {"number": corrects.number, "issue_day": str(corrects.issue_day)},
        "seller": seller,
        "buyer": _buyer(invoice.client, terms, practice),
        "barn": invoice.visit.barn.name if invoice.visit and invoice.visit.barn else "",
        "lines": [_line(line, invoice) for line in lines],
        "adjustments": [_adjustment(row, currency) for row in allowances],
        "prepayments": _prepayments(lines, currency),
        "tax_groups": [
            _group(group, [*lines, *allowances], currency) for group in totals.groups
        ],
        "totals": {
            name: money.written(getattr(totals, name), currency)
            for name in (
                *("line_total", "allowance_total", "charge_total", "tax_basis"),
                *("tax", "total", "prepaid", "rounding", "due"),
            )
        },
        "payment": _payment(practice, seller, number, currency, totals.due),
        "paper": paper_of(paper_settings()),
        "terms": practice.invoice_terms,
        "note": invoice.note,
    }


def _payment(
    practice: Practice,
    seller: dict[str, Any],
    number: str,
    currency: str,
    due: Decimal,
) -> dict[str, str]:
    # Both load the check digits' library.
    from billing.paying import pay_link
    from billing.references import rf_of

    named = {
        "reference": number,
        "bank_name": practice.bank_name,
        "account": practice.bank_account,
        "sort_code": practice.bank_sort_code,
        "iban": practice.iban,
        "bic": practice.bic,
    }
    return {
        **named,
        "means": means_of(practice.iban, currency, named),
        "account_name": seller["legal_name"],
        "rf": rf_of(number),
        "link": pay_link(
            paper_settings().pay_link, number=number, amount=due, currency=currency
        ),
        "remittance": number,
    }


def _seller(practice: Practice, number_word: str) -> dict[str, Any]:
    number = practice.tax_number
    is_vat = practice.tax_registered and looks_like_vat_id(number, practice.country)
    return {
        "name": practice.name,
        "legal_name": practice.legal_name or practice.name,
        **_address(practice),
        "phone": practice.phone,
        "email": practice.email,
        "tax_number": number if practice.tax_registered else "",
        "number_word": number_word,
        "company_number": practice.company_number,
        "registered": practice.tax_registered,
        "vat_id": number.replace(" ", "") if is_vat else "",
        "tax_id": "" if is_vat else number,
        "registration": practice.company_number,
    }


def _buyer(client: Client, terms: ClientTerms, practice: Practice) -> dict[str, str]:
    return {
        "name": client.name,
        **_address(client),
        "email": client.email,
        "tax_number": client.tax_number,
        "id": str(client.pk),
        "vat_id": client.tax_number.replace(" ", ""),
        "reference": terms.reference,
        "language": practice.language_to(client),
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


def _line(line: InvoiceLine, invoice: Invoice) -> dict[str, Any]:
    currency = invoice.currency
    said = {
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
    return {
        **said,
        "id": str(line.position),
        "kind": line.rule or "",
        "horse_id": str(line.horse_id or ""),
        "work": line.work_words or "",
        "feet": _feet(line),
        "includes_tax": told_with_tax(invoice, line),
        "reason_code": line.tax_reason_code,
        "reason": line.tax_reason,
        **_price(line, invoice, said),
    }


def _price(line: InvoiceLine, invoice: Invoice, said: dict[str, Any]) -> dict[str, Any]:
    """The price without tax and its base, and the line's allowance: with them the
    line's net comes out exactly (BT-131)."""
    currency = invoice.currency
    decimals = money.exponent(currency)
    includes_tax = told_with_tax(invoice, line)
    allowance = line.allowance or Decimal(0)
    if not allowance:
        price, base = net_price(said, currency, includes_tax=includes_tax)
        if not includes_tax and line.base_quantity:
            base = f"{line.base_quantity.normalize():f}"
        return {"net_price": price, "base_quantity": base, "allowances": []}
    taken = allowance
    if includes_tax:
        taken = tax.net_of(allowance, line.tax_percent, decimals=decimals)
    before = line.net + taken
    found, quantity = (line.unit_price, line.base_quantity or Decimal(1))
    if includes_tax:
        found, quantity = tax.price_of(before, line.quantity, decimals=decimals)
    return {
        "net_price": f"{found.normalize():f}",
        "base_quantity": f"{quantity.normalize():f}",
        "allowances": [
            {
                "charge": False,
                "amount": money.written(allowance, currency),
                "net": money.written(taken, currency),
                "percent": None,
                "base": None,
                "reason": line.allowance_reason or "",
                "reason_code": DISCOUNT,
            }
        ],
    }


def _feet(line: InvoiceLine) -> dict[str, str]:
    """Foot → what was done to it, where the record says it."""
    if line.record is None:
        return {}
    return {
        foot.foot: foot.work
        for foot in line.record.feet.all()
        if foot.work and foot.work != "none"
    }


def _prepayments(lines: Sequence[InvoiceLine], currency: str) -> list[dict[str, Any]]:
    """The prepayment invoices that lines take off, with what was taken (with tax)."""
    taken: dict[Invoice, Decimal] = {}
    for line in lines:
        if line.prepayment is not None:
            before = taken.get(line.prepayment, Decimal(0))
            taken[line.prepayment] = before - line.amount
    return [
        {
            "number": document.number,
            "issue_day": str(document.issue_day),
            "amount": money.written(amount, currency),
        }
        for document, amount in taken.items()
    ]


def _adjustment(row: InvoiceAllowance, currency: str) -> dict[str, Any]:
    return {
        "charge": row.is_charge,
        "amount": money.written(row.amount, currency),
        "net": money.written(row.net, currency),
        "percent": _number(row.percent),
        "base": None if row.base is None else money.written(row.base, currency),
        "reason": row.reason,
        "reason_code": row.reason_code,
        "category": row.tax_category,
        "rate": _number(row.tax_percent),
    }


def _group(
    group: tax.TaxGroup,
    parts: Sequence[InvoiceLine | InvoiceAllowance],
    currency: str,
) -> dict[str, Any]:
    reasons = sorted(
        {
            (part.tax_reason_code, part.tax_reason)
            for part in parts
            if part.tax_category == group.category and part.tax_reason
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
