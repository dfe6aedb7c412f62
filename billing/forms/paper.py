"""What the practice wants on its paper, as typed."""

from django import forms

from billing import paying
from billing.forms.fields import PeriodDayField
from billing.models import PaperSettings


class PaperForm(forms.Form):
    """Size, logo, feet, payment link."""

    logo = forms.FileField(
        required=False,
        label="Logo",
        help_text="JPEG, PNG or WebP. It is shown at most 62 mm wide and 22 mm high.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    drops_logo = forms.BooleanField(required=False, label="Take the logo off")
    size = forms.ChoiceField(
        required=False,
        choices=PaperSettings.Size.choices,
        label="Paper",
        widget=forms.RadioSelect,
    )
    draws_feet = forms.BooleanField(
        required=False,
        label="Draw what was done to each foot",
        help_text="Four small marks beside a horse's line.",
    )
    pay_link = forms.CharField(
        required=False,
        max_length=300,
        label="Payment link",
        help_text="Your own page at a payment provider, beginning with https://. "
        "{number}, {amount} and {currency} in it are filled in.",
    )

    def clean_pay_link(self) -> str:
        link = str(self.cleaned_data["pay_link"]).strip()
        if not link:
            return ""
        try:
            return paying.check_link(link)
        except paying.BadPayment as fault:
            raise forms.ValidationError(str(fault)) from fault


class PeriodForm(forms.Form):
    """The days of a statement."""

    first = PeriodDayField(required=False)
    last = PeriodDayField(required=False)
