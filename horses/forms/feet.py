"""One foot of the record page: measurements, findings, work, shoe."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict

from horses.entries import (
    ANGLES,
    LENGTHS,
    MEASURES,
    FindingEntry,
    FootEntry,
    RecordEntry,
    ShoeEntry,
    faults,
)
from horses.findings import FAMILIES, KINDS, PLACES, Kind
from horses.forms.measures import (
    STEPS,
    AngleField,
    LengthField,
    NailsField,
    shown,
    shown_angle,
)
from horses.hoof import FOOT_NAMES, Foot
from horses.models import FootRecord, Shoe
from practice.units import LengthUnit

BLANK = ("", "–")
STYLES = ("open", "straight bar", "egg bar", "heart bar", "three-quarter")
CLIPS = ("none", "toe", "quarter", "toe and quarter")
HEELS = ("plain", "spooned", "graduated", "wedge", "calkins", "trailer")
TRACTION = ("fullering", "road nails", "studs", "pins", "hard-facing")
PADS = ("none", "rim", "full", "wedge", "frog support")
SHOE_TEXTS = {"style": STYLES, "clips": CLIPS, "heels": HEELS, "pad": PADS}
SHOWN_FIRST = (
    "dorsal_length_mm",
    "dorsal_angle_deg",
    "heel_length_mm",
    "heel_angle_deg",
    "medial_height_mm",
    "lateral_height_mm",
    "width_mm",
    "length_mm",
)
SHOWN_MORE = (
    "heel_length_medial_mm",
    "heel_length_lateral_mm",
    "widest_from_toe_mm",
    "pastern_angle_deg",
    "frog_width_mm",
    "frog_length_mm",
)
STARTS = {
    "dorsal_length_mm": 85,
    "trimmed_length_mm": 82,
    "dorsal_angle_deg": 50,
    "trimmed_angle_deg": 51,
    "heel_length_mm": 35,
    "heel_length_medial_mm": 35,
    "heel_length_lateral_mm": 35,
    "heel_angle_deg": 47,
    "medial_height_mm": 55,
    "lateral_height_mm": 55,
    "width_mm": 125,
    "length_mm": 130,
    "widest_from_toe_mm": 65,
    "pastern_angle_deg": 50,
    "frog_width_mm": 60,
    "frog_length_mm": 80,
    "shoe_section_width_mm": 20,
    "shoe_section_thickness_mm": 8,
}
"""Where a stepper starts without a last time: a middling riding horse, common practice,
no source. Nothing of it is recorded until it is tapped.
"""
SHOWN_AFTER = ("trimmed_length_mm", "trimmed_angle_deg")


@dataclass(frozen=True, slots=True)
class Measure:
    """One measurement on the page."""

    bound: BoundField
    last: str
    start: str
    step: str
    unit: str


@dataclass(frozen=True, slots=True)
class Chip:
    """One choice as a chip."""

    value: str
    word: str
    checked: bool


@dataclass(frozen=True, slots=True)
class SeenRow:
    """One kind of finding that is ticked, with its places and grades."""

    key: str
    label: str
    name: str
    places: tuple[Chip, ...]
    scale: str
    grades: tuple[Chip, ...]
    note: str


def _choices(values: Iterable[str]) -> list[tuple[str, str]]:
    return [BLANK, *((value, value) for value in values)]


class FootForm(forms.Form):
    """One foot; bound always, so that what was typed is what is shown."""

    def __init__(
        self, data: QueryDict, *, foot: Foot, unit: LengthUnit, last: QueryDict | None
    ) -> None:
        super().__init__(data, prefix=foot)
        self.foot: Foot = foot
        self.name = FOOT_NAMES[foot]
        self.unit = unit
        self.last = last
        self.fields["work"] = forms.ChoiceField(
            choices=[BLANK, *FootRecord.Work.choices],
            required=False,
            widget=forms.RadioSelect,
            label="Work",
        )
        for name, words in MEASURES.items():
            self.fields[name] = (
                LengthField(unit=unit, label=words.capitalize())
                if name in LENGTHS
                else AngleField(label=words.capitalize())
            )
        self.fields["note"] = forms.CharField(
            required=False,
            max_length=2000,
            label=f"Note on the {self.name}",
            widget=forms.Textarea(attrs={"rows": 2}),
        )
        self._add_shoe_fields(unit)

    def _add_shoe_fields(self, unit: LengthUnit) -> None:
        for name, label, choices in (
            ("profile", "Section", Shoe.Profile.choices),
            ("metal", "Metal", Shoe.Metal.choices),
            ("toe_treatment", "Toe", Shoe.Toe.choices),
            ("toe_place", "Toe treated at", Shoe.ToePlace.choices),
        ):
            self.fields[f"shoe_{name}"] = forms.ChoiceField(
                choices=[BLANK, *choices],
                required=False,
                widget=forms.RadioSelect,
                label=label,
            )
        for name, usual in SHOE_TEXTS.items():
            self.fields[f"shoe_{name}"] = forms.ChoiceField(
                choices=_choices(self._also(f"shoe_{name}", usual)),
                required=False,
                widget=forms.RadioSelect,
                label=name.capitalize(),
            )
        self.fields["shoe_traction"] = forms.MultipleChoiceField(
            choices=[(v, v) for v in self._also("shoe_traction", TRACTION)],
            required=False,
            widget=forms.CheckboxSelectMultiple,
            label="Traction",
        )
        self.fields["shoe_size"] = forms.CharField(
            required=False, max_length=20, label="Size"
        )
        for name, label in (("width", "Bar width"), ("thickness", "Bar thickness")):
            self.fields[f"shoe_section_{name}_mm"] = LengthField(unit=unit, label=label)
        for branch in ("medial", "lateral"):
            self.fields[f"shoe_nails_{branch}"] = NailsField(label=f"Nails {branch}")
        self.fields["shoe_note"] = forms.CharField(
            required=False, max_length=300, label="Note on the shoe"
        )

    def _also(self, name: str, usual: Sequence[str]) -> list[str]:
        """The usual words, and whatever other word this record or the last one has."""
        prefixed = self.add_prefix(name)
        said = self._list(prefixed)
        if self.last is not None:
            said = list(dict.fromkeys([*said, *self.last.getlist(prefixed)]))
        return [*usual, *(word[:80] for word in said if word and word not in usual)]

    # ---- What it says --------------------------------------------------------
    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        entry = self.entry_so_far()
        for path, sentence in faults(RecordEntry(feet=(entry,))):
            place = path.split("/")[2:]
            if place[:1] == ["shoe"]:
                name = f"shoe_{place[1]}"
            else:
                name = place[0] if place and place[0] in self.fields else ""
            self.add_error(name or None, sentence)
        return cleaned

    def entry_so_far(self) -> FootEntry:
        """What the valid fields say."""
        cleaned = self.cleaned_data
        measured = {name: cleaned.get(name) for name in MEASURES}
        return FootEntry(
            foot=self.foot,
            work=cleaned.get("work") or "",
            findings=self.findings(),
            shoe=self._shoe(),
            note=(cleaned.get("note") or "").replace("\r\n", "\n"),
            **measured,
        )

    def _shoe(self) -> ShoeEntry | None:
        cleaned = self.cleaned_data
        if cleaned.get("work") in ("trim", "pull"):
            return None
        values: dict[str, Any] = {}
        for field in fields(ShoeEntry):
            value = cleaned.get(f"shoe_{field.name}")
            if isinstance(value, list):
                value = ", ".join(value)
            is_number = field.name.startswith(("section", "nails"))
            values[field.name] = value if is_number else value or ""
        shoe = ShoeEntry(**values)
        is_shod = cleaned.get("work") in ("reset", "new_shoe")
        return shoe if shoe != ShoeEntry() or is_shod else None

    # ---- Findings ------------------------------------------------------------
    def _list(self, name: str) -> list[str]:
        found: list[str] = self.data.getlist(name)  # type: ignore[attr-defined]  # a QueryDict when bound
        return found

    @property
    def see(self) -> str:
        """The name of the chips of kinds."""
        return f"{self.foot}-see"

    def _keys(self) -> list[str]:
        order = list(KINDS)
        keys = [key for key in dict.fromkeys(self._list(self.see)) if _kind(key)]
        return sorted(keys, key=lambda key: order.index(key.split("~")[0]))

    def findings(self) -> tuple[FindingEntry, ...]:
        """Each ticked kind, once for each of its ticked places."""
        found = []
        for key in self._keys():
            kind = KINDS[key.split("~")[0]]
            at = [p for p in kind.places if p in self._list(f"{self.see}-{key}-at")]
            usual = list(kind.places) if len(kind.places) == 1 else [""]
            grade = (self._list(f"{self.see}-{key}-grade") or [""])[0]
            note = (self._list(f"{self.see}-{key}-note") or [""])[0].strip()
            found += [FindingEntry(kind.key, p, grade, note) for p in at or usual]
        return tuple(found)

    def seen_rows(self) -> list[SeenRow]:
        """What is ticked, ready to show."""
        return [
            seen_row(
                f"{self.see}-{key}",
                key,
                KINDS[key.split("~")[0]],
                at=self._list(f"{self.see}-{key}-at"),
                grade=(self._list(f"{self.see}-{key}-grade") or [""])[0],
                note=(self._list(f"{self.see}-{key}-note") or [""])[0],
            )
            for key in self._keys()
        ]

    def kind_chips(self) -> list[tuple[str, list[Chip]]]:
        """Every kind as a chip, by family; a second grade of one kind beside it."""
        ticked = self._keys()
        more = [key for key in ticked if "~" in key]
        return [
            (
                label,
                [
                    Chip(key, kind.label, key in ticked)
                    for own, kind in KINDS.items()
                    if kind.family == family
                    for key in (own, *(k for k in more if k.split("~")[0] == own))
                ],
            )
            for family, label in FAMILIES.items()
        ]

    # ---- For the page --------------------------------------------------------
    def _measures(self, names: Sequence[str]) -> list[Measure]:
        return [self._measure(name) for name in names]

    def _measure(self, name: str) -> Measure:
        last = self.last.get(self.add_prefix(name), "") if self.last else ""
        is_angle = name in ANGLES
        usual = Decimal(STARTS[name])
        return Measure(
            bound=self[name],
            last=last or "",
            start=last or (str(usual) if is_angle else shown(usual, self.unit)),
            step="0.5" if is_angle else STEPS[self.unit],
            unit="°" if is_angle else self.unit,
        )

    def first(self) -> list[Measure]:
        return self._measures(SHOWN_FIRST)

    def more(self) -> list[Measure]:
        return self._measures(SHOWN_MORE)

    def after(self) -> list[Measure]:
        return self._measures(SHOWN_AFTER)

    def section(self) -> list[Measure]:
        return self._measures(("shoe_section_width_mm", "shoe_section_thickness_mm"))

    @property
    def has_more(self) -> bool:
        """Whether anything stands in the measurements that start folded."""
        return any(self[name].value() for name in SHOWN_MORE)


def _kind(key: str) -> Kind | None:
    return KINDS.get(key.split("~")[0])


def seen_row(
    name: str, key: str, kind: Kind, *, at: Sequence[str], grade: str, note: str
) -> SeenRow:
    """One kind of finding with its chips; ``name`` begins the names of its fields."""
    scale = kind.scale
    return SeenRow(
        key=key,
        label=kind.label,
        name=name,
        places=tuple(Chip(p, PLACES[p], p in at) for p in kind.places)
        if len(kind.places) > 1
        else (),
        scale=scale.name if scale else "",
        grades=tuple(Chip(g, words, g == grade) for g, words in scale.offered(grade))
        if scale
        else (),
        note=note,
    )


def foot_data(foot: FootEntry, unit: LengthUnit) -> dict[str, list[str]]:
    """The fields of the form that say what this foot says."""
    data: dict[str, list[str]] = {"work": [foot.work], "note": [foot.note]}
    for name in LENGTHS:
        data[name] = [shown(getattr(foot, name), unit)]
    for name in ANGLES:
        data[name] = [shown_angle(getattr(foot, name))]
    data |= _shoe_data(foot.shoe or ShoeEntry(), unit)
    data |= _seen_data(foot.findings)
    return {f"{foot.foot}-{name}": values for name, values in data.items()}


def _shoe_data(shoe: ShoeEntry, unit: LengthUnit) -> dict[str, list[str]]:
    data = {}
    for field in fields(ShoeEntry):
        value = getattr(shoe, field.name)
        if field.name.startswith("section"):
            data[f"shoe_{field.name}"] = [shown(value, unit)]
        elif field.name == "traction":
            data[f"shoe_{field.name}"] = [word for word in value.split(", ") if word]
        else:
            data[f"shoe_{field.name}"] = ["" if value is None else str(value)]
    return data


def _seen_data(findings: Sequence[FindingEntry]) -> dict[str, list[str]]:
    data: dict[str, list[str]] = {"see": []}
    groups: dict[tuple[str, str, str], str] = {}
    for seen in findings:
        group = (seen.kind, seen.grade, seen.note)
        if group not in groups:
            again = sum(kind == seen.kind for kind, _, _ in groups)
            groups[group] = f"{seen.kind}~{again + 1}" if again else seen.kind
            key = groups[group]
            data["see"].append(key)
            data[f"see-{key}-grade"] = [seen.grade]
            data[f"see-{key}-note"] = [seen.note]
            data[f"see-{key}-at"] = []
        if seen.place:
            data[f"see-{groups[group]}-at"].append(seen.place)
    return data
