"""The JSON of ``manage.py reckon rounds``: its schema, reader and writer. Pure.

The numbers of a matrix of drives are checked here and not by the schema, which would
take longer over a hundred thousand of them than the search does.
"""

import time
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date
from importlib.metadata import version
from typing import Any, Final

from practice.geo import Position
from practice.reckoning import DIALECT, BadDocument, Bounds, pointer
from scheduling.driving import estimate_matrix
from scheduling.planner.insertion import why_left
from scheduling.planner.judge import Cost, TimedRound, check_agreed, evaluate
from scheduling.planner.search import propose
from scheduling.planner.weeks import (
    BadInstance,
    Booking,
    Instance,
    Plan,
    Shift,
    Visit,
    Weights,
)

RULES_VERSION: Final = "rounds-1"
WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MOST_VISITS: Final = 1000
MOST_SHIFTS: Final = 400
MOST_SECONDS: Final = 600
LEAST_SEARCH: Final = 0.3
"""Seconds of search that are taken even where starting up used them all."""
MOST_BYTES_AT_ONCE: Final = 64_000_000
"""The largest matrices taken where memory is shared (the API), 16 bytes an arc and
shift."""

_END = r"(?![\s\S])"
_DAY: dict[str, Any] = {
    "type": "string",
    "pattern": rf"^[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}{_END}",
    "description": "a day of the calendar such as 2026-03-02.",
}
_TIME: dict[str, Any] = {
    "type": "string",
    "pattern": rf"^(([01][0-9]|2[0-3]):[0-5][0-9]|24:00){_END}",
    "description": "a local time such as 08:30.",
}
_AT: dict[str, Any] = {
    "type": "array",
    "prefixItems": [
        {"type": "number", "minimum": -90, "maximum": 90},
        {"type": "number", "minimum": -180, "maximum": 180},
    ],
    "minItems": 2,
    "maxItems": 2,
    "description": "latitude and longitude in degrees.",
}
_MINUTES: dict[str, Any] = {
    "type": "integer",
    "minimum": 0,
    "maximum": 1440,
    "description": "whole minutes, 0 to 1440.",
}
_NAME: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": 200}
_AMOUNT: dict[str, Any] = {"type": "number", "minimum": 0, "maximum": 1_000_000}


def _shape(properties: Mapping[str, Any], *required: str) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": dict(properties),
        "required": list(required),
        "additionalProperties": False,
    }


def _by_weekday(value: Mapping[str, Any]) -> dict[str, Any]:
    return _shape(dict.fromkeys(WEEKDAYS, value))


_BOOKED = _shape(
    {
        "day": _DAY,
        "start": _TIME,
        "farrier": _NAME,
        "status": {"enum": ["pencilled", "asked", "agreed"], "default": "agreed"},
    },
    "day",
    "start",
    "farrier",
)
_SPAN = {"type": "array", "items": _TIME, "minItems": 2, "maxItems": 2}
_VISIT = _shape(
    {
        "id": _NAME,
        "at": _AT,
        "minutes": _MINUTES,
        "setup_minutes": {**_MINUTES, "default": 0},
        "hours": _by_weekday({"type": "array", "items": _SPAN, "maxItems": 24}),
        "finish_by": _by_weekday(_TIME),
        "not_on": {"type": "array", "items": _DAY, "maxItems": 1000},
        "earliest": _DAY,
        "target": _DAY,
        "latest": _DAY,
        "weight": {**_AMOUNT, "maximum": 1000, "default": 1},
        "farriers": {"type": "array", "items": _NAME, "maxItems": 100},
        "booked": _BOOKED,
    },
    *("id", "at", "minutes", "earliest", "target", "latest"),
)
_SHIFT = _shape(
    {
        "day": _DAY,
        "farrier": _NAME,
        "start": _TIME,
        "end": _TIME,
        "break_minutes": {**_MINUTES, "default": 0},
        "home": _AT,
    },
    *("day", "farrier", "start", "end", "home"),
)
ROUNDS_IN: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "rounds: which barns on which day, in what order",
    **_shape(
        {
            "days": {
                "type": "array",
                "items": _SHIFT,
                "minItems": 1,
                "maxItems": MOST_SHIFTS,
            },
            "visits": {"type": "array", "items": _VISIT, "maxItems": MOST_VISITS},
            "travel": _shape(
                {
                    "minutes": {
                        "type": "array",
                        "items": {"type": "array"},
                        "description": "square: the distinct homes in order of first "
                        "use, then the visits; numbers from 0 to 1440.",
                    }
                },
                "minutes",
            ),
            "weights": _shape({one.name: _AMOUNT for one in fields(Weights)}),
            "seconds": {
                "type": "number",
                "exclusiveMinimum": 0,
                "maximum": MOST_SECONDS,
                "default": 5,
            },
            "seed": {"type": "integer", "minimum": 0, "maximum": 2**32, "default": 1},
        },
        "days",
        "visits",
    ),
}
_NUMBER = {"type": "number"}
ROUNDS_OUT: dict[str, Any] = {
    "$schema": DIALECT,
    "title": "rounds: the rounds with their hours, what is left over, the cost",
    "type": "object",
    "properties": {
        "rounds": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "day": _DAY,
                    "farrier": _NAME,
                    "stops": {
                        "type": "array",
                        "items": {
                            "type": "object",
                            "properties": {
                                "id": _NAME,
                                "arrive": _TIME,
                                "start": _TIME,
                                "end": _TIME,
                            },
                            "required": ["id", "arrive", "start", "end"],
                        },
                    },
                    "break": {**_TIME, "title": "its start"},
                    "home": {**_TIME, "title": "when the round is home"},
                    "drive_minutes": _NUMBER,
                    "work_minutes": {**_NUMBER, "title": "set-up and horses"},
                    "wait_minutes": {**_NUMBER, "title": "the break apart"},
                },
                "required": [
                    *("day", "farrier", "stops"),
                    *("drive_minutes", "work_minutes", "wait_minutes"),
                ],
            },
        },
        "left_over": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "id": _NAME,
                    "reason": {"type": "string"},
                    "code": {"type": "string"},
                    "mend": {"type": "string", "title": "the least change"},
                },
                "required": ["id", "reason"],
            },
        },
        "cost": {
            "type": "object",
            "properties": dict.fromkeys(
                ("drive", "days", "dates", "left_over", "moved", "total"), _NUMBER
            ),
            "required": ["drive", "days", "dates", "left_over", "moved", "total"],
        },
        "engine": {"type": "string"},
        "seconds": _NUMBER,
        "versions": {"type": "object", "additionalProperties": {"type": "string"}},
    },
    "required": ["rounds", "left_over", "cost", "engine", "seconds", "versions"],
}


def run_rounds(document: dict[str, Any], bounds: Bounds) -> dict[str, Any]:
    """``rounds`` of the reckonings. Raises BadDocument.

    ``seconds`` is all of it: what the process used before (``bounds.spent_seconds``),
    reading, searching and writing the reasons.
    """
    began = time.perf_counter()
    seconds = float(document.get("seconds", 5))
    _check_bounds(document, seconds, bounds)
    instance = read_instance(document)
    used = bounds.spent_seconds + time.perf_counter() - began
    writing = 0.35 + 0.002 * len(instance.visits)
    plan = propose(
        instance,
        seed=int(document.get("seed", 1)),
        seconds=max(LEAST_SEARCH, seconds - used - writing),
        workers=bounds.workers,
    )
    verdict = evaluate(instance, plan)
    return {
        "rounds": [_round(one) for one in verdict.rounds],
        "left_over": [_left(instance, plan, id_) for id_ in verdict.left_over],
        "cost": _cost(verdict.cost),
        "engine": f"PyVRP {version('pyvrp')}, judged by Clenchline",
        "seconds": round(bounds.spent_seconds + time.perf_counter() - began, 3),
        "versions": {"rules": RULES_VERSION, "drives": _drives(document)},
    }


def _check_bounds(document: dict[str, Any], seconds: float, bounds: Bounds) -> None:
    most = bounds.most_seconds
    if most is None:
        return
    if seconds > most:
        raise BadDocument("/seconds", f"At most {most:g} seconds are given here.")
    arcs = (len(document["visits"]) + len(document["days"])) ** 2
    if arcs * len(document["days"]) * 16 > MOST_BYTES_AT_ONCE:
        raise BadDocument(
            "/visits", "Too many visits and days for here: use the command."
        )


def _drives(document: dict[str, Any]) -> str:
    return "as given" if "travel" in document else "built-in estimate"


# --- reading --------------------------------------------------------------------------


def read_instance(document: dict[str, Any]) -> Instance:
    """The instance of a document that fits ``ROUNDS_IN``. Raises BadDocument, also
    where an agreed booking can't be kept."""
    homes: dict[tuple[float, float], int] = {}
    for raw in document["days"]:
        homes.setdefault(_at(raw["home"]), len(homes))
    shifts = tuple(
        _read_shift(raw, homes[_at(raw["home"])], "days", i)
        for i, raw in enumerate(document["days"])
    )
    _no_twins([shift.key for shift in shifts], "days", "day", "This day stands twice.")
    visits = tuple(
        _read_visit(raw, len(homes) + i, "visits", i)
        for i, raw in enumerate(document["visits"])
    )
    _no_twins([visit.id for visit in visits], "visits", "id", "This id stands twice.")
    points = [*homes, *(_at(raw["at"]) for raw in document["visits"])]
    minutes = _read_minutes(document, points)
    weights = Weights(**{k: float(v) for k, v in document.get("weights", {}).items()})
    instance = Instance(shifts, visits, minutes, weights)
    try:
        check_agreed(instance)
    except BadInstance as fault:
        index = [visit.id for visit in visits].index(fault.key)
        place = pointer(("visits", index, "booked"))
        raise BadDocument(place, fault.sentence) from fault
    return instance


def _no_twins(keys: Sequence[Any], part: str, key: str, sentence: str) -> None:
    seen = set()
    for i, one in enumerate(keys):
        if one in seen:
            raise BadDocument(pointer((part, i, key)), sentence)
        seen.add(one)


def _at(raw: Sequence[float]) -> tuple[float, float]:
    return float(raw[0]), float(raw[1])


def _read_shift(raw: dict[str, Any], home: int, *path: str | int) -> Shift:
    start, end = _minute(raw["start"]), _minute(raw["end"])
    if end < start:
        raise BadDocument(pointer((*path, "end")), "The day ends before it starts.")
    return Shift(
        day=_day(raw["day"], *path, "day"),
        farrier=raw["farrier"],
        start=start,
        end=end,
        leaves_from=home,
        break_minutes=int(raw.get("break_minutes", 0)),
    )


def _read_visit(raw: dict[str, Any], place: int, *path: str | int) -> Visit:
    earliest, target, latest = (
        _day(raw[key], *path, key) for key in ("earliest", "target", "latest")
    )
    if not earliest <= target <= latest:
        raise BadDocument(
            pointer((*path, "target")), "The target lies outside earliest and latest."
        )
    treat = raw.get("farriers")
    return Visit(
        id=raw["id"],
        place=place,
        minutes=int(raw["minutes"]),
        earliest=earliest,
        target=target,
        latest=latest,
        setup_minutes=int(raw.get("setup_minutes", 0)),
        weight=float(raw.get("weight", 1)),
        hours=_read_hours(raw["hours"], *path, "hours") if "hours" in raw else None,
        finish_by={
            WEEKDAYS.index(key): _minute(text)
            for key, text in raw.get("finish_by", {}).items()
        },
        not_on=frozenset(
            _day(text, *path, "not_on", i)
            for i, text in enumerate(raw.get("not_on", []))
        ),
        farriers=None if treat is None else frozenset(treat),
        booked=_read_booking(raw["booked"], *path) if "booked" in raw else None,
        site=_at(raw["at"]),
    )


def _read_booking(raw: dict[str, Any], *path: str | int) -> Booking:
    return Booking(
        day=_day(raw["day"], *path, "booked", "day"),
        start=_minute(raw["start"]),
        farrier=raw["farrier"],
        status=raw.get("status", "agreed"),
    )


def _read_hours(
    raw: dict[str, Any], *path: str | int
) -> dict[int, tuple[tuple[int, int], ...]]:
    found: dict[int, tuple[tuple[int, int], ...]] = {}
    for key, spans in raw.items():
        joined: list[tuple[int, int]] = []
        read = [(_minute(a), _minute(b)) for a, b in spans]
        for i, (opens, closes) in enumerate(read):
            if closes < opens:
                place = pointer((*path, key, i))
                raise BadDocument(place, "These hours end before they start.")
        for opens, closes in sorted(read):
            if joined and opens <= joined[-1][1]:
                joined[-1] = joined[-1][0], max(joined[-1][1], closes)
            else:
                joined.append((opens, closes))
        found[WEEKDAYS.index(key)] = tuple(joined)
    return found


def _read_minutes(document: dict[str, Any], points: list[tuple[float, float]]) -> Any:
    if "travel" not in document:
        return estimate_matrix([Position(*point) for point in points]).minutes
    rows, n = document["travel"]["minutes"], len(points)
    if len(rows) != n:
        raise BadDocument(
            "/travel/minutes",
            f"{len(rows)} rows, but {n} places: the homes, then the visits.",
        )
    for i, row in enumerate(rows):
        if len(row) != n:
            place = pointer(("travel", "minutes", i))
            raise BadDocument(place, f"{len(row)} numbers, but {n} places.")
        for j, value in enumerate(row):
            number = isinstance(value, int | float) and not isinstance(value, bool)
            if not number or not 0 <= value <= 1440:
                place = pointer(("travel", "minutes", i, j))
                raise BadDocument(place, "A drive has 0 to 1440 minutes.")
    return [[float(value) for value in row] for row in rows]


def _day(text: str, *path: str | int) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise BadDocument(
            pointer(path), f"{text} is no day of the calendar."
        ) from fault


def _minute(text: str) -> int:
    return int(text[:2]) * 60 + int(text[3:])


# --- writing --------------------------------------------------------------------------


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _tidy(value: float) -> float | int:
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded


def _round(one: TimedRound) -> dict[str, Any]:
    rest = {} if one.break_start is None else {"break": _clock(one.break_start)}
    return {
        "day": one.day.isoformat(),
        "farrier": one.farrier,
        "stops": [
            {
                "id": stop.id,
                "arrive": _clock(stop.arrive),
                "start": _clock(stop.start),
                "end": _clock(stop.end),
            }
            for stop in one.stops
        ],
        **rest,
        "home": _clock(one.home_at),
        "drive_minutes": _tidy(one.drive_minutes),
        "work_minutes": _tidy(one.work_minutes),
        "wait_minutes": _tidy(one.wait_minutes),
    }


def _left(instance: Instance, plan: Plan, id_: str) -> dict[str, Any]:
    why = why_left(instance, plan, id_)
    return {"id": id_, "reason": why.sentence, "code": why.code, "mend": why.mend}


def _cost(cost: Cost) -> dict[str, Any]:
    return {
        "drive": _tidy(cost.drive),
        "days": _tidy(cost.days),
        "dates": _tidy(cost.dates),
        "left_over": _tidy(cost.left_over),
        "moved": _tidy(cost.moved),
        "total": _tidy(cost.total),
    }
