"""Tables for other programs: CSV and XLSX. Pure.

A text that a spreadsheet would take for a formula gets an apostrophe in front (CWE-1236);
amounts and days are written as such.
"""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

Cell = str | int | Decimal | date | None
_NOT_SHOWN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
"""Control characters, which a workbook can't hold: somebody pasted them."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


@dataclass(frozen=True, slots=True)
class Table:
    """A heading and rows; ``name`` is the file's, without its ending."""

    name: str
    heading: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def harmless(text: str) -> str:
    """The text as no spreadsheet takes it for a formula, nor stumbles over it."""
    text = _NOT_SHOWN.sub(" ", text)
    return f"'{text}" if text.lstrip(" \u00a0").startswith(_FORMULA) else text


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return harmless(cell)
    return (
        cell.isoformat()
        if isinstance(cell, date)
        else f"{cell:f}"
        if isinstance(cell, Decimal)
        else str(cell)
    )


def as_csv(table: Table) -> bytes:
    """UTF-8 with a mark that spreadsheets look for, commas, CRLF (RFC 4180)."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([harmless(cell) for cell in table.heading])
    writer.writerows([_written(cell) for cell in row] for row in table.rows)
    return b"\xef\xbb\xbf" + text.getvalue().encode()


def as_xlsx(tables: Iterable[Table]) -> bytes:
    """A workbook, a sheet a table."""
    from openpyxl import Workbook  # a third of a second, for a table a month

    book = Workbook(write_only=False)
    book.remove(book.worksheets[0])
    for table in tables:
        sheet = book.create_sheet(table.name[:31])
        sheet.append([harmless(cell) for cell in table.heading])
        for row in table.rows:
            sheet.append(
                [harmless(cell) if isinstance(cell, str) else cell for cell in row]
            )
        sheet.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
