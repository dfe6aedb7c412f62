"""Shortest drives over a road graph: scipy's Dijkstra on arrays, no database.

A place is put on the nearest junction; what lies between (the barn's own lane) is
driven at walking-horse pace and counted with it. Only the largest part of the graph in
which every junction reaches every other is kept, so that a car park drawn apart from
its road never swallows a barn. No turn costs: a few seconds a crossing, which the
practice's own pace makes up for.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from practice.geo import EARTH_RADIUS_METRES, Position

LANE_KM_PER_HOUR: Final = 20
"""From the nearest junction to the gate. Ours."""
LANE_CIRCUITY: Final = 1.3
FARTHEST_METRES: Final = 5_000
"""A place farther than this from every road of the map lies outside it."""


@dataclass(frozen=True, eq=False)
class RoadGraph:
    """Junctions and the stretches between them, one way each.

    lat, lon: degrees of each junction. start, end: indexes. seconds, metres: of each
    stretch; at most one stretch from one junction to another.
    """

    lat: NDArray[np.float64]
    lon: NDArray[np.float64]
    start: NDArray[np.int32]
    end: NDArray[np.int32]
    seconds: NDArray[np.float32]
    metres: NDArray[np.float32]

    def save(self, path: Path) -> None:
        """Writes it compressed; degrees in ten-millionths, as OpenStreetMap has them."""
        np.savez_compressed(
            path,
            lat=np.rint(self.lat * 1e7).astype(np.int32),
            lon=np.rint(self.lon * 1e7).astype(np.int32),
            start=self.start,
            end=self.end,
            seconds=self.seconds,
            metres=self.metres,
        )

    @classmethod
    def load(cls, path: Path) -> "RoadGraph":
        """Reads what `save` wrote. Raises OSError or ValueError."""
        with np.load(path, allow_pickle=False) as kept:
            return cls(
                lat=kept["lat"] / 1e7,
                lon=kept["lon"] / 1e7,
                start=kept["start"],
                end=kept["end"],
                seconds=kept["seconds"],
                metres=kept["metres"],
            )


def graph_of(
    lat: NDArray[np.float64],
    lon: NDArray[np.float64],
    start: NDArray[np.int32],
    end: NDArray[np.int32],
    seconds: NDArray[np.float32],
    metres: NDArray[np.float32],
) -> RoadGraph:
    """The graph of these stretches: the quickest of parallel ones, loops left out, the
    largest strongly connected part alone. Raises ValueError when nothing is left."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    real = start != end
    order = np.lexsort((seconds[real], end[real], start[real]))
    columns = [column[real][order] for column in (start, end, seconds, metres)]
    pair = columns[0].astype(np.int64) * len(lat) + columns[1]
    first = np.concatenate([[True], pair[1:] != pair[:-1]])[: len(pair)]
    start, end, seconds, metres = (column[first] for column in columns)
    if not len(start):
        raise ValueError("There is no road in it.")
    shape = (len(lat), len(lat))
    links = coo_array((np.ones(len(start)), (start, end)), shape=shape).tocsr()
    _, part = connected_components(links, directed=True, connection="strong")
    largest = np.bincount(part).argmax()
    kept = part == largest
    if kept.sum() < 2:
        raise ValueError("Its roads don't hang together.")
    number = np.cumsum(kept) - 1
    inside = kept[start] & kept[end]
    return RoadGraph(
        lat=lat[kept],
        lon=lon[kept],
        start=number[start[inside]].astype(np.int32),
        end=number[end[inside]].astype(np.int32),
        seconds=seconds[inside].astype(np.float32),
        metres=metres[inside].astype(np.float32),
    )


def drives(
    graph: RoadGraph,
    sources: Sequence[Position],
    destinations: Sequence[Position],
    *,
    go_on: Callable[[], bool] = lambda: True,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Seconds and metres of the quickest drives, sources by destinations; NaN for a
    place that no road of the map comes near, and for what was stopped."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    count = len(graph.lat)
    # A zero would be no stretch at all in a sparse array.
    weights = np.maximum(graph.seconds, 1e-3).astype(np.float64)
    links = csr_array((weights, (graph.start, graph.end)), shape=(count, count))
    tree = _tree(graph)
    from_junction, from_seconds, from_metres = _snapped(graph, tree, sources)
    to_junction, to_seconds, to_metres = _snapped(graph, tree, destinations)
    seconds = np.full((len(sources), len(destinations)), np.nan)
    metres = np.full((len(sources), len(destinations)), np.nan)
    for row, junction in enumerate(from_junction):
        if junction < 0:
            continue
        if not go_on():
            break
        time, before = dijkstra(
            links, directed=True, indices=int(junction), return_predecessors=True
        )
        way = _metres_along(graph, before)
        seconds[row] = from_seconds[row] + time[to_junction] + to_seconds
        metres[row] = from_metres[row] + way[to_junction] + to_metres
    seconds[:, to_junction < 0] = np.nan
    metres[np.isnan(seconds)] = np.nan
    return seconds, metres


def _metres_along(graph: RoadGraph, before: NDArray[np.int32]) -> NDArray[np.float64]:
    """Metres of the quickest way to each junction, by doubling the steps back."""
    last = before[graph.end] == graph.start
    total = np.zeros(len(graph.lat))
    total[graph.end[last]] = graph.metres[last]
    root = len(graph.lat)
    step = np.append(np.where(before < 0, root, before), root)
    total = np.append(total, 0.0)
    while (step != root).any():
        total = total + total[step]
        step = step[step]
    return total[:-1]


def _tree(graph: RoadGraph) -> Any:
    from scipy.spatial import cKDTree

    return cKDTree(_on_sphere(graph.lat, graph.lon))


def _snapped(
    graph: RoadGraph, tree: Any, points: Sequence[Position]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """The nearest junction of each point (−1: none), seconds and metres to it."""
    if not points:
        return np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0)
    there = _on_sphere(
        np.array([point.lat for point in points]),
        np.array([point.lon for point in points]),
    )
    chord, nearest = tree.query(there)
    metres = chord * LANE_CIRCUITY
    seconds = metres / 1000 / LANE_KM_PER_HOUR * 3600
    found = np.where(chord > FARTHEST_METRES, -1, nearest).astype(np.int64)
    return found, seconds, metres


def _on_sphere(
    lat: NDArray[np.float64], lon: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Points in metres; over a few kilometres the chord is the distance."""
    up, round_ = np.radians(lat), np.radians(lon)
    flat = np.cos(up)
    return EARTH_RADIUS_METRES * np.stack(
        [flat * np.cos(round_), flat * np.sin(round_), np.sin(up)], axis=-1
    )
