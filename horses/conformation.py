"""How a limb is built: the words of lasting conformation. Pure.

Words only, as a farrier says them and as an owner reads them. What is said here is how
the limb stands, never what ails it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from horses.hoof import FOOT_NAMES, Foot

LIMB_PARTS: dict[str, str] = {
    "carpus": "carpus",
    "tarsus": "tarsus",
    "fetlock": "fetlock",
    "cannon": "cannon",
    "pastern": "pastern",
    "foot": "foot",
    "limb": "whole limb",
}
"""Where on the limb; the carpus belongs to the fore limb, the tarsus to the hind."""

GRADES: dict[str, str] = {
    "slight": "slight",
    "moderate": "moderate",
    "marked": "marked",
}
"""How far, by eye: common practice, no source."""

DIRECTIONS: dict[str, str] = {
    "varus": "varus",
    "valgus": "valgus",
    "toes_in": "toes in",
    "toes_out": "toes out",
    "base_narrow": "base narrow",
    "base_wide": "base wide",
    "camped_under": "camped under",
    "camped_out": "camped out",
    "sickle": "sickle",
    "lateral": "set to the lateral side",
    "medial": "set to the medial side",
    "back_at_knee": "back at the knee",
    "over_at_knee": "over at the knee",
    "upright_pastern": "upright pastern",
    "sloping_pastern": "long sloping pastern",
}

_OPPOSITES: tuple[frozenset[str], ...] = (
    frozenset({"varus", "valgus"}),
    frozenset({"toes_in", "toes_out"}),
    frozenset({"base_narrow", "base_wide"}),
    frozenset({"camped_under", "camped_out"}),
    frozenset({"lateral", "medial"}),
    frozenset({"back_at_knee", "over_at_knee"}),
    frozenset({"upright_pastern", "sloping_pastern"}),
)


@dataclass(frozen=True, slots=True)
class Trait:
    """One thing that can be said of a limb: kind, place, direction. ``ends`` are the
    limbs it can be said of: F fore, H hind. ``plain`` completes 'the leg …'.
    """

    kind: str
    place: str
    direction: str
    words: str
    plain: str
    ends: str = "FH"

    @property
    def code(self) -> str:
        """``angular:carpus:valgus``."""
        return f"{self.kind}:{self.place}:{self.direction}"

    @property
    def chip(self) -> str:
        """Its words where its kind stands above it."""
        if self.kind == "old_injury":
            return "above" if self.place == "limb" else self.place
        if self.kind == "offset":
            return f"{self.place}, {self.direction}"
        if self.kind == "axial_rotation" and self.place == "limb":
            return DIRECTIONS[self.direction]
        return self.words

    def fits(self, limb: str) -> bool:
        return limb[-1:] in self.ends and limb in FOOT_NAMES


def _angular(place: str, joint: str, ends: str) -> Iterator[Trait]:
    for direction, side in (("varus", "inward"), ("valgus", "outward")):
        yield Trait(
            "angular",
            place,
            direction,
            f"{direction} at the {place}",
            f"leans {{much}}{side} below the {joint}",
            ends,
        )


def _offset(place: str, joint: str, ends: str) -> Iterator[Trait]:
    for direction, side in (("lateral", "outward"), ("medial", "inward")):
        yield Trait(
            "offset",
            place,
            direction,
            f"offset {place}, {DIRECTIONS[direction]}",
            f"is set {{much}}{side} below the {joint}, like a step",
            ends,
        )


def _injuries() -> Iterator[Trait]:
    for place, plain, ends in (
        ("foot", "foot", "FH"),
        ("pastern", "pastern", "FH"),
        ("fetlock", "fetlock", "FH"),
        ("cannon", "cannon bone", "FH"),
        ("carpus", "knee", "F"),
        ("tarsus", "hock", "H"),
        ("limb", "leg above", "FH"),
    ):
        where = "above" if place == "limb" else f"at the {place}"
        yield Trait(
            "old_injury",
            place,
            "",
            f"old injury {where}",
            f"has an old injury at the {plain}",
            ends,
        )


TRAITS: tuple[Trait, ...] = (
    *_angular("carpus", "knee", "F"),
    *_angular("tarsus", "hock", "H"),
    *_angular("fetlock", "fetlock", "FH"),
    Trait(
        "axial_rotation",
        "limb",
        "toes_in",
        "toes in, the whole limb",
        "turns {much}inward all the way down, so the toe points in",
    ),
    Trait(
        "axial_rotation",
        "limb",
        "toes_out",
        "toes out, the whole limb",
        "turns {much}outward all the way down, so the toe points out",
    ),
    Trait(
        "axial_rotation",
        "fetlock",
        "toes_in",
        "toes in, from the fetlock down",
        "turns {much}inward below the fetlock, so the toe points in",
    ),
    Trait(
        "axial_rotation",
        "fetlock",
        "toes_out",
        "toes out, from the fetlock down",
        "turns {much}outward below the fetlock, so the toe points out",
    ),
    Trait(
        "stance",
        "limb",
        "base_narrow",
        "base narrow",
        "stands with the foot {much}closer to its pair than at the top",
    ),
    Trait(
        "stance",
        "limb",
        "base_wide",
        "base wide",
        "stands with the foot {much}further from its pair than at the top",
    ),
    Trait(
        "stance",
        "limb",
        "camped_under",
        "camped under",
        "stands {much}too far under the body",
    ),
    Trait(
        "stance",
        "limb",
        "camped_out",
        "camped out",
        "stands {much}out from under the body",
    ),
    Trait(
        "stance",
        "limb",
        "sickle",
        "sickle",
        "is {much}bent at the hock, so the foot stands forward",
        "H",
    ),
    *_offset("carpus", "knee", "F"),
    *_offset("tarsus", "hock", "H"),
    *_offset("fetlock", "fetlock", "FH"),
    Trait(
        "side",
        "carpus",
        "back_at_knee",
        "back at the knee",
        "bows {much}back at the knee",
        "F",
    ),
    Trait(
        "side",
        "carpus",
        "over_at_knee",
        "over at the knee",
        "stands {much}forward at the knee",
        "F",
    ),
    Trait(
        "side",
        "pastern",
        "upright_pastern",
        "upright pastern",
        "has a {much}upright pastern",
    ),
    Trait(
        "side",
        "pastern",
        "sloping_pastern",
        "long sloping pastern",
        "has a {much}long, sloping pastern",
    ),
    *_injuries(),
)
"""All that can be said of a limb, in the order in which pages offer it."""

BY_CODE: dict[str, Trait] = {trait.code: trait for trait in TRAITS}

KINDS: dict[str, str] = {
    "angular": "Angular, seen from the front or behind",
    "axial_rotation": "Axial rotation",
    "stance": "Stance",
    "offset": "Offset joint",
    "side": "Seen from the side",
    "old_injury": "Old injury",
}
"""The families of traits, as pages head them."""

_MUCH = {"slight": "slightly ", "moderate": "", "marked": "markedly "}


@dataclass(frozen=True, slots=True)
class Built:
    """One trait of one limb, as recorded. Unknown words stand as they are, so that an
    older row is never unreadable.
    """

    limb: Foot
    kind: str
    place: str
    direction: str = ""
    grade: str = ""
    note: str = ""

    @property
    def code(self) -> str:
        return f"{self.kind}:{self.place}:{self.direction}"


def words(built: Built) -> str:
    """``valgus at the fetlock, moderate``: as a farrier says it."""
    trait = BY_CODE.get(built.code)
    said = (
        trait.words
        if trait
        else " ".join(
            part.replace("_", " ")
            for part in (built.kind, built.direction, built.place)
            if part
        )
    )
    return f"{said}, {GRADES.get(built.grade, built.grade)}" if built.grade else said


def plain(built: Built) -> str:
    """``The left fore leans slightly outward below the knee.``: as an owner reads it."""
    trait = BY_CODE.get(built.code)
    if trait is None:
        return f"The {FOOT_NAMES[built.limb]}: {words(built)}."
    said = trait.plain.format(much=_MUCH.get(built.grade, ""))
    return f"The {FOOT_NAMES[built.limb]} leg {said}.".replace(
        "has a upright", "has an upright"
    )


_WHOLE_LIMB = {
    "axial_rotation": ("toes_in", "toes_out"),
    "stance": ("base_narrow", "base_wide", "sickle"),
}


def from_finding(foot: Foot, kind: str, grade: str) -> Built | None:
    """A trait that was recorded among a foot's findings, in the words of
    ``horses.findings``; None for what is none, or says too little.
    """
    if kind == "angular":
        direction, _, joint = grade.partition("_")
        middle = "carpus" if foot.endswith("F") else "tarsus"
        built = Built(foot, kind, middle if joint == "carpus" else joint, direction)
    elif grade in _WHOLE_LIMB.get(kind, ()):
        built = Built(foot, kind, "limb", grade)
    else:
        return None
    return None if fault(built) else built


def offered(limb: Foot) -> list[tuple[str, list[Trait]]]:
    """What can be said of this limb: heading → traits."""
    return [
        (
            heading,
            [trait for trait in TRAITS if trait.kind == kind and trait.fits(limb)],
        )
        for kind, heading in KINDS.items()
    ]


def fault(built: Built) -> tuple[str, str] | None:
    """Field and sentence of what can't be; None if all is well."""
    if built.limb not in FOOT_NAMES:
        return "limb", "Choose one of the four limbs."
    trait = BY_CODE.get(built.code)
    if trait is None or not trait.fits(built.limb):
        return "trait", f"Choose what is seen on the {FOOT_NAMES[built.limb]}."
    if built.grade and built.grade not in GRADES:
        return "grade", "Choose slight, moderate or marked, or leave it open."
    if len(built.note) > 300:
        return "note", "Shorten it to 300 characters."
    return None


def clash(said: Built, standing: Iterable[Built]) -> str:
    """Why this can't stand beside what stands already; nothing if it can.

    The same trait twice, or its opposite at the same place. Old injuries may be many.
    """
    if said.kind == "old_injury":
        return ""
    for other in standing:
        if (other.limb, other.kind, other.place) != (said.limb, said.kind, said.place):
            continue
        if other.direction == said.direction:
            return f"That stands there already: {words(other)}."
        if frozenset({other.direction, said.direction}) in _OPPOSITES:
            return f"It can't be both: {words(other)} stands there. End that first."
    return ""


# ---- Age -----------------------------------------------------------------------
FOAL_BEFORE_YEARS, MATURE_YEARS = 1, 4
"""A foal to one year, growing to four, mature from four: common practice, no source.
Bones stop growing at different ages; the vet knows for one horse.
"""

SUPPORTED = (
    "In a mature horse the limb's build is supported, not remade: the foot is helped to "
    "carry what stands above it."
)
GROWING = (
    "This horse is still growing, and its limbs still change: what is done about their "
    "build, and when, is for a vet to lead."
)
AGE_UNKNOWN = (
    "The age isn't known. In a mature horse the limb's build is supported, not remade; "
    "in a young one a vet leads."
)


def stage(age_years: int | None, use: str = "") -> str:
    """``foal``, ``growing``, ``mature`` or ``unknown``; young stock of unknown age
    counts as growing.
    """
    if age_years is None:
        return "growing" if use == "youngstock" else "unknown"
    if age_years < FOAL_BEFORE_YEARS:
        return "foal"
    return "growing" if age_years < MATURE_YEARS else "mature"


def lasting(age_years: int | None, use: str = "") -> str:
    """The sentence that belongs beside a limb's build at this age."""
    found = stage(age_years, use)
    if found == "unknown":
        return AGE_UNKNOWN
    return SUPPORTED if found == "mature" else GROWING
