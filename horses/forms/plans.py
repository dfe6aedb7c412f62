"""The form of a foot plan: fields and the document that they make."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from horses.forms.feet import CLIPS, PADS, TRACTION
from horses.forms.measures import STEPS, LengthField, shown
from horses.models import Shoe
from horses.shoe.plan import PLACE_NAMES, PLACES, SIDES
from practice.units import LengthUnit

Path = tuple[str, ...]

HOOF: dict[str, tuple[str, Path]] = {
    "width": ("Width at the widest part", ("hoof", "width_mm")),
    "length": ("Length, toe to heel buttress", ("hoof", "length_mm")),
    "widest": ("Toe to the widest part", ("hoof", "widest_from_toe_mm")),
    "sound_wall": ("Thickness of sound wall", ("hoof", "sound_wall_mm")),
}
SECTION: dict[str, tuple[str, Path]] = {
    "section_width": ("Bar width", ("shoe", "section", "width_mm")),
    "section_thickness": ("Bar thickness", ("shoe", "section", "thickness_mm")),
}
BRANCHES: dict[str, tuple[str, Path]] = {
    f"{name}_{side}": (f"{words}, {side}", (*path, side))
    for name, words, path in (
        ("past", "Heel past the buttress", ("shoe", "heel_past_buttress_mm")),
        ("last", "Toe to the last nail", ("shoe", "nails", "last_nail_from_toe_mm")),
        ("fuller", "Length of fullering", ("shoe", "fuller_mm")),
    )
    for side in SIDES
}
AMOUNTS: dict[str, tuple[str, Path]] = {
    "out": ("Wall outside the sound line (flare +, under-run −)", ("hoof", "out_mm")),
    "fit": ("Fit: steel outside the wall", ("shoe", "fit_mm")),
    "set": ("Metal set out (+) or in (−)", ("shoe", "set_mm")),
    "web": ("Web wider (+) or narrower (−)", ("shoe", "web_change_mm")),
    "extension": ("Extension", ("shoe", "extension_mm")),
}
"""What can be said at each place: words and where it stands in the document."""

TOE_BY: Path = ("shoe", "toe", "by_mm")
LENGTHS: dict[str, Path] = {
    **{name: path for name, (_, path) in (HOOF | SECTION | BRANCHES).items()},
    "toe_by": TOE_BY,
}
OPTIONAL = ("toe_by", "fuller_medial", "fuller_lateral")
CHOICES: dict[str, tuple[str, Path, list[tuple[str, str]]]] = {
    "metal": (
        "Metal",
        ("shoe", "metal"),
        [("steel", "steel"), ("aluminium", "aluminium")],
    ),
    "profile": ("Section", ("shoe", "section", "profile"), list(Shoe.Profile.choices)),
    "toe_treatment": ("Toe", ("shoe", "toe", "treatment"), list(Shoe.Toe.choices)),
    "toe_at": ("Where", ("shoe", "toe", "at"), list(Shoe.ToePlace.choices)),
}
NAILS: dict[str, Path] = {f"nails_{side}": ("shoe", "nails", side) for side in SIDES}
FIELD_AT: dict[str, str] = {
    "/" + "/".join(path): name
    for name, path in (
        *LENGTHS.items(),
        *NAILS.items(),
        *((name, path) for name, (_, path, _) in CHOICES.items()),
        ("foot_dressed", ("shoe", "toe", "foot_dressed")),
        *(
            (f"{kind}_{place}", (*path, place))
            for kind, (_, path) in AMOUNTS.items()
            for place in PLACES
        ),
    )
}
"""The form's field for each JSON pointer of a document."""

SPORTS = {
    "icelandic_breeding": "Icelandic, breeding show",
    "icelandic_sport": "Icelandic, sport",
    "walking_horse_yearling": "US walking horse under two",
}
"""Uses of ``rules.BOOKS`` in words."""

FITTINGS = {"clips": CLIPS, "pad": PADS, "traction": TRACTION}

SIGNS = {"-": -1, "−": -1, "–": -1, "+": 1}


class OffsetField(LengthField):
    """A length with a sign, ``+2``, ``−1.5 mm`` or ``-1/8 in``; cleans to mm."""

    def clean(self, value: Any) -> Any:
        text = str(value or "").strip()
        sign = SIGNS.get(text[:1], 1)
        mm = super().clean(text[1:] if text[:1] in SIGNS else text)
        return None if mm is None else sign * mm


def shown_offset(mm: Decimal, unit: LengthUnit) -> str:
    """A signed length as it stands in a field; nothing for none."""
    if not mm:
        return ""
    if unit == "in":
        # A decimal, for the stepper: it can't count down through fractions.
        return f"{mm / Decimal('25.4'):.4f}".rstrip("0").rstrip(".")
    return ("-" if mm < 0 else "") + shown(abs(mm), unit)


@dataclass(frozen=True, slots=True)
class Measure:
    """One length on the page, for ``horses/_measure.html``."""

    bound: BoundField
    last: str
    start: str
    step: str
    unit: str


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """All that can be said at one place."""

    place: str
    name: str
    rows: tuple[Measure, ...]
    said: str
    has_errors: bool


def _at(document: Mapping[str, Any], path: Path) -> Any:
    found: Any = document
    for key in path:
        if not isinstance(found, Mapping) or key not in found:
            return None
        found = found[key]
    return found


def _put(document: dict[str, Any], path: Path, value: Any) -> None:
    for key in path[:-1]:
        document = document.setdefault(key, {})
    document[path[-1]] = value


def as_typed(document: Mapping[str, Any], unit: LengthUnit) -> dict[str, Any]:
    """A document as the form's initial values, lengths in the practice's unit."""
    found: dict[str, Any] = {
        "foot_dressed": _at(document, ("shoe", "toe", "foot_dressed"))
    }
    for name, path in LENGTHS.items():
        value = _at(document, path)
        found[name] = "" if value is None else _signed(Decimal(str(value)), unit, name)
    for name, (_, path, _) in CHOICES.items():
        found[name] = _at(document, path)
    for name, path in NAILS.items():
        found[name] = _at(document, path)
    for kind, (_, path) in AMOUNTS.items():
        for place in PLACES:
            value = Decimal(str(_at(document, (*path, place)) or 0))
            found[f"{kind}_{place}"] = shown_offset(value, unit)
    if document.get("use") in SPORTS:
        found["sport"] = document["use"]
    return found


def _signed(mm: Decimal, unit: LengthUnit, name: str) -> str:
    if name.startswith("past"):
        return shown_offset(mm, unit) or "0"
    return shown(mm, unit)


class PlanForm(forms.Form):
    """A plan as typed; ``document()`` is what ``reckon shoe`` takes."""

    key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    record = forms.UUIDField(widget=forms.HiddenInput, required=False)
    foot_dressed = forms.BooleanField(label="Foot dressed to fit", required=False)
    overlay = forms.BooleanField(label="Show the last plan as dashes", required=False)
    sport = forms.ChoiceField(
        label="Rule book",
        required=False,
        choices=[("", "none"), *SPORTS.items()],
    )
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, unit: LengthUnit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit
        for name, (words, _) in (HOOF | SECTION | BRANCHES).items():
            field = OffsetField if name.startswith("past") else LengthField
            self.fields[name] = field(unit=unit, label=words)
            self.fields[name].required = name not in OPTIONAL
        self.fields["toe_by"] = LengthField(unit=unit, label="By how much")
        for name, (words, _, choices) in CHOICES.items():
            self.fields[name] = forms.ChoiceField(
                label=words, choices=choices, widget=forms.RadioSelect
            )
        for name, words_for in FITTINGS.items():
            self.fields[name] = forms.ChoiceField(
                label=name.capitalize(),
                required=False,
                choices=[("", "–"), *((word, word) for word in words_for)],
                widget=forms.RadioSelect,
            )
        for side in SIDES:
            self.fields[f"nails_{side}"] = forms.IntegerField(
                label=f"Nails, {side}", min_value=0, max_value=8
            )
        for kind, (words, _) in AMOUNTS.items():
            for place in PLACES:
                self.fields[f"{kind}_{place}"] = OffsetField(unit=unit, label=words)

    @property
    def made_key(self) -> UUID | None:
        key: UUID | None = self.cleaned_data.get("key")
        return key

    def clean(self) -> dict[str, Any]:
        """What must be said was said; a fullering is said of both branches or none."""
        said = super().clean() or {}
        for name in LENGTHS:
            if (
                name not in OPTIONAL
                and name not in self.errors
                and said.get(name) is None
            ):
                self.add_error(name, ValidationError("Say how much, or how far."))
        fuller = [said.get(f"fuller_{side}") for side in SIDES]
        if any(v is not None for v in fuller) and None in fuller:
            empty = SIDES[fuller.index(None)]
            if f"fuller_{empty}" not in self.errors:
                self.add_error(
                    f"fuller_{empty}", "Say it of both branches, or of none."
                )
        return said

    def document(self, foot: str, *, use: str) -> dict[str, Any]:
        """What was typed as a document of ``SHOE_IN``, findings apart; a sport whose
        rule book was chosen stands in place of the horse's ``use``."""
        said = self.cleaned_data
        document: dict[str, Any] = {"foot": foot}
        for name, path in LENGTHS.items():
            if said.get(name) is not None:
                _put(document, path, float(said[name]))
        for name, (_, path, _) in CHOICES.items():
            _put(document, path, said[name])
        for name, path in NAILS.items():
            _put(document, path, said[name])
        _put(document, ("shoe", "toe", "foot_dressed"), said["foot_dressed"])
        for kind, (_, path) in AMOUNTS.items():
            for place in PLACES:
                if said.get(f"{kind}_{place}"):
                    _put(document, (*path, place), float(said[f"{kind}_{place}"]))
        if doing := said.get("sport") or use:
            document["use"] = doing
        return document

    def fittings(self) -> dict[str, str]:
        """Clips, pad and traction as chosen."""
        return {name: self.cleaned_data[name] for name in FITTINGS}

    def take_up(self, pointer: str | None, sentence: str) -> None:
        """Puts what a reckoning refused beside the field it points at."""
        self.add_error(FIELD_AT.get(pointer or ""), sentence)

    # ---- How it is laid out -----------------------------------------------------
    def _measure(self, name: str) -> Measure:
        unit = self.unit
        step = "0.5" if unit == "mm" else STEPS[unit]
        return Measure(self[name], "", str(self.initial.get(name) or ""), step, unit)

    @property
    def choices(self) -> dict[str, BoundField]:
        """The chips by name."""
        return {name: self[name] for name in CHOICES}

    @property
    def fitting_rows(self) -> list[BoundField]:
        return [self[name] for name in FITTINGS]

    @property
    def nails(self) -> list[BoundField]:
        return [self[name] for name in NAILS]

    @property
    def hoof_rows(self) -> list[Measure]:
        return [self._measure(name) for name in HOOF]

    @property
    def section_rows(self) -> list[Measure]:
        return [self._measure(name) for name in SECTION]

    @property
    def toe_by_row(self) -> Measure:
        return self._measure("toe_by")

    @property
    def branch_rows(self) -> list[Measure]:
        return [self._measure(name) for name in BRANCHES if "fuller" not in name]

    @property
    def fuller_rows(self) -> list[Measure]:
        return [self._measure(name) for name in BRANCHES if "fuller" in name]

    @property
    def place_rows(self) -> Iterator[PlaceRow]:
        """The places from the toe to the heels, medial before lateral."""
        for place in PLACES:
            rows = tuple(self._measure(f"{kind}_{place}") for kind in AMOUNTS)
            said = [
                f"{kind} {row.bound.value()}"
                for kind, row in zip(AMOUNTS, rows, strict=True)
                if str(row.bound.value() or "").strip() not in ("", "0")
            ]
            yield PlaceRow(
                place,
                PLACE_NAMES[place],
                rows,
                ", ".join(said),
                any(row.bound.errors for row in rows),
            )


class AcceptForm(forms.Form):
    """Accepting a plan, with the vet's word where it waits for one."""

    vet_agreed = forms.BooleanField(
        label="A vet has seen this horse and agrees to this plan", required=False
    )
    vet_name = forms.CharField(label="Vet's name", required=False, max_length=120)
    vet_day = forms.DateField(
        label="On",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean(self) -> dict[str, Any]:
        """A vet's word has a name and a day."""
        said = super().clean() or {}
        if said.get("vet_agreed"):
            if not str(said.get("vet_name") or "").strip():
                self.add_error("vet_name", "Write the vet's name.")
            if not said.get("vet_day") and "vet_day" not in self.errors:
                self.add_error("vet_day", "Write the day on which the vet agreed.")
        return said
