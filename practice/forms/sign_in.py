"""What is typed to sign in, and to set a password."""

from django import forms
from django.contrib.auth.password_validation import validate_password

from practice.models import User


class SignInForm(forms.Form):
    """One e-mail address, with a password or without."""

    email = forms.EmailField(
        label="E-mail",
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
        error_messages={"required": "Type your e-mail address."},
    )
    password = forms.CharField(
        label="Password",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class AccountForm(forms.Form):
    """What people may change about themselves."""

    name = forms.CharField(max_length=120, label="Name")
    phone = forms.CharField(max_length=40, required=False, label="Phone")


class PasswordForm(forms.Form):
    """A new password; the old one too, unless there is none to know."""

    old = forms.CharField(
        label="Password so far",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    new = forms.CharField(
        label="New password",
        strip=False,
        help_text="Ten characters or more; a few plain words together are good.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: object, user: User, needs_old: bool, **more: object):
        super().__init__(*args, **more)  # type: ignore[arg-type]  # Form's own
        self.user = user
        if not needs_old:
            del self.fields["old"]

    def clean_old(self) -> str:
        old = str(self.cleaned_data["old"])
        if not self.user.check_password(old):
            raise forms.ValidationError(
                "That is not the password so far. If it is lost, sign out and have "
                "a link e-mailed: after that none is asked for."
            )
        return old

    def clean_new(self) -> str:
        new = str(self.cleaned_data["new"])
        validate_password(new, self.user)
        return new


class TokenForm(forms.Form):
    """A token for a program."""

    name = forms.CharField(
        max_length=80, label="What will use it", help_text="Such as: my spreadsheet."
    )
