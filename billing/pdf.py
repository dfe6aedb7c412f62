"""An invoice's page: the snapshot in, PDF bytes out. ``practice.pdf`` does the rest."""

from datetime import date
from decimal import Decimal
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string

from practice import pdf

LETTER_COUNTRIES = frozenset({"US", "CA", "MX", "PH", "CL", "CO"})
"""Where office paper is Letter; elsewhere it is A4 (ISO 216)."""

POST_CODE_LAST = frozenset({"GB", "IE", "US", "CA", "AU", "NZ"})
"""Where the post code stands behind the town; elsewhere before it. From memory (the
postal union's addressing pages show it country by country)."""

_CSS = Path(__file__).parent / "static" / "billing" / "print.css"


@cache
def _css() -> str:
    return _CSS.read_text(encoding="utf-8")


def maker() -> str:
    """Program and version that make the bytes."""
    return f"WeasyPrint {version('weasyprint')}"


def _town(party: dict[str, Any]) -> str:
    parts = [party["post_code"], party["town"]]
    if party["country"] in POST_CODE_LAST:
        parts.reverse()
    return " ".join(part for part in parts if part)


def _as_shown(snapshot: dict[str, Any]) -> dict[str, Any]:
    """Days as days and amounts as numbers, so that the template formats them as the
    pages do."""
    lines = [
        {
            **line,
            "service_day": line["service_day"]
            and date.fromisoformat(line["service_day"]),
            "unit_price": Decimal(line["unit_price"]),
            "amount": Decimal(line["amount"]),
            "whole": line["whole"] and Decimal(line["whole"]),
        }
        for line in snapshot["lines"]
    ]
    corrects = snapshot["corrects"]
    days = {line["service_day"] for line in lines}
    return {
        **snapshot,
        "issue_day": date.fromisoformat(snapshot["issue_day"]),
        "due_day": date.fromisoformat(snapshot["due_day"]),
        "corrects": corrects
        and {**corrects, "issue_day": date.fromisoformat(corrects["issue_day"])},
        "lines": lines,
        "one_day": days.pop() if len(days) == 1 else None,
        "has_quantities": any(line["quantity"] != "1" for line in lines),
        "totals": {key: Decimal(value) for key, value in snapshot["totals"].items()},
        "tax_groups": [
            {
                **group,
                "percent": group["percent"] and Decimal(group["percent"]),
                "basis": Decimal(group["basis"]),
                "tax": Decimal(group["tax"]),
            }
            for group in snapshot["tax_groups"]
        ],
        "seller_town": _town(snapshot["seller"]),
        "buyer_town": _town(snapshot["buyer"]),
        "is_credit": snapshot["kind"] == "381",
    }


def invoice_pdf(snapshot: dict[str, Any], *, identifier: bytes) -> bytes:
    """The PDF of an issued document, from its snapshot alone.

    Raises practice.pdf.PdfUnavailable where WeasyPrint's libraries are missing.
    """
    page = "letter" if snapshot["seller"]["country"] in LETTER_COUNTRIES else "A4"
    html = render_to_string(
        "pdf/invoice.html",
        {"doc": _as_shown(snapshot), "currency": snapshot["currency"]},
    )
    return pdf.render(
        html,
        css=f"@page {{ size: {page}; }}\n{_css()}",
        title=f"{snapshot['title'].capitalize()} {snapshot['number']}",
        lang=snapshot["language"],
        identifier=identifier,
    )
