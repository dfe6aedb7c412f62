"""Forms of the visit's own pages."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from horses.models import Horse, Photo
from horses.models.visit import Foot
from practice.units import BadMeasure, System, format_distance, parse_distance


class StartForm(forms.Form):
    """Which horses of a barn are attended, on which day."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        label="Day of the visit",
    )
    horses = forms.TypedMultipleChoiceField(
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        label="Horses to attend",
        error_messages={"required": "Choose at least one horse."},
    )

    def __init__(self, *args: Any, horses: Sequence[Horse], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["horses"].choices = [  # type: ignore[attr-defined]  # the field's class is named above
            (str(horse.pk), horse.name) for horse in horses
        ]


class AddHorseForm(forms.Form):
    """One more horse for a visit."""

    horse = forms.TypedChoiceField(
        coerce=int,
        label="Another horse",
        error_messages={"required": "Choose a horse."},
    )

    def __init__(self, *args: Any, horses: Sequence[Horse], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["horse"].choices = [("", "Choose a horse")] + [  # type: ignore[attr-defined]  # the field's class is named above
            (str(horse.pk), f"{horse.name} · {horse.barn or 'no barn'}")
            for horse in horses
        ]


class NoteForm(forms.Form):
    """The visit's note and the road to it."""

    note = forms.CharField(
        required=False,
        max_length=5000,
        label="Note on the visit",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    travel_minutes = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=1440,
        label="Drive here",
        widget=forms.TextInput,
    )
    travel = forms.CharField(required=False, max_length=20, label="Road here")
    start_time = forms.TimeField(
        required=False,
        label="Began at",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="Off-hours are charged by it.",
    )

    def __init__(
        self, *args: Any, system: System, metres: int | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.system = system
        self.metres = metres

    def clean_travel(self) -> int | None:
        text = self.cleaned_data["travel"].strip()
        if not text:
            return None
        if text == shown_distance(self.metres, self.system):
            return self.metres  # what is shown is rounded: don't lose the rest
        try:
            metres = parse_distance(text, self.system)
        except BadMeasure as bad:
            raise ValidationError(str(bad)) from bad
        if metres > 2_000_000:
            raise ValidationError("That is further than a day's drive.")
        return int(Decimal(str(metres)).to_integral_value())


def shown_distance(metres: int | None, system: System) -> str:
    """A distance as it stands in a field."""
    return "" if metres is None else format_distance(metres, system)


class PhotoForm(forms.Form):
    """What a photo shows."""

    photo_foot = forms.ChoiceField(
        required=False,
        choices=[("", "the horse"), *((foot, foot) for foot in Foot.values)],
        widget=forms.RadioSelect,
        label="Photos show",
    )
    photo_view = forms.ChoiceField(
        required=False,
        choices=Photo.View.choices,
        widget=forms.RadioSelect,
        label="Taken",
    )
