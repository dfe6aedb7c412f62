"""How a horse is handled, when a barn can be attended, nights away: as typed."""

from collections.abc import Iterable
from datetime import date, time
from typing import Any

from django import forms

from horses.models import Work
from practice.forms.choices import ManyRows
from practice.forms.fields import PositionField
from practice.models import User
from practice.models.places import Weekday
from scheduling.forms.rounds import date_field


def _minutes(label: str, help_text: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        required=False,
        min_value=5,
        max_value=480,
        label=label,
        help_text=help_text,
        error_messages={
            "invalid": "Give whole minutes, such as 45.",
            "min_value": "Give 5 minutes or more.",
            "max_value": "Give 480 minutes (8 hours) at the most.",
        },
    )


class HandlingForm(forms.Form):
    """Who treats a horse, by how many, and how long it takes: with each of these works,
    and with all others."""

    farrier = forms.ModelChoiceField(
        User.objects.farriers(),
        required=False,
        label="Preferred farrier",
        empty_label="anyone",
    )
    may_treat = ManyRows(
        User.objects.farriers(),
        required=False,
        label="Only these may treat it",
        widget=forms.CheckboxSelectMultiple,
        help_text="Nobody ticked: anyone.",
    )
    needs_two = forms.BooleanField(
        required=False, label="Two people are needed at this horse"
    )
    minutes = _minutes(
        "Minutes at this horse, whatever the work",
        "Empty: the minutes that each work usually takes.",
    )

    def __init__(self, *args: Any, works: Iterable[Work], **more: Any) -> None:
        super().__init__(*args, **more)
        self.works = tuple(works)
        for work in self.works:
            usual = f"usually {work.minutes} min"
            self.fields[f"minutes_{work.pk}"] = _minutes(work.name, usual)

    def work_fields(self) -> list[forms.BoundField]:
        """The fields of the works' minutes, for the page."""
        return [self[f"minutes_{work.pk}"] for work in self.works]

    def by_work(self) -> dict[Work, int | None]:
        """Minutes with each work; None: not said."""
        said = self.cleaned_data
        return {work: said[f"minutes_{work.pk}"] for work in self.works}


class FinishForm(forms.Form):
    """Until when the work must be over, for each weekday."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for day in Weekday:
            self.fields[f"by_{day}"] = forms.TimeField(
                label=day.label,
                required=False,
                widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
                error_messages={"invalid": "Give a time such as 15:30."},
            )

    def times(self) -> dict[int, time | None]:
        """By ISO weekday."""
        return {int(day): self.cleaned_data[f"by_{day}"] for day in Weekday}


class ClosureForm(forms.Form):
    """Days on which a barn can't be attended."""

    first = date_field("From")
    last = date_field("Until", required=False)
    why = forms.CharField(label="Why", required=False, max_length=120)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", "The last day lies before the first.")
        if first and not last:
            cleaned["last"] = first
        return cleaned


class LodgingForm(forms.Form):
    """A night away."""

    night = date_field("Night of")
    name = forms.CharField(label="Where", max_length=120)
    position = PositionField(required=True)

    def __init__(self, *args: Any, today: date, **more: Any) -> None:
        super().__init__(*args, **more)
        self.today = today

    def clean_night(self) -> date:
        night: date = self.cleaned_data["night"]
        if night < self.today:
            raise forms.ValidationError("That night is over: choose a later one.")
        return night
