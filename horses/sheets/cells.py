"""What single cells say: amounts, weeks, years. Pure.

Numbers are digits 0–9; words ('six') are refused rather than guessed. A column of
amounts has one decimal mark, taken from the values that can only be read one way,
else from the practice's country.
"""

import re
import unicodedata
from collections.abc import Iterable
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from horses.sheets.dates import BadDate, Order, parse_day
from horses.sheets.grid import Cell, shown

LEAST_WEEKS, MOST_WEEKS = 1, 52
OLDEST_YEARS = 60
"""No horse is older: the greatest recorded age is 62 (from memory)."""

COMMA_COUNTRIES = frozenset(
    [
        "AR",
        "AT",
        "BE",
        "BG",
        "BR",
        "CL",
        "CO",
        "CZ",
        "DE",
        "DK",
        "EE",
        "ES",
        "FI",
        "FR",
        "GR",
        "HR",
        "HU",
        "ID",
        "IS",
        "IT",
        "LT",
        "LU",
        "LV",
        "NL",
        "NO",
        "PL",
        "PT",
        "RO",
        "RS",
        "RU",
        "SE",
        "SI",
        "SK",
        "TR",
        "UA",
        "UY",
        "VN",
        "ZA",
    ]
)
"""Countries that write 45,50. From memory; Unicode CLDR lists the marks by locale."""

_BLANKS = frozenset({"-", "--", "---", "–", "—", "n/a", "?", "."})
_GROUPED = re.compile(r"[0-9]{1,3}(?:[.,'’ ][0-9]{3})+")
_CODES = re.compile(
    r"\b(?:AUD|BRL|CAD|CHF|CZK|DKK|EUR|GBP|HUF|INR|ISK|JPY|MXN|NOK|NZD|PLN|RON|SEK|"
    r"SGD|USD|ZAR|kr|zł|Kč)\b\.?",
    re.IGNORECASE,
)
_WEEKS = re.compile(
    r"(?:every\s+)?([-−–]?\s*[0-9]+(?:[.,]0+)?)\s*(?:w|wk|wks|week|weeks|weekly)?\.?",
    re.IGNORECASE,
)
_AGE = re.compile(
    r"(?:aged?\s+)?([0-9]{1,3}(?:[.,]5)?)\s*"
    r"(y|yr|yrs|year|years|m|mth|mths|mo|mos|month|months)?\.?\s*(?:o|old)?\.?",
    re.IGNORECASE,
)


class Mark(StrEnum):
    """A decimal mark."""

    POINT = "."
    COMMA = ","


class BadCell(ValueError):
    """What a cell holds can't be taken: `code` names the fault for programs, the
    message says what mends it."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


def is_blank(cell: Cell) -> bool:
    """Whether a cell says nothing: empty, a dash, 'n/a' or a question mark."""
    return isinstance(cell, str) and (not cell or cell.casefold() in _BLANKS)


# --- amounts ------------------------------------------------------------------------


def column_mark(cells: Iterable[Cell], country: str) -> Mark:
    """The decimal mark of a column of amounts (see the module)."""
    points = commas = 0
    for cell in cells:
        if isinstance(cell, str):
            mark = _only_mark(_bare_amount(cell)[0])
            points += mark == Mark.POINT
            commas += mark == Mark.COMMA
    if points != commas:
        return Mark.POINT if points > commas else Mark.COMMA
    return Mark.COMMA if country in COMMA_COUNTRIES else Mark.POINT


def _only_mark(text: str) -> Mark | None:
    """The decimal mark that a number shows by itself, if it can only be one."""
    last = max(text.rfind("."), text.rfind(","))
    if last < 0 or not re.fullmatch(r"[0-9.,'’ ]+", text):
        return None
    mark, other = Mark(text[last]), Mark.COMMA if text[last] == "." else Mark.POINT
    if text.count(mark) > 1:  # it groups thousands, so the other one is the mark
        return other if other not in text else None
    if other in text or len(text) - last - 1 != 3 or last > 3 or text[0] == "0":
        return mark
    return None


def _bare_amount(text: str) -> tuple[str, bool]:
    """An amount without its currency, and whether it is below zero."""
    bare = "".join(" " if unicodedata.category(c) == "Sc" else c for c in text)
    bare = _CODES.sub(" ", bare).strip()
    below = False
    if re.fullmatch(r"\(.*\)", bare):
        below, bare = True, bare[1:-1].strip()
    bare = re.sub(r"[-–−]{1,2}$", "", bare) if re.search(r"[.,][-–−]+$", bare) else bare
    if bare[:1] in "-–−" and bare:
        below, bare = True, bare[1:].strip()
    elif bare[-1:] in "-–−" and bare:
        below, bare = True, bare[:-1].strip()
    return bare.rstrip(".,") if re.search(r"[0-9][.,]$", bare) else bare, below


def parse_price(cell: Cell, *, mark: Mark, decimals: int, most: Decimal) -> Decimal:
    """The amount in a cell, in the major unit with `decimals` places.

    Args:
        mark: the column's decimal mark; a number that can only be read with the
            other one is read so.
        most: the largest amount that can be kept.

    Raises:
        BadCell: price_bad, price_negative, price_range.
    """
    unit = Decimal(1).scaleb(-decimals)
    if isinstance(cell, Decimal):
        amount, below = abs(cell).quantize(unit, ROUND_HALF_UP), cell < 0
    elif isinstance(cell, str):
        text, below = _bare_amount(cell)
        amount = _amount(text, _only_mark(text) or mark)
        if amount != amount.quantize(unit, ROUND_HALF_UP):
            raise BadCell(
                "price_bad",
                f"The price has more than {decimals} decimals: write it like 45.50.",
            )
        amount = amount.quantize(unit)
    else:
        raise BadCell("price_bad", "This is a date, not a price: write it like 45.50.")
    if below and amount:
        raise BadCell("price_negative", "A price isn't below zero: correct it.")
    if amount > most:
        raise BadCell("price_range", f"A price is at most {most:f}: correct it.")
    return amount


def _amount(text: str, mark: Mark) -> Decimal:
    whole, _, part = text.partition(mark)
    grouped = _GROUPED.fullmatch(whole) is not None
    marks = set(re.findall(r"[.,'’ ]", whole))
    if (
        not re.fullmatch(r"[0-9]*", part)
        or not (whole or part)
        or not (grouped or re.fullmatch(r"[0-9]*", whole))
        or len(marks) > 1
        or len(text) > 30
    ):
        raise BadCell("price_bad", "This is no amount in digits: write it like 45.50.")
    return Decimal(f"{re.sub(r'[^0-9]', '', whole) or '0'}.{part or '0'}")


# --- weeks --------------------------------------------------------------------------


def parse_weeks(cell: Cell) -> int:
    """The weeks between visits in a cell.

    Raises:
        BadCell: interval_bad, interval_range.
    """
    if isinstance(cell, Decimal):
        text = shown(cell)
    else:
        text = cell if isinstance(cell, str) else ""
    found = _WEEKS.fullmatch(text)
    if not found:
        raise BadCell(
            "interval_bad",
            "This is no whole number of weeks: write digits, such as 6.",
        )
    digits = re.split(r"[.,]", found[1])[0]
    below = digits[0] in "-−–"
    weeks = int(re.sub(r"[^0-9]", "", digits)[:6])
    if below or not LEAST_WEEKS <= weeks <= MOST_WEEKS:
        raise BadCell(
            "interval_range",
            f"An interval is {LEAST_WEEKS} to {MOST_WEEKS} weeks: correct it.",
        )
    return weeks


# --- foaled -------------------------------------------------------------------------


def parse_foaled(
    cell: Cell, *, is_age: bool, order: Order, today: date, epoch_1904: bool = False
) -> tuple[int, date | None]:
    """The year in which a horse was foaled, and the day where the cell gives it.

    Args:
        is_age: the column's heading says age, so a small number is years of age.

    Raises:
        BadCell: foaled_bad, foaled_range, age_bad, age_range.
    """
    text = shown(cell)
    if in_year := re.fullmatch(r"(?:[A-Za-z]{3,9}\.?[\s-])?([0-9]{4})", text):
        year = int(in_year[1])
        _check_foaled(date(year or 1, 1, 1), today, shown_year=year)
        return year, None
    found = _AGE.fullmatch(text)
    if found and (is_age or found[2]):
        return _year_of_age(found, today), None
    if is_age and not isinstance(cell, date):
        raise BadCell("age_bad", "This is no age in digits: write years, such as 12.")
    try:
        day = parse_day(cell, order=order, today=today, epoch_1904=epoch_1904)
    except BadDate as error:
        raise BadCell(
            "foaled_bad",
            "This is no year or date of birth: write a year, such as 2012.",
        ) from error
    _check_foaled(day, today, shown_year=day.year)
    return day.year, day


def _check_foaled(day: date, today: date, *, shown_year: int) -> None:
    if day > today or not today.year - OLDEST_YEARS <= shown_year <= today.year:
        raise BadCell(
            "foaled_range",
            f"A horse was foaled in the last {OLDEST_YEARS} years: correct the year.",
        )


def _year_of_age(found: re.Match[str], today: date) -> int:
    number = Decimal(found[1].replace(",", "."))
    unit = (found[2] or "y").casefold()
    months = int(number) if unit.startswith("m") else int(number * 12)
    if months > OLDEST_YEARS * 12:
        raise BadCell("age_range", f"An age is 0 to {OLDEST_YEARS} years: correct it.")
    if unit.startswith("m"):
        return today.year - (months - today.month + 12) // 12
    return today.year - int(number)
