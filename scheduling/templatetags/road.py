"""What templates say of times on the road: presentation only."""

from collections.abc import Sized
from urllib.parse import quote

from django import template

from practice.models import Practice
from practice.names import phone_key
from scheduling.planner.one_day import clock as in_words

register = template.Library()


@register.filter
def clock(minutes: int | None) -> str:
    """Minutes after midnight: ``545`` → ``09:05``."""
    return "–" if minutes is None else in_words(minutes)


@register.filter
def minus(value: int, other: int) -> int:
    """``end|minus:start``."""
    return value - other


@register.filter
def unlocalized(degrees: float) -> str:
    """Degrees for an address or a script: a point, six digits, whatever the language."""
    return f"{degrees:.6f}"


@register.filter
def tally(rows: Sized) -> int:
    """How many there are. (The house's own ``length`` is that of a foot.)"""
    return len(rows)


@register.filter
def tel(phone: str, practice: Practice) -> str:
    """The address that rings a number typed in the practice's country (RFC 3966)."""
    return f"tel:{phone_key(phone, practice.country) or _bare(phone)}"


@register.simple_tag
def sms(phone: str, practice: Practice, words: str) -> str:
    """The address that opens a text message with its words ready (RFC 5724)."""
    number = phone_key(phone, practice.country).partition(";")[0] or _bare(phone)
    return f"sms:{number}?body={quote(words, safe='')}"


def _bare(phone: str) -> str:
    """A number that can't be read as one of any country: what can be dialled of it."""
    return "".join(sign for sign in phone if sign in "+0123456789*#")
