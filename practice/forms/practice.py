"""The practice's settings, a section a form. Field names are those of ``Practice``,
but for ``home``."""

from decimal import Decimal
from typing import Any

from django import forms

from practice.forms.fields import (
    CountryField,
    CurrencyField,
    LanguageField,
    PositionField,
)
from practice.forms.start import zone_choices
from practice.geo import Position
from practice.languages import known
from practice.models import Practice


class SettingsForm(forms.Form):
    """A section of the settings."""

    title = ""
    lede = ""

    @classmethod
    def values_of(cls, practice: Practice) -> dict[str, Any]:
        """What the practice has in this section's fields."""
        return {name: getattr(practice, name) for name in cls.base_fields}

    def answers(self) -> dict[str, Any]:
        """The cleaned fields as the service takes them."""
        return dict(self.cleaned_data)


class NameForm(SettingsForm):
    title = "Name and address"
    lede = "As they stand on invoices and reports."

    name = forms.CharField(max_length=120, label="Name")
    legal_name = forms.CharField(
        max_length=120,
        required=False,
        label="Legal name",
        help_text="Where it differs: the person or company behind the name.",
    )
    street = forms.CharField(max_length=200, required=False, label="Street")
    town = forms.CharField(max_length=100, required=False, label="Town")
    post_code = forms.CharField(max_length=20, required=False, label="Post code")
    country = CountryField(required=True)
    phone = forms.CharField(max_length=40, required=False, label="Phone")
    email = forms.EmailField(
        required=False, label="E-mail", help_text="Mail to clients comes from it."
    )
    company_number = forms.CharField(
        max_length=40, required=False, label="Company number"
    )


class HomeForm(SettingsForm):
    title = "Home"
    lede = "Where rounds begin and end. Drives to barns are reckoned from it."

    home = PositionField(label="Position of home")

    @classmethod
    def values_of(cls, practice: Practice) -> dict[str, Any]:
        if practice.home_latitude is None or practice.home_longitude is None:
            return {"home": None}
        return {
            "home": Position(
                float(practice.home_latitude), float(practice.home_longitude)
            )
        }

    def answers(self) -> dict[str, Any]:
        home = self.cleaned_data["home"]
        return {
            "home_latitude": None if home is None else Decimal(f"{home.lat:.6f}"),
            "home_longitude": None if home is None else Decimal(f"{home.lon:.6f}"),
        }


class UnitsForm(SettingsForm):
    title = "Units, money, time and language"
    lede = "How figures are read and shown. What is stored does not change."

    length_unit = forms.ChoiceField(
        choices=Practice.LengthUnit.choices,
        label="Feet measured in",
        widget=forms.RadioSelect,
    )
    mass_unit = forms.ChoiceField(
        choices=Practice.MassUnit.choices, label="Weights in", widget=forms.RadioSelect
    )
    road_unit = forms.ChoiceField(
        choices=Practice.RoadUnit.choices, label="Roads in", widget=forms.RadioSelect
    )
    currency = CurrencyField(
        help_text="Three letters, such as GBP. Invoices already made keep theirs."
    )
    time_zone = forms.ChoiceField(choices=zone_choices, label="Time zone")
    language = LanguageField(
        help_text="Of what goes out to clients who have none of their own. These pages "
        "are in English.",
    )

    @classmethod
    def values_of(cls, practice: Practice) -> dict[str, Any]:
        return {**super().values_of(practice), "language": known(practice.language)}


class TaxForm(SettingsForm):
    title = "Tax"
    lede = (
        "The rates themselves are on the charge list's page. They are proposals: "
        "check them with your adviser or tax office."
    )

    tax_registered = forms.BooleanField(
        required=False, label="Registered for VAT, GST or sales tax"
    )
    tax_number = forms.CharField(
        max_length=40, required=False, label="Tax registration number"
    )
    tax_regime = forms.CharField(
        max_length=20,
        label="Rules of",
        help_text="The country's two letters (GB, DE, US …), or ‘none’.",
    )
    prices_include_tax = forms.BooleanField(
        required=False, label="Prices on the charge list have the tax in them"
    )

    def clean_tax_regime(self) -> str:
        code = str(self.cleaned_data["tax_regime"]).strip()
        if code.lower() == "none":
            return "none"
        if not (len(code) == 2 and code.isascii() and code.isalpha()):
            raise forms.ValidationError("Give the country's two letters, or ‘none’.")
        return code.upper()


class BankForm(SettingsForm):
    title = "Bank and terms"
    lede = "How clients pay; printed on invoices."

    payment_days = forms.IntegerField(
        min_value=0, max_value=365, label="Days to pay", help_text="0: due at once."
    )
    bank_name = forms.CharField(max_length=80, required=False, label="Bank")
    bank_account = forms.CharField(
        max_length=60, required=False, label="Account number"
    )
    bank_sort_code = forms.CharField(
        max_length=20, required=False, label="Sort code or routing number"
    )
    iban = forms.CharField(max_length=42, required=False, label="IBAN")
    bic = forms.CharField(max_length=11, required=False, label="BIC")
    invoice_terms = forms.CharField(
        required=False,
        label="Words below the invoice",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def clean_iban(self) -> str:
        iban = "".join(str(self.cleaned_data["iban"]).split()).upper()
        if iban and not iban_is_sound(iban):
            raise forms.ValidationError(
                "A sign of this IBAN is wrong: its check digits do not fit."
            )
        return iban

    def clean_bic(self) -> str:
        bic = "".join(str(self.cleaned_data["bic"]).split()).upper()
        if bic and not (len(bic) in (8, 11) and bic.isascii() and bic.isalnum()):
            raise forms.ValidationError("A BIC has 8 or 11 letters and figures.")
        return bic


class WorkForm(SettingsForm):
    title = "Interval and measuring"
    lede = (
        "The interval of a horse that has none of its own, how far two "
        "measurements of the same foot usually lie apart, and the limits past which "
        "a foot plan is flagged."
    )

    default_interval_weeks = forms.IntegerField(
        min_value=1, max_value=52, label="Usual interval, in weeks"
    )
    length_sd_mm = forms.DecimalField(
        min_value=0,
        max_digits=4,
        decimal_places=2,
        label="Lengths: standard deviation, in mm",
    )
    angle_sd_deg = forms.DecimalField(
        min_value=0,
        max_digits=4,
        decimal_places=2,
        label="Angles: standard deviation, in degrees",
    )
    overhang_limit_mm = forms.DecimalField(
        required=False,
        min_value=0,
        max_value=40,
        max_digits=4,
        decimal_places=1,
        label="Foot plans: most steel outside the wall behind the last nail, in mm",
        help_text="5 mm where nothing stands here; more is flagged as a shoe at risk.",
    )
    heel_edge_limit_mm = forms.DecimalField(
        required=False,
        min_value=0,
        max_value=40,
        max_digits=4,
        decimal_places=1,
        label="Foot plans: most between steel and sound line at a heel, in mm",
        help_text="3 mm where nothing stands here, our own figure.",
    )


SECTIONS: dict[str, type[SettingsForm]] = {
    "name": NameForm,
    "home": HomeForm,
    "units": UnitsForm,
    "tax": TaxForm,
    "bank": BankForm,
    "work": WorkForm,
}


def iban_is_sound(iban: str) -> bool:
    """Whether an IBAN's check digits fit (ISO 13616: ISO/IEC 7064, MOD 97-10): the
    first four signs go to the end, letters count from A = 10, the rest by 97 is 1."""
    if not (15 <= len(iban) <= 34 and iban.isascii() and iban.isalnum()):
        return False
    if not (iban[:2].isalpha() and iban[2:4].isdigit()):
        return False
    turned = iban[4:] + iban[:4]
    return int("".join(str(int(sign, 36)) for sign in turned)) % 97 == 1
