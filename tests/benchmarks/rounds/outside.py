"""Published instances through the same planner, beside PyVRP's own `solve`.

One day, as many shifts as vehicles; a minute of ours is a tenth of theirs, so that
distances cut to one decimal are whole. Both engines get the same seconds of processor
time on one core, in turns. Sources and licences: `data/SOURCES.md`.
"""

from dataclasses import dataclass
from datetime import date
from math import floor, hypot
from pathlib import Path
from statistics import mean
from time import process_time

import numpy as np
import pyvrp

from scheduling.planner.judge import evaluate
from scheduling.planner.search import propose
from scheduling.planner.weeks import Instance, Shift, Visit, Weights
from tests.benchmarks.rounds.run import head, row, say

DATA = Path(__file__).parent / "data"
DAY = date(2026, 3, 2)
MUST = 100_000.0
"""What leaving one out costs where all have to be served, in tenths."""

SOLOMON = {
    "C101": 827.3, "C104": 822.9, "C106": 827.3, "C201": 589.1, "C204": 588.1,
    "C208": 585.8, "R101": 1637.7, "R104": 971.5, "R105": 1355.3, "R109": 1146.9,
    "R112": 948.6, "R201": 1143.2, "R204": 731.3, "R205": 949.8, "RC101": 1619.8,
    "RC104": 1132.3, "RC105": 1513.7, "RC108": 1114.2, "RC201": 1261.8, "RC204": 783.5,
}  # fmt: skip
TOPTW = [
    ("C101", 1, 320), ("C104", 1, 420), ("R104", 1, 303), ("RC104", 1, 301),
    ("C104", 2, 760), ("R104", 2, 552), ("RC104", 2, 575), ("R109", 3, 710),
    ("C104", 3, 1030), ("R104", 4, 975), ("RC104", 4, 1065), ("C101", 4, 1020),
]  # fmt: skip
PCVRPTW = ("C1_10_1", "C2_10_1", "R1_10_1", "R2_10_1", "RC1_10_1", "RC2_10_1")


@dataclass(frozen=True)
class Published:
    """Row 0 is the depot. All in tenths but the loads."""

    drive: np.ndarray
    load: list[float]
    opens: list[int]
    closes: list[int]
    service: list[int]
    prize: list[float]
    vehicles: int
    capacity: float

    def instance(self, vehicles: int, weights: Weights, *, laden: bool) -> Instance:
        """The same for our planner."""
        capacity = self.capacity if laden else None
        shifts = tuple(
            Shift(DAY, f"v{k:03d}", self.opens[0], self.closes[0], 0, capacity=capacity)
            for k in range(vehicles)
        )
        visits = tuple(
            Visit(
                str(i),
                i,
                self.service[i],
                DAY,
                DAY,
                DAY,
                weight=self.prize[i],
                hours={DAY.weekday(): ((self.opens[i], self.closes[i]),)},
                load=self.load[i] if laden else 0.0,
            )
            for i in range(1, len(self.load))
        )
        return Instance(shifts, visits, self.drive, weights)

    def bare(self, vehicles: int, price: float | None, *, laden: bool) -> object:
        """PyVRP's data. price: of one unit of prize; None: all have to be served."""
        n = len(self.load)
        clients = [
            pyvrp.Client(
                i,
                delivery=[round(self.load[i])] if laden else [],
                service_duration=self.service[i],
                tw_early=self.opens[i],
                tw_late=self.closes[i],
                prize=0 if price is None else round(price * self.prize[i]),
                required=price is None,
            )
            for i in range(1, n)
        ]
        vehicle = pyvrp.VehicleType(
            vehicles,
            capacity=[round(self.capacity)] if laden else [],
            tw_early=self.opens[0],
            tw_late=self.closes[0],
        )
        return pyvrp.ProblemData(
            [pyvrp.Location(0, 0)] * n,
            clients,
            [pyvrp.Depot(0)],
            [vehicle],
            [self.drive],
            [self.drive],
        )


class _Processor:
    """PyVRP stops after so many seconds of processor time, from being made on."""

    def __init__(self, seconds: float) -> None:
        self.until = process_time() + seconds

    def __call__(self, best: float) -> bool:
        return process_time() >= self.until


def _drives(points) -> np.ndarray:
    return np.array(
        [[floor(10 * hypot(a - c, b - d) + 1e-9) for c, d in points] for a, b in points]
    )


def read_solomon(name: str) -> Published:
    """An instance in Solomon's own form."""
    lines = (DATA / "solomon" / f"{name}.txt").read_text().split("\n")
    vehicles, capacity = (int(x) for x in lines[4].split())
    rows = [[float(x) for x in line.split()] for line in lines[9:] if line.strip()]
    return Published(
        drive=_drives([(r[1], r[2]) for r in rows]),
        load=[r[3] for r in rows],
        opens=[round(10 * r[4]) for r in rows],
        closes=[round(10 * r[5]) for r in rows],
        service=[round(10 * r[6]) for r in rows],
        prize=[r[3] for r in rows],
        vehicles=vehicles,
        capacity=capacity,
    )


def read_vrplib(name: str) -> Published:
    """A PCVRPTW instance; prizes are in tenths too."""
    fields: dict[str, str] = {}
    parts: dict[str, list[list[float]]] = {}
    current: list[list[float]] = []
    for line in (DATA / "pcvrptw" / f"{name}.vrp").read_text().split("\n"):
        key, colon, value = line.partition(":")
        if colon:
            fields[key.strip()] = value.strip()
        elif line.strip().endswith("_SECTION"):
            current = parts.setdefault(line.strip(), [])
        elif line.strip() and line.strip() != "EOF":
            current.append([float(x) for x in line.split()])
    service = round(10 * float(fields["SERVICE_TIME"]))
    windows = parts["TIME_WINDOW_SECTION"]
    n = len(windows)
    return Published(
        drive=_drives([(r[1], r[2]) for r in parts["NODE_COORD_SECTION"]]),
        load=[r[1] for r in parts["DEMAND_SECTION"]],
        opens=[round(10 * r[1]) for r in windows],
        closes=[round(10 * r[2]) for r in windows],
        service=[0] + [service] * (n - 1),
        prize=[floor(10 * r[1] + 1e-9) for r in parts["PRIZE_SECTION"]],
        vehicles=int(fields["VEHICLES"]),
        capacity=float(fields["CAPACITY"]),
    )


def best_known(name: str) -> float:
    """The cost in the file of its source, in tenths."""
    text = (DATA / "pcvrptw" / "best_known.txt").read_text()
    return dict(line.split() for line in text.splitlines())[name]


def _judged(instance: Instance, seconds: float):
    verdict = evaluate(instance, propose(instance, seconds=seconds, timer=process_time))
    assert verdict.kept
    return verdict


def solomon(seconds: float, quick: bool) -> None:
    """All served, least distance."""
    head("instance", "best known", "ours", "gap, %", "PyVRP", "gap, %")
    gaps: list[tuple[float, float]] = []
    for name, best in list(SOLOMON.items())[: 3 if quick else None]:
        one = read_solomon(name)
        weights = Weights(day=0, left_over=MUST, left_over_each=0)
        instance = one.instance(one.vehicles, weights, laden=True)
        verdict = _judged(instance, seconds)
        ours = float("inf") if verdict.left_over else verdict.cost.drive / 10
        data = one.bare(one.vehicles, None, laden=True)
        theirs = pyvrp.solve(data, _Processor(seconds), seed=1, collect_stats=False)
        bare = theirs.cost() / 10
        gaps.append((100 * (ours / best - 1), 100 * (bare / best - 1)))
        row(name, best, f"{ours:.1f}", f"{gaps[-1][0]:.2f}", f"{bare:.1f}",
            f"{gaps[-1][1]:.2f}")  # fmt: skip
    _means(gaps)


def toptw(seconds: float, quick: bool) -> None:
    """m rounds, most score; distance breaks ties."""
    head("instance", "m", "best known", "ours", "gap, %", "PyVRP", "gap, %")
    gaps: list[tuple[float, float]] = []
    for name, m, best in TOPTW[: 3 if quick else None]:
        one = read_solomon(name)
        weights = Weights(day=0, left_over=0, left_over_each=1000)
        instance = one.instance(m, weights, laden=False)
        out = {int(i) for i in _judged(instance, seconds).left_over}
        ours = sum(p for i, p in enumerate(one.prize) if i and i not in out)
        data = one.bare(m, 1000, laden=False)
        theirs = pyvrp.solve(data, _Processor(seconds), seed=1, collect_stats=False)
        bare = sum(
            one.prize[1 + stop.idx]
            for route in theirs.best.routes()
            for stop in route.schedule()
            if stop.is_client()
        )
        gaps.append((100 * (1 - ours / best), 100 * (1 - bare / best)))
        row(name, m, best, f"{ours:.0f}", f"{gaps[-1][0]:.2f}", f"{bare:.0f}",
            f"{gaps[-1][1]:.2f}")  # fmt: skip
    _means(gaps)


def pcvrptw(seconds: float, quick: bool) -> None:
    """Distance and what was not collected, with loads."""
    head("instance", "best known", "ours", "gap, %", "PyVRP", "gap, %")
    gaps: list[tuple[float, float]] = []
    for name in PCVRPTW[: 1 if quick else None]:
        one, best = read_vrplib(name), float(best_known(name))
        weights = Weights(day=0, left_over=0, left_over_each=1)
        instance = one.instance(one.vehicles, weights, laden=True)
        ours = _judged(instance, seconds).cost.total
        data = one.bare(one.vehicles, 1, laden=True)
        theirs = pyvrp.solve(data, _Processor(seconds), seed=1, collect_stats=False)
        bare = theirs.cost()
        gaps.append((100 * (ours / best - 1), 100 * (bare / best - 1)))
        row(name, f"{best:.0f}", f"{ours:.0f}", f"{gaps[-1][0]:.2f}", f"{bare:.0f}",
            f"{gaps[-1][1]:.2f}")  # fmt: skip
    _means(gaps)


def _means(gaps: list[tuple[float, float]]) -> None:
    ours, theirs = mean(g[0] for g in gaps), mean(g[1] for g in gaps)
    say(f"Mean gap: ours {ours:.2f} %, PyVRP {theirs:.2f} %; ours is "
        f"{ours - theirs:+.2f} points off.")  # fmt: skip


PARTS = {"solomon": solomon, "toptw": toptw, "pcvrptw": pcvrptw}
