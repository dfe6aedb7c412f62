"""What templates of billing say: presentation only, no query, no rule."""

from django import template

from billing.forms.fields import season_day as season_words
from practice.models.places import Weekday

register = template.Library()


@register.filter
def weekday(number: int) -> str:
    """An ISO weekday's name."""
    return str(Weekday(number).label)


@register.filter
def season_day(number: int) -> str:
    """Month × 100 + day as people write it: 1 Nov."""
    return season_words(number)
