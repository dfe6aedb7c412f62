"""What is agreed with a client, and for a barn, as typed."""

from typing import Any

from django import forms

from billing.forms.fields import QuantityField, RoadField, day_field
from billing.models import ClientTerms, SplitMode
from practice.models import Client
from practice.units import System


class ClientTermsForm(forms.Form):
    """How one client is billed."""

    reference = forms.CharField(
        max_length=60,
        required=False,
        label="Reference",
        help_text="What the client wants to read on every invoice: an order, a route.",
    )
    is_business = forms.BooleanField(
        required=False, label="A business, not a private person"
    )
    treatment = forms.ChoiceField(
        choices=ClientTerms.Treatment.choices, required=False, label="Tax"
    )
    exempt_number = forms.CharField(
        max_length=60, required=False, label="Certificate number"
    )
    exempt_until = day_field("Valid to", help_text="The last day on which it holds.")
    discount_percent = QuantityField(required=False, label="Standing discount")
    discount_reason = forms.CharField(
        max_length=200, required=False, label="Reason", help_text="On the invoice."
    )


class BarnTermsForm(forms.Form):
    """How visits at one barn are billed."""

    payer = forms.ModelChoiceField(
        queryset=Client.objects.none(),
        required=False,
        label="One payer for all horses here",
        empty_label="each horse's owners or payer",
        help_text="A horse with a payer of its own keeps that one.",
    )
    payer_from = day_field("From")
    payer_to = day_field("To", help_text="The last day, if it ends.")
    split_mode = forms.ChoiceField(
        choices=[("", "as everywhere"), *SplitMode.choices],
        required=False,
        label="What all payers share is split",
    )
    travel_metres = RoadField(
        label="Distance that is charged",
        help_text="Whatever the road says. Empty: the visit's own.",
    )

    def __init__(self, *args: Any, clients: Any, system: System, **more: Any) -> None:
        super().__init__(*args, **more)
        payer: Any = self.fields["payer"]
        payer.queryset = clients
        road: Any = self.fields["travel_metres"]
        road.system = system
