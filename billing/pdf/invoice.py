"""An issued document's page, from its snapshot alone."""

from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from billing import einvoice
from billing.pdf.parts import (
    address,
    css_of,
    drawn_all,
    paper_size,
    pdf_words,
    seller_shown,
    texts_of,
    ways_to_pay,
)
from billing.snapshot import as_current
from billing.words import Words, words
from horses.drawing.small import KINDS, small_feet
from practice import pdf

_TITLES = {"380": "invoice", "381": "credit_note", "386": "prepayment_invoice"}
_UNITS = ("HUR", "KMT", "SMI")


def invoice_pdf(
    snapshot: dict[str, Any], *, identifier: bytes, logo: bytes | None = None
) -> bytes:
    """The PDF/A-3u of an issued document, from its snapshot alone, with the e-invoice
    in it where one can be said.

    ``logo``: the JPEG that the snapshot names. Raises practice.pdf.PdfUnavailable
    where WeasyPrint's libraries are missing.
    """
    snapshot = as_current(snapshot)
    w = words(snapshot["language"])
    doc = said(snapshot, logo=logo)
    html = render_to_string("pdf/invoice.html", {"doc": doc, "w": doc["words"]})
    paper = snapshot.get("paper") or {}
    return pdf.render(
        html,
        css=css_of(paper_size(snapshot["seller"], paper.get("size", "")), w.language),
        title=f"{doc['title']} {doc['number']}",
        lang=snapshot["language"],
        identifier=identifier,
        archival=_archival(snapshot),
    )


def _archival(snapshot: dict[str, Any]) -> pdf.Archival:
    made = datetime.combine(date.fromisoformat(snapshot["issue_day"]), time())
    author = pdf.drawn(snapshot["seller"]["legal_name"])
    try:
        document = einvoice.read(snapshot)
    except einvoice.Unsayable:
        return pdf.Archival(made=made, author=author)
    return pdf.Archival(
        made=made,
        author=author,
        attached=pdf.Attached(
            name=einvoice.FILE_NAME,
            content=einvoice.cii(document),
            description=f"{_TITLES[snapshot['kind']]} {snapshot['number']} as XML",
        ),
        xmp=einvoice.xmp(),
    )


def unshown(snapshot: dict[str, Any]) -> str:
    """Characters that the page of this document would show as ``[?]``."""
    return pdf.undrawn(texts_of(as_current(snapshot)))


def said(snapshot: dict[str, Any], *, logo: bytes | None = None) -> dict[str, Any]:
    """All that the page shows, as texts in the document's language."""
    snapshot = drawn_all(as_current(snapshot))
    w = words(snapshot["language"])
    is_credit = snapshot["kind"] == "381"
    due = Decimal(snapshot["totals"]["due"])
    tax = snapshot["tax_word"]
    lines = [_line(line, snapshot, w) for line in snapshot["lines"]]
    days = {line["service_day"] for line in snapshot["lines"]}
    one_day = days.pop() if len(days) == 1 else None
    return {
        "words": pdf_words(w.language),
        "language": snapshot["language"],
        "title": w.t(_TITLES[snapshot["kind"]]),
        "number": snapshot["number"],
        "is_credit": is_credit,
        "seller": seller_shown(
            snapshot["seller"],
            w,
            logo,
            is_taxed=all(group["category"] != "O" for group in snapshot["tax_groups"]),
        ),
        "buyer": _buyer(snapshot),
        "facts": _facts(snapshot, w, one_day),
        "lines": [{**line, "day": "" if one_day else line["day"]} for line in lines],
        "has_quantities": any(line["quantity"] != "1" for line in snapshot["lines"]),
        "has_nets": any(line["includes_tax"] for line in snapshot["lines"]),
        "is_shared": any(line["share"] for line in snapshot["lines"]),
        "feet_key": _feet_key(snapshot, w),
        "tax": tax[:1].upper() + tax[1:],
        "without_tax": w.t("without_tax", tax=tax),
        "with_tax": w.t("with_tax", tax=tax),
        "groups": [_group(group, snapshot, w) for group in snapshot["tax_groups"]],
        "sums": _sums(snapshot, w),
        "due": w.money(due, snapshot["currency"]),
        "note": snapshot["note"],
        "terms": "" if is_credit else snapshot["terms"],
        "pay": None
        if is_credit or due <= 0
        else ways_to_pay(
            snapshot["payment"], w, currency=snapshot["currency"], due=due
        ),
    }


def _buyer(snapshot: Mapping[str, Any]) -> dict[str, Any]:
    buyer, seller = snapshot["buyer"], snapshot["seller"]
    number = buyer["vat_id"] or buyer["tax_number"]
    return {
        "name": buyer["name"],
        "address": address(buyer, home=seller["country"]),
        "number": number and f"{seller['number_word']} {number}",
    }


def _facts(
    snapshot: Mapping[str, Any], w: Words, one_day: str | None
) -> list[tuple[str, str, bool]]:
    """(word, value, whether it stands out)."""

    def day(text: str) -> str:
        return w.day(date.fromisoformat(text))

    def named(row: Mapping[str, str]) -> str:
        issued = w.short_day(date.fromisoformat(row["issue_day"]))
        return w.t("number_of_day", number=row["number"], day=issued)

    corrects = snapshot["corrects"]
    rows = [
        ("issued", day(snapshot["issue_day"]), False),
        ("work_done", day(one_day) if one_day else "", False),
        ("at", snapshot["barn"], False),
        ("your_reference", snapshot["buyer"]["reference"], False),
        *(("takes_off", named(row), False) for row in snapshot["prepayments"]),
        ("credits_invoice", named(corrects) if corrects else "", False),
        ("pay_by", "" if corrects else day(snapshot["due_day"]), True),
    ]
    return [(w.t(key), value, stands_out) for key, value, stands_out in rows if value]


def _line(line: Mapping[str, Any], snapshot: Mapping[str, Any], w: Words) -> Any:
    currency = snapshot["currency"]

    def money(text: str) -> str:
        return w.money(Decimal(text), currency)

    unit = line["unit"]
    quantity = w.number(Decimal(line["quantity"]))
    shared = w.t("in_all", amount=money(line["whole"])) if line["whole"] else ""
    feet = _feet(line, snapshot)
    return {
        "name": line["name"],
        "work": line["work"] if line["work"] != line["name"] else "",
        "day": w.day(date.fromisoformat(line["service_day"]))
        if line["service_day"]
        else "",
        "note": ", ".join(filter(None, (line["note"], shared))),
        "adjustments": [
            f"{part['reason']} {_signed(part, 'amount', currency, w)}"
            for part in line["allowances"]
        ],
        "quantity": f"{quantity} {w.t(f'unit_{unit}')}" if unit in _UNITS else quantity,
        "price": money(line["unit_price"]),
        "rate": "–" if line["percent"] is None else w.percent(Decimal(line["percent"])),
        "net": money(line["net"]),
        "amount": money(line["amount"]),
        "feet": SafeString(small_feet(feet)) if feet else "",
    }


def _signed(part: Mapping[str, Any], key: str, currency: str, w: Words) -> str:
    amount = Decimal(part[key])
    return w.money(amount if part["charge"] else -amount, currency)


def _feet(line: Mapping[str, Any], snapshot: Mapping[str, Any]) -> dict[str, str]:
    """What was done to each foot, where the practice wants it drawn."""
    if not (snapshot.get("paper") or {}).get("feet"):
        return {}
    return {foot: kind for foot, kind in line["feet"].items() if kind in KINDS}


def _feet_key(snapshot: Mapping[str, Any], w: Words) -> list[tuple[SafeString, str]]:
    used = {
        kind for line in snapshot["lines"] for kind in _feet(line, snapshot).values()
    }
    return [
        (SafeString(small_feet({"": kind})), w.t(f"feet_{kind}"))
        for kind in KINDS
        if kind in used
    ]


def _group(group: Mapping[str, Any], snapshot: Mapping[str, Any], w: Words) -> Any:
    percent = group["percent"]
    return {
        "rate": w.t("none") if percent is None else w.percent(Decimal(percent)),
        "basis": w.money(Decimal(group["basis"]), snapshot["currency"]),
        "tax": w.money(Decimal(group["tax"]), snapshot["currency"]),
        "reason": group["reason"],
    }


def _sums(snapshot: Mapping[str, Any], w: Words) -> list[tuple[str, str, bool]]:
    """(word, amount, whether it is the last one)."""
    totals, currency, tax = (
        snapshot["totals"],
        snapshot["currency"],
        snapshot["tax_word"],
    )

    def money(key: str, sign: int = 1) -> str:
        return w.money(sign * Decimal(totals[key]), currency)

    rows: list[tuple[str, str, bool]] = []
    if snapshot["adjustments"]:
        rows.append((w.t("lines_total"), money("line_total"), False))
        rows += [
            (part["reason"], _signed(part, "net", currency, w), False)
            for part in snapshot["adjustments"]
        ]
    rows += [
        (w.t("without_tax", tax=tax), money("tax_basis"), False),
        (tax[:1].upper() + tax[1:], money("tax"), False),
    ]
    if Decimal(totals["rounding"]) or Decimal(totals["prepaid"]):
        rows.append((w.t("with_tax_total", tax=tax), money("total"), False))
    if Decimal(totals["rounding"]):
        rows.append((w.t("rounding"), money("rounding"), False))
    if Decimal(totals["prepaid"]):
        rows.append((w.t("prepaid"), money("prepaid", -1), False))
    last = "credited" if snapshot["kind"] == "381" else "amount_due"
    return [*rows, (w.t(last), money("due"), True)]
