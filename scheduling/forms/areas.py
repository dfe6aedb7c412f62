"""How near the barns of an area lie, and a new client's place: as typed."""

from collections.abc import Mapping
from typing import Any

from django import forms

from practice.forms.fields import PositionField
from practice.geo import Position
from practice.models import Barn
from scheduling.selectors.newcomer import place_of_post_code


class ApartForm(forms.Form):
    """How many minutes apart the barns of an area may lie."""

    apart = forms.IntegerField(
        label="Minutes apart, on average",
        min_value=2,
        max_value=120,
        error_messages={
            "invalid": "Give whole minutes, such as 15.",
            "min_value": "Give 2 minutes or more.",
            "max_value": "Give 120 minutes at the most.",
        },
    )


class NamesForm(forms.Form):
    """A name for each proposed area; those left empty are not taken up."""

    apart = forms.IntegerField(widget=forms.HiddenInput, min_value=2, max_value=120)

    def __init__(self, *args: Any, names: Mapping[int, str], **more: Any) -> None:
        super().__init__(*args, **more)
        for number, name in names.items():
            self.fields[f"name_{number}"] = forms.CharField(
                label="Name", required=False, max_length=80, initial=name
            )

    def named(self) -> dict[int, str]:
        """Names by the area's number."""
        return {
            int(field[5:]): " ".join(value.split())
            for field, value in self.cleaned_data.items()
            if field.startswith("name_") and value.strip()
        }


class NewcomerForm(forms.Form):
    """A new client's place and horses."""

    position = PositionField()
    post_code = forms.CharField(
        label="or post code",
        required=False,
        max_length=20,
        help_text="The middle of your barns with that post code, or its first part.",
    )
    barn = forms.ModelChoiceField(
        Barn.objects.active().filter(latitude__isnull=False),
        required=False,
        label="or a barn that you know",
        empty_label="none",
    )
    horses = forms.IntegerField(
        label="Horses",
        min_value=1,
        max_value=60,
        initial=1,
        error_messages={
            "invalid": "Give a whole number.",
            "min_value": "Give one horse or more.",
            "max_value": "Give 60 horses at the most.",
        },
    )
    minutes = forms.IntegerField(
        label="Minutes a horse",
        min_value=5,
        max_value=480,
        initial=45,
        error_messages={
            "invalid": "Give whole minutes, such as 45.",
            "min_value": "Give 5 minutes or more.",
            "max_value": "Give 480 minutes at the most.",
        },
    )
    interval_weeks = forms.IntegerField(
        label="Weeks between visits",
        min_value=1,
        max_value=52,
        initial=6,
        error_messages={
            "invalid": "Give whole weeks, such as 6.",
            "min_value": "Give one week or more.",
            "max_value": "Give 52 weeks at the most.",
        },
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        position, barn = cleaned.get("position"), cleaned.get("barn")
        code = cleaned.get("post_code")
        if position is None and barn:
            position = Position(float(barn.latitude), float(barn.longitude))
        elif position is None and code:
            found = place_of_post_code(code)
            if found is None:
                self.add_error(
                    "post_code",
                    "None of your barns has this post code or its first part: "
                    "give a position instead.",
                )
                return cleaned
            position = found[0]
        if position is None:
            self.add_error("position", "Give a position, a post code or a barn.")
        cleaned["at"] = position
        return cleaned
