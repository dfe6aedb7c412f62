"""The rules that the practice switches on, as typed."""

from typing import Any

from django import forms

from billing.forms.fields import AmountField, QuantityField, RoadField, day_field
from billing.models import BillingSettings, NoticeStep, SplitMode
from practice.models import Area
from practice.models.places import Weekday
from practice.units import System


def _time(label: str) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, required=False, widget=widget)


class RulesForm(forms.Form):
    """How a visit is charged beside the work itself."""

    split_mode = forms.ChoiceField(
        choices=SplitMode.choices,
        label="What all payers of a visit share is split",
        widget=forms.RadioSelect,
        help_text="The call-out, travel, the minimum. A co-owned horse's part goes by "
        "share. A barn may have another way: on the barn's terms.",
    )
    travel = forms.ChoiceField(
        choices=BillingSettings.Travel.choices, label="Travel", widget=forms.RadioSelect
    )
    travel_price = AmountField(required=False, label="Price a unit of road")
    travel_free_metres = RoadField(label="Free to begin with")
    travel_both_ways = forms.BooleanField(
        required=False, label="Count the way there and the way back"
    )
    travel_of_round = forms.BooleanField(
        required=False,
        label="Share the round's whole road alike between its barns",
        help_text="Home to home. A visit outside a round goes by the road there.",
    )
    minimum_charge = AmountField(
        required=False,
        label="Least that a visit costs",
        help_text="What is missing to it becomes a line of its own. Empty: none.",
    )
    put_back_days = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=365,
        label="A lost shoe is put back free for days",
        help_text="For work that the charge list marks as putting back a shoe. Empty: "
        "never free.",
    )
    put_back_call_out_free = forms.BooleanField(
        required=False, label="Then the call-out and the way are free too"
    )
    off_hours_on = forms.BooleanField(
        required=False, label="Charge more in the off-hours listed below"
    )
    no_show_on = forms.BooleanField(
        required=False, label="Charge a no-show by the steps below"
    )
    late_call_off_on = forms.BooleanField(
        required=False, label="Charge a late call-off by the steps below"
    )

    def __init__(self, *args: Any, system: System, **more: Any) -> None:
        super().__init__(*args, **more)
        road: Any = self.fields["travel_free_metres"]
        road.system = system

    def clean_travel_free_metres(self) -> int:
        return self.cleaned_data["travel_free_metres"] or 0


class BandForm(forms.Form):
    """The price of the road into an area, or so far."""

    area = forms.ModelChoiceField(
        queryset=Area.objects.all(), required=False, empty_label="by distance"
    )
    up_to_metres = RoadField(label="Up to")
    price = AmountField(label="Price")

    def __init__(self, *args: Any, system: System, **more: Any) -> None:
        super().__init__(*args, **more)
        road: Any = self.fields["up_to_metres"]
        road.system = system


class OffHoursForm(forms.Form):
    """When a visit costs more, and by how much."""

    name = forms.CharField(max_length=60, label="Called", help_text="On the invoice.")
    weekday = forms.TypedChoiceField(
        choices=[("", "any day"), *Weekday.choices],
        coerce=int,
        empty_value=None,
        required=False,
        label="Weekday",
    )
    day = day_field("One day", help_text="A public holiday, say.")
    from_time = _time("From")
    to_time = _time("To")
    percent = QuantityField(required=False, label="Per cent of the work")
    amount = AmountField(required=False, label="Or an amount a visit")


class StepForm(forms.Form):
    """What a missed visit costs by how long before it was said."""

    kind = forms.ChoiceField(choices=NoticeStep.Kind.choices, label="For a")
    under_hours = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=2000,
        label="With less notice than hours",
        help_text="Empty: whenever. A no-show is no notice at all.",
    )
    percent = QuantityField(required=False, label="Per cent of the planned work")
    amount = AmountField(required=False, label="Or an amount")
    with_call_out = forms.BooleanField(
        required=False, label="The call-out is charged too"
    )


FORMS: dict[str, type[forms.Form]] = {
    "band": BandForm,
    "off_hours": OffHoursForm,
    "step": StepForm,
}
