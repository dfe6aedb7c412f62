"""What planning weighs, as typed."""

from typing import Any

from django import forms

from scheduling.forms.proposals import TOGETHER
from scheduling.planner.weeks import Weights
from scheduling.planner.weighing import USUAL, WEIGHED, Weighed, weights_of


def _field(one: Weighed) -> forms.Field:
    if one.name == "keep_together":
        return forms.TypedChoiceField(
            label=one.label, coerce=float, choices=TOGETHER, widget=forms.RadioSelect
        )
    bounds = f"Give {one.low:g} to {one.high:g}."
    return forms.FloatField(
        label=one.label,
        min_value=one.low,
        max_value=one.high,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
        error_messages={
            "required": f"Give a number; usually {one.usual:g}.",
            "invalid": f"Give a number such as {one.usual:g}.",
            "min_value": bounds,
            "max_value": bounds,
        },
    )


class WeightsForm(forms.Form):
    """A field for each weight."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for one in WEIGHED:
            self.fields[one.name] = _field(one)

    def weights(self) -> Weights:
        """What is in the form; what is missing or wrong in it as usual."""
        return weights_of(self.cleaned_data)


def shown(weights: Weights = USUAL) -> dict[str, float]:
    """What the form starts with."""
    return {one.name: _short(getattr(weights, one.name)) for one in WEIGHED}


def _short(value: float) -> float:
    return int(value) if value == int(value) else value
