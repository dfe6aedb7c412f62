"""Files for keeping: a month's PDFs as one, a year's books as one archive."""

import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import IO, Any

from django.db.models import Q

from billing import archive_check
from billing.models import Invoice, Rendition
from billing.selectors.books import Period, all_tables, documents_of
from billing.services import renditions
from billing.tables import as_csv
from practice.errors import Refused
from practice.models import Practice

_FIXED = (1980, 1, 1, 0, 0, 0)
"""The time of every file of an archive: the same books give the same bytes."""

GENESIS = "0" * 64
Step = Callable[[int, int], None]
"""Told before each document: how many are done, and of how many."""


def _no_step(at: int, count: int) -> None:
    """Nobody looks on."""


def _with_pdfs(period: Period, step: Step) -> list[tuple[Invoice, Rendition]]:
    """Documents of a period with their stored PDFs; missing ones are made."""
    documents = list(documents_of(period))
    found = {
        row.invoice_id: row
        for row in Rendition.objects.filter(
            invoice__in=documents, kind=Rendition.Kind.PDF
        )
    }
    for at, row in enumerate(documents):
        step(at, len(documents))
        if row.pk not in found:
            found[row.pk] = renditions.render(invoice=row)
    return [(row, found[row.pk]) for row in documents]


def write_month(period: Period, out: IO[bytes], *, step: Step = _no_step) -> int:
    """Writes all documents of a period, one after the other, as one PDF for printing.
    The single files stay what was issued. Returns how many documents are in it.

    Raises Refused if there are none; and what ``step`` raises.
    """
    pairs = _with_pdfs(period, step)
    if not pairs:
        raise Refused("Nothing was issued in that month.")
    from pypdf import PdfWriter  # once a month

    with PdfWriter() as writer:
        for at, (document, rendition) in enumerate(pairs):
            step(at, len(pairs))
            content = renditions.read(rendition)
            writer.append(io.BytesIO(content), outline_item=str(document.number))
        writer.write(out)
    return len(pairs)


def chain_until(day: date) -> str:
    """The last link of all documents issued before a day: where a year's chain starts."""
    before = GENESIS
    rows = (
        Invoice.objects.issued()
        .filter(issue_day__lt=day)
        .order_by("issue_day", "number")
        .values_list("pk", "number", "snapshot_sha256")
    )
    digests = dict(
        Rendition.objects.filter(
            Q(invoice__issue_day__lt=day), kind=Rendition.Kind.PDF
        ).values_list("invoice", "sha256")
    )
    for key, number, text in rows:
        before = archive_check.link(before, str(number), text, digests.get(key, ""))
    return before


def write_year(year: int, out: IO[bytes], *, step: Step = _no_step) -> int:
    """Writes a year's archive: every document's frozen text and stored PDF, journal,
    tax, payments, ledger and changes, a manifest, a chain, and the script that checks
    them without this program. Returns how many documents are in it.

    Raises what ``step`` raises.
    """
    practice = Practice.objects.the_one()
    period = Period(date(year, 1, 1), date(year, 12, 31))
    pairs = _with_pdfs(period, step)
    manifest: list[str] = []
    with zipfile.ZipFile(out, "w") as packed:

        def put(name: str, content: bytes, *, is_packed: bool = False) -> None:
            manifest.append(f"{hashlib.sha256(content).hexdigest()}  {name}")
            about = zipfile.ZipInfo(name, _FIXED)
            about.external_attr = 0o644 << 16
            how = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
            packed.writestr(about, content, compress_type=how)

        put("README.txt", _readme(practice, year).encode())
        put("verify.py", Path(archive_check.__file__).read_bytes())
        chain = _documents(pairs, period, put, step)
        put("chain.csv", chain)
        for table in all_tables(period, practice):
            put(f"{table.name}.csv", as_csv(table))
        about = zipfile.ZipInfo("MANIFEST.sha256", _FIXED)
        about.external_attr = 0o644 << 16
        packed.writestr(about, "\n".join(manifest) + "\n")
    return len(pairs)


def _documents(
    pairs: list[tuple[Invoice, Rendition]], period: Period, put: Any, step: Step
) -> bytes:
    before = chain_until(period.first)
    lines = ["number,text_sha256,pdf_sha256,before,link"]
    for at, (document, rendition) in enumerate(pairs):
        step(at, len(pairs))
        number = str(document.number)
        text = json.dumps(
            document.snapshot, sort_keys=True, ensure_ascii=False, indent=1
        )
        put(f"documents/{number}.json", text.encode())
        put(f"documents/{number}.pdf", renditions.read(rendition), is_packed=True)
        after = archive_check.link(
            before, number, document.snapshot_sha256, rendition.sha256
        )
        lines.append(
            f"{number},{document.snapshot_sha256},{rendition.sha256},{before},{after}"
        )
        before = after
    return ("\n".join(lines) + "\n").encode()


def _readme(practice: Practice, year: int) -> str:
    return (
        f"The books of {practice.name}, {year}\n\n"
        "documents/   each issued document: NUMBER.json, all that it says, as frozen\n"
        "             when it was issued; NUMBER.pdf, the bytes that the client got\n"
        "chain.csv    the documents in order, each linked to the one before\n"
        "*.csv        sales journal, tax by issue and by payment, payments, ledger,\n"
        "             changes (who did what, when). UTF-8, commas, points\n"
        "MANIFEST.sha256   SHA-256 of each file: sha256sum -c MANIFEST.sha256\n"
        "verify.py    checks all of it with Python alone:\n"
        "             python3 -I verify.py books.zip\n\n"
        "Hashes prove that nothing was changed since this archive was made, if the\n"
        "archive, or the last link of its chain, is kept where nobody can change it.\n"
    )
