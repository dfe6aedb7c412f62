"""Owners with shares, and payers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from horses.shares import parse_share, settle
from practice.errors import Refused
from practice.models import Client

#: Empty lines under the owners that are there, and the most lines altogether.
SPARE_LINES = 2
MOST_LINES = 24


def _day_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class _FromForm(forms.Form):
    starts = forms.DateField(label="From", widget=_day_input())
    replace_later = forms.BooleanField(
        label="Replace what is entered for later days", required=False
    )


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the form: an owner and the share."""

    client: forms.BoundField
    share: forms.BoundField


class OwnersForm(_FromForm):
    """Who owns a horse from a day on. A line without an owner counts for nothing.

    After ``is_valid`` the shares are in ``shares``: they make one whole horse.
    """

    def __init__(
        self,
        *args: Any,
        clients: Sequence[Client],
        lines: int,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines_wanted = min(max(lines, 1), MOST_LINES)
        self.by_key = {str(client.pk): client for client in clients}
        self.shares: dict[Client, Decimal] = {}
        choices = [("", "–"), *((key, row.name) for key, row in self.by_key.items())]
        for number in range(self.lines_wanted):
            self.fields[f"client_{number}"] = forms.ChoiceField(
                choices=choices, required=False, label=f"Owner {number + 1}"
            )
            self.fields[f"share_{number}"] = forms.CharField(
                required=False, max_length=20, label="Share"
            )

    def lines(self) -> Iterator[Line]:
        """The lines, for the page."""
        for number in range(self.lines_wanted):
            yield Line(self[f"client_{number}"], self[f"share_{number}"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        parts: dict[Client, Fraction] = {}
        for number in range(self.lines_wanted):
            self._take(number, parts)
        if not self.errors:
            self._settle(parts)
        return cleaned

    def _take(self, number: int, parts: dict[Client, Fraction]) -> None:
        client = self.by_key.get(self.cleaned_data.get(f"client_{number}", ""))
        written = self.cleaned_data.get(f"share_{number}", "")
        if client is None:
            if written:
                self.add_error(f"client_{number}", "Choose whose share this is.")
            return
        if client in parts:
            self.add_error(f"client_{number}", "This owner stands above already.")
            return
        try:
            parts[client] = parse_share(written)
        except Refused as refusal:
            self.add_error(f"share_{number}", refusal.sentence)

    def _settle(self, parts: dict[Client, Fraction]) -> None:
        try:
            settled = settle(list(parts.values()))
        except Refused as refusal:
            self.add_error(None, refusal.sentence)
            return
        self.shares = dict(zip(parts, settled, strict=True))

    @staticmethod
    def first_seen(
        shares: Sequence[tuple[Client, Decimal]], starts: date
    ) -> dict[str, Any]:
        """What the form shows before anything is typed: the owners of today."""
        seen: dict[str, Any] = {"starts": starts}
        for number, (client, share) in enumerate(shares):
            seen[f"client_{number}"] = str(client.pk)
            seen[f"share_{number}"] = f"{share.normalize():f}"
        return seen


class PayerForm(_FromForm):
    """Who is billed for a horse from a day on."""

    client = forms.ModelChoiceField(
        Client.objects.none(),
        required=False,
        label="Who pays",
        empty_label="the owners, by share",
    )

    field_order = ["client", "starts", "replace_later"]

    def __init__(self, *args: Any, clients: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["client"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = clients
