"""How a form takes up what a service refused."""

from django import forms

from practice.errors import Refused


def say(form: forms.Form, refusal: Refused) -> None:
    """Puts the sentence beside the field that it belongs to, or above the form."""
    field = refusal.field if refusal.field in form.fields else None
    form.add_error(field, refusal.sentence)
