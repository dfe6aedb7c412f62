"""What templates say of a horse: presentation only, no query, no rule."""

from datetime import date

from django import template

from horses.height import format_height
from horses.identity import spaced
from horses.models import Horse

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
