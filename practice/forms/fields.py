"""Fields that more than one form has: positions, countries, keys."""

from typing import Any
from uuid import UUID

from django import forms

from practice import countries, languages
from practice.geo import BadPosition, Position, parse_position


class PositionField(forms.CharField):
    """A position as people type it; cleaned into a ``Position`` or None."""

    def __init__(self, *, near: Position | None = None, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("max_length", 120)
        more.setdefault("label", "Position")
        more.setdefault(
            "help_text",
            "Latitude, longitude (55.5985, -2.7213), degrees and minutes, "
            "or a plus code (9C7VH7XH+CF).",
        )
        super().__init__(**more)
        self.near = near

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_position(text, near=self.near)
        except BadPosition as error:
            raise forms.ValidationError(str(error)) from error

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Position):
            return f"{value.lat:.6f}, {value.lon:.6f}"
        return value


class CountryField(forms.CharField):
    """Two letters of ISO 3166-1, cleaned into capitals."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("label", "Country")
        more.setdefault("help_text", "Two letters, such as GB or US.")
        super().__init__(min_length=2, max_length=2, **more)

    def clean(self, value: Any) -> Any:
        code = super().clean(value).upper()
        if code and not (code.isascii() and code.isalpha()):
            raise forms.ValidationError("Two letters, such as GB or US.")
        return code


class LanguageField(forms.ChoiceField):
    """One of the languages that documents and mails are written in."""

    def __init__(self, *, empty: str = "", **more: Any) -> None:
        more.setdefault("label", "Language of documents and mails")
        more.setdefault("required", not empty)
        none = [("", empty)] if empty else []
        super().__init__(choices=[*none, *languages.NAMES.items()], **more)


class CurrencyField(forms.CharField):
    """Three letters of ISO 4217, cleaned into capitals."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("label", "Currency")
        more.setdefault("help_text", "Three letters, such as GBP, EUR or USD.")
        super().__init__(min_length=3, max_length=3, **more)

    def clean(self, value: Any) -> Any:
        code = super().clean(value).upper()
        if code and not (code.isascii() and code.isalpha()):
            raise forms.ValidationError("Three letters, such as GBP, EUR or USD.")
        return code


def country_choices() -> list[tuple[str, str]]:
    """The known countries by name, then 'another country'."""
    known = sorted(countries.COUNTRIES.values(), key=lambda country: country.name)
    pairs = [(country.code, country.name) for country in known]
    return [*pairs, (countries.ELSEWHERE.code, "Another country")]


def key_or_none(text: str) -> UUID | None:
    """A client-made key out of a form's hidden field; None if it is none."""
    try:
        return UUID(text)
    except ValueError:
        return None
