"""Reading the roads out of an OpenStreetMap extract (`.osm.pbf`), in bounded memory.

Two passes: the ways with a `highway` tag, then only those nodes that they use. What is
kept of a way are its ends, its crossings and a point each KEEP_EACH_METRES between
them. Whatever the file says beyond that is never held.

Speeds: by the class of road (a table of ours, below what is allowed, since lanes bend),
or the sign's `maxspeed` where that is lower. Tags as described in OpenStreetMap's wiki,
pages Key:highway, Key:oneway, Key:maxspeed, Key:access.
"""

import re
from array import array
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from practice.geo import EARTH_RADIUS_METRES
from scheduling.travel.roads import RoadGraph, graph_of

SPEEDS: Final[Mapping[str, int]] = {
    "motorway": 100,
    "trunk": 80,
    "primary": 70,
    "secondary": 60,
    "tertiary": 50,
    "unclassified": 45,
    "residential": 30,
    "road": 40,
    "living_street": 15,
    "service": 20,
    "track": 15,
}
"""km/h driven on each class of road; a `_link` counts as its road. Ours."""
KEEP_EACH_METRES: Final = 250.0
MOST_REFERENCES: Final = 40_000_000
"""Nodes along roads: beyond this the file is a country's, not a county's."""
_SHUT: Final = {"no", "agricultural", "forestry", "emergency"}
_MPH: Final = 1.609344

Tell = Callable[[int], bool]
"""Told the percent done; False: stop."""


class BadExtract(ValueError):
    """The file gives no roads; the message says what mends it."""


class Stopped(Exception):
    """Whoever asked does not want it any longer."""


@dataclass
class _Ways:
    """Ways one after the other: node ids, where each way begins, its speeds."""

    refs: "array[int]" = field(default_factory=lambda: array("q"))
    begins: "array[int]" = field(default_factory=lambda: array("q"))
    speeds: "array[float]" = field(default_factory=lambda: array("f"))
    onward: "array[int]" = field(default_factory=lambda: array("b"))
    back: "array[int]" = field(default_factory=lambda: array("b"))


def read_extract(path: Path, *, tell: Tell = lambda _: True) -> RoadGraph:
    """The roads of an extract.

    Raises:
        BadExtract: no OpenStreetMap file, too large, or no road in it.
        Stopped: `tell` said so.
    """
    try:
        ways = _ways(path, tell)
        _go_on(tell, 45)
        if not len(ways.begins):
            raise BadExtract(
                "There is no road in this file: take an extract with everything in it."
            )
        ids, lat, lon = _nodes(path, ways, tell)
    except RuntimeError as error:  # whatever osmium finds wrong with the bytes
        raise BadExtract(
            "This file can't be read as an OpenStreetMap extract (.osm.pbf): "
            "download it again."
        ) from error
    _go_on(tell, 80)
    try:
        return graph_of(*_stretches(ways, ids, lat, lon))
    except ValueError as error:
        raise BadExtract(f"{error} Take an extract with everything in it.") from error


def _go_on(tell: Tell, percent: int) -> None:
    if not tell(percent):
        raise Stopped


# --- the two passes ---------------------------------------------------------------------


def _ways(path: Path, tell: Tell) -> _Ways:
    import osmium

    ways = _Ways()
    reader: Any = osmium.FileProcessor(str(path), osmium.osm.WAY).with_filter(
        osmium.filter.KeyFilter("highway")
    )
    for seen, way in enumerate(reader):
        if seen % 20_000 == 0:
            _go_on(tell, min(40, 2 + seen // 10_000))
        tags = way.tags
        speed = speed_of(tags)
        if speed is None or len(way.nodes) < 2:
            continue
        onward, back = directions(tags)
        ways.begins.append(len(ways.refs))
        ways.refs.extend(node.ref for node in way.nodes)
        ways.speeds.append(speed)
        ways.onward.append(onward)
        ways.back.append(back)
        if len(ways.refs) > MOST_REFERENCES:
            raise BadExtract(
                "This extract is too large: take that of your county or region."
            )
    return ways


def _nodes(
    path: Path, ways: _Ways, tell: Tell
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Ids of the roads' nodes, ascending, with their degrees (NaN: not in the file)."""
    import osmium

    ids = np.unique(np.frombuffer(ways.refs, dtype=np.int64))
    lat, lon = np.full(len(ids), np.nan), np.full(len(ids), np.nan)
    tracker = osmium.IdTracker()
    for ref in ids.tolist():
        tracker.add_node(ref)
    reader: Any = osmium.FileProcessor(str(path), osmium.osm.NODE).with_filter(
        tracker.id_filter()
    )
    for seen, node in enumerate(reader):
        if seen % 50_000 == 0:
            _go_on(tell, 45 + min(34, 34 * seen // max(1, len(ids))))
        at = int(np.searchsorted(ids, node.id))
        if at < len(ids) and ids[at] == node.id and node.location.valid():
            lat[at], lon[at] = node.location.lat, node.location.lon
    return ids, lat, lon


# --- what the tags say --------------------------------------------------------------------


def speed_of(tags: Any) -> float | None:
    """km/h on a way with these tags; None where a van may not or can't drive."""
    kind = tags.get("highway", "").removesuffix("_link")
    usual = SPEEDS.get(kind)
    if usual is None or tags.get("area") == "yes":
        return None
    for key in ("motorcar", "motor_vehicle", "vehicle", "access"):
        value = tags.get(key)
        if value is not None:  # the nearest word about a van decides
            if value in _SHUT:
                return None
            break
    allowed = _sign(tags.get("maxspeed", ""))
    return float(usual) if allowed is None else min(float(usual), allowed)


def _sign(text: str) -> float | None:
    found = re.fullmatch(r"(\d{1,3})(?:\.\d+)?\s*(mph|km/h|kmh)?", text.strip())
    if not found or int(found[1]) < 5:
        return None
    return int(found[1]) * (_MPH if found[2] == "mph" else 1.0)


def directions(tags: Any) -> tuple[bool, bool]:
    """Whether it is driven in the order of its nodes, and against it."""
    said = tags.get("oneway", "")
    if said in ("yes", "true", "1"):
        return True, False
    if said in ("-1", "reverse"):
        return False, True
    implied = (
        tags.get("junction") in ("roundabout", "circular")
        or tags.get("highway") == "motorway"
    )
    return True, not (implied and said != "no")


# --- from ways to stretches ---------------------------------------------------------------


def _stretches(
    ways: _Ways,
    ids: NDArray[np.int64],
    lat: NDArray[np.float64],
    lon: NDArray[np.float64],
) -> tuple[Any, ...]:
    """Junctions and stretches, both ways where both are allowed."""
    node = np.searchsorted(ids, np.frombuffer(ways.refs, dtype=np.int64))
    begins = np.frombuffer(ways.begins, dtype=np.int64)
    way = np.repeat(np.arange(len(begins)), np.diff(np.append(begins, len(node))))
    step = np.zeros(len(node))
    step[1:] = _between(lat[node], lon[node])
    step[begins] = 0.0
    known = ~np.isnan(step) & ~np.isnan(lat[node])
    # A node outside the extract cuts the way there.
    along = np.cumsum(np.where(known, step, 0.0))
    ends = np.append(begins[1:], len(node)) - 1
    keep = np.bincount(node, minlength=len(ids))[node] > 1
    keep[begins], keep[ends] = True, True
    gap = ~known
    keep |= gap | np.append(gap[1:], False) | np.append(False, gap[:-1])
    keep |= _each(along, along[begins][way])
    at = np.flatnonzero(keep)
    first, last = at[:-1], at[1:]
    whole = (way[first] == way[last]) & ~_gap_within(gap, first, last)
    first, last = first[whole], last[whole]
    metres = along[last] - along[first]
    speed = np.frombuffer(ways.speeds, dtype=np.float32)[way[first]]
    seconds = metres / 1000 / speed * 3600
    onward = np.frombuffer(ways.onward, dtype=np.int8)[way[first]] > 0
    back = np.frombuffer(ways.back, dtype=np.int8)[way[first]] > 0
    start = np.concatenate([node[first][onward], node[last][back]])
    end = np.concatenate([node[last][onward], node[first][back]])
    used, numbers = np.unique(np.concatenate([start, end]), return_inverse=True)
    return (
        lat[used],
        lon[used],
        numbers[: len(start)].astype(np.int32),
        numbers[len(start) :].astype(np.int32),
        np.concatenate([seconds[onward], seconds[back]]).astype(np.float32),
        np.concatenate([metres[onward], metres[back]]).astype(np.float32),
    )


def _each(along: NDArray[np.float64], begin: NDArray[np.float64]) -> NDArray[np.bool_]:
    """The first node beyond each further KEEP_EACH_METRES of its way."""
    mark = np.floor((along - begin) / KEEP_EACH_METRES)
    result: NDArray[np.bool_] = np.append(False, mark[1:] > mark[:-1])
    return result


def _gap_within(
    gap: NDArray[np.bool_], first: NDArray[np.int64], last: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Whether a step between first and last is unknown; a node's own flag is that of
    the step to it."""
    upto = np.cumsum(gap)
    result: NDArray[np.bool_] = upto[last] > upto[first]
    return result


def _between(lat: NDArray[np.float64], lon: NDArray[np.float64]) -> NDArray[np.float64]:
    """Great-circle metres from each node to the next."""
    up, round_ = np.radians(lat), np.radians(lon)
    h = (
        np.sin(np.diff(up) / 2) ** 2
        + np.cos(up[:-1]) * np.cos(up[1:]) * np.sin(np.diff(round_) / 2) ** 2
    )
    result: NDArray[np.float64] = (
        2 * EARTH_RADIUS_METRES * np.arcsin(np.minimum(1.0, np.sqrt(h)))
    )
    return result


def looks_like_extract(head: bytes) -> bool:
    """Whether a file that begins like this may be an `.osm.pbf`: its first block is
    named OSMHeader, within the first bytes."""
    return b"OSMHeader" in head[:64]
