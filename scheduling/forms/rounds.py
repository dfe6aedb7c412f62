"""What is chosen and typed to find who is due and to book them."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet

from horses.models import Horse
from practice.forms.choices import ManyRows
from practice.models import Area, Barn, User
from scheduling.models import Booking

DATE = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
OPEN_CHOICES = [(status.value, status.label) for status in Booking.OPEN]
MOST_MINUTES = 600


def date_field(label: str, **more: Any) -> forms.DateField:
    """A day, by the browser's own calendar."""
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "invalid": "Give a day such as 2026-03-24.",
            "required": "Choose a day.",
        },
        **more,
    )


def minutes_field(label: str, **more: Any) -> forms.IntegerField:
    """Minutes of a drive that nobody can estimate."""
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        error_messages={
            "invalid": "Give whole minutes, such as 25.",
            "max_value": "More than ten hours of driving is too much for a day.",
            "min_value": "Minutes can't be negative.",
        },
        **more,
    )


class DueFilter(forms.Form):
    """Which of the due horses to show."""

    until = date_field("Due by", required=False)
    area = forms.ModelChoiceField(
        Area.objects.all(), required=False, label="Area", empty_label="all areas"
    )
    farrier = forms.ModelChoiceField(
        User.objects.farriers(),
        required=False,
        label="Last treated by",
        empty_label="anyone",
    )
    barn = forms.ModelChoiceField(
        Barn.objects.active(), required=False, label="Barn", empty_label="all barns"
    )


class BookForm(forms.Form):
    """A farrier, a day, horses; minutes for barns whose place nobody knows."""

    farrier = forms.ModelChoiceField(
        User.objects.farriers(),
        label="Farrier",
        empty_label=None,
        error_messages={"required": "Choose a farrier."},
    )
    day = date_field("Day")
    status = forms.ChoiceField(
        label="Standing", choices=OPEN_CHOICES, initial=Booking.Status.AGREED
    )
    note = forms.CharField(label="Note", required=False, max_length=300)
    horse = ManyRows(Horse.objects.none(), required=False, label="Horses")

    def __init__(
        self,
        *args: Any,
        horses: QuerySet[Horse],
        today: date,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.today = today
        field = self.fields["horse"]
        assert isinstance(field, ManyRows)
        field.queryset = horses
        for name in self.data:
            if name.startswith("typed_") and name[6:].isdecimal():
                self.fields[name] = minutes_field("Minutes to drive there")

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day < self.today:
            raise forms.ValidationError(
                "That day is over. Choose today or a later day."
            )
        return day

    def typed(self) -> dict[int, int | None]:
        """Typed minutes by barn."""
        return {
            int(name[6:]): value
            for name, value in self.cleaned_data.items()
            if name.startswith("typed_")
        }


class BookingForm(forms.Form):
    """What may change in a booking."""

    status = forms.ChoiceField(label="Standing", choices=OPEN_CHOICES)
    horse = ManyRows(
        Horse.objects.none(),
        label="Horses",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "A booking needs a horse. Call it off if none is attended."
        },
    )
    typed_minutes = minutes_field("Minutes to drive there")
    note = forms.CharField(label="Note", required=False, max_length=300)

    def __init__(
        self, *args: Any, horses: QuerySet[Horse], has_position: bool, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        field = self.fields["horse"]
        assert isinstance(field, ManyRows)
        field.queryset = horses
        if has_position:
            del self.fields["typed_minutes"]


class RescheduleForm(forms.Form):
    """Another day, another farrier, or both."""

    day = date_field("Day")
    farrier = forms.ModelChoiceField(
        User.objects.farriers(), label="Farrier", empty_label=None
    )


class CallOffForm(forms.Form):
    """Why, and whether in good time."""

    kind = forms.ChoiceField(
        label="How",
        required=False,
        choices=[
            ("", "in good time"),
            ("late_call_off", "late call-off"),
            ("no_show", "no-show"),
        ],
        widget=forms.RadioSelect,
        help_text="A late call-off or a no-show can be charged from the charge list.",
    )
    reason = forms.CharField(label="Reason", required=False, max_length=300)


def first_of(names: Iterable[str], data: Any) -> dict[str, str]:
    """The named values that a page's address carries."""
    return {name: data[name] for name in names if data.get(name)}
