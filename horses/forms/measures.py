"""Form fields for what is measured: lengths in the practice's unit, angles."""

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from practice.units import (
    BadMeasure,
    LengthUnit,
    System,
    format_length,
    parse_length,
)

TENTH = Decimal("0.1")
STEPS: dict[LengthUnit, str] = {"mm": "1", "cm": "0.1", "in": "0.0625"}
"""What one tap on a stepper adds: an inch goes by sixteenths."""


def system_of(unit: LengthUnit) -> System:
    """The system to which a practice's length unit belongs."""
    return "imperial" if unit == "in" else "metric"


def shown(mm: Decimal | None, unit: LengthUnit) -> str:
    """A length as it stands in a field: the number alone, in the practice's unit."""
    if mm is None:
        return ""
    return format_length(float(mm), system_of(unit), unit=unit).removesuffix(f" {unit}")


def shown_angle(degrees: Decimal | None) -> str:
    """An angle as it stands in a field."""
    return "" if degrees is None else f"{degrees:f}".removesuffix(".0")


class LengthField(forms.CharField):
    """A length typed in the practice's unit, or any other with its sign; cleans to
    millimetres with one decimal (or to ``step_mm``), or None.
    """

    def __init__(
        self, *, unit: LengthUnit, step_mm: Decimal = TENTH, **kwargs: Any
    ) -> None:
        super().__init__(required=False, max_length=40, **kwargs)
        self.unit = unit
        self.step_mm = step_mm

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value)).strip()
        if not text:
            return None
        try:
            mm = parse_length(text, system_of(self.unit), bare=self.unit)
        except BadMeasure as bad:
            raise ValidationError(str(bad)) from bad
        return Decimal(str(mm)).quantize(self.step_mm)


class AngleField(forms.CharField):
    """Degrees with at most one decimal; ``°`` may stand behind; or None."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=20, **kwargs)

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value)).strip().removesuffix("°").strip()
        if not text:
            return None
        try:
            degrees = Decimal(text.replace(",", "."))
            if not degrees.is_finite() or abs(degrees) > 1000:
                raise InvalidOperation
        except InvalidOperation as bad:
            raise ValidationError("Write the angle in degrees, like 51.5.") from bad
        return degrees.quantize(TENTH)


class NailsField(forms.IntegerField):
    """Nails of one branch."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            required=False,
            min_value=0,
            max_value=8,
            widget=forms.TextInput,
            error_messages={
                "invalid": "Write how many nails, 0 to 8.",
                "min_value": "A branch has 0 to 8 nails.",
                "max_value": "A branch has 0 to 8 nails.",
            },
            **kwargs,
        )
