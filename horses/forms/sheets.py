"""What is said of a sheet: the file, what its columns are, who is who."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from horses.selectors.sheets import SeenColumn
from horses.sheets.dates import Order
from horses.sheets.fields import LABELS, SHARED, Field
from horses.sheets.matching import Near

MOST_BYTES = 30_000_000
AS_NOTE = ("", "keep as a note")


class UploadForm(forms.Form):
    """The file."""

    file = forms.FileField(
        label="The sheet",
        help_text=".csv or .xlsx, one row for each horse",
        allow_empty_file=True,
        error_messages={"required": "Choose the file of the sheet."},
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError("The file is over 30 MB: split the sheet.")
        return file


class ColumnsForm(forms.Form):
    """A choice of field for each column, and the order of day and month."""

    def __init__(
        self,
        *args: Any,
        columns: Sequence[SeenColumn],
        example: str,
        order: str,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.columns = columns
        choices = [AS_NOTE, *((str(field), LABELS[field]) for field in Field)]
        for seen in columns:
            self.fields[f"column_{seen.column.place}"] = forms.ChoiceField(
                label=seen.column.heading,
                choices=choices,
                required=False,
                initial=seen.column.field or "",
                help_text=" · ".join(text[:40] for text in seen.samples),
            )
        if example:
            self.fields["date_order"] = forms.ChoiceField(
                label=f"{example} is written",
                choices=[
                    (Order.DAY_FIRST, "day first"),
                    (Order.MONTH_FIRST, "month first"),
                ],
                initial=order,
                required=False,
                widget=forms.RadioSelect,
            )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        taken: dict[str, str] = {}
        for seen in self.columns:
            name = f"column_{seen.column.place}"
            field = said.get(name, "")
            if not field or Field(field) in SHARED:
                continue
            if field in taken:
                self.add_error(
                    name,
                    f"'{taken[field]}' is the {LABELS[Field(field)]} already: "
                    "keep one of the two as a note.",
                )
            taken[field] = seen.column.heading
        return said

    @property
    def matched(self) -> list[forms.BoundField]:
        """The columns' fields, without the order of day and month."""
        return [self[name] for name in self.fields if name.startswith("column_")]

    @property
    def mapping(self) -> dict[str, str | None]:
        """Heading → field or None, as a mapping file has it."""
        return {
            seen.column.heading: self.cleaned_data[f"column_{seen.column.place}"]
            or None
            for seen in self.columns
        }


class AnswersForm(forms.Form):
    """For each near match: the same, or two."""

    def __init__(
        self,
        *args: Any,
        near: Sequence[Near],
        answers: Mapping[str, bool],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.near = near
        for one in near:
            self.fields[f"near_{one.key}"] = forms.ChoiceField(
                label=f"{one.name} and {one.like}",
                choices=[("two", "two"), ("same", "the same")],
                initial="same" if answers.get(one.key) else "two",
                required=False,
                widget=forms.RadioSelect,
            )

    @property
    def answers(self) -> dict[str, bool]:
        """By a near match's key, whether the two are the same."""
        return {
            one.key: self.cleaned_data.get(f"near_{one.key}") == "same"
            for one in self.near
        }
