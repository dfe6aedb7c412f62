"""A sheet as lines of cells, before anyone has asked what its columns mean. Pure."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

Cell = str | Decimal | date
"""What a cell holds: text (tidy, '' when blank), a number, or a day."""

UNRECKONED = "#CALC!"
"""What stands for a formula whose value was never saved with it."""

FORMULA_ERRORS = frozenset(
    {
        UNRECKONED,
        "#DIV/0!",
        "#N/A",
        "#NAME?",
        "#NULL!",
        "#NUM!",
        "#REF!",
        "#VALUE!",
        "#SPILL!",
    }
)
"""What a spreadsheet shows where a formula has failed (ECMA-376, error values)."""


class NotASheet(ValueError):
    """The file can't be read as a sheet; the message says what mends it.

    has_columns: it has rows, but no heading that names a horse and an owner.
    """

    def __init__(self, message: str, *, has_columns: bool = False) -> None:
        super().__init__(message)
        self.has_columns = has_columns


@dataclass(frozen=True, slots=True)
class Line:
    """One filled row: `number` is the line (CSV) or row (.xlsx) that a person sees,
    of the row's first line where it has several; the first is 1."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Broken:
    """A line that can't be cut into cells: `code` and `message` as in a bad row."""

    number: int
    text: str
    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Grid:
    """All filled lines of one sheet, in order.

    title: the sheet's own name (.xlsx), or ''. epoch_1904: day numbers count from
    1904 rather than 1900. merged: line's number and cell's place of each cell merged
    over several rows, which holds what its top one does (.xlsx). ragged: a cell beyond the heading row means that a line
    was cut in the wrong places (CSV).
    """

    lines: tuple[Line, ...]
    broken: tuple[Broken, ...] = ()
    title: str = ""
    epoch_1904: bool = False
    merged: frozenset[tuple[int, int]] = frozenset()
    ragged: bool = False


def shown(cell: Cell) -> str:
    """The cell as text: a day in ISO 8601, a number without needless zeros."""
    if isinstance(cell, Decimal):
        return f"{cell.normalize():f}" if cell else "0"
    if isinstance(cell, date):
        return cell.isoformat()
    return cell
