"""Marks on a photo as numbers: how a page with a pointer and one without send them."""

from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from horses.forms.measures import LengthField, shown
from horses.landmarks.reading import KNOWN_RANGE_MM
from horses.landmarks.spots import Spot, View, spots
from horses.models import Photo
from horses.models.visit import Foot
from practice.units import LengthUnit

Places = dict[str, tuple[Decimal, Decimal]]
_SIXTH = Decimal("0.000001")
_TENTH = Decimal("0.1")


class ShowsForm(forms.Form):
    """Which foot a photo shows, and from where."""

    foot = forms.ChoiceField(
        choices=[(foot, foot) for foot in Foot.values],
        widget=forms.RadioSelect,
        label="Foot",
        error_messages=dict.fromkeys(
            ("required", "invalid_choice"), "Choose the foot that the photo shows."
        ),
    )
    view = forms.ChoiceField(
        choices=[c for c in Photo.View.choices if c[0] != Photo.View.OTHER],
        widget=forms.RadioSelect,
        label="Taken",
        error_messages=dict.fromkeys(
            ("required", "invalid_choice"), "Choose from where it was taken."
        ),
    )
    reason = forms.CharField(
        required=False,
        max_length=300,
        label="Why it is amended",
        help_text="The visit is closed: the old values are kept beside the new ones.",
    )


def _part(spot: Spot, axis: str, most: int) -> forms.DecimalField:
    wrong = f"Write pixels of the picture, 0 to {most}."
    return forms.DecimalField(
        required=False,
        min_value=0,
        max_value=most,
        label=f"{spot.label}, {axis}",
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
        error_messages={"invalid": wrong, "min_value": wrong, "max_value": wrong},
    )


class MarksForm(forms.Form):
    """Each landmark as two numbers, pixels of the kept picture; the known length."""

    revision = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    reason = forms.CharField(
        required=False,
        max_length=300,
        label="Why it is amended",
        help_text="The visit is closed: the old values are kept beside the new ones.",
    )

    def __init__(self, data: QueryDict, *, photo: Photo, unit: LengthUnit) -> None:
        super().__init__(data)
        self.photo = photo
        view: View = photo.view  # type: ignore[assignment]  # the page asks for it
        self.spots = spots(view)
        self.fields["known"] = LengthField(
            unit=unit,
            label="Known length",
            help_text="between the two marks of the scale, such as 100 mm of a rule held "
            "in the plane of the foot",
        )
        for spot in self.spots:
            for axis, words, most in (
                ("x", "across", photo.width_px),
                ("y", "down", photo.height_px),
            ):
                self.fields[f"{spot.name}_{axis}"] = _part(spot, words, most)

    def clean_known(self) -> Decimal | None:
        mm: Decimal | None = self.cleaned_data["known"]
        low, high = KNOWN_RANGE_MM
        if mm is not None and not low <= mm <= high:
            raise forms.ValidationError(
                f"The known length lies between {low} and {high} mm."
            )
        return mm

    def clean(self) -> None:
        for spot in self.spots:
            names = (f"{spot.name}_x", f"{spot.name}_y")
            if any(name in self.errors for name in names):
                continue
            given = [name for name in names if self.cleaned_data[name] is not None]
            if len(given) == 1:
                lacks = names[1] if given == [names[0]] else names[0]
                self.add_error(lacks, "Write both numbers of a mark, or neither.")

    def points(self) -> Places:
        """The marks whose numbers are both good, as fractions of the picture."""
        self.is_valid()
        found = {}
        for spot in self.spots:
            x = self.cleaned_data.get(f"{spot.name}_x")
            y = self.cleaned_data.get(f"{spot.name}_y")
            if x is not None and y is not None:
                found[spot.name] = (
                    (x / self.photo.width_px).quantize(_SIXTH),
                    (y / self.photo.height_px).quantize(_SIXTH),
                )
        return found

    @property
    def known_mm(self) -> Decimal | None:
        """The known length, where it can be read."""
        mm: Decimal | None = self.cleaned_data.get("known")
        return mm

    @property
    def ticked(self) -> list[str]:
        """The figures that are to go into the record."""
        return [name for name in self.offered if name in self._list("use")]

    @property
    def offered(self) -> list[str]:
        """The figures that the viewer had before the eyes."""
        return self._list("offered")

    def chosen(self) -> dict[str, Decimal | None]:
        """The ticked figures, with what the page said that the record says."""
        values = {}
        for name in self.ticked:
            text = str(self.data.get(f"stands-{name}", ""))
            try:
                said = Decimal(text) if text else None
                values[name] = said if said is None or said.is_finite() else None
            except ArithmeticError:  # nothing that this page has sent
                values[name] = None
        return values

    def _list(self, name: str) -> list[str]:
        data = self.data
        return list(data.getlist(name)) if isinstance(data, MultiValueDict) else []

    def pairs(self) -> list[tuple[Spot, Any, Any]]:
        """Each landmark with its two fields."""
        return [(s, self[f"{s.name}_x"], self[f"{s.name}_y"]) for s in self.spots]


def marks_data(photo: Photo, points: Places, unit: LengthUnit) -> dict[str, list[str]]:
    """The fields that say what is kept."""
    data = {
        "revision": [str(photo.marks_revision)],
        "known": [shown(photo.known_mm, unit)],
    }
    for name, (x, y) in points.items():
        data[f"{name}_x"] = [f"{(x * photo.width_px).quantize(_TENTH)}"]
        data[f"{name}_y"] = [f"{(y * photo.height_px).quantize(_TENTH)}"]
    return data
