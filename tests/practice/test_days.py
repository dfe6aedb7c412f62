"""Spans of days in words."""

from datetime import date

import pytest

from practice.days import between, span

MARCH_3, MARCH_12 = date(2026, 3, 3), date(2026, 3, 12)


@pytest.mark.parametrize(
    ("first", "last", "short", "long"),
    [
        (MARCH_3, MARCH_12, "3–12 Mar", "between 3 and 12 March"),
        (MARCH_3, MARCH_3, "3 Mar", "on 3 March"),
        (
            date(2026, 2, 27),
            MARCH_3,
            "27 Feb – 3 Mar",
            "between 27 February and 3 March",
        ),
        (
            date(2026, 12, 28),
            date(2027, 1, 4),
            "28 Dec 2026 – 4 Jan 2027",
            "between 28 December 2026 and 4 January 2027",
        ),
    ],
)
def test_a_span_says_no_more_than_it_has_to(first, last, short, long):
    assert span(first, last) == short
    assert between(first, last) == long


def test_a_list_short_of_room_leaves_the_year_out():
    assert span(date(2026, 12, 28), date(2027, 1, 4), years=False) == "28 Dec – 4 Jan"
    # The same month of two years is no span of days within one month.
    assert span(MARCH_3, date(2027, 3, 12), years=False) == "3 Mar – 12 Mar"
