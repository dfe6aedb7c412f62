"""What templates say of times on the road: presentation only."""

from collections.abc import Sized

from django import template

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
