"""The issued bytes: made once from the snapshot, filed under their SHA-256, then only
ever read. Another version of a library would give other bytes, so an issued document
is never rendered again.
"""

import hashlib
import os
import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from billing import einvoice, pdf
from billing.models import Invoice, Rendition
from billing.selectors import logo_bytes
from practice.errors import Refused


def path_of(sha256: str, kind: str = Rendition.Kind.PDF) -> Path:
    """Where bytes with this digest are kept."""
    suffix = "pdf" if kind == Rendition.Kind.PDF else "xml"
    return Path(settings.DOCUMENTS_ROOT) / sha256[:2] / f"{sha256}.{suffix}"


def _file(content: bytes, kind: str) -> str:
    """Keeps bytes under their digest: a temporary file, then a rename."""
    sha256 = hashlib.sha256(content).hexdigest()
    target = path_of(sha256, kind)
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, suffix=".part")
        with os.fdopen(handle, "wb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
        Path(name).replace(target)
    return sha256


@transaction.atomic
def render(*, invoice: Invoice, kind: str = Rendition.Kind.PDF) -> Rendition:
    """A form of an issued document: the PDF, or its e-invoice in one of two syntaxes;
    made if it isn't there yet, never anew.

    Raises Refused for a draft, and where there can be no e-invoice, with the reason;
    practice.pdf.PdfUnavailable where the system lacks WeasyPrint's libraries.
    """
    there = Rendition.objects.filter(invoice=invoice, kind=kind).first()
    if there is not None:
        return there
    if not invoice.is_issued or invoice.snapshot is None:
        raise Refused("A draft has no PDF: issue it first.")
    content, maker = _made(invoice, invoice.snapshot, kind)
    rendition, _ = Rendition.objects.get_or_create(
        invoice=invoice,
        kind=kind,
        defaults={
            "sha256": _file(content, kind),
            "size": len(content),
            "maker": maker,
        },
    )
    return rendition


def _made(invoice: Invoice, snapshot: dict[str, Any], kind: str) -> tuple[bytes, str]:
    if kind == Rendition.Kind.PDF:
        paper = snapshot.get("paper") or {}
        content = pdf.invoice_pdf(
            snapshot,
            identifier=bytes.fromhex(invoice.snapshot_sha256)[:16],
            logo=logo_bytes(paper.get("logo", "")),
        )
        return content, pdf.maker()
    try:
        document = einvoice.read(snapshot)
    except einvoice.Unsayable as fault:
        raise Refused(str(fault)) from fault
    write = einvoice.cii if kind == Rendition.Kind.CII else einvoice.ubl
    return write(document), einvoice.MAKER


def read(rendition: Rendition) -> bytes:
    """The stored bytes, checked against their digest.

    Raises Refused if they are lost or changed: they are restored from the backup, not
    made anew.
    """
    try:
        content = path_of(rendition.sha256, rendition.kind).read_bytes()
    except OSError as fault:
        raise Refused(
            "The stored document is missing from the documents folder: restore it from the "
            "backup."
        ) from fault
    if hashlib.sha256(content).hexdigest() != rendition.sha256:
        raise Refused(
            "The stored document is not what was issued: restore the documents folder from "
            "the backup."
        )
    return content


def render_job(*, invoice: str) -> None:
    """The outbox's job after an issue."""
    render(invoice=Invoice.objects.get(pk=invoice))


def attachment(key: str) -> tuple[str, bytes, str]:
    """The outbox's provider: file name, bytes and media type of an issued document."""
    invoice = Invoice.objects.get(pk=key)
    content = read(render(invoice=invoice))
    return f"{invoice.number}.pdf", content, "application/pdf"


def download(invoice: Invoice, kind: str) -> tuple[str, bytes, str]:
    """File name, bytes and media type of one form of an issued document.

    Raises as ``render`` and ``read`` do.
    """
    if kind == Rendition.Kind.PDF:
        return attachment(str(invoice.pk))
    content = read(render(invoice=invoice, kind=kind))
    return f"{invoice.number}.{kind}.xml", content, "application/xml"
