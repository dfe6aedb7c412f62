"""How the report on lateness says its figures: no query, no rule."""

from typing import Any

from django import template
from django.utils.safestring import SafeString

from horses.drawing.bars import Bars, bar_chart
from horses.drawing.charts import MONTHS
from horses.trends import said
from practice.models import Practice

register = template.Library()


@register.filter
def drawn_bars(chart: Bars) -> SafeString:
    """The chart; the drawing escapes what it is told."""
    return SafeString(bar_chart(chart))


@register.filter
def weeks_of(days: float, how: str = "") -> str:
    """``6.4 weeks`` of days; ``bare``: without the word."""
    text = f"{days / 7:.1f}".removesuffix(".0")
    return text if how == "bare" else f"{text} week{'' if text == '1' else 's'}"


@register.filter
def days_late(days: float) -> str:
    """``4 days late``, ``1 day early``, ``on the day``."""
    whole = round(days)
    if not whole:
        return "on the day"
    unit = "day" if abs(whole) == 1 else "days"
    return f"{abs(whole)} {unit} {'late' if whole > 0 else 'early'}"


@register.filter
def month_name(month: int) -> str:
    """``Jan`` of 1."""
    return MONTHS[month - 1]


@register.filter
def rate_of(mm: float, practice: Practice) -> str:
    """``2.1 mm``, in inches to a hundredth, since it is no reading."""
    unit: Any = practice.length_unit
    if unit == "in":
        return f"{mm / 25.4:.2f}\u00a0in"
    return said(mm, "mm", unit)
