"""The issued bytes: made once from the snapshot, filed under their SHA-256, then only
ever read. Another version of a library would give other bytes, so an issued document
is never rendered again.
"""

import hashlib
import os
import tempfile
from pathlib import Path

from django.conf import settings
from django.db import transaction

from billing import pdf
from billing.models import Invoice, Rendition
from practice.errors import Refused


def path_of(sha256: str) -> Path:
    """Where bytes with this digest are kept."""
    return Path(settings.DOCUMENTS_ROOT) / sha256[:2] / f"{sha256}.pdf"


def _file(content: bytes) -> str:
    """Keeps bytes under their digest: a temporary file, then a rename."""
    sha256 = hashlib.sha256(content).hexdigest()
    target = path_of(sha256)
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
def render(*, invoice: Invoice) -> Rendition:
    """The PDF of an issued document; made if it isn't there yet, never anew.

    Raises Refused for a draft; practice.pdf.PdfUnavailable where the system lacks
    WeasyPrint's libraries.
    """
    there = Rendition.objects.filter(invoice=invoice, kind=Rendition.Kind.PDF).first()
    if there is not None:
        return there
    if not invoice.is_issued or invoice.snapshot is None:
        raise Refused("A draft has no PDF: issue it first.")
    content = pdf.invoice_pdf(
        invoice.snapshot, identifier=bytes.fromhex(invoice.snapshot_sha256)[:16]
    )
    rendition, _ = Rendition.objects.get_or_create(
        invoice=invoice,
        kind=Rendition.Kind.PDF,
        defaults={
            "sha256": _file(content),
            "size": len(content),
            "maker": pdf.maker(),
        },
    )
    return rendition


def read(rendition: Rendition) -> bytes:
    """The stored bytes, checked against their digest.

    Raises Refused if they are lost or changed: they are restored from the backup, not
    made anew.
    """
    try:
        content = path_of(rendition.sha256).read_bytes()
    except OSError as fault:
        raise Refused(
            "The stored PDF is missing from the documents folder: restore it from the "
            "backup."
        ) from fault
    if hashlib.sha256(content).hexdigest() != rendition.sha256:
        raise Refused(
            "The stored PDF is not what was issued: restore the documents folder from "
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
