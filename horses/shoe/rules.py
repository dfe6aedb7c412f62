"""What a plan is refused for, or flagged with: one table, each row with its reason.

Pure. To add a rule: write a function that yields a ``Hit`` for each place it finds,
and a row in ``RULES``; its figures go into ``limits``. A ``refused`` plan can't be
accepted; a ``flagged`` one is the farrier's to judge.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from horses.findings import Seen, kind_label
from horses.shoe.limits import (
    ADAMS,
    BOOKS,
    CUSTOM,
    DAHL,
    LAST_NAIL,
    USES,
    WAITING_KINDS,
    WAITING_WORDS,
    Limits,
)
from horses.shoe.places import (
    OVERHANG_COUNTS_MM,
    Run,
    branch_places,
    from_toe_mm,
    run_of,
    side_of,
)
from horses.shoe.plan import (
    PLACE_NAMES,
    PLACES,
    SIDES,
    Amounts,
    FootPlan,
    Place,
    Side,
)
from horses.shoe.reckoned import Reckoned
from horses.shoe.section import kg_per_m

State = Literal["refused", "flagged"]

WAITS = "waits_for_vet"
"""The one refusal that a vet's word answers."""


@dataclass(frozen=True, slots=True)
class Case:
    """A plan with what it comes to and the practice's limits."""

    plan: FootPlan
    reckoned: Reckoned
    limits: Limits


@dataclass(frozen=True, slots=True)
class Hit:
    """Where a rule found something. ``why`` and ``source`` in place of the rule's."""

    place: str
    mend: str
    why: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table."""

    code: str
    state: State
    title: str
    why: str
    source: str
    find: Callable[[Case], Iterator[Hit]]


@dataclass(frozen=True, slots=True)
class Flag:
    """A rule that a plan runs into, at a place, with the move that mends it."""

    code: str
    state: State
    place: str
    why: str
    mend: str
    source: str
    title: str

    @property
    def place_name(self) -> str:
        return PLACE_NAMES.get(self.place, self.place)


TINY = 0.05
"""Less metal than this (mm) is not drawn by anybody."""
NOISE = 1e-6


def _mm(value: float) -> str:
    return f"{value:.1f} mm"


def _mm_or_more(value: float) -> str:
    """To the tenth that is enough: a mend that is rounded down would not mend."""
    return _mm(ceil(value * 10 - NOISE) / 10)


def _mm_or_less(value: float) -> str:
    return _mm(floor(value * 10 + NOISE) / 10)


def _ahead(plan: FootPlan, side: Side, run: Run) -> Iterator[tuple[Place, float]]:
    """The run's value at each place ahead of the last nail; for the first place
    behind it, what reaches forward to the nail."""
    last, before = plan.shoe.branch(side).last_nail_from_toe_mm, -1.0
    for place in branch_places(side)[:3]:
        where = from_toe_mm(plan.hoof, place)
        if before < last and not (place == "toe" and side == "lateral"):
            yield place, run.at_one(min(where, last))
        before = where


def _drawn(case: Case, amounts: Amounts) -> Iterator[tuple[Place, float]]:
    """Amounts ahead of the last nail, on branches that have nails."""
    branches = [case.plan.shoe.branch(side) for side in SIDES]
    for side, branch in zip(SIDES, branches, strict=True):
        for place, value in _ahead(case.plan, side, run_of(case.plan, side, amounts)):
            nailed = branch.nails or (place == "toe" and any(b.nails for b in branches))
            if nailed and abs(value) > TINY:
                yield place, value


def _web_narrowed(case: Case) -> Iterator[Hit]:
    for place, value in _drawn(case, case.plan.shoe.web_change_mm):
        if value < 0:
            yield Hit(
                place,
                f"Keep the full web at the {PLACE_NAMES[place]}, or narrow it behind "
                "the last nail.",
            )


def _metal_drawn(case: Case) -> Iterator[Hit]:
    for place, _ in _drawn(case, case.plan.shoe.set_mm):
        yield Hit(
            place,
            f"Leave the {PLACE_NAMES[place]} as forged and set metal behind the last "
            "nail.",
        )


def _overhang_ahead(case: Case) -> Iterator[Hit]:
    shoe = case.plan.shoe
    for side in SIDES:
        run = run_of(case.plan, side, shoe.fit_mm, shoe.set_mm)
        for place, value in _ahead(case.plan, side, run):
            if value >= OVERHANG_COUNTS_MM - NOISE:
                # Of a place behind the nail only a part reaches forward to it.
                whole = run.at_one(from_toe_mm(case.plan.hoof, place))
                yield Hit(
                    place,
                    f"Fit the {PLACE_NAMES[place]} {_mm_or_more(whole)} closer, or "
                    "declare an extension.",
                )


def _overhang_behind(case: Case) -> Iterator[Hit]:
    limit = case.limits.overhang_behind_mm
    for place, value in case.reckoned.overhang_mm.items():
        side = side_of(place)
        if side is None or value <= limit + NOISE:
            continue
        last = case.plan.shoe.branch(side).last_nail_from_toe_mm
        if from_toe_mm(case.plan.hoof, place) > last:
            yield Hit(
                place,
                f"Fit the {PLACE_NAMES[place]} {_mm_or_more(value - limit)} closer.",
                why=f"{_mm(value)} of steel outside the wall behind the last nail is "
                f"more than {_mm(limit)}: another foot may tread the shoe off.",
            )


def _rocker_undressed(case: Case) -> Iterator[Hit]:
    toe = case.plan.shoe.toe
    if toe.treatment == "rocker" and not toe.foot_dressed:
        yield Hit(toe.at, "Dress the foot to fit the rocker, or roll the toe instead.")


def _rolled_dressed(case: Case) -> Iterator[Hit]:
    toe = case.plan.shoe.toe
    if toe.treatment == "rolled" and toe.foot_dressed:
        yield Hit(toe.at, "Leave the foot flat: take 'foot dressed' off.")


def _set_under_unsaid(case: Case) -> Iterator[Hit]:
    toe = case.plan.shoe.toe
    if toe.treatment == "set_under" and not toe.by_mm:
        yield Hit(toe.at, "Say by how many millimetres the toe is set under.")


def _heel_edge(case: Case) -> Iterator[Hit]:
    limit = case.limits.heel_edge_mm
    for place in PLACES:
        edge = case.reckoned.edge_from_sound_line_mm[place]
        if not place.endswith("heel") or abs(edge) <= limit + NOISE:
            continue
        move = "toward the middle of the foot" if edge > 0 else "outward"
        lies = "outside" if edge > 0 else "inside"
        yield Hit(
            place,
            f"Set the {PLACE_NAMES[place]} at least {_mm_or_more(abs(edge) - limit)} {move}.",
            why=f"The steel's edge lies {_mm(abs(edge))} {lies} the sound foot's line; "
            f"more than {_mm(limit)} leaves the limb's support.",
        )


def _last_nail(case: Case) -> Iterator[Hit]:
    limit = LAST_NAIL[case.plan.hoof.is_hind]
    most = limit.from_toe_mm(case.plan)
    for side in SIDES:
        branch = case.plan.shoe.branch(side)
        behind = branch.last_nail_from_toe_mm - most
        if branch.nails and behind > NOISE:
            yield Hit(
                f"{side}_quarter",
                f"Bring the last {side} nail forward by {_mm_or_more(behind)}.",
                why=f"The last nail stands behind {limit.words}, where nails hold the "
                "heels from spreading.",
                source=limit.source,
            )


def _heel_long(case: Case) -> Iterator[Hit]:
    if case.plan.hoof.is_hind or case.plan.use == "draught":
        return
    thick = case.plan.shoe.section.thickness_mm
    most = case.limits.heel_past_thicknesses * thick
    for side in SIDES:
        past = case.plan.shoe.branch(side).heel_past_buttress_mm
        if past > most + OVERHANG_COUNTS_MM:
            yield Hit(
                f"{side}_heel",
                f"Cut the {side} heel {_mm_or_more(past - most)} shorter.",
            )


def _heel_short(case: Case) -> Iterator[Hit]:
    for side in SIDES:
        past = case.plan.shoe.branch(side).heel_past_buttress_mm
        if past < -NOISE:
            yield Hit(
                f"{side}_heel",
                f"Leave the {side} heel {_mm_or_more(-past)} longer at least.",
            )


def _heavy_for_limb(case: Case) -> Iterator[Hit]:
    section, width = case.plan.shoe.section, case.plan.hoof.width_mm
    for value, share, words in (
        (section.width_mm, case.limits.web_share, "wide"),
        (section.thickness_mm, case.limits.thickness_share, "thick"),
    ):
        if value > share * width + NOISE:
            yield Hit(
                "whole_foot",
                f"Take a bar at most {_mm_or_less(share * width)} {words}.",
                why=f"A bar {_mm(value)} {words} is heavy for a foot {_mm(width)} wide.",
            )


def _heavy_for_use(case: Case) -> Iterator[Hit]:
    limit = USES.get(case.plan.use)
    if limit is None:
        return
    bar = kg_per_m(case.plan.shoe.section, case.plan.shoe.metal)
    if bar > limit.kg_per_m + NOISE:
        yield Hit(
            "whole_foot",
            f"Take a bar of at most {limit.kg_per_m:.2f} kg a metre.",
            why=f"The bar weighs {bar:.2f} kg a metre: heavy for this use.",
            source=limit.source,
        )


def _beyond_book(case: Case) -> Iterator[Hit]:
    section = case.plan.shoe.section
    values = {
        "width_mm": section.width_mm,
        "thickness_mm": section.thickness_mm,
        "mass_g": case.reckoned.mass_g,
    }
    for limit in BOOKS:
        value = values[limit.what]
        if limit.use != case.plan.use or value <= limit.most + NOISE:
            continue
        unit = "g" if limit.what == "mass_g" else "mm"
        words = limit.what.split("_")[0]
        yield Hit(
            "whole_foot",
            f"Bring the {words} down to {limit.most:g} {unit}; {limit.status}.",
            why=f"{limit.rule} ({limit.year}): at most {limit.most:g} {unit}, the plan "
            f"has {value:.1f} {unit}.",
            source=f"{limit.source}; {limit.year}; {limit.status}",
        )


def _waits(seen: Seen) -> bool:
    if seen.grade == "0":
        return False
    words = seen.kind.casefold().replace("_", " ").replace("-", " ").split()
    return seen.kind in WAITING_KINDS or not WAITING_WORDS.isdisjoint(words)


def _waits_for_vet(case: Case) -> Iterator[Hit]:
    kinds = dict.fromkeys(s.kind for s in case.plan.findings if _waits(s))
    if kinds:
        words = ", ".join(kind_label(kind) for kind in kinds)
        yield Hit(
            "whole_foot",
            "Ask a vet, and record the vet's word with name and day, before this plan "
            "goes ahead.",
            why=f"Seen on this foot: {words}. A lame, hot or laminitic foot is the "
            "vet's first.",
        )


RULES: tuple[Rule, ...] = (
    Rule(
        "web_narrowed_ahead",
        "refused",
        "web narrowed ahead of the last nail",
        "Narrowing the web ahead of the last nail draws and weakens the nail holes.",
        CUSTOM,
        _web_narrowed,
    ),
    Rule(
        "metal_drawn_ahead",
        "refused",
        "metal drawn ahead of the last nail",
        "Moving metal ahead of the last nail spoils the nail holes and the nail line.",
        CUSTOM,
        _metal_drawn,
    ),
    Rule(
        "overhang_ahead",
        "refused",
        "steel outside the wall ahead of the last nail",
        "Ahead of the last nail the fit follows the wall: steel outside it puts the "
        "nails off the white line and can be trodden on.",
        CUSTOM,
        _overhang_ahead,
    ),
    Rule(
        "overhang_behind",
        "flagged",
        "risk of a lost shoe",
        "Steel outside the wall behind the last nail can be trodden off.",
        f"a limit of the practice, 5 mm unless set: ours, from memory; {ADAMS}: "
        "expansion to 1/8 in (3.2 mm)",
        _overhang_behind,
    ),
    Rule(
        "rocker_needs_dressed_foot",
        "refused",
        "rocker toe on a flat foot",
        "A rocker's steel is bent up at the toe: on a flat foot it would not bear.",
        CUSTOM,
        _rocker_undressed,
    ),
    Rule(
        "rolled_needs_no_dressing",
        "flagged",
        "dressing not needed",
        "A rolled toe is eased on the ground edge alone: the foot stays flat.",
        CUSTOM,
        _rolled_dressed,
    ),
    Rule(
        "set_under_unsaid",
        "flagged",
        "set under, but not by how much",
        "Without a measure the toe is drawn as it stands.",
        CUSTOM,
        _set_under_unsaid,
    ),
    Rule(
        "heel_edge",
        "flagged",
        "heel off the sound foot's line",
        "The steel's edge should follow the sound foot's line at the heels.",
        "a limit of the practice, 3 mm unless set: our own figure",
        _heel_edge,
    ),
    Rule(
        "last_nail_behind",
        "flagged",
        "last nail too far back",
        "Nails too far back hold the heels from spreading.",
        f"{DAHL}; {ADAMS}",
        _last_nail,
    ),
    Rule(
        "heel_long",
        "flagged",
        "long heel in front",
        "A front heel past twice the bar's thickness is easily trodden on.",
        f"{ADAMS}: the bar's thickness past the buttress, about twice on an acute foot",
        _heel_long,
    ),
    Rule(
        "heel_short",
        "flagged",
        "heel ends short",
        "The shoe ends ahead of the buttress and leaves it unsupported.",
        f"{ADAMS}: the bar's thickness past the buttress",
        _heel_short,
    ),
    Rule(
        "heavy_for_limb",
        "flagged",
        "heavy section for the foot",
        "The section is heavy for a foot of this width.",
        "our own figures: a quarter of the width wide, a tenth thick",
        _heavy_for_limb,
    ),
    Rule(
        "heavy_for_use",
        "flagged",
        "heavy section for the use",
        "The section is heavy for what the horse does.",
        CUSTOM,
        _heavy_for_use,
    ),
    Rule(
        "beyond_rule_book",
        "flagged",
        "beyond a rule book's limit",
        "The chosen sport limits mass or dimensions of a shoe.",
        "the rule book named",
        _beyond_book,
    ),
    Rule(
        WAITS,
        "refused",
        "waits for a vet's word",
        "A lame, hot or laminitic foot is the vet's first.",
        f"{CUSTOM}; not a diagnosis",
        _waits_for_vet,
    ),
)
"""The table, in the order in which flags are told."""


def flags(
    plan: FootPlan, reckoned: Reckoned, limits: Limits | None = None
) -> tuple[Flag, ...]:
    """Every rule that this plan runs into, in the table's order, then by place."""
    case = Case(plan, reckoned, limits or Limits())
    return tuple(
        Flag(
            rule.code,
            rule.state,
            hit.place,
            hit.why or rule.why,
            hit.mend,
            hit.source or rule.source,
            rule.title,
        )
        for rule in RULES
        for hit in rule.find(case)
    )
