"""Choosing among rows of the database."""

from typing import Any

from django import forms


class ManyRows(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # not subscriptable when it runs
    """Several rows by their keys. What is too long to be a key is refused as any other
    wrong choice: asking the database for it is a fault there, not an empty answer."""

    LONGEST_KEY = 18

    def clean(self, value: Any) -> Any:
        if any(len(str(key)) > self.LONGEST_KEY for key in value or ()):
            raise forms.ValidationError("Choose among those that are listed.")
        return super().clean(value)
