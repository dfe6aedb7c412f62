"""Documents on paper: frozen values in, PDF bytes out. ``practice.pdf`` does the rest.

An issued document is a PDF/A-3u with its e-invoice inside where the seller's country
has one; statements and receipts are plain tagged PDFs.
"""

from importlib import import_module
from importlib.metadata import version

from django.template.loader import get_template

from billing.pdf.accounts import as_of, receipt_pdf, statement_pdf
from billing.pdf.invoice import invoice_pdf, said, unshown
from billing.pdf.parts import LETTER_COUNTRIES, css_of
from practice import pdf as press

__all__ = [
    "LETTER_COUNTRIES",
    "as_of",
    "invoice_pdf",
    "maker",
    "prewarm",
    "receipt_pdf",
    "said",
    "statement_pdf",
    "unshown",
]


def maker() -> str:
    """Program and version that make the bytes."""
    return f"WeasyPrint {version('weasyprint')}"


def prewarm() -> None:
    """Loads what the first invoice of a process would wait for."""
    for name in ("lxml.etree", "segno", "stdnum.iban", "stdnum.bic"):
        import_module(name)
    press.prewarm(*(css_of(size, "en") for size in ("A4", "letter")))
    get_template("pdf/invoice.html")
