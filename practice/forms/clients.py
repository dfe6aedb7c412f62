"""A client, as typed."""

from typing import Any

from django import forms

from practice.forms.fields import CountryField, LanguageField
from practice.models import Client


class ClientForm(forms.Form):
    """A client; ``sure`` only matters where another looks like this one."""

    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(max_length=120, label="Name")
    kind = forms.ChoiceField(
        choices=Client.Kind.choices,
        initial=Client.Kind.PERSON,
        label="A person or an organisation",
        widget=forms.RadioSelect,
    )
    phone = forms.CharField(
        max_length=40,
        required=False,
        label="Phone",
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    email = forms.EmailField(
        required=False, label="E-mail", help_text="Invoices and reports go there."
    )
    street = forms.CharField(max_length=200, required=False, label="Street")
    town = forms.CharField(max_length=100, required=False, label="Town")
    post_code = forms.CharField(max_length=20, required=False, label="Post code")
    country = CountryField()
    language = LanguageField(
        empty="as the practice writes",
        help_text="Of invoices, reminders and other mail to this client.",
    )
    tax_number = forms.CharField(
        max_length=40, required=False, label="Tax registration number"
    )
    payment_days = forms.IntegerField(
        min_value=0,
        max_value=365,
        required=False,
        label="Days to pay",
        help_text="Empty: the practice's usual term.",
    )
    notes = forms.CharField(
        required=False, label="Notes", widget=forms.Textarea(attrs={"rows": 4})
    )
    sure = forms.BooleanField(required=False, label="Someone else: save all the same")

    def answers(self) -> dict[str, Any]:
        """The cleaned fields as the service takes them, without the key."""
        given = dict(self.cleaned_data)
        given.pop("key")
        return given
