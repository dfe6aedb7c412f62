"""What the import pages read."""

from dataclasses import dataclass

from django.db.models import QuerySet

from horses.models import SheetImport
from horses.sheets.fields import Column, match_columns, score_headings
from horses.sheets.grid import NotASheet, shown
from horses.sheets.reading import read_grid
from horses.sheets.rows import find_heading
from practice.errors import Refused
from practice.models import User

SAMPLES = 3  # values of a column that are shown beside its heading


@dataclass(frozen=True, slots=True)
class SeenColumn:
    """A column with a heading, how it is matched, its first values."""

    column: Column
    samples: tuple[str, ...]


def columns_of(sheet: SheetImport) -> list[SeenColumn]:
    """The columns of a waiting sheet, also where they don't do yet.

    Raises:
        Refused: the kept file can't be read any more.
    """
    mapping = sheet.mapping
    try:
        grid = read_grid(
            bytes(sheet.content), lambda cells: score_headings(cells, mapping)
        )
    except NotASheet as error:
        raise Refused(str(error)) from error
    at = find_heading(grid, mapping)
    columns = match_columns(grid.lines[at].cells, mapping)
    samples: dict[int, list[str]] = {column.place: [] for column in columns}
    for line in grid.lines[at + 1 : at + 60]:
        for place, cell in enumerate(line.cells):
            text = shown(cell)
            found = samples.get(place)
            if found is None or text == columns[place].heading:
                continue
            if text and text not in found:
                found.append(text)
    return [
        SeenColumn(column, tuple(samples[column.place][:SAMPLES]))
        for column in columns
        if column.heading
    ]


def earlier(viewer: User, *, most: int = 10) -> QuerySet[SheetImport]:
    """The last imports, newest first, without their files."""
    rows = SheetImport.objects.visible_to(viewer).select_related("by")
    return rows.defer("content")[:most]
