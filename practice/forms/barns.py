"""A barn with its access hours, and an area, as typed."""

from collections.abc import Iterator
from datetime import time
from typing import Any

from django import forms
from django.db.models import Q, QuerySet

from practice.forms.fields import CountryField, PositionField
from practice.geo import Position
from practice.models import AccessHours, Area, Barn, Client
from practice.models.places import Weekday

TIMES_A_DAY = 2
MOST_CHOICES = 300
"""Clients that a list to choose from may hold; above it the likely ones are shown."""


class BarnForm(forms.Form):
    """A barn; seven days with up to two times each say when it can be attended."""

    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(max_length=120, label="Name")
    street = forms.CharField(max_length=200, required=False, label="Street")
    town = forms.CharField(max_length=100, required=False, label="Town")
    post_code = forms.CharField(max_length=20, required=False, label="Post code")
    country = CountryField()
    position = PositionField()
    typed_drive_minutes = forms.IntegerField(
        min_value=0,
        max_value=600,
        required=False,
        label="Drive from home, in minutes",
        help_text="Only where there is no position: it is then booked last in a round.",
    )
    area = forms.ModelChoiceField(
        queryset=Area.objects.none(), required=False, label="Area", empty_label="none"
    )
    run_by = forms.ModelChoiceField(
        queryset=Client.objects.none(),
        required=False,
        label="Run by",
        empty_label="nobody named",
        help_text=(
            "The client who is asked about access. Not in the list? Add the barn "
            "from that client's page."
        ),
    )
    phone = forms.CharField(
        max_length=40,
        required=False,
        label="Phone at the barn",
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    setup_minutes = forms.IntegerField(
        min_value=0,
        max_value=240,
        initial=10,
        label="Minutes to set up and clear away",
    )
    directions = forms.CharField(
        required=False, label="Way in", widget=forms.Textarea(attrs={"rows": 3})
    )
    standing = forms.CharField(
        required=False,
        label="Where to work",
        help_text="Floor, light, roof, where to tie up.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    notes = forms.CharField(
        required=False, label="Notes", widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, home: Position | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        area: Any = self.fields["area"]
        area.queryset = Area.objects.all()
        run_by: Any = self.fields["run_by"]
        run_by.queryset = _who_may_run_it(self["run_by"].value())
        position: Any = self.fields["position"]
        position.near = home
        for name in _hour_names():
            self.fields[name] = forms.TimeField(
                required=False,
                label="",
                widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            )

    @staticmethod
    def values_of(barn: Barn, position: Position | None) -> dict[str, Any]:
        """What the form shows for a barn."""
        plain = set(BarnForm.base_fields) - {"key", "position"}
        values = {name: getattr(barn, name) for name in plain}
        values["position"] = position
        seen: dict[int, int] = {}
        for row in AccessHours.objects.filter(barn=barn):
            turn = seen.get(row.weekday, 0)
            seen[row.weekday] = turn + 1
            values[f"opens_{row.weekday}_{turn}"] = row.opens
            values[f"closes_{row.weekday}_{turn}"] = row.closes
        return values

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for weekday, turn in _turns():
            opens = cleaned.get(f"opens_{weekday}_{turn}")
            closes = cleaned.get(f"closes_{weekday}_{turn}")
            if (opens is None) != (closes is None) and not (
                {f"opens_{weekday}_{turn}", f"closes_{weekday}_{turn}"}
                & self.errors.keys()
            ):
                self.add_error(f"closes_{weekday}_{turn}", "Give both from and to.")
            elif opens is not None and closes is not None and closes <= opens:
                self.add_error(f"closes_{weekday}_{turn}", "It ends before it begins.")
        return cleaned

    def times_given(self) -> list[tuple[int, time, time]]:
        """Weekday, from, to of each time that was filled in."""
        rows = []
        for weekday, turn in _turns():
            opens = self.cleaned_data.get(f"opens_{weekday}_{turn}")
            closes = self.cleaned_data.get(f"closes_{weekday}_{turn}")
            if opens is not None and closes is not None:
                rows.append((weekday, opens, closes))
        return rows

    def answers(self) -> dict[str, Any]:
        """The cleaned fields as the service takes them, without key and hours."""
        return {
            name: self.cleaned_data[name] for name in self.base_fields if name != "key"
        }

    def days(self) -> Iterator[dict[str, Any]]:
        """The seven days with their fields, for the template."""
        for weekday in Weekday:
            times: list[dict[str, Any]] = [
                {
                    "opens": self[f"opens_{weekday.value}_{turn}"],
                    "closes": self[f"closes_{weekday.value}_{turn}"],
                    "first": turn == 0,
                }
                for turn in range(TIMES_A_DAY)
            ]
            yield {
                "name": weekday.label,
                "times": times,
                "has_second": any(
                    field.value() or field.errors
                    for field in (times[1]["opens"], times[1]["closes"])
                ),
            }


class AreaForm(forms.Form):
    """An area's name."""

    name = forms.CharField(max_length=80, label="Name of the area")


def _who_may_run_it(chosen: Any) -> QuerySet[Client]:
    """Active clients; of very many, organisations, those who run a barn already, and
    the one who is chosen."""
    everyone = Client.objects.active()
    if everyone[: MOST_CHOICES + 1].count() <= MOST_CHOICES:
        return everyone
    likely = Q(kind=Client.Kind.ORGANISATION) | Q(barns__isnull=False)
    pk = getattr(chosen, "pk", chosen)
    if str(pk or "").isdecimal():
        likely |= Q(pk=int(pk))
    return everyone.filter(likely).distinct()


def _turns() -> Iterator[tuple[int, int]]:
    for weekday in Weekday:
        for turn in range(TIMES_A_DAY):
            yield weekday.value, turn


def _hour_names() -> Iterator[str]:
    for weekday, turn in _turns():
        yield f"opens_{weekday}_{turn}"
        yield f"closes_{weekday}_{turn}"
