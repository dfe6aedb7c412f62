"""The JSON of ``manage.py reckon shoe``: its schema, reader and writer. Pure.

Bounds are wide enough for a foal and a draught horse and close enough that no
accepted document overflows or divides by nought.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely

from horses.findings import PLACES as FINDING_PLACES
from horses.findings import Seen
from horses.hoof import FEET
from horses.shoe.limits import Limits
from horses.shoe.places import Line, run_of
from horses.shoe.plan import (
    PLACES,
    SIDES,
    TOE_PLACES,
    Amounts,
    Branch,
    FootPlan,
    Hoof,
    Section,
    Shoe,
    Side,
    Toe,
)
from horses.shoe.reckoned import RULES_VERSION, BranchReckoned, Reckoned, reckon
from horses.shoe.rules import RULES, Flag, flags
from horses.shoe.section import area_mm2
from practice.reckoning import DIALECT, BadDocument


def _number(least: float, most: float, what: str) -> dict[str, Any]:
    return {
        "type": "number",
        "minimum": least,
        "maximum": most,
        "description": f"{what}, {least:g} to {most:g} mm.",
    }


def _object(
    properties: Mapping[str, Any], *, optional: tuple[str, ...] = ()
) -> dict[str, Any]:
    return {
        "type": "object",
        "required": [key for key in properties if key not in optional],
        "additionalProperties": False,
        "properties": dict(properties),
    }


def _by_place(least: float, most: float, what: str) -> dict[str, Any]:
    number = _number(least, most, what)
    return _object(dict.fromkeys(PLACES, number), optional=PLACES)


def _by_side(schema: dict[str, Any]) -> dict[str, Any]:
    return _object(dict.fromkeys(SIDES, schema))


HOOF: dict[str, Any] = _object(
    {
        "width_mm": _number(30, 300, "width at the widest part"),
        "length_mm": _number(30, 300, "toe to heel buttress"),
        "widest_from_toe_mm": _number(5, 299, "toe to the widest part"),
        "sound_wall_mm": _number(1, 40, "the sound wall's bearing band"),
        "out_mm": _by_place(-30, 40, "wall outside the sound foot's line"),
    },
    optional=("out_mm",),
)
NAILS_COUNT: dict[str, Any] = {
    "type": "integer",
    "minimum": 0,
    "maximum": 8,
    "description": "a whole number of nails, 0 to 8.",
}
SHOE: dict[str, Any] = _object(
    {
        "metal": {"enum": ["steel", "aluminium"]},
        "section": _object(
            {
                "profile": {"enum": ["plain", "fullered", "concave", "half_round"]},
                "width_mm": _number(3, 80, "the bar's width"),
                "thickness_mm": _number(1, 30, "the bar's thickness"),
            }
        ),
        "fit_mm": _by_place(-30, 40, "outer edge outside the wall"),
        "web_change_mm": _by_place(-60, 60, "inner edge moved"),
        "set_mm": _by_place(-30, 40, "metal set out (+) or in (−)"),
        "extension_mm": _by_place(0, 60, "declared steel beyond the wall"),
        "toe": _object(
            {
                "treatment": {"enum": ["plain", "rolled", "rocker", "set_under"]},
                "at": {"enum": list(TOE_PLACES)},
                "foot_dressed": {"type": "boolean"},
                "by_mm": _number(0, 40, "how far or deep"),
            },
            optional=("by_mm",),
        ),
        "heel_past_buttress_mm": _by_side(_number(-60, 100, "past the buttress")),
        "nails": _object(
            {
                "medial": NAILS_COUNT,
                "lateral": NAILS_COUNT,
                "last_nail_from_toe_mm": _by_side(
                    _number(1, 299, "toe to the last nail along the midline")
                ),
            }
        ),
        "fuller_mm": _by_side(_number(0, 400, "length of the fullering")),
    },
    optional=("fit_mm", "web_change_mm", "set_mm", "extension_mm", "fuller_mm"),
)
WORD: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": 40}
FINDING: dict[str, Any] = {
    "anyOf": [
        WORD,
        _object(
            {
                "kind": WORD,
                "place": {"enum": ["", *FINDING_PLACES]},
                "grade": {
                    "type": ["string", "integer"],
                    "maxLength": 40,
                    "minimum": 0,
                    "maximum": 10,
                },
                "note": {"type": "string", "maxLength": 300},
            },
            optional=("place", "grade", "note"),
        ),
    ],
    "description": "a kind of finding, or an object with kind, place, grade, note.",
}
SHOE_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "shoe: the plan of one foot",
    **_object(
        {
            "foot": {"enum": list(FEET), "description": "one of LF, RF, LH, RH."},
            "hoof": HOOF,
            "shoe": SHOE,
            "use": {"type": "string", "maxLength": 60},
            "findings": {"type": "array", "maxItems": 40, "items": FINDING},
        },
        optional=("use", "findings"),
    ),
}


def _numbers(keys: tuple[str, ...]) -> dict[str, Any]:
    return {
        "type": "object",
        "required": list(keys),
        "additionalProperties": False,
        "properties": {key: {"type": "number"} for key in keys},
    }


_POINT = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
_POINTS = {"type": "array", "items": _POINT}
SHOE_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "shoe: what the plan comes to; advice to a farrier, not a diagnosis",
    "type": "object",
    "required": [
        "rules",
        "mass_g",
        "bar_length_mm",
        "handbook_bar_length_mm",
        "centre_line_mm",
        "bearing_area_mm2",
        "wall_on_steel_percent",
        "overhang_mm",
        "flags",
    ],
    "properties": {
        "rules": {"type": "string"},
        "mass_g": {"type": "number", "minimum": 0},
        "bar_length_mm": {"type": "number", "minimum": 0},
        "handbook_bar_length_mm": {"type": "number"},
        "centre_line_mm": {"type": "number", "minimum": 0},
        "section_area_mm2": {"type": "number"},
        "outside_width_mm": {"type": "number"},
        "outside_length_mm": {"type": "number"},
        "bearing_area_mm2": _numbers(SIDES),
        "bearing_ratio_medial_lateral": {"type": "number"},
        "branch_mass_g": _numbers(SIDES),
        "fuller_mm": _numbers(SIDES),
        "wall_on_steel_percent": _numbers(PLACES),
        "overhang_mm": _numbers(PLACES),
        "edge_from_sound_line_mm": _numbers(PLACES),
        "nails_at_mm": {
            "type": "object",
            "description": "each nail, x across (lateral positive) and y from the toe",
            "properties": dict.fromkeys(SIDES, _POINTS),
        },
        "outlines_mm": {
            "type": "object",
            "description": "lines from the medial heel round the toe to the lateral "
            "heel; x across (lateral positive), y from the toe",
            "properties": dict.fromkeys(("sound", "wall", "outer", "inner"), _POINTS),
        },
        "flags": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["code", "state", "place", "why", "mend", "source"],
                "properties": {
                    "code": {"enum": [rule.code for rule in RULES]},
                    "state": {"enum": ["refused", "flagged"]},
                    "place": {"enum": [*PLACES, "whole_foot"]},
                    "why": {"type": "string"},
                    "mend": {"type": "string"},
                    "source": {"type": "string"},
                },
            },
        },
    },
}


# ---- Reading -----------------------------------------------------------------------
def _amounts(said: Mapping[str, Any] | None) -> Amounts:
    return {place: float(said[place]) for place in PLACES if place in (said or {})}  # type: ignore[index]  # None holds no place


def _finding(said: str | Mapping[str, Any]) -> Seen:
    if isinstance(said, str):
        return Seen(said)
    return Seen(**{key: str(value) for key, value in said.items()})


def _use(said: str) -> str:
    return "_".join(said.casefold().replace("-", " ").replace("_", " ").split())


def _branch(said: Mapping[str, Any], side: Side) -> Branch:
    fuller = said.get("fuller_mm")
    return Branch(
        heel_past_buttress_mm=float(said["heel_past_buttress_mm"][side]),
        nails=int(said["nails"][side]),
        last_nail_from_toe_mm=float(said["nails"]["last_nail_from_toe_mm"][side]),
        fuller_mm=None if fuller is None else float(fuller[side]),
    )


def plan_of(document: Mapping[str, Any]) -> FootPlan:
    """The plan that a document says, which has the shape of ``SHOE_IN``.

    Raises BadDocument for measures that can't be together.
    """
    hoof, shoe, toe = document["hoof"], document["shoe"], document["shoe"]["toe"]
    by = toe.get("by_mm")
    plan = FootPlan(
        hoof=Hoof(
            foot=document["foot"],
            width_mm=float(hoof["width_mm"]),
            length_mm=float(hoof["length_mm"]),
            widest_from_toe_mm=float(hoof["widest_from_toe_mm"]),
            sound_wall_mm=float(hoof["sound_wall_mm"]),
            out_mm=_amounts(hoof.get("out_mm")),
        ),
        shoe=Shoe(
            metal=shoe["metal"],
            section=Section(
                shoe["section"]["profile"],
                float(shoe["section"]["width_mm"]),
                float(shoe["section"]["thickness_mm"]),
            ),
            toe=Toe(
                toe["treatment"],
                toe["at"],
                toe["foot_dressed"],
                None if by is None else float(by),
            ),
            medial=_branch(shoe, "medial"),
            lateral=_branch(shoe, "lateral"),
            fit_mm=_amounts(shoe.get("fit_mm")),
            web_change_mm=_amounts(shoe.get("web_change_mm")),
            set_mm=_amounts(shoe.get("set_mm")),
            extension_mm=_amounts(shoe.get("extension_mm")),
        ),
        use=_use(document.get("use", "")),
        findings=tuple(_finding(said) for said in document.get("findings", ())),
    )
    _sensible(plan)
    return plan


def _sensible(plan: FootPlan) -> None:
    """Raise for what the schema can't say: measures that can't be together."""
    hoof, shoe = plan.hoof, plan.shoe
    if hoof.widest_from_toe_mm > hoof.length_mm - 1:
        raise BadDocument(
            "/hoof/widest_from_toe_mm",
            "The widest part lies ahead of the heels: length_mm is too short for it.",
        )
    if hoof.sound_wall_mm > hoof.width_mm / 3:
        raise BadDocument(
            "/hoof/sound_wall_mm", "The wall is at most a third of the width."
        )
    for side in SIDES:
        branch = shoe.branch(side)
        if branch.last_nail_from_toe_mm >= hoof.length_mm:
            raise BadDocument(
                f"/shoe/nails/last_nail_from_toe_mm/{side}",
                "The last nail stands ahead of the heel: length_mm is shorter.",
            )
        if hoof.length_mm + branch.heel_past_buttress_mm < hoof.widest_from_toe_mm / 2:
            raise BadDocument(
                f"/shoe/heel_past_buttress_mm/{side}", "So short a branch is no shoe."
            )
    if shoe.section.width_mm > hoof.width_mm / 2:
        raise BadDocument(
            "/shoe/section/width_mm",
            "Two branches so wide don't fit: at most half the hoof's width_mm.",
        )
    _web_left(plan)


def _web_left(plan: FootPlan) -> None:
    """Raise where less than a millimetre of web would be left, at a place or where
    what is taken off at a heel meets what is taken off ahead of it."""
    changes, width = plan.shoe.web_change_mm, plan.shoe.section.width_mm
    for place, change in changes.items():
        if width + change < 1:
            raise BadDocument(
                f"/shoe/web_change_mm/{place}", "So much taken off leaves no web."
            )
    for side in SIDES:
        if width + run_of(plan, side, changes).lowest < 1:
            raise BadDocument(
                f"/shoe/web_change_mm/{side}_heel",
                "With what is taken off ahead of it, this leaves no web.",
            )


# ---- Writing -----------------------------------------------------------------------
def _tidy(value: float) -> float:
    """Nine decimals are more than any tape; the rest is noise of binary fractions."""
    return round(float(value), 9) + 0.0


def _points(points: Line) -> list[list[float]]:
    rounded: list[list[float]] = (np.round(points, 2) + 0.0).tolist()
    return rounded


def _round(medial: Line, lateral: Line) -> list[list[float]]:
    """One line from the medial heel round the toe to the lateral heel, true to a
    tenth of a millimetre. Each branch is thinned alone, so that the toe stays."""
    one, other = (
        shapely.get_coordinates(shapely.LineString(branch).simplify(0.1))
        for branch in (medial, lateral)
    )
    return _points(one[::-1]) + _points(other[1:])


def _both(value: Any) -> dict[str, Any]:
    return {side: value(side) for side in SIDES}


def _outlines(reckoned: Reckoned, plan: FootPlan) -> dict[str, Any]:
    one, other = reckoned.medial.outline, reckoned.lateral.outline
    return {
        "sound": _round(one.sound, other.sound),
        "wall": _round(one.wall, other.wall),
        "outer": _round(*(_to_heel(b.outer, plan, s) for b, s in _sides(reckoned))),
        "inner": _round(*(_to_heel(b.inner, plan, s) for b, s in _sides(reckoned))),
    }


def _sides(reckoned: Reckoned) -> list[tuple[Any, Side]]:
    return [(reckoned.branch(side).outline, side) for side in SIDES]


def _to_heel(points: Line, plan: FootPlan, side: Side) -> Line:
    """The points ahead of the cut, and one on it."""
    end = plan.hoof.length_mm + plan.shoe.branch(side).heel_past_buttress_mm
    behind = (points[:, 1] > end).nonzero()[0]
    if not len(behind) or behind[0] == 0:
        return points
    last = behind[0]
    before, after = points[last - 1], points[last]
    share = (end - before[1]) / (after[1] - before[1])
    cut = before + share * (after - before)
    kept: Line = points[: last + 1].copy()
    kept[last] = cut
    return kept


def flag_document(flag: Flag) -> dict[str, str]:
    """A flag as the document shows it."""
    return {
        "code": flag.code,
        "state": flag.state,
        "place": flag.place,
        "title": flag.title,
        "why": flag.why,
        "mend": flag.mend,
        "source": flag.source,
    }


def answer_of(
    plan: FootPlan, reckoned: Reckoned, found: tuple[Flag, ...]
) -> dict[str, Any]:
    """What a plan comes to, in the shape of ``SHOE_OUT``."""
    section = plan.shoe.section

    def branch(side: Side) -> BranchReckoned:
        return reckoned.branch(side)

    ratio = reckoned.bearing_ratio
    return {
        "rules": RULES_VERSION,
        "mass_g": _tidy(reckoned.mass_g),
        "bar_length_mm": _tidy(reckoned.bar_length_mm),
        "handbook_bar_length_mm": _tidy(reckoned.handbook_length_mm),
        "centre_line_mm": _tidy(reckoned.centre_line_mm),
        "section_area_mm2": _tidy(area_mm2(section)),
        "outside_width_mm": _tidy(reckoned.outside_width_mm),
        "outside_length_mm": _tidy(reckoned.outside_length_mm),
        "bearing_area_mm2": _both(lambda side: _tidy(branch(side).area_mm2)),
        **({} if ratio is None else {"bearing_ratio_medial_lateral": _tidy(ratio)}),
        "branch_mass_g": _both(lambda side: _tidy(branch(side).mass_g)),
        "fuller_mm": _both(lambda side: _tidy(branch(side).fuller_mm)),
        "wall_on_steel_percent": {
            place: _tidy(value)
            for place, value in reckoned.wall_on_steel_percent.items()
        },
        "overhang_mm": {p: _tidy(v) for p, v in reckoned.overhang_mm.items()},
        "edge_from_sound_line_mm": {
            p: _tidy(v) for p, v in reckoned.edge_from_sound_line_mm.items()
        },
        "nails_at_mm": _both(
            lambda side: [[round(x, 2), round(y, 2)] for x, y in branch(side).nails]
        ),
        "outlines_mm": _outlines(reckoned, plan),
        "flags": [flag_document(flag) for flag in found],
    }


def run_shoe(document: dict[str, Any], limits: Limits | None = None) -> dict[str, Any]:
    """``shoe`` of the reckonings: figures and flags of one plan."""
    plan = plan_of(document)
    reckoned = reckon(plan)
    return answer_of(plan, reckoned, flags(plan, reckoned, limits))
