"""What templates say of a horse: presentation only, no query, no rule."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from django import template
from django.utils.safestring import SafeString

from horses.height import format_height
from horses.identity import spaced
from horses.models import Horse
from horses.trends import said
from practice.days import between, span
from practice.models import Practice

if TYPE_CHECKING:
    from horses.drawing.due import DueChart
    from horses.growth import Left

register = template.Library()


@register.filter
def who(horse: Horse, today: date) -> str:
    """``Highland mare, 12 years, dun · hacking``: what is known, in a line."""
    kind = " ".join(word for word in (horse.breed, horse.get_sex_display()) if word)
    told = [kind, age(horse, today), horse.colour]
    line = ", ".join(part for part in told if part)
    return " · ".join(part for part in (line, horse.get_use_display()) if part)


@register.filter
def age(horse: Horse, today: date) -> str:
    """``12 years``: by the day of foaling, else by calendar years."""
    if horse.foaled_on:
        born = horse.foaled_on
        had_birthday = (today.month, today.day) >= (born.month, born.day)
        years = today.year - born.year - (not had_birthday)
    elif horse.foaled_year:
        years = today.year - horse.foaled_year
    else:
        return ""
    if years < 1:
        return "foal"
    return "1 year" if years == 1 else f"{years} years"


@register.filter
def height(mm: int | None) -> str:
    """``157 cm (15.2 hh)``."""
    return format_height(mm) if mm else ""


@register.filter
def grouped(number: str) -> str:
    """A life number or chip number in groups, for reading aloud."""
    return spaced(number)


@register.filter
def window_span(window: Any) -> str:
    """The days of a due window, short: ``3–12 Mar``."""
    return span(window.earliest, window.latest)


@register.filter
def window_days(window: Any) -> str:
    """The same where a row of a list is short of room: a year is never said."""
    return span(window.earliest, window.latest, years=False)


@register.filter
def window_between(window: Any) -> str:
    """The days of a due window in a sentence: ``between 3 and 12 March``."""
    return between(window.earliest, window.latest)


@register.filter
def due_drawn(chart: DueChart) -> SafeString:
    """The chart of the next visit; the drawing escapes what it is told."""
    from horses.drawing.due import due_chart

    return SafeString(due_chart(chart))


@register.filter
def left_said(left: Left, practice: Practice) -> str:
    """``+11 mm (8–14), lever +14 % (10–18), angle −1.2°``."""
    unit: Any = practice.length_unit
    gain, lever = left.gain_mm, left.lever_percent
    if unit == "in":
        low, high = (said(mm, "mm", unit) for mm in (gain.low80, gain.high80))
    else:
        low, high = f"{gain.low80:.0f}", f"{gain.high80:.0f}"
        if unit == "cm":
            low, high = f"{gain.low80 / 10:.1f}", f"{gain.high80 / 10:.1f}"
    value = said(round(gain.value) if unit == "mm" else gain.value, "mm", unit)
    return (
        f"+{value} ({low}–{high}), lever {lever.value:+.0f}\u00a0% "
        f"({lever.low80:.0f}–{lever.high80:.0f}), toe angle "
        f"{-left.angle_loss_deg.value:+.1f}°"
    ).replace("-", "−")
