"""The record page's form: what concerns the horse, and its four feet."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from horses.entries import RecordEntry
from horses.findings import KINDS
from horses.forms.feet import FootForm, foot_data
from horses.hoof import FEET, MATE
from horses.models import Work
from practice.units import LengthUnit

MOST_TEXT = 5000


def _text(label: str, rows: int = 2, **more: Any) -> forms.CharField:
    return forms.CharField(
        required=False,
        max_length=MOST_TEXT,
        label=label,
        widget=forms.Textarea(attrs={"rows": rows}),
        **more,
    )


class HorseForm(forms.Form):
    """What concerns the whole horse at this visit."""

    revision = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    work = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect,
        label="Work to be billed",
        error_messages={"invalid_choice": "Choose the work from the list."},
    )
    way_of_going = _text("Way of going")
    note = _text("Note", help_text="for the practice; also on the report")
    advice = _text("Advice given", help_text="said to the owner, on the report")
    vet_advised = forms.BooleanField(required=False, label="I advised to call a vet")
    reason = forms.CharField(
        required=False,
        max_length=300,
        label="Why it is amended",
        help_text="The old values are kept beside the new ones.",
    )

    def __init__(self, data: QueryDict, *, works: Sequence[Work]) -> None:
        super().__init__(data)
        choices = [("", "none")] + [(str(work.pk), work.name) for work in works]
        self.fields["work"].choices = choices  # type: ignore[attr-defined]  # the field's class is named above


class RecordForms:
    """The forms of one record, bound to what was typed or to what stands."""

    def __init__(
        self,
        data: QueryDict,
        *,
        works: Sequence[Work],
        unit: LengthUnit,
        last: QueryDict | None = None,
    ) -> None:
        self.horse = HorseForm(data, works=works)
        self.feet = [FootForm(data, foot=foot, unit=unit, last=last) for foot in FEET]

    def is_valid(self) -> bool:
        """Whether all five say what can be; all are read, so that all errors show."""
        return not [form for form in (self.horse, *self.feet) if not form.is_valid()]

    def entry(self) -> RecordEntry:
        """What the valid fields say."""
        self.is_valid()
        said = self.horse.cleaned_data
        return RecordEntry(
            work=said.get("work"),
            way_of_going=_lines(said.get("way_of_going")),
            note=_lines(said.get("note")),
            advice=_lines(said.get("advice")),
            vet_advised=bool(said.get("vet_advised")),
            feet=tuple(
                entry
                for form in self.feet
                if not (entry := form.entry_so_far()).is_empty
            ),
        )

    def place_error(self, path: str | None, sentence: str) -> None:
        """Puts what a service refused beside its field, or above the form."""
        parts = (path or "").split("/")
        form: forms.Form = self.horse
        if parts[0] == "feet" and len(parts) > 2:
            form = next(f for f in self.feet if f.foot == parts[1])
            parts = [f"shoe_{parts[3]}"] if parts[2] == "shoe" else parts[2:3]
        form.add_error(parts[0] if parts[0] in form.fields else None, sentence)

    @property
    def has_errors(self) -> bool:
        return any(form.errors for form in (self.horse, *self.feet))


def _lines(text: str | None) -> str:
    return (text or "").replace("\r\n", "\n")


def record_data(
    entry: RecordEntry, *, revision: int, unit: LengthUnit
) -> dict[str, list[str]]:
    """The fields of the page that say what this record says."""
    data = {
        "revision": [str(revision)],
        "work": ["" if entry.work is None else str(entry.work)],
        "way_of_going": [entry.way_of_going],
        "note": [entry.note],
        "advice": [entry.advice],
        "vet_advised": ["on"] if entry.vet_advised else [],
    }
    for foot in entry.feet:
        data |= foot_data(foot, unit)
    return data


def as_query(data: Mapping[str, Sequence[str]]) -> QueryDict:
    """Fields as a browser would send them."""
    query = QueryDict(mutable=True)
    for name, values in data.items():
        query.setlist(name, list(values))
    return query


def repeatable(last: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """What 'as last time' fills in: work, sizes, shoe, and what lasts of what was seen
    (conformation and distortion). Conditions, notes and the measurements after the
    trim are seen anew each time. Nothing that last time didn't say.
    """
    kept = {}
    for name, values in last.items():
        foot, _, field = name.partition("-")
        if foot not in FEET or field == "note" or field.startswith("trimmed"):
            continue
        if field == "see":
            said = [key for key in values if _lasts(key)]
        elif field.startswith("see-"):
            said = list(values) if _lasts(field.split("-")[1]) else []
        else:
            said = list(values)
        if any(said):
            kept[name] = said
    return kept


def _lasts(key: str) -> bool:
    kind = KINDS.get(key.split("~")[0])
    return kind is not None and kind.family != "condition"


def as_last_time(
    data: QueryDict, last: Mapping[str, Sequence[str]], which: str
) -> QueryDict:
    """What was typed, with one foot (or ``all``) filled as last time."""
    result = data.copy()
    for name, values in repeatable(last).items():
        foot, _, field = name.partition("-")
        if which not in (foot, "all"):
            continue
        typed = result.getlist(name) if field == "see" else []
        result.setlist(name, list(dict.fromkeys([*typed, *values])))
    return result


def copied(data: QueryDict, source: str) -> QueryDict:
    """What was typed, with one foot's work and shoe copied to its pair. Measurements
    and findings are each foot's own.
    """
    if source not in FEET:
        return data
    mate = MATE[source]  # type: ignore[index]  # one of the four, just asked
    result = data.copy()
    for name, values in data.lists():
        foot, _, field = name.partition("-")
        if foot == source and (field == "work" or field.startswith("shoe_")):
            result.setlist(f"{mate}-{field}", values)
    return result
