"""The vocabulary of findings: what a farrier sees on a foot, where, how grave. Pure.

Words only. A finding is what was seen, never a diagnosis; where a condition is one
for the vet, ``vet`` holds the advice to show. Named grade scales are not converted
into one another.
"""

from dataclasses import dataclass
from typing import Literal

Family = Literal["distortion", "condition", "conformation"]

PLACES: dict[str, str] = {
    "toe": "toe",
    "medial_toe_quarter": "medial toe quarter",
    "lateral_toe_quarter": "lateral toe quarter",
    "medial_quarter": "medial quarter",
    "lateral_quarter": "lateral quarter",
    "medial_heel": "medial heel",
    "lateral_heel": "lateral heel",
    "frog": "frog",
    "bars": "bars",
    "sole": "sole",
    "whole_foot": "whole foot",
}
"""Positions on the foot, as keys and in words."""

WALL = tuple(PLACES)[:7]
QUARTERS = ("medial_quarter", "lateral_quarter")
HEELS = ("medial_heel", "lateral_heel")
SOLE = (*WALL, "frog", "bars", "sole")
FOOT = ("whole_foot",)

CALL_A_VET = "Ask a vet to look at this horse"
SAFETY = (
    "This is what was seen, not a diagnosis. If the horse is in pain, unwilling to "
    "move, or you are in doubt, call a vet."
)
"""Stands on every page and report that shows findings."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A grade scale by name: key → what the grade means. ``source`` says whose.
    ``older`` grades are read and kept where they stand, but no longer offered.
    """

    name: str
    source: str
    grades: tuple[tuple[str, str], ...]
    older: tuple[tuple[str, str], ...] = ()

    def has(self, grade: str) -> bool:
        return any(grade == key for key, _ in (*self.grades, *self.older))

    def offered(self, standing: str = "") -> tuple[tuple[str, str], ...]:
        """What to choose from; an older grade only where it stands already."""
        kept = tuple(one for one in self.older if one[0] == standing)
        return (*self.grades, *kept)


DEGREE = Scale(
    "degree",
    "common practice, no source",
    (("slight", "slight"), ("moderate", "moderate"), ("marked", "marked")),
)
OBEL = Scale(
    "Obel",
    "Obel (1948) as in BMC Vet Res (2020) s12917-020-02715-7, table 1",
    (
        ("0", "0 · sound"),
        ("1", "1 · shifts weight at rest, sound at walk, stilted trot"),
        ("2", "2 · stilted walk, a forefoot can be lifted"),
        ("3", "3 · unwilling to walk, forefoot lifted only with difficulty"),
        ("4", "4 · moves only if forced"),
    ),
)
AAEP = Scale(
    "AAEP",
    "American Association of Equine Practitioners, lameness grades 0 to 5",
    (
        ("0", "0 · none"),
        ("1", "1 · hard to see, not consistent"),
        ("2", "2 · hard to see at walk or straight trot, consistent in some settings"),
        ("3", "3 · always at trot"),
        ("4", "4 · obvious at walk"),
        ("5", "5 · hardly bears weight or cannot move"),
    ),
)
CLUB = Scale(
    "club foot",
    "four grades after Redden: 1 and 2 as told in Equus, October 2014; 3 and 4 from "
    "memory",
    (
        ("1", "1 · 3–5° steeper than its mate, full at the coronet"),
        ("2", "2 · 5–8° steeper, rings wider at the heel"),
        ("3", "3 · dished toe wall, heel rings about twice the toe's"),
        ("4", "4 · wall at 80° or more, coronet as high at heel as at toe"),
    ),
)
CRACK = Scale(
    "crack class",
    "by where it starts, how far and how deep it runs, and whether it moves: Stashak, "
    "Adams' Lameness, from memory; worded by us",
    (
        ("grass_shallow", "grass crack, from the ground up, outer horn only"),
        ("grass_deep", "grass crack, from the ground up, through the wall"),
        ("sand_shallow", "sand crack, from the coronet down, outer horn only"),
        ("sand_deep", "sand crack, from the coronet down, through the wall"),
        ("complete_shallow", "coronet to ground, outer horn only"),
        ("complete_deep", "coronet to ground, through the wall"),
        ("transverse", "across the wall"),
        ("unstable", "edges move, bleed or are foul"),
    ),
    older=DEGREE.grades,
)
DIRECTION = Scale(
    "direction",
    "the trade's words",
    (("toes_in", "toes in"), ("toes_out", "toes out")),
)
DEVIATION = Scale(
    "deviation",
    "the trade's words",
    (
        ("varus_carpus", "varus at carpus or tarsus"),
        ("valgus_carpus", "valgus at carpus or tarsus"),
        ("varus_fetlock", "varus at the fetlock"),
        ("valgus_fetlock", "valgus at the fetlock"),
    ),
)
STANCE = Scale(
    "stance",
    "the trade's words",
    (
        ("base_narrow", "base narrow"),
        ("base_wide", "base wide"),
        ("camped", "camped"),
        ("sickle", "sickle"),
    ),
)
SCALES: tuple[Scale, ...] = (
    *(DEGREE, OBEL, AAEP, CLUB, CRACK),
    *(DIRECTION, DEVIATION, STANCE),
)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding. ``places`` it can have,
    ``scale`` of its grades, ``vet`` the advice to show to the owner, if any.
    """

    key: str
    label: str
    family: Family
    places: tuple[str, ...]
    scale: Scale | None = DEGREE
    vet: str = ""


_PULSE = (
    "A warm foot with a strong digital pulse, shifting weight or leaning back can be "
    "an emergency: call a vet now."
)

KINDS: dict[str, Kind] = {
    kind.key: kind
    for kind in (
        Kind(
            "crack",
            "crack",
            "condition",
            (*WALL, "bars"),
            scale=CRACK,
            vet=f"{CALL_A_VET} if the crack bleeds, moves or reaches the coronet.",
        ),
        Kind(
            "thrush",
            "thrush",
            "condition",
            ("frog",),
            vet=f"{CALL_A_VET} if foul discharge goes beyond the frog or it hurts.",
        ),
        Kind(
            "white_line_disease",
            "white line disease",
            "condition",
            WALL,
            vet=f"{CALL_A_VET} if much of the wall is undermined or the horse is lame.",
        ),
        Kind(
            "bruise",
            "bruise",
            "condition",
            ("sole", "toe", *QUARTERS, *HEELS),
            vet=f"{CALL_A_VET} if the horse is lame or it does not settle.",
        ),
        Kind(
            "abscess",
            "abscess",
            "condition",
            SOLE,
            scale=None,
            vet=f"{CALL_A_VET}: pain, drainage and tetanus cover are for the vet.",
        ),
        Kind("wall_loss", "wall loss", "condition", WALL),
        Kind("lost_shoe", "lost shoe", "condition", FOOT, scale=None),
        Kind(
            "puncture",
            "nail or object in the foot",
            "condition",
            ("sole", "frog", "bars", *WALL),
            scale=None,
            vet="Call a vet at once. If it is safe, leave the object in place until "
            "the vet has seen it.",
        ),
        Kind(
            "wound",
            "wound or hot swelling",
            "condition",
            ("whole_foot", *HEELS),
            scale=None,
            vet=f"{CALL_A_VET} today, also about tetanus cover.",
        ),
        Kind("heat", "heat", "condition", FOOT, vet=_PULSE),
        Kind("strong_pulse", "strong digital pulse", "condition", FOOT, vet=_PULSE),
        Kind(
            "laminitic_gait",
            "stilted gait",
            "condition",
            FOOT,
            scale=OBEL,
            vet="Call a vet now; do not make the horse walk.",
        ),
        Kind(
            "lameness",
            "lameness",
            "condition",
            FOOT,
            scale=AAEP,
            vet="Call a vet: any lameness at walk needs one today.",
        ),
        Kind("flare", "flare", "distortion", WALL),
        Kind("dished_toe", "dished toe wall", "distortion", ("toe",)),
        Kind("long_toe", "long toe", "distortion", ("toe",)),
        Kind("underrun_heel", "under-run heel", "distortion", (*HEELS, "whole_foot")),
        Kind("sheared_heels", "sheared heels", "distortion", HEELS),
        Kind(
            "contracted_heels", "contracted heels", "distortion", ("whole_foot", *HEELS)
        ),
        Kind("high_side", "high side", "distortion", (*QUARTERS, *HEELS)),
        Kind(
            "club_foot",
            "club foot",
            "distortion",
            FOOT,
            scale=CLUB,
            vet=f"{CALL_A_VET} if the foot is new, changing, or the horse is young.",
        ),
        Kind("collapsed_bars", "collapsed bars", "distortion", ("bars",)),
        Kind("growth_rings", "uneven growth rings", "distortion", FOOT),
        Kind("angular", "angular", "conformation", FOOT, scale=DEVIATION),
        Kind("axial_rotation", "axial rotation", "conformation", FOOT, scale=DIRECTION),
        Kind("stance", "stance", "conformation", FOOT, scale=STANCE),
        Kind("offset_joint", "offset joint", "conformation", FOOT),
    )
}
"""Every kind of finding by key, in the order in which pages offer them."""

FAMILIES: dict[Family, str] = {
    "condition": "Conditions",
    "distortion": "Distortion of the capsule",
    "conformation": "Conformation of the limb",
}


@dataclass(frozen=True, slots=True)
class Seen:
    """A finding as recorded: keys of kind, place and grade; unknown words stand as
    they are, so that an older record is never unreadable.
    """

    kind: str
    place: str = ""
    grade: str = ""
    note: str = ""


def kind_label(kind: str) -> str:
    """The word for a kind."""
    return KINDS[kind].label if kind in KINDS else kind.replace("_", " ")


def place_label(place: str) -> str:
    """The words for a place; nothing for none."""
    return PLACES.get(place, place.replace("_", " "))


def grade_label(kind: str, grade: str) -> str:
    """What a grade says on its kind's scale, the scale named where it has one."""
    scale = KINDS[kind].scale if kind in KINDS else None
    if not grade or scale is None:
        return grade.replace("_", " ")
    said = dict((*scale.grades, *scale.older)).get(grade, grade)
    return f"{scale.name} {said}" if scale in (OBEL, AAEP, CLUB) else said


def sentence(seen: Seen) -> str:
    """``flare, lateral quarter, moderate``: kind, place and grade in words."""
    place = "" if seen.place == "whole_foot" else place_label(seen.place)
    parts = [kind_label(seen.kind), place, grade_label(seen.kind, seen.grade)]
    return ", ".join(part for part in parts if part)


def fault(kind: str, place: str, grade: str) -> tuple[str, str] | None:
    """Field and sentence of what doesn't belong together; None if all is well."""
    known = KINDS.get(kind)
    if known is None:
        return "kind", "Choose what was seen from the list."
    if place and place not in known.places:
        return "place", f"{known.label.capitalize()} is not seen at that place."
    if grade and (known.scale is None or not known.scale.has(grade)):
        return "grade", f"That grade does not belong to {known.label}."
    return None


def vet_advice(kinds: list[str]) -> list[str]:
    """The advice to show for these kinds, each once, in the order of ``KINDS``."""
    wanted = [kind.vet for key, kind in KINDS.items() if key in kinds and kind.vet]
    return list(dict.fromkeys(wanted))
