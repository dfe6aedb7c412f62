"""What is tried on a foot: a wedge, the rasp, a shoe set back."""

from decimal import Decimal
from typing import Any

from django import forms

from horses.effects import Steps
from horses.forms.measures import STEPS, AngleField, LengthField
from practice.units import LengthUnit

AS_GIVEN = Decimal("0.001")
"""What is tried is no reading: a quarter of an inch stays 6.35 mm."""
MOST_MM = Decimal(30)
MOST_DEG = Decimal(12)
"""Beyond what is nailed or rasped at once: a slip of the keys (ours)."""


class EffectsForm(forms.Form):
    """Lengths in the practice's unit, or any other with its sign."""

    wedge_at = forms.ChoiceField(
        choices=[("heel", "under the heels"), ("toe", "under the toe")],
        required=False,
        widget=forms.RadioSelect,
        label="Wedge",
    )

    def __init__(self, *args: Any, unit: LengthUnit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit
        self.fields["wedge_deg"] = AngleField(label="Wedge, in degrees")
        for name, label in (
            ("wedge", "or by its height"),
            ("heel_off", "Off the heels"),
            ("toe_off", "Off the toe"),
            ("set_back", "Breakover set back"),
        ):
            self.fields[name] = LengthField(unit=unit, step_mm=AS_GIVEN, label=label)

    @property
    def step(self) -> str:
        """What one tap adds to a length."""
        return STEPS[self.unit]

    def _bounded(self, name: str, most: Decimal, words: str) -> Decimal:
        value: Decimal = self.cleaned_data.get(name) or Decimal(0)
        if not 0 <= value <= most:
            raise forms.ValidationError(f"Between nothing and {words}, please.")
        return value

    def clean_wedge_deg(self) -> Decimal:
        return self._bounded("wedge_deg", MOST_DEG, f"{MOST_DEG}°")

    def clean_wedge(self) -> Decimal:
        value = self._bounded("wedge", MOST_MM, f"{MOST_MM} mm")
        if value and self.cleaned_data.get("wedge_deg"):
            raise forms.ValidationError("Degrees or a height, one of the two.")
        return value

    def clean_heel_off(self) -> Decimal:
        return self._bounded("heel_off", MOST_MM, f"{MOST_MM} mm")

    def clean_toe_off(self) -> Decimal:
        return self._bounded("toe_off", MOST_MM, f"{MOST_MM} mm")

    def clean_set_back(self) -> Decimal:
        return self._bounded("set_back", MOST_MM, f"{MOST_MM} mm")

    def steps(self) -> Steps:
        """What is tried. The form is valid."""
        said = self.cleaned_data
        return Steps(
            wedge_mm=float(said["wedge"]),
            wedge_deg=float(said["wedge_deg"]),
            wedge_at="toe" if said["wedge_at"] == "toe" else "heel",
            heel_off_mm=float(said["heel_off"]),
            toe_off_mm=float(said["toe_off"]),
            set_back_mm=float(said["set_back"]),
        )
