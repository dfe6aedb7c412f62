"""The JSON of ``manage.py reckon growth``: its schema, reader and writer. Pure.

Bounds are wide enough for any horse and any slip of the keys, and close enough that
no accepted document overflows or divides by nought.
"""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from horses.growth.estimates import estimate
from horses.growth.priors import DEFAULT, stage_of
from horses.growth.season import SEASON_SOURCE, default_season
from horses.growth.terms import (
    RULES_VERSION,
    Estimate,
    HorseFacts,
    Policy,
    Reading,
    Record,
    Window,
)
from horses.growth.uses import policy_for, use_weeks
from horses.growth.windows import window
from horses.growth.words import why, would_change
from horses.hoof import FEET
from practice.reckoning import DIALECT, BadDocument

FIRST_YEAR, LAST_YEAR = 1900, 2200
_PLACES = 6


def _more_than_nought(most: float, what: str) -> dict[str, Any]:
    return {
        "type": "number",
        "exclusiveMinimum": 0,
        "maximum": most,
        "description": f"{what}, more than 0, at most {most:g}.",
    }


DAY: dict[str, Any] = {
    "type": "string",
    "pattern": r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
    "maxLength": 10,
    "description": f"a day as YYYY-MM-DD, {FIRST_YEAR} to {LAST_YEAR}.",
}
LENGTH = _more_than_nought(400, "a length along the toe wall in mm")
ANGLE: dict[str, Any] = {
    "type": "number",
    "exclusiveMinimum": 0,
    "exclusiveMaximum": 90,
    "description": "an angle to the ground between 0 and 90 degrees.",
}
WEEKS = _more_than_nought(104, "weeks")
READING: dict[str, Any] = {
    "type": "object",
    "required": ["day"],
    "additionalProperties": False,
    "properties": {
        "day": DAY,
        "before_mm": LENGTH,
        "after_mm": LENGTH,
        "angle_after_deg": ANGLE,
    },
}
LIMITS: dict[str, Any] = {
    "type": "object",
    "additionalProperties": False,
    "properties": {
        "toe_gain_mm": _more_than_nought(100, "a gain at the toe in mm")
        | {"default": 12},
        "lever_gain_percent": _more_than_nought(
            200, "a change of the lever in percent"
        ),
        "angle_loss_deg": _more_than_nought(45, "an angle in degrees"),
        "least_weeks": WEEKS,
        "most_weeks": WEEKS,
        "latest_weeks": WEEKS,
    },
}
GROWTH_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "growth: readings of one horse's feet, and what the farrier asks",
    "type": "object",
    "required": ["as_of", "horse", "feet"],
    "additionalProperties": False,
    "properties": {
        "as_of": DAY,
        "horse": {
            "type": "object",
            "additionalProperties": False,
            "properties": {
                "foaled": {
                    "type": "integer",
                    "minimum": FIRST_YEAR,
                    "maximum": LAST_YEAR,
                    "description": "the year in which it was foaled.",
                },
                "use": {"type": "string", "maxLength": 60},
                "shod": {"type": "boolean", "default": True},
            },
        },
        "hemisphere": {
            "enum": ["north", "south"],
            "default": "north",
            "description": "north or south.",
        },
        "feet": {
            "type": "object",
            "additionalProperties": False,
            "properties": {foot: {"type": "array", "items": READING} for foot in FEET},
        },
        "limits": LIMITS,
        "set_weeks": WEEKS,
        "vet_weeks": WEEKS,
    },
}
_DAY_OUT = {"type": "string", "format": "date"}
GROWTH_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "growth: each foot's rate, and the window that follows; not a diagnosis",
    "type": "object",
    "required": ["feet", "window", "why", "questionable"],
    "properties": {
        "rules": {"type": "string"},
        "feet": {
            "type": "object",
            "additionalProperties": {
                "type": "object",
                "required": ["rate_mm_per_week", "guide"],
                "properties": {
                    "rate_mm_per_week": {
                        "type": "object",
                        "required": ["value", "low80", "high80"],
                        "properties": {
                            end: {"type": "number", "minimum": 0}
                            for end in ("value", "low80", "high80")
                        },
                    },
                    "guide": {"type": "boolean"},
                    "intervals": {"type": "integer", "minimum": 0},
                },
            },
        },
        "window": {
            "type": "object",
            "required": ["earliest", "target", "latest"],
            "properties": {
                **dict.fromkeys(
                    ("from", "earliest", "target", "latest", "ready_by"), _DAY_OUT
                ),
                "basis": {"enum": ["growth", "use", "set", "vet"]},
                "foot": {"enum": list(FEET)},
                "limit": {"enum": ["toe_gain", "lever_gain", "angle_loss"]},
                "moved_by": {"enum": ["least_weeks", "most_weeks", "latest_weeks"]},
            },
        },
        "why": {"type": "string"},
        "would_change": {"type": "array", "items": {"type": "string"}},
        "questionable": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["foot", "day", "key", "why"],
                "properties": {
                    "foot": {"enum": list(FEET)},
                    "day": _DAY_OUT,
                    "key": {
                        "enum": ["before_mm", "after_mm", "angle_after_deg", "day"]
                    },
                    "why": {"type": "string"},
                },
            },
        },
        "sources": {"type": "array", "items": {"type": "string"}},
    },
}


# ---- Reading -----------------------------------------------------------------------
def _day(text: str, at: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as fault:
        raise BadDocument(at, f"{text} is no day of the calendar.") from fault
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise BadDocument(
            at, f"{text} does not lie in the years {FIRST_YEAR} to {LAST_YEAR}."
        )
    return day


def _readings(document: Mapping[str, Any]) -> Iterator[Reading]:
    for foot in FEET:
        for number, one in enumerate(document["feet"].get(foot, ())):
            before, after, angle = (
                None if (value := one.get(key)) is None else float(value)
                for key in ("before_mm", "after_mm", "angle_after_deg")
            )
            day = _day(one["day"], f"/feet/{foot}/{number}/day")
            yield Reading(foot, day, before, after, angle)


def _use(said: str) -> str:
    return "_".join(said.casefold().replace("-", " ").replace("_", " ").split())


def record_of(document: Mapping[str, Any]) -> tuple[Record, date]:
    """The horse's record and the day asked for. Raises BadDocument."""
    as_of = _day(document["as_of"], "/as_of")
    horse = document["horse"]
    foaled = horse.get("foaled")
    if foaled is not None and foaled > as_of.year:
        raise BadDocument(
            "/horse/foaled", "A horse can't be foaled after the day asked for."
        )
    facts = HorseFacts(
        use=_use(horse.get("use", "")),
        foaled_year=None if foaled is None else int(foaled),
        shod=horse.get("shod", True),
        feet=tuple(foot for foot in FEET if foot in document["feet"]) or FEET,
    )
    return Record(facts, tuple(_readings(document))), as_of


def _policy(document: Mapping[str, Any], record: Record, as_of: date) -> Policy:
    said = {key: float(value) for key, value in document.get("limits", {}).items()}
    for key in ("set_weeks", "vet_weeks"):
        if key in document:
            said[key] = float(document[key])
    foaled = record.facts.foaled_year
    age = None if foaled is None else as_of.year - foaled
    try:
        return policy_for(record.facts.use, age, **said)
    except ValueError as fault:
        raise BadDocument("/limits/least_weeks", str(fault)) from fault


# ---- Writing -----------------------------------------------------------------------
def _feet_out(found: Estimate) -> dict[str, Any]:
    return {
        foot.foot: {
            "rate_mm_per_week": {
                "value": round(foot.rate_mm_per_week, _PLACES),
                "low80": round(foot.low80, _PLACES),
                "high80": round(foot.high80, _PLACES),
            },
            "guide": foot.is_guide,
            "intervals": foot.intervals,
        }
        for foot in found.feet
    }


def _window_out(due: Window) -> dict[str, Any]:
    days = {
        "from": due.start,
        "earliest": due.earliest,
        "target": due.target,
        "latest": due.latest,
        "ready_by": due.ready_by,
    }
    out: dict[str, Any] = {key: day.isoformat() for key, day in days.items()}
    out |= {"basis": due.basis, "limit": due.limit}
    if due.basis != "use":
        out["foot"] = due.foot
    if due.bound:
        out["moved_by"] = f"{due.bound}_weeks"
    return out


def run_growth(document: dict[str, Any]) -> dict[str, Any]:
    """``growth`` of the reckonings: rates, window, what is questionable.

    The default season acts on the window alone: readings are taken as they are, and a
    rate is what the foot grew over the days that were read.
    """
    record, as_of = record_of(document)
    policy = _policy(document, record, as_of)
    season = default_season(document.get("hemisphere", "north"))
    found = estimate(record, as_of=as_of, season=season)
    due = window(found, policy, season=season)
    prior = DEFAULT.of[stage_of(found.age_years), record.facts.shod]
    return {
        "rules": RULES_VERSION,
        "feet": _feet_out(found) if document["feet"] else {},
        "window": _window_out(due),
        "why": why(due, policy),
        "would_change": list(would_change(found, due, policy)),
        "questionable": [
            {
                "foot": one.foot,
                "day": one.day.isoformat(),
                "key": one.key,
                "why": one.why,
            }
            for one in found.questionable
        ],
        "sources": [
            prior.source,
            use_weeks(record.facts.use, found.age_years).source,
            SEASON_SOURCE,
        ],
    }
