"""How owners are reminded: for all, and for one client."""

from datetime import time
from typing import Any

from django import forms

from scheduling.models import ClientReminders, ReminderSettings

SETTINGS = ("is_on", "near_days", "quiet_from", "quiet_until", "words")


def _time(label: str, *, required: bool, hint: str = "") -> forms.TimeField:
    return forms.TimeField(
        label=label,
        required=required,
        help_text=hint,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Give a time such as 20:00."},
    )


class ReminderSettingsForm(forms.Form):
    """What holds for all clients."""

    is_on = forms.BooleanField(label="Remind owners of due horses", required=False)
    near_days = forms.IntegerField(
        label="Second reminder, days before the best day",
        min_value=0,
        max_value=28,
        help_text="the first goes out when the window opens",
    )
    quiet_from = _time("Quiet from", required=True)
    quiet_until = _time(
        "Quiet until",
        required=True,
        hint="by the practice's clock; the same time twice means no quiet hours",
    )
    words = forms.CharField(
        label="Your own words below the horses",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def settings_shown(row: ReminderSettings) -> dict[str, Any]:
    """The settings as the form shows them."""
    return {name: getattr(row, name) for name in SETTINGS}


class ClientRemindersForm(forms.Form):
    """How one client is reminded."""

    channel = forms.ChoiceField(
        label="Reminded",
        choices=[
            (ClientReminders.Channel.MAIL, "by e-mail"),
            (ClientReminders.Channel.PHONE, "by phone: put on the call list"),
            (ClientReminders.Channel.NONE, "not at all"),
        ],
        widget=forms.RadioSelect,
    )
    quiet_from = _time("Quiet from", required=False)
    quiet_until = _time(
        "Quiet until", required=False, hint="where they differ from the practice's"
    )


def client_shown(row: ClientReminders | None) -> dict[str, Any]:
    """A client's way as the form shows it."""
    held = row or ClientReminders()
    return {
        "channel": held.channel,
        "quiet_from": held.quiet_from,
        "quiet_until": held.quiet_until,
    }


def hours_said(quiet_from: time, quiet_until: time) -> str:
    """``20:00 to 08:00``, or that there are none."""
    if quiet_from == quiet_until:
        return "no quiet hours"
    return f"{quiet_from:%H:%M} to {quiet_until:%H:%M}"
