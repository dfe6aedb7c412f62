"""The fixed words of documents in six languages."""

from datetime import date
from decimal import Decimal

import pytest

from billing.words import words
from billing.words.catalogue import CATALOGUE
from practice import pdf
from tests.words import faults_of

DAY = date(2026, 11, 25)


def test_each_word_is_there_in_each_language_with_the_same_places():
    assert faults_of(CATALOGUE) == []
    for key, row in CATALOGUE.items():
        assert pdf.undrawn("".join(row)) == "", key


@pytest.mark.parametrize(
    ("language", "amount", "day", "short"),
    [
        ("en-GB", "£1,045.50", "Wed 25 Nov 2026", "25 Nov 2026"),
        ("de", "1.045,50 £", "25. November 2026", "25.11.2026"),
        ("fr_CA", "1 045,50 £", "25 novembre 2026", "25/11/2026"),
        ("nl", "£ 1.045,50", "25 november 2026", "25-11-2026"),
        ("es", "1.045,50 £", "25 de noviembre de 2026", "25/11/2026"),
        ("it", "1.045,50 £", "25 novembre 2026", "25/11/2026"),
        ("cy", "£1,045.50", "Wed 25 Nov 2026", "25 Nov 2026"),
    ],
)
def test_figures_and_days_are_written_as_the_language_does(
    language, amount, day, short
):
    w = words(language)
    said = (w.money(Decimal("1045.5"), "GBP"), w.day(DAY), w.short_day(DAY))
    plain = tuple(" ".join(text.split()) for text in said)
    assert plain == (amount, day, short)


def test_other_figures():
    w = words("de")
    assert w.money(Decimal("-0.5"), "CHF") == "−0,50\N{NO-BREAK SPACE}CHF"
    assert words("en").money(Decimal(90), "SEK") == "SEK\N{NO-BREAK SPACE}90.00"
    assert w.percent(Decimal("5.50")) == "5,5\N{NO-BREAK SPACE}%"
    assert w.number(Decimal("1250.000")) == "1.250"
    assert words("fr").day(date(2026, 5, 1)).startswith("1er")
