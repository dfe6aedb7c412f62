"""What horses offers to ``manage.py reckon``: ``foot``, ``lever``, ``growth``,
``shoe``. Pure.

Bounds are wide enough for a foal and a draught horse and close enough that no
accepted document can overflow or divide by nought.
"""

from dataclasses import asdict, replace
from typing import Any

from horses.growth.document import GROWTH_IN, GROWTH_OUT, run_growth
from horses.hoof import (
    FEET,
    MATE,
    RULES,
    RULES_VERSION,
    Flag,
    FootMeasures,
    Leverage,
    derived,
    flags,
    grown_base_mm,
    leverage_after,
)
from horses.shoe.document import SHOE_IN, SHOE_OUT, run_shoe
from practice.reckoning import DIALECT, BadDocument, Reckoning

LENGTHS = (
    "dorsal_length_mm",
    "heel_length_mm",
    "heel_length_medial_mm",
    "heel_length_lateral_mm",
    "medial_height_mm",
    "lateral_height_mm",
    "width_mm",
    "length_mm",
    "widest_from_toe_mm",
    "frog_width_mm",
    "frog_length_mm",
)
ANGLES = ("dorsal_angle_deg", "heel_angle_deg", "pastern_angle_deg")


def _length(least: float = 1, most: float = 400) -> dict[str, Any]:
    return {
        "type": "number",
        "minimum": least,
        "maximum": most,
        "description": f"a length of {least:g} to {most:g} mm.",
    }


ANGLE: dict[str, Any] = {
    "type": "number",
    "exclusiveMinimum": 0,
    "exclusiveMaximum": 90,
    "description": "an angle to the ground between 0 and 90 degrees.",
}
FOOT: dict[str, Any] = {"enum": list(FEET), "description": "one of LF, RF, LH, RH."}
MEASURES: dict[str, Any] = {
    "foot": FOOT,
    **{name: _length() for name in LENGTHS},
    **dict.fromkeys(ANGLES, ANGLE),
    "length_sd_mm": {
        "type": "number",
        "minimum": 0,
        "maximum": 50,
        "default": 2,
        "description": "standard deviation of one length, 0 to 50 mm.",
    },
    "angle_sd_deg": {
        "type": "number",
        "minimum": 0,
        "maximum": 45,
        "default": 1,
        "description": "standard deviation of one angle, 0 to 45 degrees.",
    },
}
FOOT_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "foot: measurements of one foot, shoe off",
    "type": "object",
    "required": ["foot"],
    "additionalProperties": False,
    "properties": {
        **MEASURES,
        "pair": {
            "type": "object",
            "description": "the other foot of the pair, with the same keys; its "
            "standard deviations are this foot's unless given.",
            "additionalProperties": False,
            "properties": MEASURES,
        },
    },
}
FOOT_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "foot: derived figures and flags; not a diagnosis",
    "type": "object",
    "required": ["rules", "derived", "flags"],
    "properties": {
        "rules": {"type": "string"},
        "derived": {
            "type": "object",
            "additionalProperties": {
                "type": "object",
                "required": ["value", "sd"],
                "properties": {
                    "value": {"type": "number"},
                    "sd": {"type": "number", "minimum": 0},
                    "side": {
                        "enum": ["medial", "lateral", *FEET],
                        "description": "the larger of the two sides or feet",
                    },
                },
            },
        },
        "flags": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["code", "state", "value", "threshold", "source"],
                "properties": {
                    "code": {"enum": [rule.code for rule in RULES]},
                    "state": {"enum": ["clear", "likely", "not shown"]},
                    "value": {"type": "number"},
                    "sd": {"type": "number", "minimum": 0},
                    "threshold": {"type": "number"},
                    "comparison": {"enum": [">=", ">", "<"]},
                    "source": {"type": "string"},
                },
            },
        },
    },
}


def _measures(document: dict[str, Any]) -> FootMeasures:
    numbers = {key: float(document[key]) for key in document.keys() - {"foot", "pair"}}
    return FootMeasures(document["foot"], pair=None, **numbers)


def _sensible(document: dict[str, Any], at: str) -> None:
    length, widest = document.get("length_mm"), document.get("widest_from_toe_mm")
    if length is not None and widest is not None and widest > length:
        raise BadDocument(
            f"{at}/widest_from_toe_mm",
            "The widest part can't lie behind the heels: length_mm is shorter.",
        )


def _pair(document: dict[str, Any], foot: FootMeasures) -> FootMeasures:
    mate = MATE[foot.foot]
    if document.get("foot", mate) != mate:
        raise BadDocument("/pair/foot", f"The pair of {foot.foot} is {mate}.")
    _sensible(document, "/pair")
    spread = {"length_sd_mm": foot.length_sd_mm, "angle_sd_deg": foot.angle_sd_deg}
    return _measures({**spread, **document, "foot": mate})


def _comparison(flag: Flag) -> str:
    if flag.rule.below:
        return "<"
    return ">" if flag.rule.strict else ">="


def run_foot(document: dict[str, Any]) -> dict[str, Any]:
    """``foot`` of the reckonings: figures and flags of one foot."""
    _sensible(document, "")
    foot = _measures(document)
    if "pair" in document:
        foot = replace(foot, pair=_pair(document["pair"], foot))
    return {
        "rules": RULES_VERSION,
        "derived": {
            name: {"value": figure.value, "sd": figure.sd}
            | ({"side": figure.side} if figure.side else {})
            for name, figure in derived(foot).items()
        },
        "flags": [
            {
                "code": flag.rule.code,
                "state": flag.state,
                "value": flag.value,
                "sd": flag.sd,
                "threshold": flag.rule.threshold,
                "comparison": _comparison(flag),
                "source": flag.rule.source,
            }
            for flag in flags(foot)
        ],
    }


LEVER_KEYS: dict[str, Any] = {
    "cor_forward_mm": _length(),
    "cor_height_mm": _length(),
    "dorsal_angle_deg": ANGLE,
    "toe_growth_mm": _length(0, 100),
    "heel_growth_mm": _length(0, 100),
    "heel_angle_deg": ANGLE,
    "heel_wear_mm": _length(0, 100),
    "bearing_length_mm": _length(10),
}
LEVER_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "lever: growth and wear until the next visit",
    "type": "object",
    "required": list(LEVER_KEYS),
    "additionalProperties": False,
    "properties": LEVER_KEYS,
}
LEVER_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "lever: what growth and wear do to angle and breakover",
    "type": "object",
    "required": [
        "angle_loss_deg",
        "new_angle_deg",
        "lever_mm",
        "lever_change_percent",
    ],
    "properties": {
        "rules": {"type": "string"},
        "angle_loss_deg": {"type": "number"},
        "new_angle_deg": {"type": "number"},
        "lever_mm": {"type": "number"},
        "lever_change_percent": {"type": "number"},
    },
}


def run_lever(document: dict[str, Any]) -> dict[str, Any]:
    """``lever`` of the reckonings: angle loss and the arm at breakover."""
    foot = Leverage(**{key: float(value) for key, value in document.items()})
    if grown_base_mm(foot) < 1:
        raise BadDocument(
            "/heel_growth_mm", "So much heel growth leaves no bearing length."
        )
    after = leverage_after(foot)
    if not 0 < after.new_angle_deg < 90:
        raise BadDocument(
            "/heel_wear_mm",
            "Growth and wear would turn the toe past the ground or the upright.",
        )
    return {"rules": RULES_VERSION, **asdict(after)}


RECKONINGS: dict[str, Reckoning] = {
    "foot": Reckoning(schema_in=FOOT_IN, schema_out=FOOT_OUT, run=run_foot),
    "lever": Reckoning(schema_in=LEVER_IN, schema_out=LEVER_OUT, run=run_lever),
    "growth": Reckoning(schema_in=GROWTH_IN, schema_out=GROWTH_OUT, run=run_growth),
    "shoe": Reckoning(schema_in=SHOE_IN, schema_out=SHOE_OUT, run=run_shoe),
}
