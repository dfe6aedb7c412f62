"""One item of the charge list, and its other prices, as typed."""

from collections.abc import Sequence
from typing import Any

from django import forms

from billing.forms.fields import AmountField, SeasonDayField, day_field
from billing.models import TaxClass
from practice.models import Barn, Client

UNITS = [
    ("C62", "each"),
    ("HUR", "hour"),
    ("KMT", "kilometre"),
    ("SMI", "mile"),
    ("KGM", "kilogram"),
    ("PR", "pair"),
    ("SET", "set"),
]
"""UN/ECE Recommendation 20: those that a farrier sells by."""


class ItemForm(forms.Form):
    """What an item is, and how it is priced."""

    name = forms.CharField(max_length=120, label="Name")
    price = AmountField(required=False, label="Usual price")
    unit = forms.ChoiceField(choices=UNITS, label="Unit")
    includes_tax = forms.TypedChoiceField(
        choices=[("", "as the practice"), ("yes", "with tax"), ("no", "without tax")],
        coerce=lambda word: word == "yes",
        empty_value=None,
        required=False,
        label="Prices are told",
    )
    tax_class = forms.ChoiceField(choices=TaxClass.choices, label="For the tax it is")
    tax_code = forms.ChoiceField(required=False, label="Rate")
    puts_back = forms.BooleanField(
        required=False,
        label="Puts back a lost shoe",
        help_text="Free for as many days as the rules say.",
    )

    def __init__(
        self, *args: Any, tax_codes: Sequence[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        choice: Any = self.fields["tax_code"]
        codes = [("", "that of its class"), *tax_codes]
        current = self.initial.get("tax_code")
        if current and current not in dict(codes):
            codes.append((current, current))
        choice.choices = codes


class PriceForm(forms.Form):
    """Another price: for whom, where, when."""

    amount = AmountField(label="Price")
    client = forms.ModelChoiceField(
        queryset=Client.objects.none(), required=False, empty_label="any client"
    )
    barn = forms.ModelChoiceField(
        queryset=Barn.objects.none(), required=False, empty_label="any barn"
    )
    starts = day_field("From day")
    ends = day_field("To day")
    season_from = SeasonDayField(label="Season from", help_text="Such as 1 Nov.")
    season_to = SeasonDayField(label="Season to", help_text="Such as 28 Feb.")

    def __init__(self, *args: Any, clients: Any, barns: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for name, rows in (("client", clients), ("barn", barns)):
            choice: Any = self.fields[name]
            choice.queryset = rows


class StandingForm(forms.Form):
    """How a practice stands that isn't registered, and its province."""

    unregistered_scheme = forms.ChoiceField(label="If not registered")
    tax_place = forms.ChoiceField(required=False, label="Province")

    def __init__(
        self,
        *args: Any,
        schemes: Sequence[tuple[str, str]],
        places: Sequence[tuple[str, str]],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        scheme: Any = self.fields["unregistered_scheme"]
        scheme.choices = schemes
        place: Any = self.fields["tax_place"]
        place.choices = [("", "not said"), *places]


class DiscountForm(forms.Form):
    """A discount or surcharge on a draft, with its reason."""

    reason = forms.CharField(max_length=200, label="Reason")
    percent = AmountField(required=False, label="Per cent")
    amount = AmountField(required=False, label="Or an amount")
    is_charge = forms.BooleanField(required=False, label="It is put on, not taken off")
