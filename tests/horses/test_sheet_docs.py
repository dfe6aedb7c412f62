"""The import page of the docs names every field and every code."""

import re
from pathlib import Path

from horses.sheets.fields import Field

ROOT = Path(__file__).resolve().parent.parent.parent
TEXT = (ROOT / "docs" / "import.md").read_text(encoding="utf-8")


def test_each_field_of_a_mapping_is_named():
    line = next(row for row in TEXT.splitlines() if row.startswith("The fields of a"))
    assert re.findall(r"`(\w+)`", line) == [str(field) for field in Field]


def test_each_code_of_a_bad_row_is_explained():
    sources = "".join(
        path.read_text(encoding="utf-8")
        for path in (ROOT / "horses" / "sheets").glob("*.py")
    )
    names = "date|interval|price|foaled|age|email|position"
    used = set(
        re.findall(
            rf'"((?:{names})_(?:bad|range|negative|future|before_foaled)'
            r"|missing_\w+|horse_twice|too_long|formula_error|too_many_cells"
            r'|quote_open|cell_too_long)"',
            sources,
        )
    )
    told = set(re.findall(r"`(\w+)`", TEXT[TEXT.index("| code |") :]))
    assert used == told - {"tests"}
    assert len(used) == 23
