"""A bank's CSV (or .xlsx): which column means what is said once and remembered. Pure."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing.bank.lines import BadStatement, Statement, StatementLine, words
from horses.sheets.cells import BadCell, Mark, column_mark, is_blank, parse_price
from horses.sheets.dates import BadDate, Order, column_order, parse_day
from horses.sheets.grid import Cell, Line, NotASheet, shown
from horses.sheets.reading import read_grid
from practice.names import name_key

MEANINGS = {
    "day": "day of booking",
    "amount": "amount, below 0 for money out",
    "money_in": "money in",
    "money_out": "money out",
    "text": "what for",
    "reference": "the bank's reference",
    "payer_name": "name of the other side",
    "payer_account": "account of the other side",
}
"""What a column can mean, with its words."""

_HEADINGS = {
    "day": "date|booking date|transaction date|posting date|buchungstag|datum|"
    "buchungsdatum|date operation|date de comptabilisation|fecha|data|boekdatum",
    "amount": "amount|value|betrag|umsatz|montant|importe|importo|bedrag|amount eur|"
    "amount gbp|amount usd",
    "money_in": "money in|paid in|credit|credit amount|haben|gutschrift|eingang|"
    "crédit|abono|entrata|bij",
    "money_out": "money out|paid out|debit|debit amount|soll|lastschrift|ausgang|"
    "débit|cargo|uscita|af",
    "text": "text|purpose|description|details|memo|narrative|verwendungszweck|"
    "buchungstext|libellé|libelle|concepto|descrizione|omschrijving|"
    "remittance information|payment details",
    "reference": "transaction id|bank reference|reference number|kundenreferenz|"
    "referenz|référence|referencia|riferimento|transactiereferentie|id",
    "payer_name": "name|payee|payer|counterparty|counterparty name|auftraggeber|"
    "zahlungspartner|beguenstigter|nom|nombre|nome|tegenpartij|from",
    "payer_account": "iban|account|counterparty account|counterparty iban|"
    "kontonummer|compte|cuenta|tegenrekening|sort code account",
}
_KNOWN = {
    name_key(heading): meaning
    for meaning, headings in _HEADINGS.items()
    for heading in headings.split("|")
}
_MOST = Decimal(10**9)
_TODAY = date(2100, 1, 1)  # only days without a year would ask for it


@dataclass(frozen=True, slots=True)
class Sheet:
    """The heading's cells and the rows under it."""

    heading: tuple[str, ...]
    rows: tuple[Line, ...]
    epoch_1904: bool = False

    @property
    def heading_sha256(self) -> str:
        """Knows the same bank's next file again."""
        told = "\x1f".join(name_key(cell) for cell in self.heading)
        return hashlib.sha256(told.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Fault:
    """A row that can't be taken: its line in the file, and why."""

    line: int
    sentence: str


def _score(cells: Sequence[Cell]) -> int:
    keys = {name_key(cell) for cell in cells if isinstance(cell, str)}
    return len({_KNOWN[key] for key in keys if key in _KNOWN})


def open_sheet(data: bytes) -> Sheet:
    """The file's heading and rows. Raises BadStatement."""
    try:
        grid = read_grid(data, _score)
    except NotASheet as fault:
        raise BadStatement(str(fault)) from fault
    if not grid.lines:
        raise BadStatement("The file has no lines.")
    first = max(grid.lines[:40], key=lambda line: _score(line.cells))
    heading = tuple(shown(cell).strip() for cell in first.cells)
    if len(heading) < 2:
        raise BadStatement(
            "The file has one column only: save it as CSV with a heading row."
        )
    rows = tuple(line for line in grid.lines if line.number > first.number)
    return Sheet(heading, rows, grid.epoch_1904)


def propose(heading: Sequence[str]) -> dict[str, int]:
    """What the columns most likely mean, the first of each meaning."""
    found: dict[str, int] = {}
    for place, cell in enumerate(heading):
        meaning = _KNOWN.get(name_key(cell))
        if meaning is not None:
            found.setdefault(meaning, place)
    if "money_in" in found and "amount" in found:
        del found["amount"]
    return found


def check_columns(columns: Mapping[str, int]) -> None:
    """Raises BadStatement unless day and amount are among them."""
    if "day" not in columns:
        raise BadStatement("Say which column is the day of booking.")
    if not {"amount", "money_in"} & set(columns):
        raise BadStatement("Say which column is the amount, or the money in.")


def read(
    sheet: Sheet,
    columns: Mapping[str, int],
    *,
    account: str,
    currency: str,
    decimals: int,
    country: str,
) -> tuple[Statement, list[Fault]]:
    """The lines, and the rows that can't be taken. Rows without day and amount (sums,
    blank ones) are passed over. Raises BadStatement for columns that don't suffice.
    """
    check_columns(columns)
    days = [_cell(row, columns["day"]) for row in sheet.rows]
    order = column_order(
        days, heading=sheet.heading[columns["day"]], country=country
    ).order
    money = [
        columns[name] for name in ("amount", "money_in", "money_out") if name in columns
    ]
    mark = column_mark(
        (_cell(row, place) for row in sheet.rows for place in money), country
    )
    lines, faults = [], []
    for row in sheet.rows:
        if all(is_blank(_cell(row, place)) for place in [columns["day"], *money]):
            continue
        try:
            day = parse_day(
                _cell(row, columns["day"]),
                order=Order(order),
                today=_TODAY,
                epoch_1904=sheet.epoch_1904,
            )
            amount = _amount(row, columns, mark, decimals)
        except (BadDate, BadCell) as fault:
            faults.append(Fault(row.number, str(fault)))
            continue
        told = {
            name: words(shown(_cell(row, columns[name])))
            for name in ("text", "reference", "payer_name", "payer_account")
            if name in columns
        }
        if amount:
            lines.append(StatementLine(account, day, amount, currency, **told))
    return Statement(account, currency, tuple(lines)), faults


def _cell(row: Line, place: int) -> Cell:
    return row.cells[place] if place < len(row.cells) else ""


def _amount(
    row: Line, columns: Mapping[str, int], mark: Mark, decimals: int
) -> Decimal:
    if "amount" in columns:
        return _signed(_cell(row, columns["amount"]), mark, decimals)
    found = _signed(_cell(row, columns["money_in"]), mark, decimals)
    if "money_out" in columns:
        found -= abs(_signed(_cell(row, columns["money_out"]), mark, decimals))
    return found


def _signed(cell: Cell, mark: Mark, decimals: int) -> Decimal:
    if is_blank(cell):
        return Decimal(0)
    if isinstance(cell, Decimal):
        size = parse_price(abs(cell), mark=mark, decimals=decimals, most=_MOST)
        return -size if cell < 0 else size
    if not isinstance(cell, str):
        raise BadCell("price_bad", "This is a date, not an amount.")
    text = cell.strip()
    is_out = bool(re.match(r"^\(.*\)$|^[-–−]|.*(?:[-–−]|\bDR)$", text, re.I))
    bare = re.sub(r"^[-–−+]|[-–−]$|\b(?:DR|CR)$|^\(|\)$", "", text, flags=re.I).strip()
    size = parse_price(bare, mark=mark, decimals=decimals, most=_MOST)
    return -size if is_out else size
