"""Reading a road map and the drives over it: time and memory, on a made-up county.

    .venv/bin/python tests/benchmarks/read_roads.py [SIDE] [PLACES]

Writes an extract of SIDE × SIDE crossings, 150 m apart, with nine bends between two of
them (so about 18 nodes a crossing), and as many buildings as there are bends, which
have to be skipped; reads it as the worker does; asks for the drives between PLACES
places. Each step runs in a process of its own, whose peak of memory is its own.

The last measured table stands at the end of this file.
"""

import multiprocessing
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

BENDS = 9
STEP = 0.00135


def say(line: str) -> None:
    sys.stdout.write(line + "\n")


def write(path: str, side: int) -> None:
    import osmium

    node, way = osmium.osm.mutable.Node, osmium.osm.mutable.Way
    kinds = ["residential", "unclassified", "tertiary", "secondary"]
    with osmium.SimpleWriter(path, overwrite=True) as writer:
        ways = []
        key = side * side
        for i in range(side):
            for j in range(side):
                at = (-3 + j * STEP * 1.8, 55 + i * STEP)
                writer.add_node(node(id=1 + i * side + j, location=at))
        for i in range(side):
            for j in range(side):
                for di, dj in ((0, 1), (1, 0)):
                    if i + di >= side or j + dj >= side:
                        continue
                    line = [1 + i * side + j]
                    for bend in range(1, BENDS + 1):
                        key += 1
                        part = bend / (BENDS + 1)
                        lon = -3 + (j + dj * part) * STEP * 1.8
                        lat = 55 + (i + di * part) * STEP
                        writer.add_node(node(id=key, location=(lon, lat)))
                        line.append(key)
                    line.append(1 + (i + di) * side + j + dj)
                    ways.append((line, {"highway": kinds[(i + j) % 4]}))
                    ways.append((line[:5], {"building": "yes"}))
        for number, (line, tags) in enumerate(ways, start=1):
            writer.add_way(way(id=number, nodes=line, tags=tags))


def read(path: str, kept: str) -> str:
    from scheduling.travel.extract import read_extract

    graph = read_extract(Path(path))
    graph.save(Path(kept))
    return f"{len(graph.lat)} junctions, {len(graph.start)} stretches"


def ask(kept: str, side: int, places: int) -> str:
    from practice.geo import Position
    from scheduling.travel.roads import RoadGraph, drives

    chance = random.Random(1)  # noqa: S311  # repeatable, no secret
    points = [
        Position(
            55 + chance.random() * side * STEP, -3 + chance.random() * side * STEP * 1.8
        )
        for _ in range(places)
    ]
    seconds, _ = drives(RoadGraph.load(Path(kept)), points, points)
    return f"{(seconds == seconds).sum()} drives known"


def step(name: str, task, *args) -> None:
    def run(pipe) -> None:
        begin, cpu = time.monotonic(), time.process_time()
        said = task(*args) or ""
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        pipe.send((time.monotonic() - begin, time.process_time() - cpu, peak, said))

    mine, other = multiprocessing.Pipe()
    process = multiprocessing.get_context("fork").Process(target=run, args=(other,))
    process.start()
    wall, cpu, peak, said = mine.recv()
    process.join()
    say(f"| {name} | {wall:.1f} s | {cpu:.1f} s | {peak:.0f} MB | {said} |")


def main() -> None:
    side = int(sys.argv[1]) if len(sys.argv) > 1 else 220
    places = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    with tempfile.TemporaryDirectory() as folder:
        path, kept = f"{folder}/a.osm.pbf", f"{folder}/a.npz"
        write(path, side)
        size = Path(path).stat().st_size / 2**20
        say(f"{side} × {side} crossings, {size:.1f} MB of .osm.pbf\n")
        say("| step | clock | processor | peak memory | |\n|---|---|---|---|---|")
        step("read and keep", read, path, kept)
        say(f"| kept file | | | {Path(kept).stat().st_size / 2**20:.1f} MB on disk | |")
        step(f"{places} × {places} drives", ask, kept, side, places)


if __name__ == "__main__":
    main()

# Last measured (25 Nov 2026, two shared cores, nice -n 10, Python 3.11.7), 220 and 200:
#
# 220 × 220 crossings, 1.4 MB of .osm.pbf (regular, so it packs far better than a real
# one); 915,000 nodes
#
# | step | clock | processor | peak memory | |
# |---|---|---|---|---|
# | read and keep | 20.9 s | 10.9 s | 175 MB | 48400 junctions, 192720 stretches |
# | kept file | | | 0.3 MB on disk | |
# | 200 × 200 drives | 5.6 s | 3.6 s | 85 MB | 40000 drives known |
