"""An area as drawn: its name, its outline, its barns, as typed."""

from collections.abc import Sequence
from typing import Any

from django import forms

from practice.forms.choices import ManyRows
from practice.geo import Position
from practice.models import Barn
from scheduling.areas import LEAST_CORNERS, MOST_CORNERS, Outline
from scheduling.selectors.outlines import BY_HOME, BY_MAP


class OutlineField(forms.CharField):
    """Corners as ``lat,lon lat,lon …``; empty is no outline."""

    def __init__(self, **more: Any) -> None:
        super().__init__(
            required=False, widget=forms.HiddenInput, max_length=10_000, **more
        )

    def clean(self, value: Any) -> Outline:
        try:
            corners = tuple(_corner(one) for one in super().clean(value).split())
        except ValueError as error:
            raise forms.ValidationError(
                "The outline could not be read: draw it again."
            ) from error
        if corners and not LEAST_CORNERS <= len(corners) <= MOST_CORNERS:
            raise forms.ValidationError(
                f"An outline has {LEAST_CORNERS} to {MOST_CORNERS} corners: "
                f"this one has {len(corners)}."
            )
        return corners

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, tuple):
            return " ".join(f"{one.lat:.6f},{one.lon:.6f}" for one in value)
        return value


def _corner(text: str) -> Position:
    lat, lon = text.split(",")
    return Position(float(lat), float(lon))


class DrawForm(forms.Form):
    """An area with its outline and the barns that are to be in it."""

    name = forms.CharField(
        label="Name of the area",
        max_length=80,
        error_messages={"required": "Give the area a name."},
    )
    outline = OutlineField()
    barns = ManyRows(Barn.objects.active(), required=False)
    was = forms.CharField(required=False, max_length=10_000, widget=forms.HiddenInput)
    from_others = forms.ChoiceField(
        label="Ticked barns that are in another area",
        choices=[("come", "come into this one"), ("stay", "stay where they are")],
        widget=forms.RadioSelect,
    )
    order = forms.ChoiceField(label="In the order of", required=False)

    def __init__(self, *args: Any, barns: Sequence[Barn], **more: Any) -> None:
        super().__init__(*args, **more)
        order: Any = self.fields["order"]
        order.choices = [
            (BY_HOME, "distance from home"),
            (BY_MAP, "the map, west to east"),
            *(
                (str(barn.pk), f"distance from {barn.name}")
                for barn in barns
                if barn.has_position
            ),
        ]

    def ticked(self) -> set[int]:
        """Keys of the ticked barns."""
        return {barn.pk for barn in self.cleaned_data.get("barns") or ()}

    def leaving(self) -> set[int]:
        """Keys of the barns that were in the area when the page was made and are not
        ticked any more."""
        keys = self.cleaned_data.get("was", "").split()
        return {int(key) for key in keys if key.isdecimal()} - self.ticked()
