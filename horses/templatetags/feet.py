"""How feet are shown: drawings, figures and flags. No query, no rule."""

from django import template
from django.utils.safestring import SafeString

from horses.drawing.ground import ground_view
from horses.drawing.side import side_view
from horses.entries import LENGTHS, MEASURES
from horses.feet import FootLook, Reading
from horses.findings import SAFETY
from horses.hoof import BaseSplit, Flag
from practice.models import Practice
from practice.templatetags.house import length

register = template.Library()


@register.filter
def ground(look: FootLook) -> SafeString:
    """The foot from the ground side; the drawing escapes what it is told."""
    return SafeString(ground_view(look.picture))


@register.filter
def side(look: FootLook) -> SafeString:
    """The foot from the side, or nothing without toe length and angle."""
    return SafeString(side_view(look.side) if look.side else "")


def _number(value: float, unit: str) -> str:
    """Angles, lengths and percents to a tenth, ratios to a hundredth."""
    text = f"{value:.1f}" if unit in ("°", "mm", "%") else f"{value:.2f}"
    return text.rstrip("0").rstrip(".").replace("-", "−")


def _with_unit(value: float, unit: str, practice: Practice | None) -> str:
    if unit == "mm" and practice is not None:
        return length(value, practice)
    return f"{_number(value, unit)}{'' if unit in ('°', '') else ' '}{unit}"


@register.filter
def figure(reading: Reading, practice: Practice | None) -> str:
    """``6.9° ± 1.4°``: a derived figure with its spread."""
    value = _with_unit(reading.figure.value, reading.unit, practice)
    spread = _with_unit(reading.figure.sd, reading.unit.replace(": 1", ""), practice)
    larger = f", {reading.figure.side} more" if reading.figure.side else ""
    return f"{value} ± {spread}{larger}"


@register.simple_tag
def base_split(base: BaseSplit, practice: Practice | None) -> str:
    """``62 mm ± 2 mm (48 %), 67 mm ± 2.8 mm (52 %)``: ahead, then behind."""
    said = []
    for size, share in (
        (base.ahead_mm, base.ahead_percent),
        (base.behind_mm, base.behind_percent),
    ):
        length_of = _with_unit(size.value, "mm", practice)
        spread = _with_unit(size.sd, "mm", practice)
        percent = f"{share.value:.0f} % ± {share.sd:.1f} %"
        said.append(f"{length_of} ± {spread} ({percent})")
    return "; ".join(said)


@register.filter
def limit(flag: Flag, practice: Practice | None) -> str:
    """``5° or more``, ``over 1.5°``, ``under 0.67``: the rule's limit."""
    shown = _with_unit(flag.rule.threshold, flag.rule.unit, practice)
    if flag.rule.below:
        return f"under {shown}"
    return f"over {shown}" if flag.rule.strict else f"{shown} or more"


@register.simple_tag
def safety() -> str:
    """What stands wherever findings are shown."""
    return SAFETY


@register.filter
def measured(look: FootLook, practice: Practice | None) -> list[tuple[str, str]]:
    """What was measured on the foot, in words and the practice's unit."""
    found = []
    for name, words in MEASURES.items():
        value = getattr(look.entry, name)
        if value is not None:
            unit = "mm" if name in LENGTHS else "°"
            found.append((words, _with_unit(float(value), unit, practice)))
    return found
