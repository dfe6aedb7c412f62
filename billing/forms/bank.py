"""Forms of bank statements: the file, what its columns mean, whose money a line is."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from billing.bank.sheet import MEANINGS
from practice.models import Client


class StatementForm(forms.Form):
    """A file from the bank."""

    file = forms.FileField(label="File from the bank", max_length=200)

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > 20_000_000:
            raise forms.ValidationError("The file is larger than 20 MB.")
        return file


class ColumnsForm(forms.Form):
    """What the columns of a bank's CSV mean."""

    account = forms.CharField(
        max_length=40,
        required=False,
        label="Account",
        help_text="Your own name or number for it, to tell two accounts apart.",
    )

    def __init__(
        self,
        *args: Any,
        heading: Sequence[str],
        proposed: Mapping[str, int],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        columns = [
            ("", "none"),
            *((str(n), cell or f"column {n + 1}") for n, cell in enumerate(heading)),
        ]
        for meaning, word in MEANINGS.items():
            place = proposed.get(meaning)
            self.fields[meaning] = forms.ChoiceField(
                choices=columns,
                required=False,
                label=word[:1].upper() + word[1:],
                initial="" if place is None else str(place),
            )

    def columns(self) -> dict[str, int]:
        """Meaning → column, for those chosen."""
        told = self.cleaned_data
        return {name: int(told[name]) for name in MEANINGS if told.get(name)}


class PostLineForm(forms.Form):
    """Whose money it is."""

    client: Any = forms.ModelChoiceField(queryset=Client.objects.none(), label="From")

    def __init__(
        self,
        *args: Any,
        clients: Any,
        choices: Sequence[tuple[Any, str]] | None = None,
        **more: Any,
    ) -> None:
        """``choices``: read once for a page of many lines, else the clients are."""
        super().__init__(*args, **more)
        choice: Any = self.fields["client"]
        choice.queryset = clients
        if choices is not None:
            choice.choices = choices
