"""The figures behind the rules of a plan, each with its source. Pure.

To change what is heavy for a use, a rule book's limit or how far back a nail may stand,
edit here; what is done with them stands in ``rules``.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from horses.shoe.plan import FootPlan

CUSTOM = "common practice, no source"
ADAMS = (
    "Adams JW in USDA Special Report on Diseases of the Horse, chapter on shoeing "
    "(about 1900)"
)
DAHL = (
    "Dahl VE et al. (2023) Animals 13(11):1872, 9 fore feet: nails behind the "
    "quarters cut the heels' expansion"
)


@dataclass(frozen=True, slots=True)
class Limits:
    """A practice's own limits; mm, or shares of the foot's width.

    ``overhang_behind_mm``: steel outside the wall behind the last nail; texts give up
    to 3.2 mm, the limit is ours, from memory. ``heel_edge_mm``: steel's edge from the
    sound foot's line at a heel, our own figure. ``web_share``, ``thickness_share``:
    the heaviest bar for the foot's width, our own figures.
    """

    overhang_behind_mm: float = 5.0
    heel_edge_mm: float = 3.0
    web_share: float = 0.25
    thickness_share: float = 0.10
    heel_past_thicknesses: float = 2.0


@dataclass(frozen=True, slots=True)
class LastNail:
    """The furthest back that the last nail may stand."""

    words: str
    source: str
    from_toe_mm: Callable[[FootPlan], float]


LAST_NAIL: dict[bool, LastNail] = {
    False: LastNail(
        "the widest part",
        f"{DAHL}; {ADAMS}: front half of a front shoe",
        lambda plan: plan.hoof.widest_from_toe_mm,
    ),
    True: LastNail(
        "two thirds of the length",
        f"{ADAMS}: front two thirds of a hind shoe",
        lambda plan: plan.hoof.length_mm * 2 / 3,
    ),
}
"""By 'is hind'."""


@dataclass(frozen=True, slots=True)
class UseLimit:
    """The heaviest bar that a use commonly asks for, uncut."""

    kg_per_m: float
    source: str


USES: dict[str, UseLimit] = {
    "endurance": UseLimit(
        1.30, f"ours: just over 20 × 8 mm steel; light for distance is {CUSTOM}"
    ),
    "racing": UseLimit(
        0.96,
        "ours: just over 3/4 × 1/4 in steel; Hunting has a racing plate about "
        "1/3 × 1/8 in",
    ),
    "youngstock": UseLimit(1.00, f"ours: just over 5/8 × 5/16 in steel; {CUSTOM}"),
}


@dataclass(frozen=True, slots=True)
class BookLimit:
    """A rule book's limit on a shoe. ``status`` says what must be checked."""

    use: str
    what: Literal["width_mm", "thickness_mm", "mass_g"]
    most: float
    rule: str
    year: str
    status: str
    source: str


CHECK = "check the rule now in force"
BOOKS: tuple[BookLimit, ...] = (
    BookLimit(
        "icelandic_breeding",
        "width_mm",
        23.0,
        "FEIF breeding show, shoe width",
        "about 2006",
        CHECK,
        "FEIF rules as quoted in a mailing list's archive",
    ),
    BookLimit(
        "icelandic_breeding",
        "thickness_mm",
        8.0,
        "FEIF breeding show, shoe thickness",
        "about 2006",
        CHECK,
        "FEIF rules as quoted in a mailing list's archive",
    ),
    BookLimit(
        "icelandic_sport",
        "thickness_mm",
        10.0,
        "FEIF sport, shoe thickness",
        "2007",
        CHECK,
        "FEIF rules as quoted in a mailing list's archive",
    ),
    BookLimit(
        "walking_horse_yearling",
        "mass_g",
        453.6,
        "9 CFR 11.2(b), shoe of a horse under two years: 16 oz",
        "text to 2024",
        "a new Part 11 was made in 2024; " + CHECK,
        "US Horse Protection Act rules, from memory",
    ),
)

WAITING_KINDS = frozenset(
    {
        "heat",
        "lameness",
        "strong_pulse",
        "laminitic_gait",
        "puncture",
        "wound",
        "abscess",
    }
)
"""Findings for which a plan waits: keys of ``horses.findings``."""

WAITING_WORDS = frozenset(
    {"lame", "lameness", "hot", "heat", "laminitis", "laminitic", "pulse", "puncture"}
)
"""The same in plain words; one of them anywhere in a finding is enough."""
