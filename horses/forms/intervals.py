"""How the next visit's day is to be found: for a horse, for a use, for all."""

from datetime import date
from typing import Any

from django import forms

from horses.forms.measures import AngleField, LengthField, shown, shown_angle
from horses.models import (
    Horse,
    HorseInterval,
    IntervalLimits,
    IntervalSettings,
)
from horses.models.interval import LIMITS
from horses.selectors.growth import SEASONS
from practice.models import Practice
from practice.units import LengthUnit


def unit_of(practice: Practice) -> LengthUnit:
    """The practice's unit of length."""
    unit: LengthUnit = practice.length_unit  # type: ignore[assignment]  # of three
    return unit


def _day(label: str, hint: str = "") -> forms.DateField:
    return forms.DateField(
        label=label,
        required=False,
        help_text=hint,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Give a day such as 2026-03-24."},
    )


def _weeks(label: str, hint: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=1,
        max_value=52,
        help_text=hint,
        error_messages={"invalid": "Give whole weeks, such as 6."},
    )


class LimitsForm(forms.Form):
    """Six limits, each of which may stay open: the next one up then holds."""

    lever_gain_percent = forms.DecimalField(
        label="Gain of the lever at breakover, %",
        required=False,
        min_value=1,
        max_value=100,
        max_digits=4,
        decimal_places=1,
    )
    angle_loss_deg = AngleField(label="Loss of toe angle, °")
    least_weeks = _weeks("At the least, weeks")
    most_weeks = _weeks("At the most, weeks")
    latest_weeks = _weeks("At the very latest, weeks")

    def __init__(self, *args: Any, practice: Practice, **more: Any) -> None:
        super().__init__(*args, **more)
        unit = unit_of(practice)
        first = {
            "toe_gain_mm": LengthField(unit=unit, label=f"Gain at the toe, {unit}")
        }
        self.fields = first | self.fields

    def limits(self) -> dict[str, Any]:
        """The limits as the service takes them."""
        return {name: self.cleaned_data[name] for name in LIMITS}

    @property
    def limit_fields(self) -> list[forms.BoundField]:
        """For the page, in the order of ``LIMITS``."""
        return [self[name] for name in LIMITS]


def limits_shown(
    row: IntervalLimits | HorseInterval | None, practice: Practice
) -> dict[str, Any]:
    """Limits as their form shows them."""
    if row is None:
        return {}
    values = {name: getattr(row, name) for name in LIMITS}
    values["toe_gain_mm"] = shown(row.toe_gain_mm, unit_of(practice))
    values["angle_loss_deg"] = shown_angle(row.angle_loss_deg)
    return values


class HorseIntervalForm(LimitsForm):
    """One horse's own policy."""

    way = forms.ChoiceField(
        label="The day of the next visit",
        required=False,
        choices=[
            (HorseInterval.Way.AS_PRACTICE, "as the practice does"),
            (HorseInterval.Way.SET, "by the set weeks"),
            (HorseInterval.Way.GROWTH, "reckoned from its growth"),
        ],
        widget=forms.RadioSelect,
    )
    interval_weeks = _weeks("Set weeks")
    vet_weeks = _weeks("Weeks that a vet asks for", "they win over all while they hold")
    vet_name = forms.CharField(label="Which vet", max_length=120, required=False)
    vet_said_on = _day("Asked on")
    vet_until = _day("Until", "left open: until taken away here")
    vet_note = forms.CharField(label="Why, in words", max_length=200, required=False)

    def said(self) -> dict[str, Any]:
        """All of it as the service takes it."""
        names = ("way", "interval_weeks", "vet_weeks", "vet_name", "vet_note")
        days = ("vet_said_on", "vet_until")
        return self.limits() | {
            name: self.cleaned_data[name] for name in (*names, *days)
        }


def horse_interval_shown(
    horse: Horse, row: HorseInterval | None, practice: Practice
) -> dict[str, Any]:
    """A horse's policy as its form shows it."""
    own = row or HorseInterval(horse=horse)
    names = ("way", "vet_weeks", "vet_name", "vet_said_on", "vet_until", "vet_note")
    first: dict[str, Any] = {name: getattr(own, name) for name in names}
    first["interval_weeks"] = horse.interval_weeks
    return first | limits_shown(row, practice)


class IntervalSettingsForm(forms.Form):
    """What holds for all horses."""

    reckons = forms.BooleanField(
        label="Reckon horses without set weeks from their growth", required=False
    )
    set_weeks_win = forms.BooleanField(
        label="Set weeks always win, where a horse has them", required=False
    )
    learns = forms.BooleanField(
        label="Let our own measurements move where a new horse starts",
        required=False,
        help_text="learnt anew each night; with few measurements the published rates "
        "weigh more",
    )
    hemisphere = forms.ChoiceField(
        label="Half of the Earth",
        required=False,
        choices=[
            (IntervalSettings.Hemisphere.BY_HOME, "where home lies"),
            (IntervalSettings.Hemisphere.NORTH, "northern"),
            (IntervalSettings.Hemisphere.SOUTH, "southern"),
        ],
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for name in SEASONS:
            self.fields[name] = forms.DecimalField(
                label=name.capitalize(),
                required=False,
                max_digits=3,
                decimal_places=2,
                error_messages={"invalid": "Give a factor such as 1.10."},
            )

    @property
    def season_fields(self) -> list[forms.BoundField]:
        """Spring to winter, for the page."""
        return [self[name] for name in SEASONS]


def settings_shown(row: IntervalSettings) -> dict[str, Any]:
    """The settings as their form shows them."""
    return {
        name: getattr(row, name)
        for name in ("reckons", "set_weeks_win", "learns", "hemisphere", *SEASONS)
    }


MOST_DAYS_AHEAD = 365


class LeftToForm(forms.Form):
    """A day to which the feet are left alone, to look what they come to."""

    to = forms.DateField(
        label="If left to",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "invalid": "Give a day such as 2026-03-24.",
            "required": "Choose a day.",
        },
    )

    def __init__(self, *args: Any, last_visit: date | None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.last_visit = last_visit

    def clean_to(self) -> date:
        day: date = self.cleaned_data["to"]
        last = self.last_visit
        if last is None:
            return day
        if day < last:
            raise forms.ValidationError(
                f"Give a day from the last visit on, {last.day} {last:%B %Y}."
            )
        if (day - last).days > MOST_DAYS_AHEAD:
            raise forms.ValidationError("Give a day within a year of the last visit.")
        return day
