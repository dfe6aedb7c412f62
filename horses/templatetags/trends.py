"""How charts, changes and effects are shown: no query, no rule."""

from django import template
from django.utils.safestring import SafeString

from horses import trends
from horses.drawing.charts import Chart, trend_chart
from horses.effects import BeforeAfter
from horses.hoof import Rule
from horses.trends import Change, Measure, Point, Unit
from practice.models import Practice
from practice.units import LengthUnit

register = template.Library()


def _unit(practice: Practice) -> LengthUnit:
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # of three
    return unit


@register.filter
def drawn(chart: Chart) -> SafeString:
    """The chart; the drawing escapes what it is told."""
    return SafeString(trend_chart(chart))


@register.simple_tag
def point(one: Point, measure: Measure, practice: Practice) -> str:
    """``84.5 mm ± 2 mm``, or of a signed difference ``3 mm ± 2.8 mm, lateral more``."""
    unit, bare = measure.unit, _unit(practice)
    value, side = one.value, ""
    if measure.sides and value:
        side = f", {measure.sides[0 if value > 0 else 1]}"
        value = abs(value)
    spread = trends.said_spread(one.sd, unit, bare)
    return f"{trends.said(value, unit, bare)}\u00a0±\u00a0{spread}{side}"


@register.simple_tag
def cell(one: Point, measure: Measure, practice: Practice) -> str:
    """``84.5 ± 2``: as it stands in a table whose head has the unit."""
    unit, bare = measure.unit, _unit(practice)
    spread = trends.said_spread(one.sd, unit, bare)
    plain = spread.removesuffix(trends.unit_word(unit, bare)).rstrip()
    return f"{trends.number(one.value, unit, bare)}\u00a0±\u00a0{plain}"


@register.simple_tag
def unit_of(measure: Measure, practice: Practice) -> str:
    """``, mm``: for a table's head; nothing for a ratio."""
    word = trends.unit_word(measure.unit, _unit(practice))
    return f", {word}" if word else ""


@register.simple_tag
def moved(change: Change, measure: Measure, practice: Practice) -> str:
    """``+2 mm ± 2.8 mm, within the tape's error``."""
    words = trends.said_change(change, measure.unit, _unit(practice))
    return f"{words}: {trends.verdict(change, measure.unit)}"


@register.filter
def rule_limit(rule: Rule, practice: Practice) -> str:
    """``5 mm or more``, ``over 1.5°``: the rule's limit, whichever its sign."""
    unit: Unit = {"°": "°", "mm": "mm"}.get(rule.unit, "")  # type: ignore[assignment]  # a rule has no other unit
    shown = trends.said(rule.threshold, unit, _unit(practice))
    if rule.below:
        return f"under {shown}"
    return f"over {shown}" if rule.strict else f"{shown} or more"


# ---- Effects -----------------------------------------------------------------------
def _of(figure: BeforeAfter) -> Unit:
    return "°" if figure.name.endswith("_deg") else "mm"


@register.simple_tag
def before(figure: BeforeAfter, practice: Practice) -> str:
    """The figure before, with its spread."""
    return _spread(figure.before, figure.before_sd, _of(figure), practice)


@register.simple_tag
def after(figure: BeforeAfter, practice: Practice) -> str:
    """The figure after, with its spread."""
    return _spread(figure.after, figure.after_sd, _of(figure), practice)


@register.simple_tag
def difference(figure: BeforeAfter, practice: Practice) -> str:
    """What changed, with its own spread."""
    sign = "+" if figure.change > 0.05 else ""
    return sign + _spread(figure.change, figure.change_sd, _of(figure), practice)


@register.simple_tag
def percent_change(value: float, sd: float) -> str:
    """``+4.2 % ± 0.3 %``."""
    bare: LengthUnit = "mm"
    sign = "+" if value > 0.05 else ""
    return (
        f"{sign}{trends.said(value, '%', bare)} ± {trends.said_spread(sd, '%', bare)}"
    )


def _spread(value: float, sd: float, unit: Unit, practice: Practice) -> str:
    bare = _unit(practice)
    return f"{trends.said(value, unit, bare)} ± {trends.said_spread(sd, unit, bare)}"
