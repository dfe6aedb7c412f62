"""What is chosen to have weeks proposed, and to move a stop of them."""

from datetime import date, timedelta
from typing import Any

from django import forms

from practice.forms.choices import ManyRows
from practice.models import User
from scheduling.forms.rounds import date_field
from scheduling.models import Proposal
from scheduling.models.proposals import MOST_WEEKS

SECONDS = (
    (5, "5 seconds: a first look"),
    (10, "10 seconds"),
    (30, "30 seconds"),
    (60, "a minute: many barns"),
)
TOGETHER = (
    (1, "as it comes"),
    (2, "together"),
    (3, "close together"),
)


class ProposeForm(forms.Form):
    """Which weeks, whose, what may move, how long the search may take."""

    starts = date_field("From")
    weeks = forms.TypedChoiceField(
        label="Weeks",
        coerce=int,
        choices=[(n, str(n)) for n in range(1, MOST_WEEKS + 1)],
        initial=4,
    )
    farriers = ManyRows(
        User.objects.farriers(),
        label="Farriers",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one farrier."},
    )
    may_move = forms.ChoiceField(
        label="What may move to another day",
        choices=Proposal.Moves.choices,
        initial=Proposal.Moves.PENCILLED,
        widget=forms.RadioSelect,
        help_text="What is agreed never moves. Moving what is asked weighs heavily.",
    )
    together = forms.TypedChoiceField(
        label="Keep areas together",
        coerce=int,
        choices=TOGETHER,
        initial=2,
        widget=forms.RadioSelect,
    )
    seconds = forms.TypedChoiceField(
        label="Search for", coerce=int, choices=SECONDS, initial=10
    )
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, today: date, **more: Any) -> None:
        super().__init__(*args, **more)
        self.today = today

    def clean_starts(self) -> date:
        day: date = self.cleaned_data["starts"]
        if day <= self.today:
            raise forms.ValidationError(
                "Today’s rounds are under way. Begin tomorrow or later."
            )
        if day > self.today + timedelta(days=366):
            raise forms.ValidationError("Begin within a year.")
        return day


class MoveForm(forms.Form):
    """Where one stop goes: a day with its farrier, and a place in the round."""

    visit = forms.CharField(max_length=60)
    to = forms.CharField(max_length=60)
    position = forms.IntegerField(required=False, min_value=0, max_value=99)

    def clean_to(self) -> tuple[date | None, str]:
        """'2026-12-01 3' or 'left'."""
        said: str = self.cleaned_data["to"]
        if said == "left":
            return None, ""
        day, _, farrier = said.partition(" ")
        try:
            return date.fromisoformat(day), farrier
        except ValueError as error:
            raise forms.ValidationError("Choose one of the days listed.") from error


class AcceptForm(forms.Form):
    """All of it, some days, or some stops."""

    what = forms.ChoiceField(
        choices=[("all", "all"), ("day", "day"), ("stop", "stop")], initial="all"
    )
    day = forms.CharField(required=False, max_length=60)
    visit = forms.CharField(required=False, max_length=60)

    def clean_day(self) -> tuple[date, str] | None:
        said: str = self.cleaned_data["day"]
        if not said:
            return None
        day, _, farrier = said.partition(" ")
        try:
            return date.fromisoformat(day), farrier
        except ValueError as error:
            raise forms.ValidationError("There is no such day here.") from error

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for what, sentence in (
            ("day", "Choose the day to accept."),
            ("stop", "Choose the stop to accept."),
        ):
            name = "visit" if what == "stop" else what
            if said.get("what") == what and name in said and not said[name]:
                self.add_error(name, sentence)
        return said
