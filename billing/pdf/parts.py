"""What the documents share: sheet, letterhead, parties, ways to pay."""

import base64
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from django.utils.safestring import SafeString

from billing import paying
from billing.paying import grouped, is_in_euros
from billing.words import Words
from practice import pdf
from practice.countries import town_line

LETTER_COUNTRIES = frozenset({"US", "CA", "MX", "PH", "CL", "CO"})
"""Where office paper is Letter; elsewhere it is A4 (ISO 216)."""

_CSS = Path(__file__).parent.parent / "static" / "billing" / "print.css"


@cache
def css_of(size: str, language: str) -> str:
    """The style sheet for a paper size and a language; few, so that each is read once
    a process."""
    w = pdf_words(language)
    page = f'"{w["page_of"]} " counter(page) " {w["of"]} " counter(pages)'
    return (
        f"{pdf.FONT_FACES}@page {{ size: {size}; @bottom-right {{ content: {page}; }} }}"
        f"\n{_CSS.read_text(encoding='utf-8')}"
    )


@cache
def pdf_words(language: str) -> Mapping[str, str]:
    """All words of a language by key, for templates."""
    from billing.words import CATALOGUE, words

    w = words(language)
    return {key: w.t(key) for key in CATALOGUE}


def paper_size(seller: Mapping[str, Any], wish: str = "") -> str:
    """``wish`` (A4 or letter) where the practice has one, else by its country."""
    return wish or ("letter" if seller["country"] in LETTER_COUNTRIES else "A4")


def drawn_all(value: Any) -> Any:
    """The same value with all its texts in characters that the fonts have."""
    if isinstance(value, str):
        return pdf.drawn(value)
    if isinstance(value, Mapping):
        return {key: drawn_all(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [drawn_all(part) for part in value]
    return value


def texts_of(value: Any) -> str:
    """All the texts within a value, one after another."""
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        value = list(value.values())
    if isinstance(value, list | tuple):
        return "\n".join(map(texts_of, value))
    return ""


def address(party: Mapping[str, Any], home: str = "") -> list[str]:
    """The lines of an address; the country's code where it isn't ``home``."""
    place = town_line(party["town"], party["post_code"], party["country"])
    country = party["country"] if party["country"] != home else ""
    lines = [*party["street"].splitlines(), ", ".join(filter(None, (place, country)))]
    return [line for line in lines if line]


def seller_shown(
    seller: Mapping[str, Any],
    w: Words,
    logo: bytes | None,
    *,
    is_taxed: bool = False,
) -> dict[str, Any]:
    """The letterhead and the line at the foot."""
    company, number = seller["company_number"], seller["tax_number"]
    # BT-32: shown where the e-invoice says it, not where nothing is taxed.
    local = seller.get("tax_id", "") if is_taxed else ""
    foot = [
        seller["legal_name"],
        company and f"{w.t('company_no')} {company}",
        number and f"{seller['number_word']} {number}",
        local and local != number and f"{w.t('tax_no')} {local}",
    ]
    return {
        "name": seller["name"],
        "legal_name": seller["legal_name"]
        if seller["legal_name"] != seller["name"]
        else "",
        "address": address(seller),
        "reach": " · ".join(filter(None, (seller["phone"], seller["email"]))),
        "foot": " · ".join(part for part in foot if part),
        "logo": logo and f"data:image/jpeg;base64,{base64.b64encode(logo).decode()}",
    }


def ways_to_pay(
    payment: Mapping[str, Any], w: Words, *, currency: str, due: Decimal
) -> dict[str, Any]:
    """The table of bank details, the transfer code as SVG and the link.

    ``payment`` as in a snapshot. The code stands only where it can be true: something
    is due, in euros, to a sound IBAN.
    """
    sort_word = "routing_number" if currency == "USD" else "sort_code"
    rows = [
        ("account_name", payment["account_name"]),
        ("bank", payment["bank_name"]),
        (sort_word, payment["sort_code"]),
        ("account", payment["account"]),
        ("iban", grouped(payment["iban"])),
        ("bic", payment["bic"]),
    ]
    has_account = bool(payment["account"] or payment["iban"])
    reference = grouped(payment["rf"]) if is_in_euros(payment, currency) else ""
    shown = [(_word(w, key), value) for key, value in rows if value]
    named = reference or payment["reference"]
    return {
        "rows": ([*shown, *([(w.t("reference"), named)] if named else [])])
        if has_account
        else [],
        "sentence": w.t("name_reference", reference=named)
        if named and not has_account
        else "",
        "qr": transfer_svg(payment, currency=currency, due=due),
        "link": payment["link"] if due > 0 else "",
    }


def _word(w: Words, key: str) -> str:
    return key.upper() if key in ("iban", "bic") else w.t(key)


def transfer_svg(
    payment: Mapping[str, Any], *, currency: str, due: Decimal
) -> SafeString | str:
    """The transfer code as inline SVG; empty where there can be none."""
    if due <= 0 or not is_in_euros(payment, currency):
        return ""
    try:
        code = paying.transfer_code(
            name=payment["account_name"][: paying.MOST_NAME],
            iban=payment["iban"],
            bic=payment["bic"],
            amount=due,
            reference=payment["rf"],
            text="" if payment["rf"] else payment["reference"],
        )
        return SafeString(paying.qr_svg(code))
    except paying.BadPayment:
        return ""
