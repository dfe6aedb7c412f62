"""The iCalendar text of a list of appointments (RFC 5545, RFC 7986). Pure.

Times are written in UTC: with a time zone of its own in the file, two of three readers
tried were an hour wrong. DTSTAMP is the last change, not the moment of writing, so that
an unchanged list gives unchanged bytes and can carry an ETag. An appointment keeps its
UID for life; a change of time or place, or calling it off, raises its SEQUENCE.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from practice.geo import Position

if TYPE_CHECKING:
    from icalendar import Event

PRODID = "-//Clenchline//Rounds//EN"
REFRESH = timedelta(hours=1)
"""How often a subscriber is asked to look again."""


class Standing(StrEnum):
    """RFC 5545's STATUS of an event."""

    TENTATIVE = "TENTATIVE"
    CONFIRMED = "CONFIRMED"
    CANCELLED = "CANCELLED"


@dataclass(frozen=True, slots=True)
class Appointment:
    """One attendance as the calendar shows it.

    Args:
        uid: for life and the whole world, such as '<uuid>@host'.
        sequence: raised by one at each change of time or place, and at calling off.
        changed: when it last changed; `starts` and `ends`: all aware.
        summary, place, note: plain text; empty is left out.
    """

    uid: str
    sequence: int
    changed: datetime
    starts: datetime
    ends: datetime
    summary: str
    standing: Standing = Standing.CONFIRMED
    place: str = ""
    at: Position | None = None
    note: str = ""


def calendar_text(name: str, appointments: Iterable[Appointment]) -> bytes:
    """The calendar file: CRLF line ends, lines of at most 75 octets, by start and UID.

    Raises ValueError for a time without zone, an end before its start, a UID given
    twice.
    """
    from icalendar import Calendar  # not at every start: only a feed needs it

    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    # RFC 7986 wants the VALUE said; the other name is what older readers know.
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", "PT1H")
    ordered = sorted(appointments, key=lambda one: (_utc(one.starts), one.uid))
    if len({one.uid for one in ordered}) != len(ordered):
        raise ValueError("Two appointments carry one UID.")
    for one in ordered:
        calendar.add_component(_event(one))
    return bytes(calendar.to_ical())


def _event(one: Appointment) -> "Event":
    from icalendar import Event

    starts, ends = _utc(one.starts), _utc(one.ends)
    if ends < starts:
        raise ValueError(f"The appointment {one.uid} ends before its start.")
    event = Event()
    event.add("uid", one.uid)
    event.add("dtstamp", _utc(one.changed))
    event.add("last-modified", _utc(one.changed))
    event.add("dtstart", starts)
    event.add("dtend", ends)
    event.add("sequence", one.sequence)
    event.add("status", one.standing.value)
    event.add("summary", one.summary)
    if one.place:
        event.add("location", one.place)
    if one.at:
        event.add("geo", (round(one.at.lat, 6), round(one.at.lon, 6)))
    if one.note:
        event.add("description", one.note)
    return event


def _utc(time: datetime) -> datetime:
    if time.tzinfo is None:
        raise ValueError("An appointment's times need a time zone.")
    return time.astimezone(UTC).replace(microsecond=0)
