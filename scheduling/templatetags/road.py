"""What templates say of times on the road: presentation only."""

from collections.abc import Sized
from typing import Any

from django import template

from practice.days import between, span
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
def window_span(window: Any) -> str:
    """The days of a due window, short: ``3–12 Mar``."""
    return span(window.earliest, window.latest)


@register.filter
def window_between(window: Any) -> str:
    """The days of a due window in a sentence: ``between 3 and 12 March``."""
    return between(window.earliest, window.latest)
