"""How figures read from a photo are shown. No query, no rule."""

from django import template

from horses.selectors.marks import FigureRow
from practice.models import Practice
from practice.templatetags.house import length
from practice.units import MM_PER_INCH

register = template.Library()


def _spread(sd_mm: float, practice: Practice | None) -> str:
    """A spread to a hundredth of the practice's unit: fractions would hide it."""
    unit = practice.length_unit if practice else "mm"
    if unit == "mm":
        return f"{sd_mm:.1f} mm"
    return f"{sd_mm / (float(MM_PER_INCH) if unit == 'in' else 10):.2f} {unit}"


@register.filter
def from_marks(row: FigureRow, practice: Practice | None) -> str:
    """``49.8° ± 1.0°``: a figure of the marks with its spread."""
    if not row.is_length:
        return f"{row.figure.value:.1f}° ± {row.figure.sd:.1f}°"
    value = (
        f"{row.figure.value:.1f} mm"
        if practice is None or practice.length_unit == "mm"
        else length(row.figure.value, practice)
    )
    return f"{value} ± {_spread(row.figure.sd, practice)}"


@register.filter
def in_record(row: FigureRow, practice: Practice | None) -> str:
    """What the record says of it, or a dash."""
    if row.stands is None:
        return "–"
    if not row.is_length:
        return f"{row.stands.normalize():f}°"
    return length(row.stands, practice) if practice else f"{row.stands} mm"
