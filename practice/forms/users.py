"""Someone who signs in, as typed."""

from typing import Any

from django import forms

from practice.forms.choices import ManyRows
from practice.models import Barn, User

Role = User.Role


class UserForm(forms.Form):
    """A member of the practice or a barn contact. (Owners are let in from the page of
    the client that they are.)"""

    name = forms.CharField(max_length=120, label="Name")
    email = forms.EmailField(label="E-mail", help_text="They sign in with it.")
    phone = forms.CharField(
        max_length=40,
        required=False,
        label="Phone",
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    role = forms.ChoiceField(
        label="Role",
        choices=[choice for choice in Role.choices if choice[0] != Role.OWNER],
        widget=forms.RadioSelect,
    )
    runs_practice = forms.BooleanField(
        required=False,
        label="Runs the practice",
        help_text="Farriers only: changes the practice's settings and users.",
    )
    barns = ManyRows(
        queryset=Barn.objects.none(),
        required=False,
        label="Barns of a barn contact",
        help_text="They see these barns' visits, and neither health nor money.",
        widget=forms.SelectMultiple(attrs={"size": 6}),
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        barns: Any = self.fields["barns"]
        barns.queryset = Barn.objects.active()

    @staticmethod
    def values_of(user: User) -> dict[str, Any]:
        """What the form shows for a user."""
        plain = set(UserForm.base_fields) - {"barns"}
        values = {name: getattr(user, name) for name in plain}
        values["barns"] = Barn.objects.filter(contacts__user=user)
        return values


class OwnerUserForm(forms.Form):
    """An owner's user: the role stays, and so does the client."""

    name = UserForm.base_fields["name"]
    email = UserForm.base_fields["email"]
    phone = UserForm.base_fields["phone"]

    @staticmethod
    def values_of(user: User) -> dict[str, Any]:
        """What the form shows for an owner's user."""
        return {name: getattr(user, name) for name in OwnerUserForm.base_fields}
