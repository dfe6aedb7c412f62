"""The charge list's forms."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.forms import BoundField

from billing.forms.fields import AmountField, QuantityField
from billing.models import ChargeItem

Choices = Sequence[tuple[str, str]]


class PricesForm(forms.Form):
    """A price and a tax code for each charge, all saved at once."""

    def __init__(
        self,
        *args: Any,
        items: Sequence[ChargeItem],
        tax_codes: Choices,
        classes: Mapping[str, str],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.items = items
        named = dict(tax_codes)
        for item in items:
            price = AmountField(required=False, label=f"Price of {item.name}")
            price.initial = item.price
            self.fields[f"price_{item.pk}"] = price
            rate = named.get(classes.get(item.tax_class, ""), "")
            by_class = f"{item.get_tax_class_display()}: {rate}".rstrip(": ")
            codes = [("", by_class), *tax_codes]
            if item.tax_code not in dict(codes):
                codes.append((item.tax_code, item.tax_code))
            tax = forms.ChoiceField(
                choices=codes, required=False, label=f"Tax of {item.name}"
            )
            tax.initial = item.tax_code
            self.fields[f"tax_{item.pk}"] = tax

    def rows(self) -> Iterator[tuple[ChargeItem, BoundField, BoundField]]:
        """Each charge with its two fields."""
        for item in self.items:
            yield item, self[f"price_{item.pk}"], self[f"tax_{item.pk}"]

    def wishes(self) -> dict[int, tuple[Any, str]]:
        """Key → price and tax code."""
        return {
            item.pk: (
                self.cleaned_data[f"price_{item.pk}"],
                self.cleaned_data[f"tax_{item.pk}"],
            )
            for item in self.items
        }


class ExtraForm(forms.Form):
    """A new extra or goods."""

    name = forms.CharField(max_length=120, label="Name")
    price = AmountField(required=False, label="Price")
    tax_code = forms.ChoiceField(label="Tax")

    def __init__(self, *args: Any, tax_codes: Choices, **more: Any) -> None:
        super().__init__(*args, **more)
        choice: Any = self.fields["tax_code"]
        choice.choices = tax_codes


class TaxRateForm(forms.Form):
    """A new figure for a taxed code."""

    code = forms.ChoiceField(label="Rate")
    percent = QuantityField(label="Per cent")
    starts = forms.DateField(
        label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(
        self, *args: Any, codes: Choices, today: date | None = None, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        choice: Any = self.fields["code"]
        choice.choices = codes
        self.fields["starts"].initial = today
