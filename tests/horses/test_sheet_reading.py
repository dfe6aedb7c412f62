"""Files as spreadsheets save them, and files that are none."""

import io
import zipfile
from datetime import date, datetime, time
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from horses.sheets.fields import score_headings
from horses.sheets.grid import NotASheet, shown
from horses.sheets.reading import read_grid


def read(data):
    return read_grid(data, lambda cells: score_headings(cells, {}))


def cells(data):
    return [line.cells for line in read(data).lines]


TEXT = 'Owner{0}Horse{0}Notes\r\nZoë Reed{0}Star{0}"a{0}b\nc ""d"" € –"\r\n'
EXPECTED = ("Zoë Reed", "Star")


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_each_separator_in_each_encoding_says_the_same(mark, encoding):
    rows = cells(TEXT.format(mark).encode(encoding))
    assert rows[1][:2] == EXPECTED
    within = " " if mark == "\t" else mark  # white space is one space
    assert rows[1][2] == f'a{within}b\nc "d" € –'


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_numbers_are_those_that_a_person_sees(end):
    lines = [
        "Stable book",
        "",
        "Owner,Horse,Notes",
        'Ann,Kit,"one',
        "two",
        'three"',
        ",,",
        "Bob,Tin,",
    ]
    grid = read(end.join(lines).encode())
    assert [line.number for line in grid.lines] == [1, 3, 4, 8]


def test_a_first_line_that_names_the_separator_is_obeyed():
    grid = read(b"sep=;\nOwner;Horse\nAnn;Kit\n")
    assert [line.cells for line in grid.lines] == [("Owner", "Horse"), ("Ann", "Kit")]
    assert grid.lines[0].number == 2


def test_decimal_commas_do_not_make_commas_the_separator():
    data = b"Owner;Horse;Price\nAnn;Kit;45,50\nBob;Tin;45,50\nCy;Tom;1,5\n"
    assert cells(data)[1] == ("Ann", "Kit", "45,50")


def test_an_open_quotation_mark_spoils_its_own_line_alone():
    grid = read(b'Owner,Horse,Notes\nAnn,Kit,"open\nBob,Tin,x\nCy,Tom,y\n')
    assert [(b.number, b.code) for b in grid.broken] == [(2, "quote_open")]
    assert [line.cells[0] for line in grid.lines] == ["Owner", "Bob", "Cy"]


def test_an_open_mark_that_meets_a_later_one_spoils_its_own_line_alone():
    grid = read(b'Owner,Horse,Notes\nAnn,Kit,"open\nBob,Tin,"a, b"\nCy,Tom,y\n')
    assert [b.number for b in grid.broken] == [2]
    assert [line.cells[-1] for line in grid.lines] == ["Notes", "a, b", "y"]


def test_inch_marks_within_cells_are_text():
    rows = cells(b'Owner,Horse,Notes\nAnn,Kit,12" shoes\nBob,Tin,5"\n')
    assert rows[1][2] == '12" shoes'
    assert rows[2][2] == '5"'


def test_a_cell_of_a_megabyte_spoils_its_own_line_alone():
    data = b"Owner,Horse\nAnn," + b"x" * 1_000_000 + b"\nBob,Tin\n"
    grid = read(data)
    assert [(b.number, b.code) for b in grid.broken] == [(2, "cell_too_long")]
    assert grid.lines[-1].cells == ("Bob", "Tin")


def test_unseen_characters_go_and_spaces_are_one():
    rows = cells("Owner,Horse\n\u200bAnn\u00a0  Other ,\ufeffKit\u202e\n".encode())
    assert rows[1] == ("Ann Other", "Kit")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xef\xbb\xbf",
        b"\r\n\r\n",
        b",,,\n,,\n",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"x" * 100,
        b"PK\x03\x04 and nonsense",
        b"%PDF-1.7\n\x00\x01\x02\x00",
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00",
        b"\x00" * 50,
    ],
)
def test_what_is_no_sheet_is_told_in_one_sentence(data):
    with pytest.raises(NotASheet) as told:
        read(data)
    assert str(told.value).endswith(".")
    assert "\n" not in str(told.value)


def zipped(**parts):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in parts.items():
            packed.writestr(name.replace("__", "/").replace("_xml", ".xml"), text)
    return file.getvalue()


def test_other_packed_files_are_no_sheets():
    with pytest.raises(NotASheet, match=r"not an \.xlsx"):
        read(zipped(content_xml="<office/>"))
    with pytest.raises(NotASheet, match="damaged"):
        read(zipped(xl__workbook_xml="<nonsense"))


def test_a_workbook_that_unpacks_to_too_much_is_refused(monkeypatch):
    monkeypatch.setattr("horses.sheets.reading.MOST_UNPACKED_BYTES", 1_000_000)
    with pytest.raises(NotASheet, match="too large"):
        read(zipped(xl__workbook_xml="<x/>", xl__big_xml=" " * 1_100_000))


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data):
    try:
        grid = read(data)
    except NotASheet:
        return
    assert all(any(shown(cell) for cell in line.cells) for line in grid.lines)


# --- workbooks ----------------------------------------------------------------------


def saved(book):
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def test_a_workbook_s_cells_keep_their_kinds():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Owner", "Horse", "Last visit", "Price", "Weeks", "Time", "Flag"])
    nine = datetime(2026, 3, 4, 9)  # noqa: DTZ001  # workbooks know no zones
    sheet.append(["Ann", "Kit", nine, 45.5, 6, time(9, 30), True])
    sheet.append(["Bob", 7, date(2026, 3, 4), 45, 6.5, None, "#N/A"])
    rows = cells(saved(book))
    assert rows[1] == (
        *("Ann", "Kit", date(2026, 3, 4)),
        *(Decimal("45.5"), Decimal(6), "09:30", "TRUE"),
    )
    assert rows[2][1] == Decimal(7)
    assert rows[2][6] == "#N/A"


def test_rows_above_the_heading_merged_cells_and_gaps_do_no_harm():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet["A2"] = "My practice"
    sheet.merge_cells("A2:D2")
    for place, text in enumerate(["Owner", "Horse"], start=2):
        sheet.cell(5, place, text)
    sheet["B8"], sheet["C8"] = "Ann", "Kit"
    grid = read(saved(book))
    assert [line.number for line in grid.lines] == [2, 5, 8]
    assert grid.lines[2].cells == ("", "Ann", "Kit")


def test_a_cell_merged_over_rows_holds_for_each_filled_one():
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ["Owner", "Horse", "Price"],
        ["Ann Bell", "Kit", 90],
        [None, "Moss", None],
        [None, None, None],
        [None, "Fern", 40],
    ):
        sheet.append(row)
    sheet.merge_cells("A2:A4")
    sheet.merge_cells("C2:C3")
    sheet.merge_cells("B5:B6")
    grid = read(saved(book))
    assert [line.cells for line in grid.lines[1:]] == [
        ("Ann Bell", "Kit", Decimal(90)),
        ("Ann Bell", "Moss", Decimal(90)),
        ("", "Fern", Decimal(40)),
    ]
    merged = {(2, 0), (3, 0), (4, 0), (2, 2), (3, 2), (5, 1), (6, 1)}
    assert grid.merged == merged


def test_the_sheet_that_looks_like_ours_is_taken():
    book = openpyxl.Workbook()
    book.active.append(["Read me"])
    hidden = book.create_sheet("Hidden")
    hidden.append(["Owner", "Horse", "Breed"])
    hidden.sheet_state = "hidden"
    ours = book.create_sheet("Horses")
    ours.append(["Owner", "Horse"])
    assert read(saved(book)).title == "Horses"


def test_noughts_in_front_and_percents_are_kept_as_shown():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Owner", "Horse", "ZIP", "Price"])
    sheet.append(["Ann", "Kit", 5826, 0.45])
    sheet["C2"].number_format = "00000"
    sheet["D2"].number_format = "0.00%"
    assert cells(saved(book))[1][2:] == ("05826", "45 %")


def test_a_1904_workbook_says_so():
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    book.active.append(["Owner", "Horse", "Last visit"])
    book.active.append(["Ann", "Kit", date(2026, 3, 4)])
    grid = read(saved(book))
    assert grid.epoch_1904
    assert grid.lines[1].cells[2] == date(2026, 3, 4)


def test_a_formula_counts_by_the_value_that_was_saved_with_it():
    book = openpyxl.Workbook()
    book.active.append(["Owner", "Horse", "Price"])
    book.active.append(["Ann", "Kit", "=40+5"])
    data = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(saved(book))) as old,
        zipfile.ZipFile(data, "w") as new,
    ):
        for part in old.namelist():
            text = old.read(part)
            if part == "xl/worksheets/sheet1.xml":
                # As a spreadsheet program saves it: the formula and its last value.
                assert b"<f>40+5</f><v></v>" in text or b"<f>40+5</f><v />" in text
                text = text.replace(b"<v></v>", b"<v>45</v>")
                text = text.replace(b"<v />", b"<v>45</v>")
            new.writestr(part, text)
    assert cells(data.getvalue())[1][2] == Decimal(45)


def test_a_formula_that_nobody_reckoned_is_no_blank():
    book = openpyxl.Workbook()
    book.active.append(["Owner", "Horse", "Last visit"])
    book.active.append(["Ann", "Kit", "=TODAY()-30"])
    assert cells(saved(book))[1] == ("Ann", "Kit", "#CALC!")


def test_numbers_that_are_none_are_text():
    rows = cells(worksheet((b't="inlineStr"><is><t>Kit</t></is>', b"><v>1E999</v>")))
    assert rows[1] == ("Ann", "inf")


def test_a_cell_in_the_furthest_corner_costs_nothing():
    book = openpyxl.Workbook()
    book.active.append(["Owner", "Horse"])
    book.active.append(["Ann", "Kit"])
    book.active.cell(1_048_576, 3, "x")
    grid = read(saved(book))
    assert [line.number for line in grid.lines] == [1, 2, 1_048_576]


def worksheet(*changes):
    """A workbook whose sheet was tampered with: pairs of old and new bytes."""
    book = openpyxl.Workbook()
    book.active.append(["Owner", "Horse"])
    book.active.append(["Ann", "Kit"])
    data = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(saved(book))) as before,
        zipfile.ZipFile(data, "w") as after,
    ):
        for part in before.namelist():
            text = before.read(part)
            if part == "xl/worksheets/sheet1.xml":
                for old, new in changes:
                    assert old in text
                    text = text.replace(old, new)
            after.writestr(part, text)
    return data.getvalue()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'<row r="2"', b'<row r="99999999999"'),
        (b'<row r="2"', b'<row r="-5"'),
        (b't="inlineStr"', b't="s"'),
        (b't="inlineStr"', b't="d"'),
        (b"Kit", b"&a;"),
        (b"Kit", b"\xff\xfe"),
        (b"</sheetData>", b""),
    ],
)
def test_a_workbook_that_was_tampered_with_is_read_or_refused(old, new):
    try:
        grid = read(worksheet((old, new)))
    except NotASheet:
        return
    assert len(grid.lines) <= 2


def test_entities_that_swell_are_refused():
    lines = [b'<!ENTITY a "aaaaaaaaaa">']
    lines += [
        b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(9)
    ]
    doctype = b"<!DOCTYPE x [" + b"".join(lines) + b"]>"
    data = worksheet((b"<worksheet ", doctype + b"<worksheet "), (b"Kit", b"&j;"))
    with pytest.raises(NotASheet):
        read(data)


def test_a_workbook_that_swells_is_refused_before_it_is_unpacked(monkeypatch):
    monkeypatch.setattr("horses.sheets.reading.MOST_UNPACKED_BYTES", 1000)

    def unpacks(*_):
        raise AssertionError("it was unpacked")

    monkeypatch.setattr("horses.sheets.reading._holds_formula", unpacks)
    with pytest.raises(NotASheet, match="too large unpacked"):
        read(worksheet())
