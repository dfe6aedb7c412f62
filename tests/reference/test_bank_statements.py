"""Bank statements of other projects, read; see ``bank/SOURCES.md``.

What is checked from outside: each MT940 statement states its own opening and closing
balance, and the lines read must make the difference; the camt files' figures are those
that a person reads in them.
"""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from billing.bank import camt, mt940

FILES = Path(__file__).parent / "bank"


def data(name):
    return (FILES / name).read_bytes()


def test_every_mt940_statement_adds_up_to_its_own_closing_balance():
    statements = mt940.read(data("sepa_mt9401.sta"))
    assert [one.adds_up for one in statements] == [True] * 20
    # ':61:' lines of the file, counted apart from the library
    text = data("sepa_mt9401.sta").decode("latin-1")
    assert sum(len(one.lines) for one in statements) == text.count("\n:61:")


def test_a_reversed_credit_is_money_out_although_its_mark_has_a_c():
    """Statement 50880050/0194774600888 has ``RCR204,88``."""
    (one,) = (
        each
        for each in mt940.read(data("sepa_mt9401.sta"))
        if each.account == "50880050/0194774600888"
    )
    assert Decimal("-204.88") in [line.amount for line in one.lines]


def test_an_mt940_line_tells_payer_account_and_purpose():
    line = next(
        line
        for one in mt940.read(data("sepa_mt9401.sta"))
        for line in one.lines
        if line.amount > 0 and line.reference == "0724710333343453"
    )
    assert line.amount == Decimal("50990.05")
    assert line.day == date(2007, 9, 4)
    assert line.payer_account == "DE14508800500194785000"
    assert line.payer_name == "KARL KAUFMANN"
    assert "Verw CTSc-01" in line.text


@pytest.mark.parametrize(
    ("name", "reference"),
    [
        ("camt053.v2.minimal.xml", ""),
        ("camt053.v8.xml", "AAAASESS-FP-CN_98765/01"),
    ],
)
def test_camt_053(name, reference):
    (one,) = camt.read(data(name))
    (line,) = one.lines
    assert (one.account, one.opening) == ("NL26VAYB8060476890", Decimal("18.15"))
    assert (line.day, line.amount) == (date(2014, 12, 31), Decimal("8.85"))
    assert (line.currency, line.reference) == ("EUR", reference)
    assert line.payer_name == "NAME NAME"
    assert line.payer_account == "NL56AGDH9619008421"
    assert "4654654654654654" in line.text


def test_camt_054_keeps_an_entry_whole_whose_details_do_not_add_up():
    (one,) = camt.read(data("camt054.v8.xml"))
    (line,) = one.lines
    assert one.account == "CH2801234000123456789"
    assert (line.amount, line.currency) == (Decimal(-200000), "SEK")
    assert line.reference == "ACSR160617103200001"
