"""Roads out of an OpenStreetMap extract, and the quickest way over them.

The checks come from outside: a Dijkstra of our own on the nodes as written (heap and
dictionaries, nothing of the program), and a straight road whose times are plain sums.
"""

import heapq
import math
from itertools import pairwise

import numpy as np
import osmium
import pytest

from practice.geo import Position
from scheduling.travel import extract
from scheduling.travel.extract import BadExtract, Stopped, read_extract
from scheduling.travel.roads import RoadGraph, drives

SPEED = {"primary": 70, "residential": 30, "tertiary": 50}
SIDE = 7
STEP = 0.004


def place(i, j):
    return 55.5 + i * STEP, -2.9 + j * STEP


def ref(i, j):
    return 1 + i * SIDE + j


def grid_ways():
    """Streets of a grid: rows residential, but row 2 primary; columns tertiary, column
    4 one-way southwards (against its nodes); row 5 lacks its middle; row 6 is slow by
    its sign."""
    ways = []
    for i in range(SIDE):
        nodes = [ref(i, j) for j in range(SIDE)]
        tags = {"highway": "primary" if i == 2 else "residential"}
        if i == 5:
            nodes = nodes[:3]
        if i == 6:
            tags = {"highway": "primary", "maxspeed": "10 mph"}
        ways.append((nodes, tags))
    for j in range(SIDE):
        tags = {"highway": "tertiary"}
        if j == 4:
            tags["oneway"] = "-1"
        ways.append(([ref(i, j) for i in range(SIDE)], tags))
    return ways


def write(path, nodes, ways):
    with osmium.SimpleWriter(str(path), overwrite=True) as writer:
        for key, (lat, lon) in sorted(nodes.items()):
            writer.add_node(osmium.osm.mutable.Node(id=key, location=(lon, lat)))
        for number, (refs, tags) in enumerate(ways, start=1):
            writer.add_way(osmium.osm.mutable.Way(id=number, nodes=refs, tags=tags))
    return path


@pytest.fixture(scope="module")
def grid(tmp_path_factory):
    nodes = {ref(i, j): place(i, j) for i in range(SIDE) for j in range(SIDE)}
    nodes |= {900: (55.51, -2.7), 901: (55.52, -2.7)}  # a car park apart
    ways = [
        *grid_ways(),
        ([900, 901], {"highway": "residential"}),
        ([ref(0, 0), ref(6, 6)], {"highway": "footway"}),
        ([ref(0, 0), ref(6, 6)], {"highway": "primary", "access": "no"}),
        ([ref(0, 0), 77777], {"highway": "primary"}),  # its end lies outside
        ([ref(0, 0), ref(0, 1)], {"highway": "primary"}),  # beside a slower one
    ]
    path = tmp_path_factory.mktemp("roads") / "grid.osm.pbf"
    return read_extract(write(path, nodes, ways))


def metres(a, b):
    (lat_a, lon_a), (lat_b, lon_b) = a, b
    x = math.radians(lon_b - lon_a) * math.cos(math.radians((lat_a + lat_b) / 2))
    return 6_371_000 * math.hypot(math.radians(lat_b - lat_a), x)


def independent(start):
    """Seconds and metres to each node of the grid, by hand."""
    links = {}

    def link(a, b, speed):
        length = metres(place(*divmod(a - 1, SIDE)), place(*divmod(b - 1, SIDE)))
        links.setdefault(a, []).append((b, length / speed * 3.6, length))

    for refs, tags in grid_ways():
        speed = 16.09344 if "maxspeed" in tags else SPEED[tags["highway"]]
        for a, b in pairwise(refs):
            if "oneway" not in tags:
                link(a, b, speed)
            link(b, a, speed)
    link(ref(0, 0), ref(0, 1), 70)
    link(ref(0, 1), ref(0, 0), 70)
    best, heap = {}, [(0.0, 0.0, start)]
    while heap:
        seconds, way, node = heapq.heappop(heap)
        if node in best:
            continue
        best[node] = seconds, way
        for other, more, length in links[node]:
            heapq.heappush(heap, (seconds + more, way + length, other))
    return best


def test_the_quickest_ways_are_those_of_another_reckoning(grid):
    starts = [(0, 0), (3, 4), (6, 6), (5, 4)]
    goals = [(i, j) for i in range(SIDE) for j in range(SIDE)]
    seconds, ways = drives(
        grid,
        [Position(*place(*at)) for at in starts],
        [Position(*place(*at)) for at in goals],
    )
    for row, at in enumerate(starts):
        best = independent(ref(*at))
        for column, goal in enumerate(goals):
            time, way = best[ref(*goal)]
            assert seconds[row, column] == pytest.approx(time, rel=2e-3, abs=0.5)
            assert ways[row, column] == pytest.approx(way, rel=0.02, abs=5)


def test_a_road_apart_swallows_no_place(grid):
    assert len(grid.lat) >= SIDE * SIDE - 6
    assert grid.lon.max() < -2.8  # the car park at −2.7 is gone


def test_a_place_beyond_the_map_is_not_known(grid):
    here, far = Position(*place(0, 0)), Position(56.5, -2.9)
    seconds, ways = drives(grid, [here, far], [here, far])
    assert seconds[0, 0] == 0
    assert np.isnan(seconds[0, 1])
    assert np.isnan(seconds[1]).all()
    assert np.isnan(ways[0, 1])


def test_the_lane_to_the_gate_counts(grid):
    lat, lon = place(3, 3)
    beside = Position(lat + 1000 / 6_371_000 * 180 / math.pi * 0.1, lon)  # 100 m north
    seconds, ways = drives(grid, [Position(lat, lon)], [beside])
    assert ways[0, 0] == pytest.approx(130, abs=1)
    assert seconds[0, 0] == pytest.approx(130 / 20 * 3.6, abs=0.3)


def test_the_graph_is_kept_compactly(grid, tmp_path):
    path = tmp_path / "roads.npz"
    grid.save(path)
    again = RoadGraph.load(path)
    here = [Position(*place(i, 2 * i)) for i in range(3)]
    for one, other in zip(
        drives(grid, here, here), drives(again, here, here), strict=True
    ):
        assert np.allclose(one, other)


def test_asking_may_be_stopped(grid):
    here = [Position(*place(i, i)) for i in range(4)]
    answers = iter([True, False])
    seconds, _ = drives(grid, here, here, go_on=lambda: next(answers))
    assert not np.isnan(seconds[0]).any()
    assert np.isnan(seconds[1:]).all()


def test_a_long_bend_keeps_its_length(tmp_path):
    """Twenty short pieces of one way, each 100 m north, then back beside it."""
    step = 100 / 6_371_000 * 180 / math.pi
    nodes = {n: (55 + n * step, -3.0) for n in range(1, 21)}
    path = write(
        tmp_path / "bend.osm.pbf", nodes, [(list(nodes), {"highway": "residential"})]
    )
    graph = read_extract(path)
    assert 3 <= len(graph.lat) < 20
    seconds, ways = drives(graph, [Position(*nodes[1])], [Position(*nodes[20])])
    assert ways[0, 0] == pytest.approx(1900, rel=1e-3)
    assert seconds[0, 0] == pytest.approx(1900 / 30 * 3.6, rel=1e-3)


def test_what_is_no_extract_is_said(tmp_path):
    bad = tmp_path / "bad.osm.pbf"
    bad.write_bytes(b"no map at all" * 50)
    with pytest.raises(BadExtract, match="download it again"):
        read_extract(bad)
    empty = write(tmp_path / "empty.osm.pbf", {1: (55, -3)}, [])
    with pytest.raises(BadExtract, match="no road"):
        read_extract(empty)
    assert extract.looks_like_extract(empty.read_bytes()[:64])
    assert not extract.looks_like_extract(bad.read_bytes()[:64])


def test_reading_may_be_stopped_and_tells_how_far_it_is(tmp_path):
    nodes = {1: (55.0, -3.0), 2: (55.1, -3.0)}
    path = write(tmp_path / "one.osm.pbf", nodes, [([1, 2], {"highway": "primary"})])
    told = []
    read_extract(path, tell=lambda percent: told.append(percent) or True)
    assert told == sorted(told)
    assert told[-1] == 80
    with pytest.raises(Stopped):
        read_extract(path, tell=lambda percent: percent < 45)


@pytest.mark.parametrize(
    ("tags", "speed"),
    [
        ({"highway": "primary"}, 70),
        ({"highway": "primary_link", "maxspeed": "50"}, 50),
        ({"highway": "residential", "maxspeed": "60 mph"}, 30),
        ({"highway": "tertiary", "maxspeed": "signals"}, 50),
        ({"highway": "service", "access": "private"}, 20),
        ({"highway": "track", "access": "no", "motor_vehicle": "yes"}, 15),
        ({"highway": "track", "motor_vehicle": "forestry"}, None),
        ({"highway": "cycleway"}, None),
        ({"highway": "service", "area": "yes"}, None),
    ],
)
def test_speeds_of_tags(tags, speed):
    assert extract.speed_of(tags) == speed


def test_one_way_roads():
    assert extract.directions({"oneway": "yes"}) == (True, False)
    assert extract.directions({"oneway": "-1"}) == (False, True)
    assert extract.directions({"junction": "roundabout"}) == (True, False)
    assert extract.directions({"highway": "motorway", "oneway": "no"}) == (True, True)
    assert extract.directions({"highway": "primary"}) == (True, True)
