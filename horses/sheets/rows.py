"""From a grid to rows of the practice: one horse each, or one fault each. Pure.

A row needs an owner's name and a horse's name; all else may be blank. A row with
anything that can't be taken is bad as a whole and is reported once, with the fault
that stands furthest to the left.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from horses.sheets import cells as read
from horses.sheets.dates import BadDate, ColumnOrder, Order, column_order, parse_day
from horses.sheets.fields import Column, Field, match_columns, score_headings
from horses.sheets.grid import (
    FORMULA_ERRORS,
    Broken,
    Cell,
    Grid,
    Line,
    NotASheet,
    shown,
)
from horses.sheets.record import Address, BadRow, SheetRow, Terms
from practice.geo import BadPosition, parse_position
from practice.names import (
    find_post_code,
    is_email,
    name_key,
    post_code_key,
)

MOST_PRICE = Decimal("9999999.99")
OLDEST_VISIT_YEARS = 40  # a last visit before that is a slip of the pen
HEADING_WITHIN = 40  # filled lines among which the heading is looked for

LONGEST: dict[Field, int] = {
    Field.OWNER: 120,
    Field.OWNER_PHONE: 40,
    Field.OWNER_EMAIL: 254,
    Field.OWNER_ADDRESS: 200,
    Field.OWNER_TOWN: 100,
    Field.OWNER_POST_CODE: 20,
    Field.BARN: 120,
    Field.BARN_ADDRESS: 200,
    Field.BARN_TOWN: 100,
    Field.BARN_POST_CODE: 20,
    Field.HORSE: 120,
    Field.BREED: 80,
    Field.USE: 120,
    Field.USUAL_WORK: 200,
    Field.NOTES: 20_000,
}
"""Characters that each field can keep."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A whole sheet, read.

    orders: how the day columns were read, by heading. currency_signs: the signs seen
    with prices ('' if none). heading_line: the number of the heading's line.
    """

    columns: tuple[Column, ...]
    rows: tuple[SheetRow, ...]
    bad: tuple[BadRow, ...]
    heading_line: int
    orders: Mapping[str, ColumnOrder] = field(default_factory=dict)
    currency_signs: str = ""

    @property
    def asked(self) -> ColumnOrder | None:
        """The first day column whose order should be asked, if any."""
        return next((order for order in self.orders.values() if order.asked), None)


def find_heading(grid: Grid, mapping: Mapping[str, str | None]) -> int:
    """The place among the grid's lines of the one that looks most like a heading."""
    scores = [
        score_headings(line.cells, mapping) for line in grid.lines[:HEADING_WITHIN]
    ]
    return scores.index(max(scores)) if scores else 0


def read_rows(
    grid: Grid, terms: Terms, mapping: Mapping[str, str | None] | None = None
) -> Reading:
    """Reads a grid's rows below its heading.

    Args:
        mapping: heading → field or None, before what the headings themselves say.

    Raises:
        NotASheet: no heading for the horse's or the owner's name.
        BadMapping: the mapping doesn't fit the sheet.
    """
    mapping = mapping or {}
    if not grid.lines:
        raise NotASheet("The sheet has no rows: save it again and send that.")
    at = find_heading(grid, mapping)
    columns = match_columns(grid.lines[at].cells, mapping)
    _demand_names(columns)
    heads = [name_key(column.heading) for column in columns]
    below = [line for line in grid.lines[at + 1 :] if not _is_heading(line, heads)]
    reader = _RowReader(columns, below, terms, grid)
    rows: list[SheetRow] = []
    bad = [_broken_row(broken) for broken in grid.broken]
    for line in below:
        found = reader.read(line)
        if isinstance(found, BadRow):
            bad.append(found)
        else:
            rows.append(found)
    return Reading(
        columns=columns,
        rows=tuple(rows),
        bad=tuple(sorted(bad, key=lambda row: row.line)),
        heading_line=grid.lines[at].number,
        orders=reader.orders,
        currency_signs=reader.currency_signs,
    )


def _demand_names(columns: Sequence[Column]) -> None:
    found = {column.field for column in columns}
    missing = []
    if Field.HORSE not in found:
        missing.append("the horse's name (such as 'Horse')")
    if not {Field.OWNER, Field.OWNER_GIVEN, Field.OWNER_FAMILY} & found:
        missing.append("the owner's name (such as 'Owner')")
    if missing:
        raise NotASheet(
            f"The sheet has no heading for {' and none for '.join(missing)}: "
            "add it, or name the column in a mapping.",
            has_columns=True,
        )


def _is_heading(line: Line, heads: Sequence[str]) -> bool:
    """Whether a line repeats the heading, as sheets of several pages do."""
    same = 0
    for cell, head in zip(line.cells, heads, strict=False):
        text = name_key(cell) if isinstance(cell, str) else shown(cell)
        if text and text != head:
            return False
        same += bool(text)
    return same > 1


def _broken_row(broken: Broken) -> BadRow:
    return BadRow(broken.number, "whole line", broken.text, broken.code, broken.message)


class _RowReader:
    """Reads lines one by one, knowing what was decided for whole columns."""

    def __init__(
        self, columns: Sequence[Column], lines: Sequence[Line], terms: Terms, grid: Grid
    ) -> None:
        self.columns = columns
        self.terms = terms
        self.grid = grid
        self.places: dict[Field, list[int]] = {}
        for column in columns:
            if column.field:
                self.places.setdefault(column.field, []).append(column.place)
        self.orders = {
            columns[place].heading: self._order(place, lines)
            for one in (Field.LAST_VISIT, Field.FOALED)
            for place in self.places.get(one, [])
        }
        prices = [
            cell
            for place in self.places.get(Field.PRICE, [])
            for cell in self._column(place, lines)
        ]
        self.mark = read.column_mark(prices, terms.country)
        heads = [columns[place].heading for place in self.places.get(Field.PRICE, [])]
        texts = "".join(heads) + "".join(c for c in prices if isinstance(c, str))
        self.currency_signs = "".join(sorted(set(re.findall(r"[$£€¥₹]", texts))))

    @staticmethod
    def _column(place: int, lines: Sequence[Line]) -> list[Cell]:
        return [line.cells[place] for line in lines if len(line.cells) > place]

    def _order(self, place: int, lines: Sequence[Line]) -> ColumnOrder:
        return column_order(
            self._column(place, lines),
            heading=self.columns[place].heading,
            country=self.terms.country,
            told=self.terms.order,
        )

    def read(self, line: Line) -> SheetRow | BadRow:
        """The row of a line, or its leftmost fault."""
        row = _Row(self, line)
        if row.faults:
            place, value, code, message = min(row.faults, key=lambda fault: fault[0])
            heading = (
                self.columns[place].heading if 0 <= place < len(self.columns) else ""
            )
            column = heading or f"column {place + 1}"
            return BadRow(line.number, column, value[:200], code, message)
        return row.taken()


class _Row:
    """One line being read: its faults as they are met, its values."""

    def __init__(self, reader: _RowReader, line: Line) -> None:
        self.reader = reader
        self.line = line
        self.faults: list[tuple[int, str, str, str]] = []
        self.left: list[tuple[int, str]] = []  # (place, text) to keep as notes
        self._check_width()
        self._check_formulas()
        self.owner = self._owner()
        self.horse = self._required(Field.HORSE, "missing_horse", "the horse's name")
        self.phone = self._first(Field.OWNER_PHONE)
        self.email = self._email()
        self.owner_address = self._address("owner")
        self.position = self._position()
        self.barn_address = self._address("barn")
        self.barn, self.barn_is_ours = self._barn()
        self.breed = self._text(Field.BREED)
        self.use = self._text(Field.USE)
        self.usual_work = self._text(Field.USUAL_WORK)
        self.foaled_year, self.foaled_on, self.age = self._foaled()
        self.last_visit = self._last_visit()
        self.weeks = self._weeks()
        self.price = self._price()
        self.notes = self._notes()

    def taken(self) -> SheetRow:
        return SheetRow(
            line=self.line.number,
            owner=self.owner,
            phone=self.phone,
            email=self.email,
            owner_address=self.owner_address,
            barn=self.barn,
            barn_address=self.barn_address,
            barn_is_ours=self.barn_is_ours,
            position=self.position,
            horse=self.horse,
            breed=self.breed,
            foaled_year=self.foaled_year,
            foaled_on=self.foaled_on,
            age=self.age,
            use=self.use,
            last_visit=self.last_visit,
            weeks=self.weeks,
            usual_work=self.usual_work,
            price=self.price,
            notes=self.notes,
        )

    # --- getting at cells ---

    def _cell(self, place: int) -> Cell:
        return self.line.cells[place] if place < len(self.line.cells) else ""

    def _place(self, wanted: Field) -> int:
        return self.reader.places.get(wanted, [-1])[0]

    def _only(self, wanted: Field) -> Cell:
        """The cell of a field with one column; '' when blank or no such column."""
        place = self._place(wanted)
        cell = self._cell(place) if place >= 0 else ""
        return "" if read.is_blank(cell) else cell

    def _fault(self, place: int, value: Cell, code: str, message: str) -> None:
        self.faults.append((place, shown(value), code, message))

    def _checked(self, wanted: Field, place: int, text: str) -> str:
        longest = LONGEST.get(wanted)
        if longest and len(text) > longest:
            message = f"The text is longer than {longest} characters: shorten it."
            self._fault(place, text, "too_long", message)
        return text

    def _text(self, wanted: Field) -> str:
        """One line of text."""
        text = shown(self._only(wanted)).replace("\n", ", ")
        return self._checked(wanted, self._place(wanted), text)

    def _required(self, wanted: Field, code: str, what: str) -> str:
        text = " ".join(self._text(wanted).split())
        if not text or not name_key(text):
            message = f"The row has no {what.partition(' ')[2]}: fill it in."
            self._fault(self._place(wanted), self._raw(wanted), code, message)
        return text

    def _raw(self, wanted: Field) -> str:
        place = self._place(wanted)
        return shown(self._cell(place)) if place >= 0 else ""

    def _first(self, wanted: Field) -> str:
        """The first filled of several columns; the others are kept as notes."""
        found = ""
        for place in self.reader.places.get(wanted, []):
            cell = self._cell(place)
            if read.is_blank(cell):
                continue
            if found:
                self.left.append((place, shown(cell)))
            else:
                found = self._checked(wanted, place, shown(cell).replace("\n", ", "))
        return found

    # --- whole row ---

    def _check_width(self) -> None:
        extra = self.line.cells[len(self.reader.columns) :]
        for place, cell in enumerate(extra, start=len(self.reader.columns)):
            if not shown(cell):
                continue
            if self.reader.grid.ragged:
                message = (
                    "The row has more cells than the heading: put a value that holds "
                    "the separator in quotation marks."
                )
                self._fault(place, cell, "too_many_cells", message)
                return
            self.left.append((place, shown(cell)))

    def _check_formulas(self) -> None:
        for column in self.reader.columns:
            cell = self._cell(column.place)
            if column.field and shown(cell) in FORMULA_ERRORS:
                message = (
                    "The cell's formula has failed or was never reckoned: "
                    "put the value itself there."
                )
                self._fault(column.place, cell, "formula_error", message)

    # --- owner ---

    def _owner(self) -> str:
        given, family = self._text(Field.OWNER_GIVEN), self._text(Field.OWNER_FAMILY)
        parted = " ".join(f"{given} {family}".split())
        if Field.OWNER not in self.reader.places:
            place = max(self._place(Field.OWNER_GIVEN), self._place(Field.OWNER_FAMILY))
            if not parted:
                message = "The row has no owner's name: fill it in."
                self._fault(place, "", "missing_owner", message)
            return self._checked(Field.OWNER, place, parted)
        if parted and not shown(self._only(Field.OWNER)):
            return self._checked(Field.OWNER, self._place(Field.OWNER), parted)
        return self._required(Field.OWNER, "missing_owner", "the owner's name")

    def _email(self) -> str:
        text = self._first(Field.OWNER_EMAIL)
        bare = re.sub(r"^mailto:", "", text, flags=re.IGNORECASE).strip("<>;, ")
        if text.casefold() in {"none", "no", "nil", "unknown"}:
            return ""
        if text and not is_email(bare):
            places = self.reader.places[Field.OWNER_EMAIL]
            place = next(p for p in places if shown(self._cell(p)))
            message = "This is no e-mail address: write it like name@example.org."
            self._fault(place, text, "email_bad", message)
        return bare

    def _address(self, whose: str) -> Address:
        street_field = Field(f"{whose}_address")
        parts = [
            shown(self._cell(place)).strip(", ")
            for place in self.reader.places.get(street_field, [])
            if not read.is_blank(self._cell(place))
        ]
        street = ", ".join(part.replace("\n", ", ") for part in parts)
        post_code = self._text(Field(f"{whose}_post_code"))
        if self.reader.terms.country == "US" and re.fullmatch("[0-9]{3,4}", post_code):
            post_code = post_code.zfill(5)  # a spreadsheet has eaten the noughts
        found = find_post_code(street, self.reader.terms.country)
        if found and (
            not post_code or post_code_key(found) == post_code_key(post_code)
        ):
            post_code = post_code or found
            street = _without(street, found)
        self._checked(street_field, self._place(street_field), street)
        return Address(street, self._text(Field(f"{whose}_town")), post_code)

    # --- barn ---

    def _position(self) -> tuple[Decimal, Decimal] | None:
        place = self._place(Field.BARN_POSITION)
        text = shown(self._only(Field.BARN_POSITION))
        if not text:
            place, text = self._two_columns()
        if not text:
            return None
        try:
            at = parse_position(text)
        except BadPosition as error:
            self._fault(place, text, "position_bad", str(error))
            return None
        return _six(at.lat), _six(at.lon)

    def _two_columns(self) -> tuple[int, str]:
        lat, lon = self._only(Field.BARN_LATITUDE), self._only(Field.BARN_LONGITUDE)
        place = self._place(Field.BARN_LATITUDE)
        if shown(lat) and shown(lon):
            parts = [shown(part).replace(",", ".") for part in (lat, lon)]
            return place, ", ".join(parts)
        if shown(lat) or shown(lon):
            empty = Field.BARN_LONGITUDE if shown(lat) else Field.BARN_LATITUDE
            message = "A position needs both latitude and longitude: fill in both."
            self._fault(max(self._place(empty), place), "", "position_bad", message)
        return place, ""

    def _barn(self) -> tuple[str, bool]:
        """The barn's name, and whether it is ours: made from the address's first
        part, or from the owner's name where there is no address either."""
        name = " ".join(self._text(Field.BARN).split())
        if name and self.position is None:
            self.position = _position_in(name)
            if self.position is not None:
                name = ""
        if name:
            return name, False
        if self.barn_address.street:
            first = self.barn_address.street.split(",")[0]
            return first[: LONGEST[Field.BARN]], False
        if self.position or self.barn_address.post_code or self.barn_address.town:
            return f"At {self.owner}"[: LONGEST[Field.BARN]], True
        return "", False

    # --- numbers and days ---

    def _foaled(self) -> tuple[int | None, date | None, str]:
        for wanted in (Field.FOALED, Field.AGE):
            cell = self._only(wanted)
            if not shown(cell):
                continue
            heading = self.reader.columns[self._place(wanted)].heading
            order = self.reader.orders.get(heading)
            both = wanted == Field.FOALED and "age" in heading.casefold()
            try:
                year, day = read.parse_foaled(
                    cell,
                    is_age=wanted == Field.AGE or (both and len(shown(cell)) < 3),
                    order=order.order if order else Order.DAY_FIRST,
                    today=self.reader.terms.today,
                    epoch_1904=self.reader.grid.epoch_1904,
                )
            except read.BadCell as bad:
                self._fault(self._place(wanted), cell, bad.code, bad.message)
                return None, None, ""
            is_age = day is None and str(year) not in shown(cell)
            return year, day, f"age {shown(cell).casefold()}" if is_age else ""
        return None, None, ""

    def _last_visit(self) -> date | None:
        cell, place = self._only(Field.LAST_VISIT), self._place(Field.LAST_VISIT)
        if not shown(cell) or shown(cell).casefold() in {"never", "none yet"}:
            return None
        today = self.reader.terms.today
        try:
            day = parse_day(
                cell,
                order=self.reader.orders[self.reader.columns[place].heading].order,
                today=today,
                epoch_1904=self.reader.grid.epoch_1904,
            )
        except BadDate as error:
            self._fault(place, cell, "date_bad", str(error))
            return None
        if day > today:
            message = "The last visit lies in the future: correct the date."
            self._fault(place, cell, "date_future", message)
        elif day.year < today.year - OLDEST_VISIT_YEARS:
            message = "The last visit lies too far back: correct the year."
            self._fault(place, cell, "date_range", message)
        elif day < (self.foaled_on or day) or day.year < (self.foaled_year or 0):
            message = "The last visit lies before the horse was foaled: correct one."
            self._fault(place, cell, "date_before_foaled", message)
        return day

    def _weeks(self) -> int | None:
        cell = self._only(Field.INTERVAL)
        if not shown(cell):
            return None
        try:
            return read.parse_weeks(cell)
        except read.BadCell as bad:
            self._fault(self._place(Field.INTERVAL), cell, bad.code, bad.message)
            return None

    def _price(self) -> Decimal | None:
        cell = self._only(Field.PRICE)
        if not shown(cell):
            return None
        if (self.line.number, self._place(Field.PRICE)) in self.reader.grid.merged:
            message = "The price is merged over several rows: write each horse's own."
            self._fault(self._place(Field.PRICE), cell, "price_merged", message)
            return None
        try:
            return read.parse_price(
                cell,
                mark=self.reader.mark,
                decimals=self.reader.terms.decimals,
                most=MOST_PRICE,
            )
        except read.BadCell as bad:
            self._fault(self._place(Field.PRICE), cell, bad.code, bad.message)
            return None

    # --- notes ---

    def _notes(self) -> str:
        """Notes columns as they are, then each column without a field as
        'Heading: value'."""
        places = self.reader.places.get(Field.NOTES, [])
        told = [text for place in places if (text := shown(self._cell(place)))]
        for column in self.reader.columns:
            if column.field is None and shown(self._cell(column.place)):
                self.left.append((column.place, shown(self._cell(column.place))))
        for place, text in sorted(self.left):
            known = place < len(self.reader.columns)
            heading = self.reader.columns[place].heading if known else ""
            told.append(f"{heading or f'Column {place + 1}'}: {text}")
        return self._checked(
            Field.NOTES, max(self._place(Field.NOTES), 0), "\n".join(told)
        )


def _six(degrees: float) -> Decimal:
    return Decimal(repr(round(degrees, 6))).quantize(Decimal("0.000001"))


def _position_in(name: str) -> tuple[Decimal, Decimal] | None:
    """A position typed where the barn's name is asked for, if it is one."""
    if sum(c.isdigit() for c in name) < 4 or re.search(r"[A-Za-z]{3}", name):
        return None
    try:
        at = parse_position(name)
    except BadPosition:
        return None
    return _six(at.lat), _six(at.lon)


def _without(street: str, post_code: str) -> str:
    pattern = r"\s*".join(map(re.escape, post_code.split()))
    left = re.sub(rf"[\s,]*\b{pattern}\b", "", street, flags=re.IGNORECASE)
    return left.strip(", ")
