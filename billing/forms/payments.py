"""The payment form."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from billing.forms.fields import AmountField
from billing.models import Payment
from practice.keys import uuid7


class PaymentForm(forms.Form):
    """Money received. ``key`` is made with the form, so that a second tap is the same
    payment."""

    key = forms.UUIDField(widget=forms.HiddenInput())
    amount = AmountField(label="Amount")
    method = forms.ChoiceField(
        choices=Payment.Method.choices, widget=forms.RadioSelect, label="Paid by"
    )
    day = forms.DateField(
        label="On", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    reference = forms.CharField(max_length=80, required=False, label="Reference")
    chosen = forms.MultipleChoiceField(
        required=False,
        label="What it pays",
        widget=forms.CheckboxSelectMultiple,
        help_text="None chosen: what the reference names, else what is due longest.",
    )
    receipt = forms.BooleanField(required=False, label="Mail the receipt")
    invoice = forms.UUIDField(required=False, widget=forms.HiddenInput())
    visit = forms.UUIDField(required=False, widget=forms.HiddenInput())

    def __init__(
        self,
        *args: Any,
        today: date,
        open_ones: Sequence[tuple[str, str]] = (),
        email: str = "",
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        choice: Any = self.fields["chosen"]
        choice.choices = open_ones
        if email:
            self.fields["receipt"].help_text = f"It goes to {email}."
        else:
            del self.fields["receipt"]
        self.today = today
        self.initial.setdefault("key", uuid7())
        self.initial.setdefault("day", today)

    def clean_amount(self) -> Decimal:
        amount: Decimal = self.cleaned_data["amount"]
        if amount <= 0:
            raise forms.ValidationError("A payment is above 0.")
        return amount

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day > self.today:
            raise forms.ValidationError(
                "Not before the money is there: today or earlier."
            )
        return day
