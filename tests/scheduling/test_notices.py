"""When owners are reminded: occasions and quiet hours, by the clock of the practice."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.notices import (
    APART_DAYS,
    NEAR_DAYS,
    Span,
    Told,
    goes_along,
    is_quiet,
    next_loud,
    occasion_on,
)

LONDON, KATHMANDU = ZoneInfo("Europe/London"), ZoneInfo("Asia/Kathmandu")
EIGHT, TWENTY = time(8), time(20)
SPAN = Span(date(2026, 3, 3), date(2026, 3, 12), date(2026, 3, 20))


def days_told(span, *, first, last):
    """Every night from ``first`` to ``last``, keeping what was told."""
    told, day = [], first
    while day <= last:
        what = occasion_on(day, span, told=tuple(told))
        if what:
            told.append(Told(what, day))
        day += timedelta(days=1)
    return [(one.occasion, one.day) for one in told]


def test_an_owner_is_told_when_the_window_opens_and_again_near_the_target():
    nights = days_told(SPAN, first=date(2026, 2, 1), last=date(2026, 6, 1))
    assert nights == [
        ("opens", SPAN.earliest),
        ("near", SPAN.target - timedelta(days=NEAR_DAYS)),
    ]


def test_a_narrow_window_does_not_get_two_mails_within_days():
    narrow = Span(date(2026, 3, 8), date(2026, 3, 12), date(2026, 3, 14))
    told = days_told(narrow, first=date(2026, 3, 1), last=date(2026, 6, 1))
    assert told == [
        ("opens", narrow.earliest),
        ("near", narrow.earliest + timedelta(days=APART_DAYS)),
    ]


def test_who_was_never_told_before_the_target_is_told_once():
    assert days_told(SPAN, first=date(2026, 3, 15), last=date(2026, 6, 1)) == [
        ("near", date(2026, 3, 15))
    ]


def test_long_after_the_window_nobody_is_told():
    assert days_told(SPAN, first=date(2026, 4, 20), last=date(2026, 6, 1)) == []


def test_a_window_about_to_open_goes_along_once():
    night = SPAN.earliest - timedelta(days=5)
    assert goes_along(night, SPAN)
    assert not goes_along(night, SPAN, told=(Told("opens", night),))
    assert not goes_along(SPAN.earliest - timedelta(days=8), SPAN)
    assert not goes_along(SPAN.earliest, SPAN)


@pytest.mark.parametrize(
    ("at", "quiet"),
    [
        (time(19, 59), False),
        (TWENTY, True),
        (time(23, 59), True),
        (time(0), True),
        (time(7, 59), True),
        (EIGHT, False),
    ],
)
def test_quiet_hours_cross_midnight(at, quiet):
    assert is_quiet(at, quiet_from=TWENTY, quiet_until=EIGHT) is quiet


def test_quiet_hours_within_a_day_and_none_at_all():
    assert is_quiet(time(13), quiet_from=time(12), quiet_until=time(14))
    assert not is_quiet(time(14), quiet_from=time(12), quiet_until=time(14))
    assert not is_quiet(time(13), quiet_from=EIGHT, quiet_until=EIGHT)


def loud(moment, zone=LONDON, quiet_from=TWENTY, quiet_until=EIGHT):
    return next_loud(moment, zone=zone, quiet_from=quiet_from, quiet_until=quiet_until)


def test_a_mail_of_the_evening_waits_for_the_morning():
    evening = datetime(2026, 1, 10, 21, 30, tzinfo=UTC)
    assert loud(evening) == datetime(2026, 1, 11, 8, tzinfo=UTC)
    before_dawn = datetime(2026, 1, 10, 3, tzinfo=UTC)
    assert loud(before_dawn) == datetime(2026, 1, 10, 8, tzinfo=UTC)
    noon = datetime(2026, 1, 10, 12, tzinfo=UTC)
    assert loud(noon) == noon


def test_eight_is_eight_by_the_clock_also_on_the_night_it_changes():
    """Summer time begins on 29 March 2026 and ends on 25 October (tz database)."""
    spring = datetime(2026, 3, 28, 23, tzinfo=UTC)
    assert loud(spring) == datetime(2026, 3, 29, 7, tzinfo=UTC)  # 08:00 BST
    autumn = datetime(2026, 10, 24, 22, tzinfo=UTC)
    assert loud(autumn) == datetime(2026, 10, 25, 8, tzinfo=UTC)  # 08:00 GMT


def test_quiet_that_ends_within_the_change_of_the_clock():
    half_past_one = time(1, 30)
    jumped = loud(datetime(2026, 3, 28, 23, tzinfo=UTC), quiet_until=half_past_one)
    assert jumped.astimezone(LONDON).strftime("%H:%M") == "02:30"
    twice = loud(datetime(2026, 10, 24, 22, tzinfo=UTC), quiet_until=half_past_one)
    assert twice == datetime(
        2026, 10, 25, 1, 30, tzinfo=UTC
    )  # the second half past one


def test_the_zone_is_the_practices_and_not_the_servers():
    noon = datetime(2026, 1, 10, 12, tzinfo=UTC)  # 17:45 in Kathmandu
    assert loud(noon, KATHMANDU) == noon
    later = datetime(2026, 1, 10, 15, tzinfo=UTC)  # 20:45
    assert loud(later, KATHMANDU) == datetime(2026, 1, 11, 2, 15, tzinfo=UTC)


@settings(max_examples=50)
@given(
    minutes=st.integers(0, 365 * 24 * 60),
    quiet_from=st.times(),
    quiet_until=st.times(),
)
def test_what_waits_comes_out_of_the_quiet_within_a_day(
    minutes, quiet_from, quiet_until
):
    now = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    quiet_from, quiet_until = (
        one.replace(second=0, microsecond=0) for one in (quiet_from, quiet_until)
    )
    then = loud(now, LONDON, quiet_from, quiet_until)
    assert now <= then <= now + timedelta(hours=25)
    at = then.astimezone(LONDON).time()
    # Where the clock jumps over the end of the quiet, the hour after it may be quiet by
    # its own figure only if the quiet begins again within that hour.
    jump = then.astimezone(LONDON).date() == date(2026, 3, 29)
    assert jump or not is_quiet(at, quiet_from=quiet_from, quiet_until=quiet_until)
