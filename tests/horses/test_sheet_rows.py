"""Rows of a sheet: what is taken, what is bad and why, what is kept as a note."""

from datetime import date
from decimal import Decimal

import pytest

from horses.sheets.dates import Order
from horses.sheets.fields import score_headings
from horses.sheets.grid import Grid, Line, NotASheet
from horses.sheets.reading import read_grid
from horses.sheets.rows import Terms, read_rows

TODAY = date(2026, 11, 25)


def read(text, *, country="GB", mapping=None, order=None, decimals=2):
    mapping = mapping or {}
    grid = read_grid(text.encode(), lambda cells: score_headings(cells, mapping))
    terms = Terms(country=country, decimals=decimals, today=TODAY, order=order)
    return read_rows(grid, terms, mapping)


def one(heading, value, **more):
    """The one row of a sheet with owner, horse and a further column."""
    reading = read(f'Owner;Horse;{heading}\nAnn;Kit;"{value}"\n', **more)
    assert not reading.bad, reading.bad
    return reading.rows[0]


def fault(heading, value, **more):
    reading = read(f'Owner;Horse;{heading}\nAnn;Kit;"{value}"\n', **more)
    assert not reading.rows
    (bad,) = reading.bad
    assert (bad.line, bad.column, bad.value) == (2, heading, value)
    assert bad.message.endswith(".")
    return bad.code


@pytest.mark.parametrize(
    ("heading", "value", "code"),
    [
        ("Last visit", "31/02/2026", "date_bad"),
        ("Last visit", "14/14/2026", "date_bad"),
        ("Last visit", "yesterday", "date_bad"),
        ("Last visit", "26/11/2026", "date_future"),
        ("Last visit", "01/01/1926", "date_range"),
        ("Last visit", "2", "date_bad"),
        ("Interval", "six", "interval_bad"),
        ("Interval", "0", "interval_range"),
        ("Interval", "53", "interval_range"),
        ("£", "-45.00", "price_negative"),
        ("£", "tbc", "price_bad"),
        ("Price", "10000000", "price_range"),
        ("E-mail", "ann at example.org", "email_bad"),
        ("Foaled", "2030", "foaled_range"),
        ("Age", "ninety", "age_bad"),
        ("Age", "90", "age_range"),
        ("Position", "somewhere", "position_bad"),
        ("Position", "95.5, -2.7", "position_bad"),
        ("Position", "H7XH+CF", "position_bad"),
        ("Post code", "x" * 21, "too_long"),
        ("Breed", "x" * 81, "too_long"),
        ("Price", "#REF!", "formula_error"),
    ],
)
def test_a_bad_cell_makes_one_bad_row(heading, value, code):
    if heading == "Post code":
        reading = read(f"Owner;{heading};Horse\nAnn;{value};Kit\n")
        assert [bad.code for bad in reading.bad] == [code]
    else:
        assert fault(heading, value) == code


def test_a_row_with_many_faults_is_reported_once_by_the_leftmost():
    reading = read("Owner,Price,Horse,Weeks\n,-4,,six\nAnn,-4,,six\n")
    assert [(b.line, b.code) for b in reading.bad] == [
        (2, "missing_owner"),
        (3, "price_negative"),
    ]


def test_a_row_needs_a_horse_and_an_owner():
    reading = read("Owner,Horse\nAnn,\n,Kit\nAnn,-\n\nAnn,Kit\n")
    assert [(b.line, b.column, b.code) for b in reading.bad] == [
        (2, "Horse", "missing_horse"),
        (3, "Owner", "missing_owner"),
        (4, "Horse", "missing_horse"),
    ]
    assert [row.line for row in reading.rows] == [6]


def test_a_visit_before_the_horse_was_foaled_is_bad():
    reading = read("Owner,Horse,Foaled,Last visit\nAnn,Kit,2020,2019-05-01\n")
    assert [bad.code for bad in reading.bad] == ["date_before_foaled"]


def test_a_value_with_the_separator_in_it_is_bad_not_shifted():
    reading = read("Owner,Horse,Price,Notes\nAnn,Kit,45,50,x\nBob,Tin,45,x,,\n")
    assert [(b.line, b.code) for b in reading.bad] == [(2, "too_many_cells")]
    assert reading.rows[0].notes == "x"


def test_blank_dash_and_never_are_no_values():
    for heading in ("Last visit", "Interval", "£", "E-mail", "Age", "Position"):
        for value in ("", "-", "n/a", "?"):
            row = one(heading, value)
            assert (row.last_visit, row.weeks, row.price) == (None, None, None)
    assert one("Last visit", "never").last_visit is None


def test_columns_without_a_field_are_kept_as_notes():
    reading = read("Owner,Horse,Notes,Colour,,Vet\nAnn,Kit,kicks,bay,x,Hill Vets\n")
    assert reading.rows[0].notes == "kicks\nColour: bay\nColumn 5: x\nVet: Hill Vets"


def test_the_second_of_two_columns_for_a_field_is_kept_as_a_note():
    reading = read("Owner,Horse,Price,Cost,Phone,Mobile\nAnn,Kit,45,50,1,2\n")
    row = reading.rows[0]
    assert (row.price, row.phone) == (Decimal(45), "1")
    assert row.notes == "Cost: 50\nMobile: 2"


def test_a_second_phone_steps_in_where_the_first_is_blank():
    reading = read("Owner,Horse,Phone,Mobile\nAnn,Kit,,07700 900123\n")
    assert (reading.rows[0].phone, reading.rows[0].notes) == ("07700 900123", "")


def test_a_phone_is_kept_as_typed():
    assert one("Phone", "(07700) 900-123 eves").phone == "(07700) 900-123 eves"


def test_given_and_family_names_make_the_owner():
    reading = read("First name,Surname,Horse\nAnn,Other,Kit\n,,Tin\n")
    assert reading.rows[0].owner == "Ann Other"
    assert [bad.code for bad in reading.bad] == ["missing_owner"]


def test_the_post_code_is_found_in_the_address():
    row = one("Barn address", "Moss Farm, Old Lane, Testbridge TD6 9AB")
    assert row.barn_address.street == "Moss Farm, Old Lane, Testbridge"
    assert row.barn_address.post_code == "TD6 9AB"
    assert (row.barn, row.barn_is_ours) == ("Moss Farm", False)


def test_a_zip_gets_the_noughts_back_that_a_spreadsheet_ate():
    text = "Owner,Barn,ZIP,Horse\nAnn,Tamarack,5826,Kit\n"
    assert read(text, country="US").rows[0].barn_address.post_code == "05826"
    assert read(text).rows[0].barn_address.post_code == "5826"


def test_a_place_without_a_name_is_called_after_the_owner():
    row = one("Position", "55.6, -2.7")
    assert (row.barn, row.barn_is_ours) == ("At Ann", True)
    assert row.position == (Decimal("55.600000"), Decimal("-2.700000"))


def test_a_horse_without_a_place_has_no_barn():
    row = one("Owner address", "1 High Street, Testbridge TD6 9AB")
    assert (row.barn, row.position) == ("", None)
    assert row.owner_address.post_code == "TD6 9AB"


@pytest.mark.parametrize(
    "text",
    ["55.598, -2.72", '55°35\'52.8""N 2°43\'12""W', "9C7VH7XJ+62"],
)
def test_a_position_in_each_notation(text):
    lat, lon = one("Position", text).position
    assert abs(lat - Decimal("55.598")) < Decimal("0.0005")
    assert abs(lon - Decimal("-2.72")) < Decimal("0.0005")


def test_latitude_and_longitude_may_stand_apart():
    reading = read("Owner,Horse,Lat,Lon\nAnn,Kit,55.6,-2.7\nBob,Tin,55.6,\n")
    assert reading.rows[0].position == (Decimal("55.600000"), Decimal("-2.700000"))
    assert [bad.code for bad in reading.bad] == ["position_bad"]


def test_a_position_typed_as_the_barn_is_taken_for_one():
    assert one("Barn", "55.6012, -2.7034").position is not None
    row = one("Barn", "Unit 3, 1200 Mill Lane")
    assert (row.barn, row.position) == ("Unit 3, 1200 Mill Lane", None)


def test_the_column_decides_how_its_amounts_are_read():
    text = "Owner;Horse;Price\nAnn;Kit;{}\nBob;Tin;1.200\n"
    assert [row.price for row in read(text.format("45,50")).rows] == [
        Decimal("45.50"),
        Decimal(1200),
    ]
    reading = read(text.format("45.50").replace("1.200", "1,200"), country="DE")
    assert reading.rows[1].price == Decimal(1200)


def test_the_country_and_the_column_decide_the_order_of_day_and_month():
    text = "Owner,Horse,Last visit\nAnn,Kit,03/04/2026\n"
    assert read(text).rows[0].last_visit == date(2026, 4, 3)
    assert read(text, country="US").rows[0].last_visit == date(2026, 3, 4)
    assert read(text).asked.example == "03/04/2026"
    more = text + "Bob,Tin,03/25/2026\n"
    assert read(more).rows[0].last_visit == date(2026, 3, 4)
    answered = read(text, order=Order.MONTH_FIRST)
    assert answered.rows[0].last_visit == date(2026, 3, 4)
    assert answered.asked is None


def test_a_value_that_can_only_be_read_one_way_is_read_so():
    reading = read("Owner,Horse,Last visit\nA,K,25/03/2026\nB,T,03/25/2026\n")
    assert [row.last_visit for row in reading.rows] == [date(2026, 3, 25)] * 2


def test_a_price_merged_over_several_rows_is_asked_for():
    lines = (
        Line(1, ("Owner", "Horse", "Price")),
        Line(2, ("Ann", "Kit", Decimal(90))),
        Line(3, ("Ann", "Moss", Decimal(90))),
        Line(4, ("Ann", "Fern", Decimal(40))),
    )
    grid = Grid(lines, merged=frozenset({(2, 0), (3, 0), (2, 2), (3, 2)}))
    found = read_rows(grid, Terms("GB", 2, TODAY))
    assert [(bad.line, bad.column, bad.code) for bad in found.bad] == [
        (2, "Price", "price_merged"),
        (3, "Price", "price_merged"),
    ]
    assert [row.horse for row in found.rows] == ["Fern"]


def test_title_rows_blank_rows_and_repeated_headings_are_passed_over():
    reading = read("My horses\n\nOwner,Horse\nAnn,Kit\n,\nOWNER,horse\nBob,Tin\n")
    assert [row.line for row in reading.rows] == [4, 7]
    assert reading.bad == ()
    assert reading.heading_line == 3


def test_a_heading_alone_is_a_sheet_without_rows():
    reading = read("Owner,Horse\n")
    assert (reading.rows, reading.bad) == ((), ())


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("Owner,Price\nAnn,4\n", "horse"),
        ("Horse,Price\nKit,4\n", "owner"),
        ("hello world\n", "horse"),
    ],
)
def test_a_sheet_without_horse_or_owner_is_none(text, missing):
    with pytest.raises(NotASheet, match=f"the {missing}'s name") as told:
        read(text)
    assert told.value.has_columns


def test_a_mapping_names_columns_that_nobody_knows():
    mapping = {"Nag": "horse", "Whose": "owner", "When": "last_visit"}
    reading = read("Whose,Nag,When\nAnn,Kit,2026-03-04\n", mapping=mapping)
    assert reading.rows[0].last_visit == date(2026, 3, 4)


def test_an_age_is_the_same_words_next_year():
    row = one("Age", "12 yrs")
    assert (row.foaled_year, row.values()["foaled"]) == (2014, "age 12 yrs")
    row = one("Age / foaled", "2012")
    assert (row.foaled_year, row.values()["foaled"]) == (2012, "2012")
    assert one("Age / foaled", "12").foaled_year == 2014


def test_a_currency_sign_is_seen():
    assert read("Owner;Horse;€\nAnn;Kit;45,50\n").currency_signs == "€"
