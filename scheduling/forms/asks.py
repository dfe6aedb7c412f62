"""What is asked of owners, and what they answer."""

from datetime import date
from typing import Any
from uuid import UUID

from django import forms

from scheduling.forms.rounds import date_field
from scheduling.models.asks import ANSWERS


class AnswerForm(forms.Form):
    """One answer to one ask. ``days``: what may be wished, as (key, words)."""

    answer = forms.ChoiceField(choices=ANSWERS)
    wish = forms.MultipleChoiceField(
        required=False,
        label="Days that would suit",
        widget=forms.CheckboxSelectMultiple,
    )
    until = date_field("Away until", required=False)
    note = forms.CharField(
        required=False, max_length=300, label="A word to the farrier"
    )

    def __init__(self, *args: Any, days: list[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["wish"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = days

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("answer") == "away" and not said.get("until"):
            self.add_error("until", "Give the last day on which you are away.")
        return said


class AskForm(forms.Form):
    """Which bookings to ask about."""

    booking = forms.MultipleChoiceField(
        error_messages={"required": "Tick at least one booking."}
    )

    def __init__(self, *args: Any, keys: list[str], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["booking"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(key, key) for key in keys]

    def clean_booking(self) -> list[UUID]:
        return [UUID(key) for key in self.cleaned_data["booking"]]


class TakeWishForm(forms.Form):
    """The day of an owner's wish that is taken: '2026-12-01 3'."""

    to = forms.CharField(max_length=60)

    def clean_to(self) -> tuple[date, int]:
        day, _, farrier = self.cleaned_data["to"].partition(" ")
        try:
            return date.fromisoformat(day), int(farrier)
        except ValueError as error:
            raise forms.ValidationError("Choose one of the days wished.") from error


class CallOffOwnForm(forms.Form):
    """Why an owner calls off."""

    reason = forms.CharField(required=False, max_length=300, label="Why")
