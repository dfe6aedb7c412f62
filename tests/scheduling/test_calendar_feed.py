"""The calendar file, read back by another library (vobject)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.geo import Position
from scheduling.calendar_feed import Appointment, Standing, calendar_text

LONDON = ZoneInfo("Europe/London")
# The Sunday on which British clocks go forward, 09:00 summer time = 08:00 UTC.
ONE = Appointment(
    uid="0193-a@example.org",
    sequence=3,
    changed=datetime(2026, 3, 1, 12, 30, 5, 999, tzinfo=UTC),
    starts=datetime(2026, 3, 29, 9, 0, tzinfo=LONDON),
    ends=datetime(2026, 3, 29, 11, 0, tzinfo=LONDON),
    summary="Low Muir; 3 horses, Ünnütz & Co",
    place="Low Muir, Selkirk",
    at=Position(55.55, -2.84),
    note="Gate code at the house\nDog",
)


def read(text):
    return vobject.readOne(text.decode())


def test_another_reader_finds_the_same_times_and_words():
    event = read(calendar_text("Rounds", [ONE])).vevent
    assert event.dtstart.value == datetime(2026, 3, 29, 8, 0, tzinfo=UTC)
    assert event.dtend.value - event.dtstart.value == timedelta(hours=2)
    assert event.uid.value == ONE.uid
    assert event.sequence.value == "3"
    assert event.summary.value == ONE.summary
    assert event.location.value == ONE.place
    assert event.description.value == ONE.note
    assert event.status.value == "CONFIRMED"
    assert event.geo.value == "55.55;-2.84"


def test_the_file_carries_what_the_standard_requires():
    # RFC 5545 3.4-3.8: PRODID, VERSION; UID, DTSTAMP, DTSTART; RFC 7986 5.7: VALUE.
    lines = calendar_text("Rounds", [ONE]).split(b"\r\n")
    for line in (
        b"BEGIN:VCALENDAR",
        b"VERSION:2.0",
        b"METHOD:PUBLISH",
        b"REFRESH-INTERVAL;VALUE=DURATION:PT1H",
        b"DTSTAMP:20260301T123005Z",
        b"DTSTART:20260329T080000Z",
        b"DTEND:20260329T100000Z",
        b"END:VCALENDAR",
    ):
        assert line in lines
    assert any(line.startswith(b"PRODID:") for line in lines)
    assert b"TZID" not in calendar_text("Rounds", [ONE])


def test_the_same_appointments_give_the_same_bytes_in_any_order():
    other = replace(ONE, uid="b@example.org")
    assert calendar_text("R", [ONE, other]) == calendar_text("R", [other, ONE])


def test_calling_off_keeps_the_uid():
    off = replace(ONE, standing=Standing.CANCELLED, sequence=4)
    event = read(calendar_text("R", [off])).vevent
    assert (event.uid.value, event.status.value) == (ONE.uid, "CANCELLED")
    assert event.sequence.value == "4"


def test_an_empty_calendar_is_a_calendar():
    assert read(calendar_text("R", [])).version.value == "2.0"


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (replace(ONE, starts=datetime(2026, 3, 29, 9)), "time zone"),  # noqa: DTZ001
        (replace(ONE, ends=ONE.starts - timedelta(minutes=1)), "before its start"),
    ],
)
def test_nonsense_is_refused(broken, said):
    with pytest.raises(ValueError, match=said):
        calendar_text("R", [broken])
    with pytest.raises(ValueError, match="one UID"):
        calendar_text("R", [ONE, ONE])


words = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=200
)


@settings(deadline=None)
@given(words, words)
def test_any_words_come_back_and_lines_stay_short(summary, note):
    text = calendar_text("R", [replace(ONE, summary=summary, note=note)])
    assert text.endswith(b"\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75
    event = read(text).vevent
    assert event.summary.value == summary
    assert (event.description.value if note else "") == note
