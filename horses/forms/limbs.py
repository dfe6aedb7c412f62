"""What is said of a limb, as chips; and what is made of a consideration."""

from dataclasses import dataclass
from typing import Any

from django import forms

from horses.conformation import BY_CODE, GRADES, Built, offered
from horses.hoof import FOOT_NAMES, MATE, Foot
from horses.models import Conformation, ConsiderationChoice


@dataclass(frozen=True, slots=True)
class Group:
    """A heading with its choices: value, word, chosen."""

    heading: str
    chips: tuple[tuple[str, str, bool], ...]


def _day(label: str, name: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"required": f"Give the day on which it was {name}."},
    )


class TraitForm(forms.Form):
    """One trait of one limb."""

    trait = forms.ChoiceField(
        widget=forms.RadioSelect,
        label="What is seen",
        error_messages={"required": "Choose what is seen."},
    )
    grade = forms.ChoiceField(
        choices=[("", "not graded"), *GRADES.items()],
        required=False,
        widget=forms.RadioSelect,
        label="How far",
    )
    seen_on = _day("First seen", "seen")
    note = forms.CharField(required=False, max_length=300, label="Note")

    def __init__(self, *args: Any, limb: Foot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.limb = limb
        self.fields["trait"].choices = [  # type: ignore[attr-defined]  # the field's class is named above
            (trait.code, trait.words) for _, traits in offered(limb) for trait in traits
        ]

    @property
    def groups(self) -> list[Group]:
        """The traits under their headings."""
        chosen = self["trait"].value()
        return [
            Group(
                heading,
                tuple((t.code, t.chip, t.code == chosen) for t in traits),
            )
            for heading, traits in offered(self.limb)
        ]

    def said(self, limb: Foot | None = None) -> Built:
        """What was chosen, of this limb (or another); the form must be valid."""
        trait = BY_CODE[self.cleaned_data["trait"]]
        return Built(
            limb or self.limb,
            trait.kind,
            trait.place,
            trait.direction,
            self.cleaned_data["grade"],
            self.cleaned_data["note"],
        )


class NewTraitForm(TraitForm):
    """A trait to note, if wanted on both limbs of the pair."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    both = forms.BooleanField(required=False)

    def __init__(self, *args: Any, limb: Foot, **kwargs: Any) -> None:
        super().__init__(*args, limb=limb, **kwargs)
        self.fields["both"].label = f"The same on the {FOOT_NAMES[MATE[limb]]}"


class AmendTraitForm(TraitForm):
    """A trait that was written wrong."""

    reason = forms.CharField(
        max_length=300,
        label="Why it is amended",
        error_messages={"required": "Say why it is amended."},
    )


class EndTraitForm(forms.Form):
    """From which day it is no longer so."""

    ended_on = _day("No longer so from", "gone")
    ended_note = forms.CharField(
        required=False, max_length=300, label="Why, or what changed"
    )


class ConsiderForm(forms.Form):
    """What a farrier makes of a consideration; empty ignores it."""

    answer = forms.ChoiceField(
        choices=[("", "ignore"), *ConsiderationChoice.Answer.choices], required=False
    )
    note = forms.CharField(required=False, max_length=300)


def trait_data(row: Conformation) -> dict[str, Any]:
    """What the amending form begins with."""
    return {
        "trait": f"{row.kind}:{row.place}:{row.direction}",
        "grade": row.grade,
        "seen_on": row.seen_on,
        "note": row.note,
    }
