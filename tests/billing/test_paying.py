"""Codes and links to pay by: EPC069-12 (version 002) and ISO 11649."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.paying import (
    BadPayment,
    check_link,
    pay_link,
    qr_svg,
    transfer_code,
)
from billing.references import rf_of

# The IBAN and BIC of the guidelines' own example (from memory).
IBAN = "BE72000000001616"
GOOD = {"name": "Whinbrae Forge", "iban": IBAN, "amount": Decimal("114.00")}


def test_the_code_has_the_guidelines_lines_in_their_order():
    said = transfer_code(**GOOD, bic="BPOTBEB1", reference="RF18 5390 0754 7034").split(
        "\n"
    )
    assert said == [
        *("BCD", "002", "1", "SCT", "BPOTBEB1", "Whinbrae Forge", IBAN),
        *("EUR114.00", "", "RF18539007547034"),
    ]


def test_words_stand_where_there_is_no_reference():
    assert transfer_code(**GOOD, text="INV-00017").split("\n")[9:] == ["", "INV-00017"]


def test_the_published_example_of_a_creditor_reference():
    """ISO 11649's example: 539007547034 → RF18539007547034."""
    assert rf_of("539007547034") == "RF18539007547034"


@pytest.mark.parametrize(
    ("over", "why"),
    [
        ({"iban": "BE72000000001617"}, "IBAN"),
        ({"iban": ""}, "IBAN"),
        ({"bic": "NOBIC"}, "BIC"),
        ({"reference": "RF19539007547034"}, "RF reference"),
        ({"reference": "RF18539007547034", "text": "both"}, "not both"),
        ({"name": "Forge\nEUR0.01"}, "several lines"),
        ({"name": "Forge\u2028x"}, "several lines"),
        ({"name": "F" * 71}, "70 characters"),
        ({"name": " "}, "who is paid"),
        ({"text": "t" * 141}, "140 characters"),
        ({"amount": Decimal("1.005")}, "two decimals"),
        ({"amount": Decimal(0)}, "between"),
        ({"amount": Decimal(-5)}, "between"),
        ({"amount": Decimal("1000000000.00")}, "between"),
        ({"amount": Decimal("NaN")}, "two decimals"),
        ({"name": "Ḿ" * 70, "text": "Ḿ" * 60}, "331 bytes"),
    ],
)
def test_what_a_code_cannot_say_is_refused(over, why):
    with pytest.raises(BadPayment, match=why):
        transfer_code(**{**GOOD, **over})


@given(
    st.text(min_size=1, max_size=70),
    st.decimals(Decimal("0.01"), Decimal("999999999.99"), places=2),
    st.text(max_size=140),
)
def test_whatever_goes_in_no_line_is_added(name, amount, text):
    try:
        said = transfer_code(name=name, iban=IBAN, amount=amount, text=text)
    except BadPayment:
        return
    lines = said.split("\n")
    assert len(said.encode()) <= 331
    assert len(lines) <= 11
    assert lines[6:8] == [IBAN, f"EUR{amount:.2f}"]


def test_the_drawing_scales_and_names_no_colour_but_black():
    svg = qr_svg(transfer_code(**GOOD, text="INV-00017"))
    assert svg.startswith("<svg")
    assert "viewBox" in svg
    assert "style" not in svg
    with pytest.raises(BadPayment):
        qr_svg("x" * 400)


@pytest.mark.parametrize(
    "template",
    [
        "http://pay.example.org/{number}",
        "javascript:alert(1)",
        "https://pay.example.org/ {number}",
        "https://user@pay.example.org/",
        "https://localhost/",
        "https://pay.example.org/{client}",
        "https://{number}.example.org/",
        'https://pay.example.org/"onload=',
        "https://pay.example.org:8443/",
        "https://[pay/",
        "",
    ],
)
def test_only_an_https_page_of_a_named_host_is_a_payment_link(template):
    with pytest.raises(BadPayment):
        check_link(template)


def test_a_link_is_filled_and_nothing_breaks_out_of_it():
    template = check_link(" https://pay.example.org/forge?ref={number}&sum={amount} ")
    filled = pay_link(
        template, number="INV-1&x=/", amount=Decimal("114.00"), currency="GBP"
    )
    assert filled == "https://pay.example.org/forge?ref=INV-1%26x%3D%2F&sum=114.00"
    assert pay_link(template, number="1", amount=Decimal(0), currency="GBP") == ""
    assert pay_link("", number="1", amount=Decimal(1), currency="GBP") == ""
