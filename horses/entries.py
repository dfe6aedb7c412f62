"""What one visit record says, as plain values: from a page, a phone or the API. Pure.

Lengths mm, angles degrees, as Decimals. An entry is whole: what it doesn't say is not
there. Its digest names its content, so that sending it twice can be told from sending
something else under the same key.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any

from horses import findings
from horses.hoof import FEET, FOOT_NAMES, Foot

LENGTHS: dict[str, str] = {
    "dorsal_length_mm": "toe length",
    "heel_length_mm": "heel length",
    "medial_height_mm": "medial wall height",
    "lateral_height_mm": "lateral wall height",
    "width_mm": "width",
    "length_mm": "length",
    "heel_length_medial_mm": "medial heel length",
    "heel_length_lateral_mm": "lateral heel length",
    "widest_from_toe_mm": "widest part from the toe",
    "frog_width_mm": "frog width",
    "frog_length_mm": "frog length",
    "trimmed_length_mm": "toe length after the trim",
}
ANGLES: dict[str, str] = {
    "dorsal_angle_deg": "toe angle",
    "heel_angle_deg": "heel angle",
    "pastern_angle_deg": "pastern angle",
    "trimmed_angle_deg": "toe angle after the trim",
}
MEASURES: dict[str, str] = LENGTHS | ANGLES
"""Every measurement of a foot record, with its words."""

LENGTH_RANGE = (Decimal(1), Decimal(400))
ANGLE_RANGE = (Decimal(1), Decimal(89))
MOST_NAILS = 8
MOST_FINDINGS = 30
SHOD_WORK = frozenset({"reset", "new_shoe"})
WORK = frozenset({"", "none", "trim", "reset", "new_shoe", "pull"})
PROFILES = frozenset({"", "plain", "fullered", "concave", "half_round"})
METALS = frozenset({"", "steel", "aluminium", "other"})
TOES = frozenset({"", "plain", "rolled", "rocker", "set_under"})
TOE_PLACES = frozenset({"", "toe", "medial_toe_quarter", "lateral_toe_quarter"})
TEXT_SIZES = {
    "style": 40,
    "size": 20,
    "clips": 40,
    "heels": 80,
    "traction": 80,
    "pad": 80,
    "note": 300,
}


@dataclass(frozen=True, slots=True)
class FindingEntry:
    """One thing seen: keys of ``horses.findings``, and a note."""

    kind: str
    place: str = ""
    grade: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class ShoeEntry:
    """What was fitted. Words as the record page offers them; nails by branch."""

    profile: str = ""
    metal: str = ""
    section_width_mm: Decimal | None = None
    section_thickness_mm: Decimal | None = None
    style: str = ""
    size: str = ""
    toe_treatment: str = ""
    toe_place: str = ""
    clips: str = ""
    heels: str = ""
    traction: str = ""
    pad: str = ""
    nails_medial: int | None = None
    nails_lateral: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class FootEntry:
    """One foot: measurements before the trim (and two after), findings, work, shoe."""

    foot: Foot
    work: str = ""
    dorsal_length_mm: Decimal | None = None
    dorsal_angle_deg: Decimal | None = None
    heel_length_mm: Decimal | None = None
    heel_length_medial_mm: Decimal | None = None
    heel_length_lateral_mm: Decimal | None = None
    heel_angle_deg: Decimal | None = None
    medial_height_mm: Decimal | None = None
    lateral_height_mm: Decimal | None = None
    width_mm: Decimal | None = None
    length_mm: Decimal | None = None
    widest_from_toe_mm: Decimal | None = None
    frog_width_mm: Decimal | None = None
    frog_length_mm: Decimal | None = None
    pastern_angle_deg: Decimal | None = None
    trimmed_length_mm: Decimal | None = None
    trimmed_angle_deg: Decimal | None = None
    findings: tuple[FindingEntry, ...] = ()
    shoe: ShoeEntry | None = None
    note: str = ""

    @property
    def is_empty(self) -> bool:
        """Nothing was said of this foot."""
        return self == FootEntry(self.foot)


@dataclass(frozen=True, slots=True)
class RecordEntry:
    """One horse at one visit. ``work`` is the key of a kind of work, to be billed."""

    work: int | None = None
    way_of_going: str = ""
    note: str = ""
    advice: str = ""
    vet_advised: bool = False
    feet: tuple[FootEntry, ...] = ()

    def all_feet(self) -> tuple[FootEntry, ...]:
        """LF RF LH RH, also those of which nothing is said."""
        said = {foot.foot: foot for foot in self.feet}
        return tuple(said.get(foot, FootEntry(foot)) for foot in FEET)


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return f"{value:.1f}"
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value


def _seen_order(seen: FindingEntry) -> tuple[int, int]:
    kinds = list(findings.KINDS)
    if seen.kind not in findings.KINDS:
        return len(kinds), 0
    places = findings.KINDS[seen.kind].places
    place = places.index(seen.place) if seen.place in places else -1
    return kinds.index(seen.kind), place


def tidy(entry: RecordEntry) -> RecordEntry:
    """The same entry in one order: feet LF RF LH RH without those of which nothing is
    said, findings by kind and place.
    """
    feet = sorted(
        (foot for foot in entry.feet if not foot.is_empty),
        key=lambda foot: FEET.index(foot.foot),
    )
    return replace(
        entry,
        feet=tuple(
            replace(foot, findings=tuple(sorted(foot.findings, key=_seen_order)))
            for foot in feet
        ),
    )


def as_document(entry: RecordEntry) -> dict[str, Any]:
    """The entry as JSON values, tidied; decimals are strings with one place."""
    document: dict[str, Any] = _plain(asdict(tidy(entry)))
    return document


def from_document(document: dict[str, Any]) -> RecordEntry:
    """The entry that such a document says. The inverse of ``as_document``."""
    feet = tuple(_foot(foot) for foot in document.get("feet", ()))
    return RecordEntry(**{**document, "feet": feet})


def _decimals(row: dict[str, Any], names: frozenset[str]) -> dict[str, Any]:
    return {
        key: Decimal(value) if key in names and value is not None else value
        for key, value in row.items()
    }


_MEASURE_NAMES = frozenset(MEASURES)
_SECTION_NAMES = frozenset({"section_width_mm", "section_thickness_mm"})


def _foot(document: dict[str, Any]) -> FootEntry:
    shoe = document.get("shoe")
    seen = tuple(FindingEntry(**row) for row in document.get("findings", ()))
    values = _decimals(document, _MEASURE_NAMES) | {
        "findings": seen,
        "shoe": ShoeEntry(**_decimals(shoe, _SECTION_NAMES)) if shoe else None,
    }
    return FootEntry(**values)


def digest(entry: RecordEntry) -> str:
    """SHA-256 of the entry's canonical text, as hexadecimal digits."""
    text = json.dumps(as_document(entry), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


# ---- What can't be ---------------------------------------------------------------
def faults(entry: RecordEntry) -> Iterator[tuple[str, str]]:
    """Path and sentence of each thing that can't be; nothing where all is well."""
    named = [foot.foot for foot in entry.feet]
    if len(set(named)) != len(named):
        yield "feet", "Each foot can be there once."
    for foot in entry.feet:
        where = f"feet/{foot.foot}"
        yield from _measure_faults(foot, where)
        yield from _finding_faults(foot, where)
        yield from _shoe_faults(foot, where)


def _measure_faults(foot: FootEntry, where: str) -> Iterator[tuple[str, str]]:
    if foot.work not in WORK:
        yield f"{where}/work", "Choose the work from the list."
    for name, words in MEASURES.items():
        value: Decimal | None = getattr(foot, name)
        least, most = LENGTH_RANGE if name in LENGTHS else ANGLE_RANGE
        unit = "mm" if name in LENGTHS else "degrees"
        if value is not None and not (value.is_finite() and least <= value <= most):
            yield (
                f"{where}/{name}",
                (
                    f"The {words} of the {FOOT_NAMES[foot.foot]} lies between {least} and "
                    f"{most} {unit}."
                ),
            )
    widest, length = foot.widest_from_toe_mm, foot.length_mm
    if widest is not None and length is not None and widest > length:
        yield (
            f"{where}/widest_from_toe_mm",
            (
                "The widest part lies between toe and heels: it can't be further from the "
                "toe than the foot is long."
            ),
        )


def _finding_faults(foot: FootEntry, where: str) -> Iterator[tuple[str, str]]:
    if len(foot.findings) > MOST_FINDINGS:
        yield f"{where}/findings", f"At most {MOST_FINDINGS} findings a foot."
    for number, seen in enumerate(foot.findings):
        wrong = findings.fault(seen.kind, seen.place, seen.grade)
        if wrong is not None:
            yield f"{where}/findings/{number}/{wrong[0]}", wrong[1]
        if len(seen.note) > TEXT_SIZES["note"]:
            yield f"{where}/findings/{number}/note", "Shorten it to 300 characters."


def _shoe_faults(foot: FootEntry, where: str) -> Iterator[tuple[str, str]]:
    shoe = foot.shoe
    if shoe is None:
        return
    for name, allowed in (
        ("profile", PROFILES),
        ("metal", METALS),
        ("toe_treatment", TOES),
        ("toe_place", TOE_PLACES),
    ):
        if getattr(shoe, name) not in allowed:
            yield f"{where}/shoe/{name}", "Choose one from the list."
    for name, most in TEXT_SIZES.items():
        if len(getattr(shoe, name)) > most:
            yield f"{where}/shoe/{name}", f"Shorten it to {most} characters."
    for name in ("nails_medial", "nails_lateral"):
        nails: int | None = getattr(shoe, name)
        if nails is not None and not 0 <= nails <= MOST_NAILS:
            yield f"{where}/shoe/{name}", f"A branch has 0 to {MOST_NAILS} nails."
    for name in sorted(_SECTION_NAMES):
        size: Decimal | None = getattr(shoe, name)
        if size is not None and not (size.is_finite() and 1 <= size <= 60):
            yield f"{where}/shoe/{name}", "A section measures 1 to 60 mm."
