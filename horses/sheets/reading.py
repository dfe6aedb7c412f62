"""From a file's bytes to a grid: CSV in the usual encodings and separators, .xlsx.

Pure: bytes in, grid out. Nothing is guessed from the file's name.
"""

import csv
import io
import math
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from itertools import repeat
from typing import Any
from xml.etree.ElementTree import ParseError

from horses.sheets.grid import UNRECKONED, Broken, Cell, Grid, Line, NotASheet
from practice.names import squeeze

MOST_BYTES = 30_000_000
MOST_UNPACKED_BYTES = 250_000_000
MOST_LINES = 100_000
MOST_COLUMNS = 400
LAST_ROW = 1_048_576  # of an .xlsx sheet
_MERGED = re.compile(
    rb'mergeCell\s+ref="\$?([A-Z]{1,3})\$?([0-9]{1,7}):\$?[A-Z]{1,3}\$?([0-9]{1,7})"'
)
_OVERLAP = 60  # characters: longer than what is sought in a sheet's text
LOOKED_AT_LINES = 40  # the heading is sought among the first so many filled lines
SEPARATORS = (",", ";", "\t", "|")

Score = Callable[[Sequence[Cell]], int]
"""How many of a line's cells are known as headings."""

_EMPTY = "The file is empty: save the sheet again and send that."
_BROKEN_FILE = (
    KeyError,
    ValueError,
    TypeError,
    IndexError,
    AttributeError,
    OSError,
    EOFError,
    RuntimeError,
    NotImplementedError,
    ParseError,
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
)


def read_grid(data: bytes, score: Score) -> Grid:
    """The filled lines of a file.

    Args:
        data: the whole file.
        score: tells how much a line looks like the heading, which decides the
            separator of a CSV and the sheet of a workbook.

    Raises:
        NotASheet: with one sentence that says what mends it.
    """
    if not data.strip(b"\x00\r\n\t ,;\xef\xbb\xbf"):
        raise NotASheet(_EMPTY)
    if len(data) > MOST_BYTES:
        raise NotASheet("The file is larger than 30 MB: split the sheet in two.")
    if data.startswith(b"PK\x03\x04"):
        return _read_workbook(data, score)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise NotASheet(
            "The file is an old .xls or is locked with a password: "
            "save it as .xlsx or CSV without one."
        )
    return _read_text(_decode(data), score)


# --- text ---------------------------------------------------------------------------


def _decode(data: bytes) -> str:
    """UTF-8 with or without its mark, UTF-16 with its mark, else Windows-1252."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            # Five bytes mean nothing in Windows-1252: they become a visible mark.
            text = data.decode("cp1252", errors="replace")
    if "\x00" in text:
        raise NotASheet(
            "The file is not a sheet: save it as CSV or .xlsx from the spreadsheet."
        )
    return text


def _read_text(text: str, score: Score) -> Grid:
    lines = _physical_lines(text)
    first = 0
    separators: Sequence[str] = SEPARATORS
    told = re.fullmatch(r"sep=(.)\s*", lines[0], re.IGNORECASE | re.DOTALL)
    if told:  # a spreadsheet's own first line that names the separator
        first, separators = 1, (told[1],)
    best = max(separators, key=lambda mark: _fit(lines[first:], mark, score))
    rows, broken = _cut(lines, first, best)
    if not rows and not broken:
        raise NotASheet(_EMPTY)
    return Grid(lines=tuple(rows), broken=tuple(broken), ragged=True)


def _physical_lines(text: str) -> list[str]:
    lines = list(io.StringIO(text, newline=""))
    if not lines:
        raise NotASheet(_EMPTY)
    if len(lines) > MOST_LINES * 2:
        raise NotASheet("The sheet has over 100,000 lines: split it.")
    return lines


def _fit(lines: list[str], mark: str, score: Score) -> tuple[int, int, int]:
    """How well a separator cuts the file's beginning: by known headings, then by
    how many lines have the commonest width, then by that width."""
    rows, _ = _cut(lines[: LOOKED_AT_LINES * 2], 0, mark)
    rows = rows[:LOOKED_AT_LINES]
    known = max((score(row.cells) for row in rows), default=0)
    widths = [len(row.cells) for row in rows if len(row.cells) > 1]
    common = max(set(widths), key=widths.count) if widths else 0
    return known, widths.count(common), common


def _cut(lines: list[str], first: int, mark: str) -> tuple[list[Line], list[Broken]]:
    """Cuts physical lines into filled rows; a quote left open spoils one line only."""
    rows: list[Line] = []
    broken: list[Broken] = []
    at = first
    while at < len(lines):
        at = _cut_until_broken(lines, at, mark, rows, broken)
        if len(rows) > MOST_LINES:
            raise NotASheet("The sheet has over 100,000 rows: split it.")
    return rows, broken


def _cut_until_broken(
    lines: list[str],
    start: int,
    mark: str,
    rows: list[Line],
    broken: list[Broken],
) -> int:
    """Cuts from `start` on; gives the line from which to go on (the end, or the one
    after a line that could not be cut)."""
    ahead = (lines[place] for place in range(start, len(lines)))
    reader = csv.reader(ahead, delimiter=mark)
    at = start
    while True:
        try:
            raw = next(reader)
        except StopIteration:
            return len(lines)
        except csv.Error:
            code, message = "cell_too_long", "A cell is too long: shorten it."
            broken.append(Broken(at + 1, _begin(lines[at]), code, message))
            return at + 1
        end = start + reader.line_num
        if '"' in lines[at] and _is_quote_open(lines[at:end], mark):
            code = "quote_open"
            message = 'A quotation mark is left open: close it or write it twice ("").'
            broken.append(Broken(at + 1, _begin(lines[at]), code, message))
            return at + 1
        cells = tuple(squeeze(cell) for cell in raw)
        if any(cells):
            rows.append(Line(at + 1, cells))
        at = end


def _begin(line: str) -> str:
    return squeeze(line[:200])[:80]


def _is_quote_open(taken: list[str], mark: str) -> bool:
    """Whether a row's lines hold a quotation mark that nobody closed: the file ends
    inside it, or it took in further lines up to some other quotation mark, which
    then stands in the midst of a cell."""
    try:
        list(csv.reader(iter(taken), delimiter=mark, strict=True))
    except csv.Error as error:
        return len(taken) > 1 or "unexpected end" in str(error)
    return False


# --- workbooks ----------------------------------------------------------------------


def _read_workbook(data: bytes, score: Score) -> Grid:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            names = set(packed.namelist())
            size = sum(part.file_size for part in packed.infolist())
            if "xl/workbook.xml" not in names:
                raise NotASheet(
                    "The file is not an .xlsx sheet: save it as .xlsx or CSV."
                )
            if size > MOST_UNPACKED_BYTES:  # of a part no more is read than it says
                raise NotASheet("The workbook is too large unpacked: split the sheet.")
            has_formulas = any(_holds_formula(packed, name) for name in names)
            merged = {name: _merged_over_rows(packed, name) for name in names}
        workbook = _open(data, saved_values=True)
        formulas = _open(data, saved_values=False) if has_formulas else None
        return _best_sheet(workbook, formulas, merged, score)
    except NotASheet:
        raise
    except _BROKEN_FILE as error:
        raise NotASheet(
            "The workbook is damaged or locked: open it, save it again as .xlsx or CSV."
        ) from error


def _open(data: bytes, *, saved_values: bool) -> Any:
    # Not at the top: a third of a second at every start, for a sheet a year.
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        return load_workbook(
            io.BytesIO(data), read_only=True, data_only=saved_values, keep_links=False
        )
    except InvalidFileException as error:
        raise ValueError("no workbook") from error


def _holds_formula(packed: zipfile.ZipFile, name: str) -> bool:
    """Whether a part of the workbook is a sheet with a formula in it."""
    return any(re.search(rb"<f[ >/]", chunk) for chunk in _chunks(packed, name))


def _merged_over_rows(packed: zipfile.ZipFile, name: str) -> dict[tuple[int, int], int]:
    """Of a sheet's cells merged over several rows (row and place; the left ones of a
    wide block): the row of the one on top, which holds their value."""
    from openpyxl.utils import column_index_from_string

    found: dict[tuple[int, int], int] = {}
    for chunk in _chunks(packed, name):
        for letters, top, bottom in _MERGED.findall(chunk):
            place = column_index_from_string(letters.decode()) - 1
            for row in range(int(top), min(int(bottom), LAST_ROW) + 1):
                if len(found) >= MOST_LINES:
                    return found
                if top != bottom:
                    found[row, place] = int(top)
    return found


def _chunks(packed: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    """A sheet's text in pieces that overlap; nothing of any other part."""
    if not name.startswith("xl/worksheets/") or not name.endswith(".xml"):
        return
    with packed.open(name) as part:
        before = b""
        while chunk := part.read(1 << 20):
            yield before + chunk
            before = chunk[-_OVERLAP:]


def _best_sheet(
    workbook: Any,
    formulas: Any,
    merged: Mapping[str, Mapping[tuple[int, int], int]],
    score: Score,
) -> Grid:
    """The visible sheet whose beginning looks most like ours; the first at a tie.

    `formulas` is the same workbook with formulas in place of their values; `merged`
    the merged cells of each part of the file.
    """
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    visible = [s for s in workbook.worksheets if s.sheet_state == "visible"]
    best, best_score = None, -1
    for sheet in visible:
        sheet.reset_dimensions()  # what a file says of its own size is often wrong
        found = 0
        for looked_at, line in enumerate(_rows(sheet), start=1):
            found = max(found, score(line.cells))
            if looked_at >= LOOKED_AT_LINES:
                break
        if found > best_score:
            best, best_score = sheet, found
    if best is None:
        raise NotASheet("The workbook's sheets are empty.")
    written = None
    if formulas is not None:
        written = formulas[best.title]
        written.reset_dimensions()
    tops = merged.get(best._worksheet_path, {})
    lines = tuple(_filled_down(_rows(best, written), tops))
    if not lines:
        raise NotASheet("The workbook's sheets are empty.")
    return Grid(
        lines=lines,
        title=str(best.title),
        epoch_1904=workbook.epoch == CALENDAR_MAC_1904,
        merged=frozenset(tops),
    )


def _filled_down(
    lines: Iterable[Line], tops: Mapping[tuple[int, int], int]
) -> Iterator[Line]:
    """The lines, with what stands on top of a merged block in its lower cells too."""
    held: dict[tuple[int, int], Cell] = {}
    places = sorted({place for _, place in tops if place < MOST_COLUMNS})
    for line in lines:
        cells = list(line.cells)
        for place in places:
            top = tops.get((line.number, place))
            if top == line.number:
                held[top, place] = cells[place] if place < len(cells) else ""
            elif top is not None and held.get((top, place)):
                cells += [""] * (place + 1 - len(cells))
                cells[place] = cells[place] or held[top, place]
        yield Line(line.number, tuple(cells))


def _rows(sheet: Any, written: Any = None) -> Iterator[Line]:
    count = 0
    # Without a width, rows that the file leaves out come as empty ones, at no cost.
    rows = enumerate(sheet.iter_rows(max_row=LAST_ROW), start=1)
    beside = written.iter_rows(max_row=LAST_ROW) if written else repeat(())
    for (number, row), formulas in zip(rows, beside, strict=False):
        cells = [_cell(cell) for cell in row[:MOST_COLUMNS]]
        for place, cell in enumerate(formulas[: len(cells)]):
            if cells[place] == "" and cell.data_type == "f":
                cells[place] = UNRECKONED
        while cells and cells[-1] == "":
            cells.pop()
        if cells:
            count += 1
            if count > MOST_LINES:
                raise NotASheet("The sheet has over 100,000 rows: split it.")
            yield Line(number, tuple(cells))


def _cell(cell: Any) -> Cell:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return squeeze(value)
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return _number(value, str(cell.number_format or ""))
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    if isinstance(value, time):
        return value.isoformat("minutes")
    return squeeze(str(value))


def _number(value: float, shape: str) -> Cell:
    """A number as the sheet shows it where the shape matters: '00000' keeps leading
    zeros (post codes, phones), a percent stays one and is not taken for an amount."""
    if re.fullmatch(r"0{2,20}", shape) and float(value).is_integer():
        return str(int(value)).zfill(len(shape))
    if not math.isfinite(value):
        return str(value)
    number = Decimal(repr(value))
    if re.search(r'%(?=(?:[^"]*"[^"]*")*[^"]*$)', shape):
        return f"{(number * 100).normalize():f} %"
    return number
