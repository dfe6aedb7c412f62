"""Forms of invoices: filter, line, note, credit."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from billing.forms.fields import AmountField, QuantityField
from billing.models import ChargeItem
from practice.keys import uuid7

STATES = (
    ("", "All"),
    ("draft", "Drafts"),
    ("open", "Open"),
    ("overdue", "Overdue"),
)


class FilterForm(forms.Form):
    """Which documents the list shows."""

    state = forms.ChoiceField(choices=STATES, required=False, label="Show")
    client = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=2**63 - 1,
        widget=forms.HiddenInput(),
        label="Client",
    )


class LineForm(forms.Form):
    """What a draft's line says."""

    name = forms.CharField(max_length=200, label="What")
    quantity = QuantityField(
        label="Quantity", help_text="−1 takes the price off.", initial=Decimal(1)
    )
    unit_price = AmountField(label="Price")
    tax_code = forms.ChoiceField(label="Tax")

    def __init__(
        self, *args: Any, tax_codes: Sequence[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        choice: Any = self.fields["tax_code"]
        current = self.initial.get("tax_code")
        codes = list(tax_codes)
        if current and current not in dict(codes):
            codes.append((current, current))
        choice.choices = codes


class AddLineForm(forms.Form):
    """A further line: a charge of the list, or a name with a price."""

    item = forms.ModelChoiceField(
        queryset=ChargeItem.objects.none(),
        required=False,
        label="From the charge list",
        empty_label="Something else",
    )
    name = forms.CharField(max_length=200, required=False, label="What")
    quantity = QuantityField(label="Quantity", initial=Decimal(1))
    unit_price = AmountField(
        required=False, label="Price", help_text="Empty: as the charge list says."
    )

    key = forms.UUIDField(required=False, widget=forms.HiddenInput())

    def __init__(self, *args: Any, items: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("key", uuid7())
        choice: Any = self.fields["item"]
        choice.queryset = items

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if not name and not self.cleaned_data.get("item"):
            raise forms.ValidationError("Choose a charge, or say what it is.")
        return name


class NoteForm(forms.Form):
    """What the document says below its lines."""

    note = forms.CharField(
        required=False,
        max_length=1000,
        label="Note on the invoice",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
