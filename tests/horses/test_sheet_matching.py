"""Which rows speak of one owner, barn and horse, and which are only near."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from horses.sheets.matching import (
    Before,
    Known,
    horses_twice,
    match_barns,
    match_clients,
    pair_with_before,
)
from horses.sheets.record import Address, SheetRow


def row(owner="Ann Other", horse="Kit", line=2, **over):
    fields = {
        "line": line,
        "owner": owner,
        "phone": "",
        "email": "",
        "owner_address": Address(),
        "barn": "",
        "barn_address": Address(post_code=over.pop("post_code", "")),
        "barn_is_ours": False,
        "position": None,
        "horse": horse,
        "breed": "",
        "foaled_year": None,
        "foaled_on": None,
        "age": "",
        "use": "",
        "last_visit": None,
        "weeks": None,
        "usual_work": "",
        "price": None,
        "notes": "",
    }
    return SheetRow(**{**fields, **over})


def lined(*rows):
    """The rows with horses and lines of their own, so that none is another twice."""
    values = [{name: getattr(r, name) for name in SheetRow.__slots__} for r in rows]
    return [
        SheetRow(**{**each, "line": at + 2, "horse": f"Horse {'x' * at}"})
        for at, each in enumerate(values)
    ]


def clients(*rows, known=(), before=None, answers=None):
    return match_clients(lined(*rows), known, before or {}, answers or {}, "GB")


def barns(*rows, known=(), answers=None, owners=None):
    rows = lined(*rows)
    return match_barns(rows, known, {}, answers or {}, owners or [0] * len(rows))


MAIL = {"email": "ann@example.org"}
PHONE = {"phone": "07700 900101"}


@pytest.mark.parametrize("same", [MAIL, PHONE])
@pytest.mark.parametrize("name", ["ann other", "Other, Ann", "ANN  OTHER"])
def test_the_same_name_and_email_or_phone_is_one_client(same, name):
    found = clients(row(**same), row(name, **same))
    assert found.of_row == (0, 0)
    assert found.near == ()


def test_an_email_in_capitals_and_a_phone_from_abroad_are_the_same():
    one = row(email="ANN@Example.org", phone="07700 900101")
    assert clients(one, row(**MAIL), row(phone="+44 7700 900101")).of_row == (0, 0, 0)


def test_certainty_carries_on_in_any_order_of_rows():
    assert clients(row(**MAIL), row(**PHONE), row(**MAIL, **PHONE)).of_row == (0, 0, 0)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (row(), row()),  # a name alone
        (row(**MAIL), row()),
        (row(**MAIL), row(email="other@example.org")),
        (row(**PHONE), row(phone="07700 900102")),
        (row(**MAIL), row("Anne Other", **MAIL)),
        (row(**MAIL), row("A. Other", **MAIL)),
        (row(**PHONE), row("Somebody Else", **PHONE)),
        (row("Zoë Orr", **MAIL), row("Zoe Orr", **MAIL)),
    ],
)
def test_all_else_that_is_alike_is_near_and_never_merged(one, other):
    found = clients(one, other)
    assert found.of_row == (0, 1)
    (near,) = found.near
    assert (near.kind, near.line, near.like_line) == ("client", 3, 2)


def test_what_is_not_alike_is_not_asked():
    assert clients(row(**MAIL), row("Tom Reed", **PHONE)).near == ()


def test_a_client_of_the_practice_is_found_for_certain():
    known = [Known(7, "OTHER, Ann", "ann@example.org"), Known(9, "Tom Reed")]
    found = clients(row(**MAIL), row("Tom Reed", **PHONE), known=known)
    assert [group.pk for group in found.groups] == [7, None]
    assert [(n.like, n.like_line) for n in found.near] == [("Tom Reed", None)]


def test_an_answer_makes_two_near_ones_one():
    asked = clients(row(**MAIL), row())
    (near,) = asked.near
    assert clients(row(**MAIL), row(), answers={near.key: True}).of_row == (0, 0)
    assert clients(row(**MAIL), row(), answers={near.key: False}).of_row == (0, 1)


def test_answers_carry_on_from_one_to_the_next():
    rows = [row("Ann Other"), row("Ann Othe"), row("Ann Oth")]
    answers = {near.key: True for near in clients(*rows).near}
    assert len(answers) == 2
    assert clients(*rows, answers=answers).of_row == (0, 0, 0)


def test_an_answer_can_name_a_client_of_the_practice():
    known = [Known(9, "Tom Reed")]
    (near,) = clients(row("Tom Reed"), known=known).near
    found = clients(row("Tom Reed"), known=known, answers={near.key: True})
    assert found.groups[0].pk == 9


def test_the_name_without_a_comma_is_shown():
    assert clients(row("Other, Ann", **MAIL), row(**MAIL)).groups[0].name == "Ann Other"


def test_the_same_line_twice_is_the_same():
    twice = row(horse="Kit")
    found = match_clients([twice, twice], [], {}, {}, "GB")
    assert found.of_row == (0, 0)


MOSS = {"barn": "Moss Farm", "post_code": "TD6 9AB"}


def test_the_same_name_and_post_code_is_one_barn():
    assert barns(row(**MOSS), row(barn="MOSS  farm", post_code="td69ab")).of_row == (
        0,
        0,
    )


@pytest.mark.parametrize(
    "other",
    [
        {"barn": "Moss Farm", "post_code": "TD6 9AC"},
        {"barn": "Moss Farm"},
        {"barn": "Mos Farm", "post_code": "TD6 9AB"},
        {"barn": "Moss Farm Livery Yard", "post_code": "TD6 9AB"},
    ],
)
def test_barns_that_are_only_alike_are_near(other):
    found = barns(row(**MOSS), row(**other))
    assert found.of_row == (0, 1)
    assert [near.kind for near in found.near] == ["barn"]


def test_two_barns_without_a_post_code_are_near_whatever_they_are_called():
    found = barns(row(barn="Manor Farm"), row(barn="Manor Farm"))
    assert (found.of_row, len(found.near)) == ((0, 1), 1)


def test_another_barn_of_the_post_code_is_not_asked_about():
    assert barns(row(**MOSS), row(barn="The Old Mill", post_code="TD6 9AB")).near == ()


def test_places_without_a_name_are_one_for_one_owner_and_spot():
    at = {
        "barn": "At Ann",
        "barn_is_ours": True,
        "position": (Decimal(55), Decimal(-2)),
    }
    assert barns(row(**at), row(**at), owners=[0, 0]).of_row == (0, 0)
    assert barns(row(**at), row(**at), owners=[0, 1]).of_row == (0, 1)


def test_rows_without_a_barn_have_none():
    assert barns(row(), row(**MOSS)).of_row == (None, 0)


def test_a_row_is_paired_with_the_one_it_was():
    before = [
        Before("a", "1", 11, None, None, None),
        Before("a", "2", 12, None, None, None),
    ]
    paired = pair_with_before(["a", "a", "a", "b"], ["2", "3", "2", "1"], before)
    assert {place: one.pk for place, one in paired.items()} == {0: 12, 1: 11, 2: 12}


def test_a_row_read_before_keeps_its_client_though_nothing_is_certain():
    known = [Known(5, "Ann Other"), Known(6, "Ann Other")]
    before = {1: Before("x", "y", 1, 6, None, None)}
    found = clients(row(), row(), known=known, before=before)
    assert [group.pk for group in found.groups] == [None, 6]


def test_one_horse_twice_must_not_contradict_itself():
    rows = [
        row(weeks=6, line=2),
        row(horse="KIT", weeks=8, line=3),
        row(line=4, last_visit=date(2026, 3, 4)),
        row(horse="Tin", weeks=8, line=5),
    ]
    bad = horses_twice(rows, [0, 0, 0, 0], {}, "Horse")
    assert {at: (b.line, b.code) for at, b in bad.items()} == {1: (3, "horse_twice")}
    assert "Line 2" in bad[1].message
    assert horses_twice(rows, [0, 1, 0, 0], {}, "Horse") == {}


def test_ten_thousand_rows_of_one_horse_are_looked_at_once_each():
    rows = [row(line=n, last_visit=date(2020, 1, 1)) for n in range(10_000)]
    assert horses_twice(rows, [0] * len(rows), {}, "Horse") == {}


NAMES = st.sampled_from(["Ann Other", "other, ann", "Anne Other", "Tom Reed"])
MAILS = st.sampled_from(["", "ann@example.org", "tom@example.org"])
PHONES = st.sampled_from(["", "07700 900101", "+447700900101", "07700 900102"])


@given(st.lists(st.builds(row, NAMES, email=MAILS, phone=PHONES), max_size=9))
def test_grouping_does_not_depend_on_the_order_of_rows(rows):
    forward = clients(*rows).of_row
    backward = tuple(reversed(clients(*reversed(rows)).of_row))
    size = range(len(rows))
    together = {(a, b) for a in size for b in size if forward[a] == forward[b]}
    assert together == {
        (a, b) for a in size for b in size if backward[a] == backward[b]
    }
