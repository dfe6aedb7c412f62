"""What is typed of a horse."""

from typing import Any
from uuid import UUID

from django import forms

from horses.height import BadHeight, format_height, parse_height
from horses.identity import parse_microchip, parse_ueln, spaced
from horses.models import Horse, IntervalSettings, Work
from horses.selectors.horses import ANY
from practice import units
from practice.errors import Refused
from practice.models import Barn, Client, Practice
from practice.units import System

NONE_YET = ("", "–")


def _area(rows: int, **more: str) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows, **more})


class HorseForm(forms.Form):
    """A horse, to add or to change."""

    name = forms.CharField(max_length=120)
    barn = forms.ModelChoiceField(
        Barn.objects.none(), required=False, empty_label="no barn yet"
    )
    breed = forms.CharField(max_length=80, required=False)
    sex = forms.ChoiceField(choices=[NONE_YET, *Horse.Sex.choices], required=False)
    colour = forms.CharField(max_length=60, required=False)
    foaled_year = forms.IntegerField(label="Foaled in (year)", required=False)
    foaled_on = forms.DateField(
        label="Foaled on",
        required=False,
        help_text="the very day, where it is known",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    height = forms.CharField(
        required=False, help_text="hands (15.2) or centimetres (157 cm)"
    )
    mass = forms.CharField(required=False)
    use = forms.ChoiceField(choices=[NONE_YET, *Horse.Use.choices], required=False)
    use_note = forms.CharField(
        label="More about the use",
        max_length=120,
        required=False,
        help_text="level, hours a week, ground",
    )
    cautions = forms.CharField(
        label="Handling: what to beware of",
        required=False,
        help_text="stands on top of every page of this horse: kicks, needle-shy …",
        widget=_area(2),
    )
    conformation = forms.CharField(
        required=False,
        help_text="how the limbs are built: lasting",
        widget=_area(3),
    )
    interval_weeks = forms.IntegerField(
        label="Weeks between visits",
        min_value=1,
        max_value=52,
        required=False,
    )
    usual_work = forms.ModelChoiceField(
        Work.objects.none(), required=False, empty_label="–", label="Usual work"
    )
    usual_work_note = forms.CharField(
        label="More about the usual work", max_length=200, required=False
    )
    agreed_price = forms.DecimalField(
        label="Agreed price",
        min_value=0,
        max_digits=9,
        decimal_places=2,
        required=False,
        help_text="for the usual work; without it the charge list's price holds",
    )
    ueln = forms.CharField(
        label="UELN",
        required=False,
        help_text="15 characters, from the passport",
    )
    microchip = forms.CharField(
        required=False, help_text="15 digits, from the passport or a reader"
    )
    notes = forms.CharField(required=False, widget=_area(3))
    status = forms.ChoiceField(choices=Horse.Status.choices)

    def __init__(
        self,
        *args: Any,
        barns: Any,
        works: Any,
        practice: Practice,
        is_new: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.system: System = "imperial" if practice.mass_unit == "lb" else "metric"
        _of(self, "barn").queryset = barns
        _of(self, "usual_work").queryset = works
        self.fields["mass"].help_text = (
            "pounds, or write kg" if self.system == "imperial" else "kilograms"
        )
        self.fields["interval_weeks"].help_text = (
            "set weeks; left open, the day is reckoned from its growth"
            if IntervalSettings.objects.the_one().reckons
            else f"without it the practice's usual {practice.default_interval_weeks}"
        )
        if is_new:
            del self.fields["status"]

    def clean_height(self) -> int | None:
        written = self.cleaned_data["height"]
        if not written:
            return None
        try:
            return parse_height(written.split("(")[0])
        except BadHeight as error:
            raise forms.ValidationError(str(error)) from error

    def clean_mass(self) -> int | None:
        written = self.cleaned_data["mass"].replace(",", "")
        if not written:
            return None
        if not any(sign.isalpha() for sign in written):
            written += " lb" if self.system == "imperial" else " kg"
        try:
            return round(units.parse_mass(written, self.system) / 1000)
        except units.BadMeasure as error:
            raise forms.ValidationError(str(error)) from error

    def clean_ueln(self) -> str:
        return _parsed(parse_ueln, self.cleaned_data["ueln"])

    def clean_microchip(self) -> str:
        return _parsed(parse_microchip, self.cleaned_data["microchip"])

    def said(self) -> dict[str, Any]:
        """The cleaned values by the horse's own field names."""
        said = dict(self.cleaned_data)
        said["height_mm"] = said.pop("height")
        said["mass_kg"] = said.pop("mass")
        return {name: said[name] for name in said if name not in OF_NEW}


OF_NEW = frozenset({"key", "owner", "owner_from"})


class NewHorseForm(HorseForm):
    """A horse to add, with its owner."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    owner = forms.ModelChoiceField(
        Client.objects.none(),
        required=False,
        empty_label="no owner yet",
        help_text="all of it; shares of several owners are set on the next page",
    )
    owner_from = forms.DateField(
        label="Owner since",
        required=False,
        help_text="today, if left open",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, *args: Any, clients: Any, **kwargs: Any) -> None:
        super().__init__(*args, is_new=True, **kwargs)
        _of(self, "owner").queryset = clients

    @property
    def made_key(self) -> UUID:
        key: UUID = self.cleaned_data["key"]
        return key


class HorseFilterForm(forms.Form):
    """How the list of horses is narrowed."""

    search = forms.CharField(
        required=False, widget=forms.TextInput(attrs={"type": "search"})
    )
    barn = forms.ModelChoiceField(
        Barn.objects.none(), required=False, empty_label="all barns"
    )
    status = forms.ChoiceField(
        choices=[*Horse.Status.choices, (ANY, "all, also those gone")], required=False
    )

    def __init__(self, *args: Any, barns: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _of(self, "barn").queryset = barns


def as_typed(horse: Horse, practice: Practice) -> dict[str, Any]:
    """A horse as its form shows it."""
    names = set(HorseForm.base_fields) - {"height", "mass"}
    shown: dict[str, Any] = {name: getattr(horse, name) for name in names}
    shown["height"] = format_height(horse.height_mm) if horse.height_mm else ""
    system: System = "imperial" if practice.mass_unit == "lb" else "metric"
    shown["mass"] = (
        units.format_body_mass(horse.mass_kg, system) if horse.mass_kg else ""
    )
    for name in ("ueln", "microchip"):
        shown[name] = spaced(shown[name])
    return shown


def _of(form: forms.Form, name: str) -> "forms.ModelChoiceField[Any]":
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(name)
    return field


def _parsed(parse: Any, written: str) -> str:
    try:
        return str(parse(written))
    except Refused as refusal:
        raise forms.ValidationError(refusal.sentence) from refusal
