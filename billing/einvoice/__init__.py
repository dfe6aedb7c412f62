"""E-invoices: an issued document's snapshot as XML by EN 16931. Pure.

One reading of the snapshot (``document.read``), two syntaxes: UN/CEFACT Cross Industry
Invoice (``cii``), which goes into the PDF, and OASIS UBL 2.1 (``ubl``). Rule texts: CEN
validation artefacts 1.3.16. The tests run the published schemas and rules over both.
"""

from billing.einvoice.cii import cii
from billing.einvoice.document import Document, Unsayable, has_vat_system, read
from billing.einvoice.hybrid import FILE_NAME, xmp
from billing.einvoice.ubl import ubl

MAKER = "EN 16931 writer 1"
"""What is noted beside stored XML: our own writer, and its version."""

__all__ = [
    "FILE_NAME",
    "MAKER",
    "Document",
    "Unsayable",
    "cii",
    "has_vat_system",
    "read",
    "ubl",
    "xmp",
]
