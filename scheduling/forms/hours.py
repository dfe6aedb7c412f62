"""The hours of a farrier."""

from datetime import date, time
from typing import Any

from django import forms

from practice.models import Area, User
from practice.models.places import Weekday
from scheduling.forms.rounds import date_field
from scheduling.models import UsualDay


def _time(label: str) -> forms.TimeField:
    return forms.TimeField(
        label=label,
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Give a time such as 08:00."},
    )


def _break() -> forms.IntegerField:
    return forms.IntegerField(
        label="Break, min",
        required=False,
        min_value=0,
        max_value=180,
        error_messages={
            "invalid": "Give whole minutes, such as 30.",
            "max_value": "A break lasts three hours at the most.",
            "min_value": "Minutes can't be negative.",
        },
    )


NOBODY = "nobody"


def _company(farrier: User) -> list[tuple[str, str]]:
    """Who may ride along with this farrier, as choices. One query."""
    rows = User.objects.filter(
        role__in=[User.Role.APPRENTICE, User.Role.FARRIER], is_active=True
    ).exclude(pk=farrier.pk)
    return [(str(one.pk), one.name) for one in rows.order_by("role", "name")]


def _chosen(said: str) -> User | None:
    return User.objects.filter(pk=said).first() if said.isdecimal() else None


class UsualDaysForm(forms.Form):
    """Seven rows: whether the farrier drives out, from when to when, and with whom."""

    def __init__(self, *args: Any, farrier: User, **more: Any) -> None:
        super().__init__(*args, **more)
        areas = Area.objects.all()
        company = [("", "nobody"), *_company(farrier)]
        for day in Weekday:
            self.fields[f"drives_{day}"] = forms.BooleanField(
                label=day.label, required=False
            )
            self.fields[f"starts_{day}"] = _time("From")
            self.fields[f"ends_{day}"] = _time("Until")
            self.fields[f"break_{day}"] = _break()
            self.fields[f"area_{day}"] = forms.ModelChoiceField(
                areas, required=False, label="Area", empty_label="any"
            )
            self.fields[f"with_{day}"] = forms.ChoiceField(
                choices=company, required=False, label="Rides along"
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for day in Weekday:
            if not cleaned.get(f"drives_{day}"):
                continue
            for name in (f"starts_{day}", f"ends_{day}"):
                if cleaned.get(name) is None and name not in self.errors:
                    self.add_error(name, "Give a time, or take the day off.")
        return cleaned

    def rows(self) -> list[dict[str, Any]]:
        """The fields of each weekday, for the page."""
        return [
            {
                "label": day.label,
                "drives": self[f"drives_{day}"],
                "starts": self[f"starts_{day}"],
                "ends": self[f"ends_{day}"],
                "break": self[f"break_{day}"],
                "area": self[f"area_{day}"],
                "with": self[f"with_{day}"],
            }
            for day in Weekday
        ]

    def days(self) -> list[dict[str, Any]]:
        """The hours of the days on which the farrier drives out."""
        return [
            {
                "weekday": int(day),
                "starts": self.cleaned_data[f"starts_{day}"],
                "ends": self.cleaned_data[f"ends_{day}"],
                "break_minutes": self.cleaned_data[f"break_{day}"] or 0,
                "area": self.cleaned_data[f"area_{day}"],
                "rides_along": _chosen(self.cleaned_data[f"with_{day}"]),
            }
            for day in Weekday
            if self.cleaned_data[f"drives_{day}"]
        ]


def shown(rows: list[UsualDay]) -> dict[str, Any]:
    """What the form starts with: the days as they are, usual hours for the others."""
    first: dict[str, Any] = {}
    for day in Weekday:
        first[f"starts_{day}"], first[f"ends_{day}"] = time(8), time(17)
        first[f"break_{day}"] = 30
    for row in rows:
        n = row.weekday
        first |= {
            f"drives_{n}": True,
            f"starts_{n}": row.starts,
            f"ends_{n}": row.ends,
            f"break_{n}": row.break_minutes,
            f"area_{n}": row.area_id,
            f"with_{n}": str(row.rides_along_id or ""),
        }
    return first


class WorkingDayForm(forms.Form):
    """One day otherwise than usual."""

    day = date_field("Day")
    is_off = forms.BooleanField(label="Off: no round", required=False)
    starts = _time("From")
    ends = _time("Until")
    area = forms.ModelChoiceField(
        Area.objects.all(), required=False, label="Area", empty_label="as usual"
    )
    rides_along = forms.ChoiceField(required=False, label="Rides along")
    note = forms.CharField(label="Note", required=False, max_length=120)

    def __init__(self, *args: Any, farrier: User, today: date, **more: Any) -> None:
        super().__init__(*args, **more)
        self.today = today
        field = self.fields["rides_along"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "as usual"), (NOBODY, "nobody"), *_company(farrier)]

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day < self.today:
            raise forms.ValidationError(
                "That day is over. Choose today or a later day."
            )
        return day

    def said(self) -> dict[str, Any]:
        """What was typed, as ``set_working_day`` takes it."""
        company = self.cleaned_data["rides_along"]
        return {
            **self.cleaned_data,
            "rides_along": _chosen(company),
            "rides_alone": company == NOBODY,
        }
