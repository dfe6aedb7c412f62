"""Days in every spelling that a sheet may bring."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import from_excel, to_excel

from horses.sheets.dates import (
    BadDate,
    Order,
    column_order,
    country_order,
    parse_day,
)

TODAY = date(2026, 11, 25)
DAYS = st.dates(date(1950, 1, 1), date(2040, 12, 31))


def day(text, order=Order.DAY_FIRST, **more):
    return parse_day(text, order=order, today=TODAY, **more)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-04",
        "2026/03/04",
        "2026.3.4",
        "20260304",
        "2026-03-04T00:00:00",
        "2026-03-04 10:30",
        "04/03/2026",
        "4/3/2026",
        "4.3.2026",
        "4-3-26",
        "04 03 2026",
        "4/3/26",
        "4 Mar 2026",
        "4 March 2026",
        "4th March 2026",
        "4th of March, 2026",
        "4-Mar-26",
        "04MAR2026",
        "March 4, 2026",
        "Mar 4th 2026",
        "Wed 4 Mar 2026",
        "Wednesday, 4 March 2026",
        "4 March",
        "4th Mar",
        "46085",
        "46085.75",
    ],
)
def test_the_fourth_of_march_is_read_from(text):
    assert day(text) == date(2026, 3, 4)


@pytest.mark.parametrize(
    "text",
    [
        "31/02/2026",
        "2026-13-01",
        "2026-02-29",
        "31.04.2026",
        "00/00/0000",
        "32 March 2026",
        "2026",
        "March 2026",
        "Mar-26",  # a month of a year, or a day without its year
        "six",
        "last week",
        "12",
        "123456",
        "04/03",
        "4/3/026",
        "4 Nonsuch 2026",
        "٠٤/٠٣/٢٠٢٦",
        "-46085",
        "4/3-2026",
    ],
)
def test_no_day_is_read_from(text):
    with pytest.raises(BadDate):
        day(text)


def test_the_message_says_what_mends_it():
    with pytest.raises(BadDate, match="no month 13: write the date as 2026-03-31"):
        day("2026-13-04")


def test_a_day_that_can_only_be_read_one_way_is_read_so():
    assert day("12/25/2025", Order.DAY_FIRST) == date(2025, 12, 25)
    assert day("25/12/2025", Order.MONTH_FIRST) == date(2025, 12, 25)


@given(DAYS)
def test_every_day_comes_back_from_the_ways_of_writing_it(given_day):
    for order, shape in (
        (Order.DAY_FIRST, "%d/%m/%Y"),
        (Order.MONTH_FIRST, "%m/%d/%Y"),
        (Order.DAY_FIRST, "%Y-%m-%d"),
        (Order.MONTH_FIRST, "%d %B %Y"),
        (Order.DAY_FIRST, "%b %d, %Y"),
        (Order.DAY_FIRST, "%A %d %b %Y"),
    ):
        assert day(given_day.strftime(shape), order) == given_day


@given(DAYS)
def test_serial_numbers_agree_with_openpyxl(given_day):
    number = to_excel(given_day)
    assert day(Decimal(str(number))) == given_day
    assert from_excel(number) == datetime.combine(given_day, datetime.min.time())


def test_serial_numbers_agree_with_published_ones():
    # Microsoft's documentation of DATE and DATEVALUE: 1 January 2008 is 39448 in the
    # 1900 system; ECMA-376: 1 is 1 January 1900, 60 the day that never was.
    assert day("39448") == date(2008, 1, 1)
    assert day(Decimal(1)) == date(1900, 1, 1)
    assert day(Decimal(59)) == date(1900, 2, 28)
    assert day(Decimal(61)) == date(1900, 3, 1)
    with pytest.raises(BadDate):
        day(Decimal(60))


def test_a_1904_workbook_counts_from_there():
    # ECMA-376: in the 1904 base 1 January 1904 is 0; the bases lie 1462 days apart.
    assert day(Decimal(39448 - 1462), epoch_1904=True) == date(2008, 1, 1)


def test_two_digit_years_are_of_this_or_the_last_century():
    assert day("1/1/26").year == 2026
    assert day("1/1/46").year == 2046
    assert day("1/1/47").year == 1947
    assert day("1/1/99").year == 1999


def test_a_day_without_a_year_is_the_last_one():
    assert day("25 Nov") == TODAY
    assert day("26 Nov") == date(2025, 11, 26)
    assert day("29 Feb") == date(2024, 2, 29)


def order_of(cells, country="GB", heading="Last visit", told=None):
    return column_order(cells, heading=heading, country=country, told=told)


def test_the_country_settles_what_the_column_does_not():
    assert order_of(["03/04/2026"]).order == Order.DAY_FIRST
    assert order_of(["03/04/2026"], "US").order == Order.MONTH_FIRST
    assert order_of(["03/04/2026"]).asked
    assert country_order("DE") == Order.DAY_FIRST


def test_values_that_fit_one_order_only_settle_the_column():
    assert order_of(["03/04/2026", "25/12/2025"], "US").order == Order.DAY_FIRST
    assert order_of(["03/04/2026", "12/25/2025"], "GB").order == Order.MONTH_FIRST
    assert order_of(["03/04/2026", "12/25/2025"], "GB").asked
    assert not order_of(["03/04/2026", "25/12/2025"], "GB").asked


def test_one_odd_value_does_not_turn_a_column_round():
    days = [f"0{month}/0{day}/2026" for month in (1, 2) for day in (3, 4, 5)]
    assert order_of([*days, "12/25/2025"], "GB").order == Order.DAY_FIRST
    assert order_of([*days, "12/25/2025"], "GB").asked
    assert order_of([*days, "12/25/2025", "01/31/2026"]).order == Order.MONTH_FIRST
    # The same few days on many rows are few days.
    assert order_of([*days[:2] * 50, "12/25/2025"]).order == Order.MONTH_FIRST


@pytest.mark.parametrize("text", ["02/30/2026", "32/01/2026", "13/13/2026", "00/05/26"])
def test_a_day_that_never_was_settles_nothing(text):
    for country in ("GB", "US"):
        found = order_of(["03/04/2026", text], country)
        assert found.order == country_order(country)


def test_a_column_that_contradicts_itself_is_the_country_s_and_is_asked():
    mixed = order_of(["03/04/2026", "25/12/2025", "12/25/2025"], "US")
    assert mixed.order == Order.MONTH_FIRST
    assert mixed.asked
    assert mixed.example == "03/04/2026"


def test_a_heading_and_an_answer_settle_it_without_asking():
    told = order_of(["03/04/2026"], heading="Last visit (mm/dd/yyyy)")
    assert (told.order, told.asked) == (Order.MONTH_FIRST, False)
    told = order_of(["03/04/2026"], "US", told=Order.DAY_FIRST)
    assert (told.order, told.asked) == (Order.DAY_FIRST, False)


def test_days_alike_both_ways_need_no_question():
    assert not order_of(["04/04/2026", "2026-03-04", "4 Mar 2026"]).asked


@given(st.lists(DAYS, min_size=1, max_size=15))
def test_a_column_with_enough_late_days_is_never_misread(days):
    days = [*days, *(date(2025, 12, 13 + at) for at in range(len(days)))]
    for country in ("GB", "US"):
        for order, shape in (
            (Order.DAY_FIRST, "%d/%m/%Y"),
            (Order.MONTH_FIRST, "%m/%d/%Y"),
        ):
            texts = [one.strftime(shape) for one in days]
            found = order_of(texts, country).order
            assert found == order
            assert [day(text, found) for text in texts] == days


def test_far_days_do_not_break_it():
    with pytest.raises(BadDate):
        day(Decimal(10) ** 12)
    assert day(Decimal(2958465)) == date(9999, 12, 31)
    assert day(TODAY + timedelta(days=1)) == TODAY + timedelta(days=1)
