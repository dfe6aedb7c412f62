"""How the estimate of drives reckons, and the upload of a road map: as typed."""

from typing import TYPE_CHECKING, Any

from django import forms

from practice.units import BadMeasure, System, parse_distance

if TYPE_CHECKING:
    from scheduling.driving import Pace


def _factor(label: str, **more: Any) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        min_value=0.4,
        max_value=3,
        error_messages={
            "invalid": "Give a number such as 1.15.",
            "min_value": "Less than 0.4 is no road.",
            "max_value": "More than 3 is no road.",
        },
        **more,
    )


class PaceForm(forms.Form):
    """How roads are here."""

    circuity = forms.FloatField(
        label="Road length over the crow's flight",
        min_value=1,
        max_value=4,
        error_messages={
            "invalid": "Give a number such as 1.3.",
            "min_value": "No road is shorter than the crow's flight: give 1 or more.",
            "max_value": "Give 4 or less.",
        },
    )
    lanes = _factor("Minutes on the first 5 km, times")
    roads = _factor("Minutes on the next 15 km, times")
    main = _factor("Minutes beyond, times")
    stop_minutes = forms.FloatField(
        label="At the gate, minutes a drive",
        min_value=0,
        max_value=15,
        error_messages={
            "invalid": "Give minutes such as 1 or 1.5.",
            "max_value": "Give 15 minutes at the most.",
        },
    )
    drives = forms.IntegerField(
        required=False, min_value=0, max_value=100_000, widget=forms.HiddenInput
    )
    road_count = forms.IntegerField(
        required=False, min_value=0, max_value=1_000_000, widget=forms.HiddenInput
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.errors:
            try:
                self.pace()
            except ValueError as error:
                raise forms.ValidationError(str(error)) from error
        return cleaned

    def pace(self) -> "Pace":
        """What was typed, as the estimate takes it. Raises ValueError."""
        from scheduling.driving import Pace

        said = self.cleaned_data
        factors = (said["lanes"], said["roads"], said["main"])
        return Pace(said["circuity"], factors, said["stop_minutes"])


def shown(pace: "Pace") -> dict[str, float]:
    """What the form starts with."""
    return {
        "circuity": pace.circuity,
        "lanes": pace.factors[0],
        "roads": pace.factors[1],
        "main": pace.factors[2],
        "stop_minutes": pace.stop_minutes,
    }


class OdometerForm(forms.Form):
    """How long a drive's road was; empty: not known."""

    road = forms.CharField(required=False, max_length=20)

    def __init__(self, *args: Any, system: System, **more: Any) -> None:
        super().__init__(*args, **more)
        self.system = system

    def clean_road(self) -> int | None:
        said: str = self.cleaned_data["road"].strip()
        if not said:
            return None
        try:
            return round(parse_distance(said, self.system))
        except BadMeasure as error:
            raise forms.ValidationError(str(error)) from error


class RoadMapForm(forms.Form):
    """An extract of OpenStreetMap."""

    file = forms.FileField(
        label="Extract (.osm.pbf)",
        max_length=200,
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty.",
        },
    )
