"""Statements and receipts: what an account says on a day, as paper. Pure data in.

Neither is an invoice: they are made when they are asked for, from the books as they
stand, and are not kept.
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string

from billing.pdf.parts import (
    address,
    css_of,
    drawn_all,
    paper_size,
    pdf_words,
    seller_shown,
    ways_to_pay,
)
from billing.words import words
from practice import pdf

AGES = ("not_due", "days_1_30", "days_31_60", "days_61_90", "days_90")


def statement_pdf(data: Mapping[str, Any], *, logo: bytes | None = None) -> bytes:
    """The PDF of a client's statement.

    ``data``: ``seller`` and ``buyer`` as in a snapshot, ``language``, ``currency``,
    ``size`` (of the paper, may be empty), ``from_day``, ``to_day`` (dates),
    ``opening``, ``closing`` (decimals; above 0: owed), ``entries``: rows of ``day``,
    ``what`` (a key of the catalogue), ``number``, ``amount`` (above 0: owed more),
    ``balance``; ``open``: rows of ``number``, ``due_day``, ``amount``, ``is_late``;
    ``aged``: amounts in the order of ``AGES``, may be empty; ``pay``: as ``payment``
    in a snapshot.

    Raises practice.pdf.PdfUnavailable where WeasyPrint's libraries are missing.
    """
    data = drawn_all(data)
    w = words(data["language"])
    currency, closing = data["currency"], data["closing"]

    def row(entry: Mapping[str, Any]) -> dict[str, str]:
        amount = entry["amount"]
        return {
            "day": w.short_day(entry["day"]),
            "what": w.t(entry["what"]),
            "number": entry["number"],
            "charged": w.money(amount, currency) if amount > 0 else "",
            "taken_off": w.money(-amount, currency) if amount <= 0 else "",
            "balance": w.money(entry["balance"], currency),
        }

    doc = {
        **_shared(data, logo),
        "title": w.t("statement"),
        "number": w.short_day(data["to_day"]),
        "period": w.t(
            "from_to", start=w.day(data["from_day"]), end=w.day(data["to_day"])
        ),
        "opening": w.money(data["opening"], currency),
        "entries": [row(entry) for entry in data["entries"]],
        "closing_word": w.t("closing" if closing >= 0 else "in_credit"),
        "closing": w.money(abs(closing), currency),
        "open": [
            {
                "number": one["number"],
                "due": w.short_day(one["due_day"]),
                "is_late": one["is_late"],
                "amount": w.money(one["amount"], currency),
            }
            for one in data["open"]
        ],
        "aged": [
            (w.t(key), w.money(amount, currency))
            for key, amount in zip(AGES, data["aged"], strict=False)
        ],
        "pay": ways_to_pay(data["pay"], w, currency=currency, due=closing)
        if closing > 0
        else None,
    }
    return _rendered("pdf/statement.html", doc, data)


def receipt_pdf(data: Mapping[str, Any], *, logo: bytes | None = None) -> bytes:
    """The PDF of a receipt.

    ``data``: ``seller``, ``buyer``, ``language``, ``currency``, ``size`` as for a
    statement; ``number``, ``day``, ``amount``, ``method`` (a key of the catalogue),
    ``reference``; ``parts``: rows of ``number``, ``issue_day``, ``amount`` (paid now)
    and ``open`` (left open after it); ``left``: what stays as the client's credit.

    Raises practice.pdf.PdfUnavailable where WeasyPrint's libraries are missing.
    """
    data = drawn_all(data)
    w = words(data["language"])
    currency = data["currency"]
    doc = {
        **_shared(data, logo),
        "title": w.t("receipt"),
        "number": data["number"],
        "facts": [
            (w.t("paid_on"), w.day(data["day"])),
            (w.t("paid_by"), w.t(data["method"])),
            *([(w.t("reference"), data["reference"])] if data["reference"] else []),
        ],
        "parts": [
            {
                "number": part["number"],
                "day": w.short_day(part["issue_day"]),
                "amount": w.money(part["amount"], currency),
                "state": _left(part["open"], currency, w),
            }
            for part in data["parts"]
        ],
        "left": w.money(data["left"], currency) if data["left"] > 0 else "",
        "amount": w.money(data["amount"], currency),
    }
    return _rendered("pdf/receipt.html", doc, data)


def _left(amount: Decimal, currency: str, w: Any) -> str:
    if amount <= 0:
        return str(w.t("paid_in_full"))
    return f"{w.money(amount, currency)} {w.t('still_open')}"


def _shared(data: Mapping[str, Any], logo: bytes | None) -> dict[str, Any]:
    w = words(data["language"])
    seller, buyer = data["seller"], data["buyer"]
    return {
        "words": pdf_words(w.language),
        "language": data["language"],
        "seller": seller_shown(seller, w, logo),
        "buyer": {
            "name": buyer["name"],
            "address": address(buyer, home=seller["country"]),
        },
    }


def _rendered(template: str, doc: dict[str, Any], data: Mapping[str, Any]) -> bytes:
    html = render_to_string(template, {"doc": doc, "w": doc["words"]})
    size = paper_size(data["seller"], data.get("size", ""))
    return pdf.render(
        html,
        css=css_of(size, words(data["language"]).language),
        title=f"{doc['title']} {doc['number']}",
        lang=data["language"],
    )


def as_of(day: date) -> str:
    """How a statement of a day is named as a file."""
    return f"statement-{day.isoformat()}.pdf"
