"""The quickest ways over real roads, against a reckoning of our own hand.

The roads are OpenStreetMap's (tests/reference/roads, ODbL). The other reckoning knows
nothing of junctions, arrays or the largest connected part: each node as it stands in
the file, a heap and dictionaries (Dijkstra 1959). Only what the tags mean is shared.
"""

import heapq
import math
import random
from itertools import pairwise
from pathlib import Path

import osmium
import pytest

from practice.geo import Position
from scheduling.travel.extract import directions, read_extract, speed_of
from scheduling.travel.roads import drives

ROADS = Path(__file__).parent / "roads" / "helsinki.osm.pbf"


def seconds_over(a, b, speed):
    (lat_a, lon_a), (lat_b, lon_b) = a, b
    up_a, up_b = math.radians(lat_a), math.radians(lat_b)
    h = (
        math.sin((up_b - up_a) / 2) ** 2
        + math.cos(up_a)
        * math.cos(up_b)
        * math.sin(math.radians(lon_b - lon_a) / 2) ** 2
    )
    return 2 * 6_371_000 * math.asin(math.sqrt(h)) / speed * 3.6


def nodes_and_links():
    place = {
        node.id: (node.location.lat, node.location.lon)
        for node in osmium.FileProcessor(str(ROADS), osmium.osm.NODE)
    }
    links = {}
    for way in osmium.FileProcessor(str(ROADS), osmium.osm.WAY):
        speed = speed_of(way.tags)
        if speed is None:
            continue
        onward, back = directions(way.tags)
        for a, b in pairwise(node.ref for node in way.nodes):
            if a in place and b in place:
                took = seconds_over(place[a], place[b], speed)
                if onward:
                    links.setdefault(a, []).append((b, took))
                if back:
                    links.setdefault(b, []).append((a, took))
    return place, links


def quickest(links, start):
    best, heap = {}, [(0.0, start)]
    while heap:
        took, node = heapq.heappop(heap)
        if node not in best:
            best[node] = took
            for other, more in links.get(node, ()):
                heapq.heappush(heap, (took + more, other))
    return best


def test_drives_over_real_roads_are_those_of_another_reckoning():
    graph = read_extract(ROADS)
    assert len(graph.lat) > 500
    place, links = nodes_and_links()
    named = {(round(lat, 6), round(lon, 6)): key for key, (lat, lon) in place.items()}
    chance = random.Random(7)  # noqa: S311  # repeatable, no secret
    points = [
        Position(float(graph.lat[i]), float(graph.lon[i]))
        for i in chance.sample(range(len(graph.lat)), 12)
    ]
    seconds, metres = drives(graph, points, points)
    for row, start in enumerate(points):
        best = quickest(links, named[round(start.lat, 6), round(start.lon, 6)])
        for column, end in enumerate(points):
            truth = best[named[round(end.lat, 6), round(end.lon, 6)]]
            assert seconds[row, column] == pytest.approx(truth, rel=1e-5, abs=1e-3)
            # No road is shorter than the crow's flight, nor quicker than its best class.
            assert metres[row, column] / max(seconds[row, column], 1e-9) < 100 / 3.6
