"""Which spellings are certainly one name, which are near, which are apart."""

import phonenumbers
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz import fuzz

from practice.names import (
    NEAR_SCORE,
    email_key,
    find_post_code,
    is_email,
    likeness,
    name_key,
    near_key,
    near_names,
    phone_key,
    post_code_key,
    squeeze,
)


@pytest.mark.parametrize(
    "other",
    [
        "jane ash",
        "JANE ASH",
        "  Jane   Ash ",
        "Jane\u00a0Ash",
        "Jane\u200b Ash",
        "JaneAsh",
        "Ash, Jane",
        "ASH,JANE",
        "Ash ,  jane",
    ],
)
def test_case_spaces_and_family_given_order_make_no_other_name(other):
    assert name_key(other) == name_key("Jane Ash")


@pytest.mark.parametrize(
    "other",
    [
        "Jané Ash",  # an accent is no letter case
        "Jane Ashe",
        "J. Ash",
        "Jane-Ash",
        "Ash Jane",  # turned round without a comma
        "Ash, Jane, Dr",
        "Jane Ash,",
        ", Jane Ash",
        "",
    ],
)
def test_anything_more_is_another_name(other):
    assert name_key(other) != name_key("Jane Ash")


def test_one_letter_written_in_two_ways_by_unicode_is_one():
    assert name_key("Zoe\u0308 Reed") == name_key("Zo\u00eb Reed")


@given(st.text(max_size=40))
def test_a_key_does_not_change_when_it_is_spaced_or_raised(text):
    assert name_key(f"  {text} ") == name_key(text)
    assert squeeze(squeeze(text)) == squeeze(text)


@given(
    st.text("abcdefgh", min_size=1, max_size=8),
    st.text("ijklmnop", min_size=1, max_size=8),
)
def test_family_comma_given_is_given_family(family, given_name):
    assert name_key(f"{family}, {given_name}") == name_key(f"{given_name} {family}")


def test_phones_are_one_when_they_dial_the_same():
    # Google's libphonenumber is the judge.
    key = phonenumbers.format_number(
        phonenumbers.parse("+447700900123"), phonenumbers.PhoneNumberFormat.E164
    )
    for typed in (
        "07700 900123",
        "(07700) 900-123",
        "+44 7700 900123",
        "0044 7700 900123",
        "7700900123",  # a spreadsheet has eaten the nought
        "07700 900123 (home)",
        "tel: 07700 900123",
        "07700 900123 / 01632 960001",
        "07700 900123 or 01632 960001",
    ):
        assert phone_key(typed, "GB") == key
    assert phone_key("802-555-0134", "US") == phone_key("(802) 555 0134", "US")
    assert phone_key("07700 900123", "GB") != phone_key("07700 900124", "GB")


@pytest.mark.parametrize("text", ["", "ask at the gate", "7.7009E+09", "12", "x" * 300])
def test_what_can_not_be_dialled_has_no_phone_key(text):
    assert phone_key(text, "GB") == ""


def test_an_extension_tells_two_phones_apart():
    assert phone_key("01632 960001 ext 4", "GB") != phone_key("01632 960001", "GB")


@pytest.mark.parametrize(
    "text", ["jane@example.org", "j.ash+horses@mail.example.org", "o'neil@example.org"]
)
def test_addresses_of_the_usual_form_are_taken(text):
    assert is_email(text)


@pytest.mark.parametrize(
    "text",
    [
        "jane",
        "jane@",
        "@example.org",
        "jane@example",
        "jane@@example.org",
        "jane@example..org",
        ".jane@example.org",
        "ja ne@example.org",
        "jane@example.org, tom@example.org",
        "jane@-example.org",
        f"{'x' * 250}@example.org",
    ],
)
def test_what_is_no_address_is_refused(text):
    assert not is_email(text)


def test_email_and_post_code_keys_mind_neither_case_nor_spaces():
    assert email_key(" Jane@Example.ORG ") == email_key("jane@example.org")
    assert post_code_key("td6 9ab") == post_code_key("TD69AB")


@pytest.mark.parametrize(
    ("address", "country", "code"),
    [
        ("1 High Street, Testbridge TD6 9AB", "GB", "TD6 9AB"),
        ("1 High Street\nTestbridge\ntd69ab", "GB", "td69ab"),
        ("12345 Route 5, Tamarack VT 05826", "US", "05826"),
        ("12345 Route 5, Tamarack", "US", ""),
        ("1 Lane, Town, ON K1A 0B1", "CA", "K1A 0B1"),
        ("Hof 3, 24837 Dorf", "DE", "24837"),
        ("no code at all", "GB", ""),
    ],
)
def test_a_post_code_is_found_in_an_address(address, country, code):
    assert find_post_code(address, country) == code


def test_near_is_what_rapidfuzz_says_of_the_bare_words():
    assert likeness("Ash, Jané", "jane ash") == 100
    assert likeness("Jane Ashe", "Jane Ash") == fuzz.ratio("ashe jane", "ash jane")


def test_each_new_name_is_offered_the_earlier_one_most_like_it():
    names = ["Jane Ash", "Tom Reed", "Jane Ashe", "Jayne Ashe", "Ann Other"]
    found = {one.place: one.like for one in near_names(names)}
    assert found == {2: 0, 3: 2}


def test_names_that_only_differ_in_a_number_are_apart():
    assert near_names(["Unit 3", "Unit 4", "Owner 1201", "Owner 1202"]) == []


def test_settled_names_are_not_asked_about():
    assert near_names(["Jane Ash", "Jane Ashe"], settled=2) == []


def test_accents_and_split_words_are_near():
    pairs = [("Zoë Orr", "Zoe Orr"), ("Mary Ann Holt", "Maryann Holt")]
    for one, other in pairs:
        assert [n.like for n in near_names([one, other])] == [0]


@given(st.lists(st.text("abc ", min_size=1, max_size=6), max_size=12))
def test_what_is_offered_is_near_and_earlier(names):
    for one in near_names(names):
        assert one.like < one.place
        same = name_key(names[one.like]) == name_key(names[one.place])
        assert same or likeness(names[one.like], names[one.place]) >= NEAR_SCORE
        assert near_key(names[one.place])
