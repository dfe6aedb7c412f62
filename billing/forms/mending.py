"""Forms of what is done to an issued document or a payment: each with its reason."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from billing.forms.fields import AmountField, PeriodDayField
from billing.models import Collecting, InvoiceLine, Payment
from practice.keys import uuid7


class _Keyed(forms.Form):
    """``key`` is made with the form, so that a second tap does nothing twice."""

    key = forms.UUIDField(required=False, widget=forms.HiddenInput())

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("key", uuid7())


class CreditForm(_Keyed):
    """What of an invoice is credited, and why: chosen lines, an amount, or all."""

    positions = forms.TypedMultipleChoiceField(
        required=False,
        coerce=int,
        label="Lines to credit",
        widget=forms.CheckboxSelectMultiple,
    )
    amount = AmountField(
        required=False,
        label="Or an amount, tax included",
        help_text="Lines and amount empty: all that is not credited yet.",
    )
    reason = forms.CharField(max_length=300, label="Why it is credited")

    def __init__(self, *args: Any, lines: list[InvoiceLine], **more: Any) -> None:
        super().__init__(*args, **more)
        choice: Any = self.fields["positions"]
        choice.choices = [(line.position, line.name) for line in lines]

    def clean_amount(self) -> Decimal | None:
        amount: Decimal | None = self.cleaned_data["amount"]
        if amount is not None and self.cleaned_data.get("positions"):
            raise forms.ValidationError("Choose lines, or give an amount: not both.")
        return amount


class WriteOffForm(_Keyed):
    """What is given up, and why."""

    amount = AmountField(
        required=False, label="How much", help_text="Empty: all that is open."
    )
    reason = forms.CharField(max_length=300, label="Why it is written off")


class ReasonForm(forms.Form):
    """Why."""

    reason = forms.CharField(max_length=300, label="Why")


class PayBackForm(_Keyed):
    """Money paid back to the client."""

    amount = AmountField(label="How much")
    method = forms.ChoiceField(
        choices=Payment.Method.choices, widget=forms.RadioSelect, label="Paid back by"
    )
    reason = forms.CharField(max_length=300, label="Why")


class CollectingForm(forms.Form):
    """How the practice collects."""

    receipts_on = forms.BooleanField(
        required=False,
        label="Mail a receipt for each payment that is recorded",
        help_text="Ticked on the payment's form from then on, where it can be taken "
        "off. What a bank statement brings in gets none by itself.",
    )
    nudges_on = forms.BooleanField(
        required=False, label="Remind clients by e-mail of what they have to pay"
    )
    days_before = forms.IntegerField(
        min_value=0,
        max_value=30,
        label="Days before it is due",
        help_text="0: not then.",
    )
    late_law = forms.ChoiceField(
        required=False,
        choices=Collecting.Law.choices,
        label="Interest on late payment of businesses by",
    )


class LatePercentForm(forms.Form):
    """The yearly rate from a day on."""

    starts = forms.DateField(
        label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    percent = AmountField(label="Per cent a year, all included")

    def clean_percent(self) -> Decimal:
        percent: Decimal = self.cleaned_data["percent"]
        if not 0 <= percent <= 100:
            raise forms.ValidationError("Between 0 and 100.")
        return percent


class PeriodForm(forms.Form):
    """Days, both in."""

    first = PeriodDayField(label="From")
    last = PeriodDayField(label="To")

    def clean_last(self) -> date:
        last: date = self.cleaned_data["last"]
        first = self.cleaned_data.get("first")
        if first and last < first:
            raise forms.ValidationError("Not before the first day.")
        return last


class DayForm(forms.Form):
    """One day."""

    as_of = PeriodDayField(label="At the end of")
