"""The world that weeks are proposed for: an instance of the planner, with the names of
what stands behind its ids, as JSON and back.

Pure. The travel matrix is kept apart, as the bytes of two arrays: as JSON it would be
ten times the size and a second to read.
"""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from scheduling.planner.weeks import (
    Booking,
    Instance,
    Plan,
    Round,
    Shift,
    Visit,
    Weights,
)

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class JobHorse:
    """A horse of a job: key, name, and its own window when the world was read."""

    key: int
    name: str
    earliest: date
    target: date
    latest: date


@dataclass(frozen=True, slots=True)
class Job:
    """What stands behind a visit of the planner: a barn, its horses, a booking if any."""

    id: str
    barn: int
    name: str
    horses: tuple[JobHorse, ...]
    booking: str | None = None
    status: str = ""
    area: str = ""

    @property
    def is_fixed(self) -> bool:
        """Agreed: it stays on its day, at its time."""
        return self.status == "agreed"

    def off(self, day: date) -> int:
        """By how many days the latest of its horses would be late; below 0: how many
        the least early would be early."""
        return max(((day - horse.target).days for horse in self.horses), default=0)


@dataclass(frozen=True, slots=True)
class Outside:
    """A barn, or a day, that the planner could not take in, and the sentence why."""

    name: str
    sentence: str
    horses: tuple[str, ...] = ()
    barn: int | None = None


@dataclass(frozen=True, slots=True)
class World:
    """An instance with its names. ``metres`` goes with ``instance.minutes``.

    ``places``: latitude and longitude by index; ``farriers``: names by key.
    """

    instance: Instance
    jobs: Mapping[str, Job]
    metres: np.ndarray
    places: tuple[tuple[float, float], ...]
    farriers: Mapping[str, str]
    first: date
    last: date
    outside: tuple[Outside, ...] = ()

    def present(self) -> Plan:
        """The plan as it is booked now: bookings by day and farrier, in their order."""
        rows = [
            (visit.booked.day, visit.booked.farrier, visit.booked.start, visit.id)
            for visit in self.instance.visits
            if visit.booked is not None
        ]
        rounds: dict[tuple[date, str], list[str]] = {}
        for day, farrier, _, key in sorted(rows):
            rounds.setdefault((day, farrier), []).append(key)
        return Plan.of(rounds)


# --- plans -----------------------------------------------------------------------------


def plan_to_json(plan: Plan) -> list[Json]:
    """A plan in a few kilobytes: a row a round."""
    return [
        {"day": one.day.isoformat(), "farrier": one.farrier, "visits": list(one.visits)}
        for one in plan.rounds
        if one.visits
    ]


def plan_from_json(rows: Sequence[Json]) -> Plan:
    """The plan that ``plan_to_json`` wrote."""
    return Plan(
        tuple(
            Round(date.fromisoformat(row["day"]), row["farrier"], tuple(row["visits"]))
            for row in rows
        )
    )


# --- travel ------------------------------------------------------------------------------


def travel_to_bytes(minutes: np.ndarray, metres: np.ndarray) -> bytes:
    """Minutes (to 65 535) and metres of every drive, packed."""
    sink = io.BytesIO()
    np.savez_compressed(
        sink,
        minutes=np.minimum(minutes, 65_535).astype(np.uint16),
        metres=metres.astype(np.uint32),
    )
    return sink.getvalue()


def travel_from_bytes(packed: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Minutes and metres again, as whole numbers that may be added up."""
    with np.load(io.BytesIO(bytes(packed)), allow_pickle=False) as held:
        return held["minutes"].astype(np.int64), held["metres"].astype(np.int64)


# --- the world ---------------------------------------------------------------------------


def world_to_json(world: World) -> Json:
    """Everything but the travel."""
    instance = world.instance
    return {
        "first": world.first.isoformat(),
        "last": world.last.isoformat(),
        "weights": {
            name: getattr(instance.weights, name) for name in Weights.__slots__
        },
        "places": [list(place) for place in world.places],
        "farriers": dict(world.farriers),
        "shifts": [_shift_to_json(shift) for shift in instance.shifts],
        "visits": [_visit_to_json(v, world.jobs[v.id]) for v in instance.visits],
        "outside": [
            {
                "name": one.name,
                "sentence": one.sentence,
                "horses": list(one.horses),
                "barn": one.barn,
            }
            for one in world.outside
        ],
    }


def world_from_json(told: Json, travel: bytes) -> World:
    """The world that ``world_to_json`` and ``travel_to_bytes`` wrote."""
    minutes, metres = travel_from_bytes(travel)
    jobs = [_job_from_json(row) for row in told["visits"]]
    return World(
        instance=Instance(
            shifts=tuple(_shift_from_json(row) for row in told["shifts"]),
            visits=tuple(_visit_from_json(row) for row in told["visits"]),
            minutes=minutes,
            weights=Weights(**told["weights"]),
        ),
        jobs={job.id: job for job in jobs},
        metres=metres,
        places=tuple((lat, lon) for lat, lon in told["places"]),
        farriers=told["farriers"],
        first=date.fromisoformat(told["first"]),
        last=date.fromisoformat(told["last"]),
        outside=tuple(
            Outside(row["name"], row["sentence"], tuple(row["horses"]), row["barn"])
            for row in told["outside"]
        ),
    )


def without_search_weight(weights: Weights) -> Weights:
    """The weights as they judge: the slider counts in the search alone."""
    return replace(weights, keep_together=1)


def _shift_to_json(shift: Shift) -> Json:
    return {
        "day": shift.day.isoformat(),
        "farrier": shift.farrier,
        "start": shift.start,
        "end": shift.end,
        "leaves_from": shift.leaves_from,
        "returns_to": shift.returns_to,
        "break_minutes": shift.break_minutes,
        "people": shift.people,
        "area": shift.area,
    }


def _shift_from_json(row: Json) -> Shift:
    return Shift(**{**row, "day": date.fromisoformat(row["day"])})


def _visit_to_json(visit: Visit, job: Job) -> Json:
    booked = visit.booked
    return {
        "id": visit.id,
        "place": visit.place,
        "minutes": visit.minutes,
        "earliest": visit.earliest.isoformat(),
        "target": visit.target.isoformat(),
        "latest": visit.latest.isoformat(),
        "setup_minutes": visit.setup_minutes,
        "weight": visit.weight,
        "hours": None
        if visit.hours is None
        else {
            str(day): [list(span) for span in row] for day, row in visit.hours.items()
        },
        "finish_by": {str(day): at for day, at in visit.finish_by.items()},
        "not_on": sorted(day.isoformat() for day in visit.not_on),
        "farriers": None if visit.farriers is None else sorted(visit.farriers),
        "booked": booked
        and [booked.day.isoformat(), booked.start, booked.farrier, booked.status],
        "people": visit.people,
        "prefers": visit.prefers,
        "area": visit.area,
        "barn": job.barn,
        "name": job.name,
        "booking": job.booking,
        "status": job.status,
        "area_name": job.area,
        "horses": [
            [h.key, h.name, *(d.isoformat() for d in (h.earliest, h.target, h.latest))]
            for h in job.horses
        ],
    }


def _visit_from_json(row: Json) -> Visit:
    hours, booked = row["hours"], row["booked"]
    return Visit(
        id=row["id"],
        place=row["place"],
        minutes=row["minutes"],
        earliest=date.fromisoformat(row["earliest"]),
        target=date.fromisoformat(row["target"]),
        latest=date.fromisoformat(row["latest"]),
        setup_minutes=row["setup_minutes"],
        weight=row["weight"],
        hours=None
        if hours is None
        else {
            int(day): tuple((start, end) for start, end in spans)
            for day, spans in hours.items()
        },
        finish_by={int(day): at for day, at in row["finish_by"].items()},
        not_on=frozenset(date.fromisoformat(day) for day in row["not_on"]),
        farriers=None if row["farriers"] is None else frozenset(row["farriers"]),
        booked=booked
        and Booking(
            day=date.fromisoformat(booked[0]),
            start=booked[1],
            farrier=booked[2],
            status=booked[3],
        ),
        people=row["people"],
        prefers=row["prefers"],
        area=row["area"],
        site=row["barn"],
    )


def _job_from_json(row: Json) -> Job:
    return Job(
        id=row["id"],
        barn=row["barn"],
        name=row["name"],
        horses=tuple(
            JobHorse(key, name, *(date.fromisoformat(day) for day in days))
            for key, name, *days in row["horses"]
        ),
        booking=row["booking"],
        status=row["status"],
        area=row["area_name"],
    )
