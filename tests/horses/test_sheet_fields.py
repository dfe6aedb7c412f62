"""Headings as practices write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.sheets.fields import (
    BadMapping,
    Field,
    known_field,
    match_columns,
    parse_mapping,
    score_headings,
)

KNOWN = {
    Field.OWNER: [
        "Owner",
        "OWNER",
        "owner's name",
        "Client",
        "Customer Name",
        "Keeper",
    ],
    Field.OWNER_PHONE: [
        "Phone",
        "Tel. No.",
        "Mobile",
        "Owner phone",
        "Telephone number",
        "Contact number",
        "Contact tel.",
    ],
    Field.OWNER_EMAIL: ["E-mail", "Email", "e mail address", "Owner's e-mail", "Mail"],
    Field.OWNER_ADDRESS: ["Owner address", "Client's Address"],
    Field.OWNER_FAMILY: ["Surname", "Last name", "Family Name"],
    Field.OWNER_GIVEN: ["First name", "Forename", "Given name"],
    Field.BARN: [
        "Barn",
        "Yard",
        "Stable name",
        "Livery",
        "Kept at",
        "Location",
        "Premises",
    ],
    Field.BARN_ADDRESS: ["Barn address", "Yard Address"],
    Field.BARN_POST_CODE: [
        "Barn postcode",
        "Yard post code",
        "Stable ZIP",
        "Yard Eir code",
    ],
    Field.BARN_POSITION: [
        "Position",
        "GPS",
        "Lat/Long",
        "Plus code",
        "Co-ordinates",
        "Yard coords",
    ],
    Field.BARN_LATITUDE: ["Latitude", "lat"],
    Field.BARN_LONGITUDE: ["Longitude", "Long", "lng"],
    Field.HORSE: ["Horse", "Horse's Name", "PONY", "horse_name", "Animal"],
    Field.BREED: ["Breed"],
    Field.FOALED: ["Foaled", "D.O.B.", "Year of birth", "Foaled/Age", "Born"],
    Field.AGE: ["Age", "Age (yrs)", "Horse age"],
    Field.USE: ["Use", "Discipline", "Used for"],
    Field.LAST_VISIT: [
        "Last visit",
        "last-visit",
        "LAST SHOD",
        "Date of last visit",
        "Last Visit (dd/mm/yyyy)",
        "Date",
        "Previous visit",
        "Date shod",
        "Last shoeing date",
    ],
    Field.INTERVAL: [
        "Interval",
        "Interval (weeks)",
        "Weeks",
        "Every (wks)",
        "Cycle",
        "interval_weeks",
        "Trimming cycle",
        "Freq (wks)",
        "Repeat every",
        "Weeks apart",
    ],
    Field.USUAL_WORK: ["Usual work", "What it usually gets", "Usually gets", "Service"],
    Field.PRICE: [
        "Price",
        "£",
        "€",
        "$",
        "Price (£)",
        "Cost €",
        "Price GBP",
        "Fee",
        "US$",
        "£ per visit",
        "Fee in €",
        "Price in EUR",
        "€/horse",
        "£ inc. VAT",
        "Rate per visit",
    ],
    Field.NOTES: ["Notes", "comments", "Remarks"],
}


@pytest.mark.parametrize(
    ("heading", "field"),
    [(heading, field) for field, several in KNOWN.items() for heading in several],
)
def test_a_heading_is_known(heading, field):
    assert known_field(heading) == field


@pytest.mark.parametrize(
    "heading",
    [
        "Colour",
        "Vet",
        "Vet phone",
        "Next visit",
        "Horse insurance",
        "Balance £",
        "Paid in €",
        "Owed",
        "Interval (days)",
        "Every (months)",
        "Barn contact",
        "Owner Horse",
        "Passport",
        "",
        "x" * 200,
        "Owner;Horse;Price",
    ],
)
def test_a_heading_with_an_unknown_word_is_not(heading):
    assert known_field(heading) is None


def fields(*headings, mapping=None):
    return [column.field for column in match_columns(headings, mapping or {})]


def test_an_address_belongs_to_whom_it_stands_by():
    assert fields("Owner", "Address", "Barn", "Post code", "Horse") == [
        Field.OWNER,
        Field.OWNER_ADDRESS,
        Field.BARN,
        Field.BARN_POST_CODE,
        Field.HORSE,
    ]
    assert fields("Horse", "Postcode", "Yard", "Owner")[1] == Field.BARN_POST_CODE


def test_a_bare_name_is_the_owner_s_unless_there_is_one():
    assert fields("Name", "Horse") == [Field.OWNER, Field.HORSE]
    assert fields("Owner", "Name") == [Field.OWNER, Field.HORSE]
    assert fields("Name", "Address", "Horse")[1] == Field.OWNER_ADDRESS


def test_of_two_columns_for_a_field_the_first_stands():
    assert fields("Horse", "Owner", "Price", "£") == [
        Field.HORSE,
        Field.OWNER,
        Field.PRICE,
        None,
    ]


def test_a_fuller_heading_goes_before_a_weak_one():
    assert fields("Date", "Last visit") == [None, Field.LAST_VISIT]
    assert fields("Work", "Usual work") == [None, Field.USUAL_WORK]


def test_several_columns_may_make_one_address():
    assert fields("Owner", "Address 1", "Address 2")[1:] == [Field.OWNER_ADDRESS] * 2


def test_a_mapping_goes_before_the_headings():
    mapping = {"nag": "horse", "Horse": None}
    assert fields("Owner", "Nag", "Horse", mapping=mapping) == [
        Field.OWNER,
        Field.HORSE,
        None,
    ]
    assert fields("Owner", "Horse", "Nag", mapping={"Nag": "horse"}) == [
        Field.OWNER,
        None,
        Field.HORSE,
    ]


def test_a_mapping_with_an_unknown_field_or_heading_is_refused():
    with pytest.raises(BadMapping, match="'nag'; the fields are"):
        fields("Owner", "Horse", mapping={"Horse": "nag"})
    with pytest.raises(BadMapping, match="'Nag' that the sheet hasn't got"):
        fields("Owner", "Horse", mapping={"Nag": "horse"})


def test_a_mapping_of_two_headings_to_one_field_is_refused():
    with pytest.raises(BadMapping, match="both 'Nag' and 'Pony'"):
        fields("Owner", "Nag", "Pony", mapping={"Nag": "horse", "Pony": "horse"})
    mapping = {"Tel 1": "owner_phone", "Tel 2": "owner_phone"}
    assert fields("Owner", "Tel 1", "Tel 2", mapping=mapping)[1:] == [
        Field.OWNER_PHONE,
        Field.OWNER_PHONE,
    ]


@pytest.mark.parametrize("text", ["", "{", "[]", '"x"', '{"a": 1}', '{"a": ["b"]}'])
def test_a_mapping_is_one_json_object_of_names(text):
    with pytest.raises(BadMapping):
        parse_mapping(text)


def test_a_mapping_is_read():
    assert parse_mapping('{"Nag": "horse", "Colour": null}') == {
        "Nag": "horse",
        "Colour": None,
    }


def test_the_score_counts_fields_not_cells():
    assert score_headings(["Owner", "Client", "Horse", "x", ""], {}) == 2
    assert score_headings(["Owner", "Nag"], {"nag": "horse"}) == 2


@given(st.lists(st.text(max_size=20), min_size=1, max_size=8))
def test_any_heading_row_is_matched_without_a_fault(headings):
    columns = match_columns(headings, {})
    assert [column.place for column in columns] == list(range(len(headings)))
