"""Days as people and spreadsheets write them. Pure.

A day such as 25/12/2025 can only be read one way, and is. One such as 03/04/2026 fits
both orders of day and month: its order is decided for the whole column, by the heading
where that tells it ('dd/mm/yyyy'), else by the column's days that can only be read one
way, else by the practice's country. Days that speak against the country's order carry
the column only if they are a quarter of it or more: in a column truly so written three
days in five are past the twelfth, so that a few odd ones are slips. Wherever the
column doesn't settle it by itself and in the country's way, a person should be asked.

Serial numbers: day 1 is 1900-01-01 and a day 60 is counted that never was, 29 February
1900 (ECMA-376 part 1, 18.17.4.1, the 1900 date base in its compatible form), so from
61 on a day is 1899-12-30 and so many days. With the 1904 base, day 0 is 1904-01-01.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from horses.sheets.grid import Cell


class Order(StrEnum):
    """Which comes first in 03/04/2026."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


MONTH_FIRST_COUNTRIES = frozenset({"US", "PH", "PW", "FM", "MH", "GU", "PR", "VI"})
"""Countries whose people write the month first. From memory; Unicode CLDR's short
date patterns (M/d/y) say the same of the United States and the Philippines."""

_MONTHS = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
_SHORT_MONTHS = {name[:3]: number for number, name in enumerate(_MONTHS, start=1)}
_SHORT_MONTHS["sept"] = 9
_WEEKDAYS = re.compile(
    r"^(?:mon|tue|tues|wed|weds|thu|thur|thurs|fri|sat|sun)(?:day|nesday|sday|rsday|urday)?"
    r"\.?,?\s+",
    re.IGNORECASE,
)
_CLOCK = re.compile(
    r"[T\s]+\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[ap]\.?m\.?)?(?:Z|[+-]\d{2}:?\d{2})?$",
    re.IGNORECASE,
)
_YEAR_FIRST = re.compile(r"([0-9]{4})([-/. ])([0-9]{1,2})\2([0-9]{1,2})")
_COMPACT = re.compile(r"((?:19|20)[0-9]{2})([0-9]{2})([0-9]{2})")
_NUMERIC = re.compile(
    r"([0-9]{1,2})\s*([-/. ])\s*([0-9]{1,2})\s*\2\s*([0-9]{4}|'?[0-9]{2})\.?"
)
_DAY_MONTH = re.compile(
    r"([0-9]{1,2})(?:st|nd|rd|th)?\.?(?:\s+of)?[\s./-]*([A-Za-z]{3,9})\.?"
    r"(?:[\s,./-]*('?[0-9]{2}|[0-9]{4}))?"
)
_MONTH_DAY = re.compile(
    r"([A-Za-z]{3,9})\.?[\s./-]*([0-9]{1,2})(?:st|nd|rd|th)?"
    r"(?:(?:\s*,\s*|[\s./-]+)('?[0-9]{2}|[0-9]{4}))?"
)
_SERIAL = re.compile(r"[0-9]{5}(?:[.,][0-9]+)?")
_PIVOT_YEARS = 20  # 'two-digit years': up to twenty years ahead, else the last century


class BadDate(ValueError):
    """The text is no day; the message says what mends it."""


@dataclass(frozen=True, slots=True)
class ColumnOrder:
    """How a column of days is read.

    order: which comes first. asked: whether a person should be asked, because days
    that fit both orders (`example` is one) stand in a column that doesn't settle it,
    or not in the country's way alone.
    """

    order: Order
    asked: bool
    example: str = ""


def country_order(country: str) -> Order:
    """The order in which people of a country (ISO 3166 code) write day and month."""
    return Order.MONTH_FIRST if country in MONTH_FIRST_COUNTRIES else Order.DAY_FIRST


def column_order(
    cells: Iterable[Cell], *, heading: str, country: str, told: Order | None = None
) -> ColumnOrder:
    """The order of a column's days (see the module); `told` is a person's answer."""
    usual = country_order(country)
    found: dict[Order | None, list[str]] = {None: []}
    for text in dict.fromkeys(cell for cell in cells if isinstance(cell, str)):
        fits = _orders(text)
        if len(fits) == 1:
            found.setdefault(fits[0], []).append(text)
        elif fits:
            found[None].append(text)
    both = found[None]
    example = both[0] if both else ""
    said = told or _order_in(heading)
    if said is not None:
        return ColumnOrder(said, asked=False)
    other = Order.DAY_FIRST if usual == Order.MONTH_FIRST else Order.MONTH_FIRST
    against = len(found.get(other, []))
    if usual in found:
        return ColumnOrder(usual, bool(example) and against > 0, example)
    order = other if against and against * 3 >= len(both) else usual
    return ColumnOrder(order, bool(example), example)


def _orders(text: str) -> list[Order]:
    """The orders in which a day in figures is one of the calendar; none where both
    are the same day or where the text is no such day."""
    found = _NUMERIC.fullmatch(_without_clock(text))
    if not found or int(found[1]) == int(found[3]):
        return []
    year = int(found[4].lstrip("'"))
    pairs = (
        (Order.DAY_FIRST, found[3], found[1]),
        (Order.MONTH_FIRST, found[1], found[3]),
    )
    return [
        order
        for order, month, day in pairs
        if 1 <= int(month) <= 12
        and _is_day(year if year > 99 else 2000 + year, month, day)
    ]


def _is_day(year: int, month: str, day: str) -> bool:
    try:
        date(year, int(month), int(day))
    except ValueError:
        return False
    return True


def _order_in(heading: str) -> Order | None:
    text = re.sub(r"[^a-z]", "", heading.casefold())
    if re.search(r"(dd|d)(mm|m)(yyyy|yy)", text):
        return Order.DAY_FIRST
    if re.search(r"(mm)(dd|d)(yyyy|yy)", text):
        return Order.MONTH_FIRST
    return None


def _without_clock(text: str) -> str:
    return _CLOCK.sub("", _WEEKDAYS.sub("", text.strip())).strip()


def parse_day(
    cell: Cell, *, order: Order, today: date, epoch_1904: bool = False
) -> date:
    """The day in a cell.

    Args:
        order: which comes first in 03/04/2026.
        today: settles two-digit years, and a year left out: the last such day.

    Raises:
        BadDate: there is none, or it never was.
    """
    if isinstance(cell, date):
        return cell
    if isinstance(cell, Decimal):
        return _serial(cell, epoch_1904=epoch_1904)
    text = _without_clock(cell)
    if found := _YEAR_FIRST.fullmatch(text):
        return _day(int(found[1]), int(found[3]), int(found[4]))
    if found := _COMPACT.fullmatch(text):
        return _day(int(found[1]), int(found[2]), int(found[3]))
    if found := _NUMERIC.fullmatch(text):
        first, second = int(found[1]), int(found[3])
        day, month = (first, second) if order == Order.DAY_FIRST else (second, first)
        if month > 12 >= day:  # it can only be meant the other way round
            day, month = month, day
        return _day(_year(found[4], today), month, day)
    if found := _SERIAL.fullmatch(text):
        return _serial(Decimal(text.replace(",", ".")), epoch_1904=epoch_1904)
    if found := _DAY_MONTH.fullmatch(text):
        return _worded(found[3], found[2], found[1], today)
    found = _MONTH_DAY.fullmatch(text)
    # 'Mar-26' is a month of a year as often as a day without its year: no date.
    if found and (found[3] or not re.search(r"[0-9]{2}$", text)):
        return _worded(found[3], found[1], found[2], today)
    raise BadDate("This is no date: write it as 2026-03-31.")


def _worded(year: str | None, month: str, day: str, today: date) -> date:
    number = _month(month)
    if number is None:
        raise BadDate("This is no date: write it as 2026-03-31.")
    if year:
        return _day(_year(year, today), number, int(day))
    for candidate in range(today.year, today.year - 9, -1):
        try:
            found = date(candidate, number, int(day))
        except ValueError:
            continue
        if found <= today:
            return found
    raise BadDate("There is no such day: correct it.")


def _month(word: str) -> int | None:
    folded = word.casefold()
    if folded in _MONTHS:
        return _MONTHS.index(folded) + 1
    return _SHORT_MONTHS.get(folded)


def _year(digits: str, today: date) -> int:
    digits = digits.lstrip("'")
    if len(digits) == 4:
        return int(digits)
    year = today.year // 100 * 100 + int(digits)
    return year if year <= today.year + _PIVOT_YEARS else year - 100


def _day(year: int, month: int, day: int) -> date:
    if not 1 <= month <= 12:
        raise BadDate(f"There is no month {month}: write the date as 2026-03-31.")
    try:
        return date(year, month, day)
    except ValueError as error:
        raise BadDate("There is no such day in the calendar: correct it.") from error


def _serial(number: Decimal, *, epoch_1904: bool) -> date:
    """A spreadsheet's day number; the part of a day is dropped."""
    if not 1 <= number < 2_958_466:
        raise BadDate("This is no date: write it as 2026-03-31.")
    days = int(number)
    if epoch_1904:
        return date(1904, 1, 1) + timedelta(days=days)
    if days == 60:
        raise BadDate("There was no 29 February 1900: correct the date.")
    start = date(1899, 12, 30) if days > 60 else date(1899, 12, 31)
    return start + timedelta(days=days)
