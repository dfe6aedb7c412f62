"""How limbs are shown: the sketch. No query, no rule."""

from django import template
from django.utils.safestring import SafeString

from horses.drawing.limb import NOT_TO_MEASURE, limb_view
from horses.selectors.limbs import LimbLook

register = template.Library()


@register.filter
def sketch(look: LimbLook) -> SafeString:
    """The limb from the front or behind; the drawing escapes what it is told."""
    return SafeString(limb_view(look.picture))


@register.simple_tag
def not_to_measure() -> str:
    """What stands under a sketch."""
    return NOT_TO_MEASURE
