"""Documents on paper: frozen values in, PDF bytes out. ``practice.pdf`` does the rest.

An issued document is a PDF/A-3u with its e-invoice inside where the seller's country
has one; statements and receipts are plain tagged PDFs.
"""

from importlib.metadata import version

from billing.pdf.accounts import as_of, receipt_pdf, statement_pdf
from billing.pdf.invoice import invoice_pdf, said, unshown
from billing.pdf.parts import LETTER_COUNTRIES

__all__ = [
    "LETTER_COUNTRIES",
    "as_of",
    "invoice_pdf",
    "maker",
    "receipt_pdf",
    "said",
    "statement_pdf",
    "unshown",
]


def maker() -> str:
    """Program and version that make the bytes."""
    return f"WeasyPrint {version('weasyprint')}"
