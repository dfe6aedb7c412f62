"""Opening a practice of one's own."""

from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password

from practice import countries
from practice.forms.fields import CurrencyField, PositionField, country_choices
from practice.models import Practice

AS_USUAL = ("usual", "as usual there")


@cache
def zone_choices() -> list[tuple[str, str]]:
    """Time zones of the IANA database that are named after places, and UTC."""
    names = sorted(name for name in available_timezones() if "/" in name)
    shown = [name for name in names if not name.startswith("Etc/")]
    return [(name, name.replace("_", " ")) for name in ["UTC", *shown]]


class StartForm(forms.Form):
    """Practice, home, first farrier: what is needed to begin."""

    name = forms.CharField(max_length=120, label="Name of the practice")
    country = forms.ChoiceField(
        label="Country",
        choices=country_choices,
        help_text="Currency, units and tax follow from it. Each can be changed.",
    )
    other_country = forms.CharField(
        required=False,
        min_length=2,
        max_length=2,
        label="If another country: its two letters",
    )
    currency = CurrencyField(
        required=False,
        help_text="Three letters, such as GBP. Empty: the country's own.",
    )
    time_zone = forms.ChoiceField(
        choices=lambda: [AS_USUAL, *zone_choices()], label="Time zone"
    )
    length_unit = forms.ChoiceField(
        choices=[AS_USUAL, *Practice.LengthUnit.choices],
        label="Feet measured in",
    )
    mass_unit = forms.ChoiceField(
        choices=[AS_USUAL, *Practice.MassUnit.choices],
        label="Weights in",
    )
    road_unit = forms.ChoiceField(
        choices=[AS_USUAL, *Practice.RoadUnit.choices],
        label="Roads in",
    )
    tax_registered = forms.BooleanField(
        required=False, label="Registered for VAT, GST or sales tax"
    )
    tax_number = forms.CharField(
        required=False, max_length=40, label="Tax registration number"
    )
    prices_include_tax = forms.ChoiceField(
        label="Prices are",
        choices=[AS_USUAL, ("yes", "with tax in them"), ("no", "without tax")],
    )
    street = forms.CharField(required=False, max_length=200, label="Street")
    town = forms.CharField(required=False, max_length=100, label="Town")
    post_code = forms.CharField(required=False, max_length=20, label="Post code")
    home = PositionField(label="Position of home, where rounds begin")
    farrier_name = forms.CharField(max_length=120, label="Your name")
    farrier_email = forms.EmailField(label="Your e-mail")
    farrier_password = forms.CharField(
        label="A password",
        strip=False,
        help_text="Ten characters or more; a few plain words together are good.",
        widget=forms.PasswordInput(
            attrs={"autocomplete": "new-password"}, render_value=True
        ),
    )

    def clean_farrier_password(self) -> str:
        password = str(self.cleaned_data["farrier_password"])
        validate_password(password)
        return password

    def clean_other_country(self) -> str:
        code = str(self.cleaned_data["other_country"]).upper()
        if self.cleaned_data.get("country") != countries.ELSEWHERE.code:
            return ""
        if not (len(code) == 2 and code.isascii() and code.isalpha()):
            raise forms.ValidationError("Give the country's two letters, such as ZA.")
        return code

    def answers(self) -> dict[str, Any]:
        """The cleaned fields as the service takes them; what was left as usual is
        left out."""
        given = dict(self.cleaned_data)
        given.pop("sure", None)
        home = given.pop("home")
        other = given.pop("other_country")
        if other:
            given["country"] = other
        if home is not None:
            given["home_latitude"] = f"{home.lat:.6f}"
            given["home_longitude"] = f"{home.lon:.6f}"
        given["email"] = given["farrier_email"]
        said = {
            name: value
            for name, value in given.items()
            if value not in ("", None, AS_USUAL[0])
        }
        if "prices_include_tax" in said:
            said["prices_include_tax"] = said["prices_include_tax"] == "yes"
        return said


class StartOwnForm(StartForm):
    """The same, leaving the demo behind."""

    sure = forms.BooleanField(
        label="Erase the demo practice with all that was entered into it",
        error_messages={
            "required": "Tick this if the demo, and all that you tried in it, may go."
        },
    )
