"""Amounts as people type them."""

import re
from calendar import month_abbr
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms

from practice.units import BadMeasure, System, format_distance, parse_distance

_SIGNS = re.compile(r"[£€$\s\u00a0\u202f]|[A-Z]{3}", re.ASCII)
_PLAIN = re.compile(r"-?\d{1,9}(?:\.\d{1,4})?", re.ASCII)


def read_amount(text: str) -> Decimal:
    """``95``, ``95.5``, ``95,50``, ``£1,234.50``, ``1.234,50 EUR``.

    The last of comma and point is the decimal sign, unless exactly three digits follow
    a comma that stands alone before them (``1,234``). Raises ValueError.
    """
    bare = _SIGNS.sub("", text.strip().replace("−", "-").replace("–", "-"))
    if "," in bare and "." in bare:
        thousands = "," if bare.rfind(".") > bare.rfind(",") else "."
        bare = bare.replace(thousands, "")
    if bare.count(",") == 1 and not re.search(r",\d{3}$", bare):
        bare = bare.replace(",", ".")
    bare = bare.replace(",", "")
    if not _PLAIN.fullmatch(bare):
        raise ValueError(text)
    return Decimal(bare)


class AmountField(forms.CharField):
    """An amount in the practice's currency; cleaned into a Decimal, or None."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("max_length", 20)
        super().__init__(**more)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_amount(text)
        except ValueError as fault:
            raise forms.ValidationError(
                "Write an amount such as 95 or 95.50."
            ) from fault

    def prepare_value(self, value: Any) -> Any:
        """Two decimals at the least, as prices are written: 95.00, not 95.000."""
        if not isinstance(value, Decimal):
            return value
        short = value.normalize()
        return f"{short:.2f}" if -short.as_tuple().exponent <= 2 else f"{short:f}"  # type: ignore[operator]  # finite, so the exponent is a number


class QuantityField(AmountField):
    """A quantity: a number that may be negative; cleaned into a Decimal."""

    def prepare_value(self, value: Any) -> Any:
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class RoadField(forms.CharField):
    """A distance by road in the practice's unit; cleaned into whole metres, or None."""

    def __init__(self, *, system: System = "metric", **more: Any) -> None:
        more.setdefault("max_length", 20)
        more.setdefault("required", False)
        super().__init__(**more)
        self.system = system
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            metres = round(parse_distance(text, self.system))
        except BadMeasure as fault:
            raise forms.ValidationError(str(fault)) from fault
        if metres > MOST_METRES:
            raise forms.ValidationError("That is further than any farrier drives.")
        return metres

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            return format_distance(value, self.system)
        return value


MOST_METRES = 2_000_000


class SeasonDayField(forms.CharField):
    """A day of the year as day and month (``1 Nov``, ``1.11.``, ``01/11``); cleaned
    into month × 100 + day, or None."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("max_length", 20)
        more.setdefault("required", False)
        super().__init__(**more)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        for form in ("%d %b %Y", "%d %B %Y", "%d.%m. %Y", "%d/%m %Y", "%d-%m %Y"):
            try:  # a leap year, so that 29 February is a day
                found = datetime.strptime(f"{text} 2024", form).replace(tzinfo=UTC)
            except ValueError:
                continue
            return found.month * 100 + found.day
        raise forms.ValidationError("Write a day and a month, such as 1 Nov.")

    def prepare_value(self, value: Any) -> Any:
        return season_day(value) if isinstance(value, int) else value


def season_day(number: int) -> str:
    """A day of the year as people write it: 1 Nov."""
    return f"{number % 100} {month_abbr[number // 100]}"


FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 12, 31)
"""What a period may span; beyond, a year is mistyped, and calendars end."""


class PeriodDayField(forms.DateField):
    """A day of a period that is asked for."""

    def __init__(self, **more: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, **more)

    def clean(self, value: Any) -> Any:
        day = super().clean(value)
        if day is not None and not FIRST_DAY <= day <= LAST_DAY:
            raise forms.ValidationError(
                f"Between {FIRST_DAY.year} and {LAST_DAY.year}: is the year right?"
            )
        return day


def day_field(label: str, **more: Any) -> forms.DateField:
    """A calendar day, chosen or typed; not required unless said."""
    more.setdefault("required", False)
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, **more)
