"""Rounds measured: ours beside other engines, the proven optimum, published instances.

    python -m tests.benchmarks.rounds.run PART [--quick]

PART: regions, tiny, moving, first, solomon, toptw, pcvrptw. Needs what
`requirements-bench.lock` has. Every plan is judged by our evaluator; engines take turns
on one core each, on the same seconds of processor time, so that a busy machine favours
none. OR-Tools and VROOM only know the wall clock: they get as much of it as ours just
needed for the same processor time. Prints Markdown.
"""

import argparse
import os
import resource
import subprocess
import sys
import time
from dataclasses import replace
from statistics import mean, median

from scheduling.planner.judge import evaluate
from scheduling.planner.search import propose
from scheduling.planner.sheet import Sheet
from scheduling.planner.weeks import Booking
from tests.benchmarks.rounds.regions import region

REGIONS = [
    (60, 10, 1, 1),
    (60, 10, 1, 2),
    (60, 20, 2, 1),
    (150, 20, 1, 1),
    (150, 20, 1, 2),
    (150, 10, 2, 1),
    (150, 20, 3, 1),
    (400, 20, 3, 1),
    (400, 20, 3, 2),
]


def say(line: str) -> None:
    """One line on standard output, at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def row(*cells) -> None:
    """One line of a table, at once."""
    say("| " + " | ".join(str(cell) for cell in cells) + " |")


def head(*cells) -> None:
    """The head of a table."""
    row(*cells)
    row(*("---" for _ in cells))


def judged(instance, plan) -> float:
    """The cost of a plan that keeps every rule; infinite of another."""
    verdict = evaluate(instance, plan)
    return verdict.cost.total if verdict.kept else float("inf")


def regions(quick: bool, seconds: list[float], only: int, after: int) -> None:
    """Ours against the peers on generated regions."""
    from tests.benchmarks.rounds import peers

    def ours(instance, sheet, limit):
        return propose(instance, seconds=limit, seed=1, timer=time.process_time)

    def by(engine):
        return lambda instance, sheet, limit: peers.plan_of(sheet, engine(sheet, limit))

    stretch = 1.0

    engines = {"ours": ours, "OR-Tools": by(peers.or_tools), "VROOM": by(peers.vroom_)}
    head("region", "s", "by hand", "greedy", *engines, "ours to the best other, %")
    wins, worst = {}, -1e9
    cases = REGIONS[:1] if quick else REGIONS[after:][: only or None]
    for limit in seconds:
        for case in cases:
            instance = region(*case)
            sheet = Sheet(instance)
            still = [
                round(judged(instance, peers.plan_of(sheet, way(sheet))))
                for way in (peers.by_weekday, peers.greedy)
            ]
            costs = {}
            for name, engine in engines.items():
                wall, used = time.perf_counter(), time.process_time()
                given = limit if name == "ours" else limit * stretch
                costs[name] = judged(instance, engine(instance, sheet, given))
                if name == "ours":
                    used = time.process_time() - used
                    stretch = max(1.0, (time.perf_counter() - wall) / used)
            others = min(costs["OR-Tools"], costs["VROOM"], *still)
            off = 100 * (costs["ours"] / others - 1)
            wins.setdefault(limit, []).append(off <= 1e-9)
            worst = max(worst, off)
            name = "×".join(str(n) for n in case[:3]) + f" seed {case[3]}"
            row(name, limit, *still, *(round(c) for c in costs.values()), f"{off:+.1f}")
    for limit, found in wins.items():
        say(f"At {limit} s ours is best in {sum(found)} of {len(found)}.")
    say(f"Worst against the best other: {worst:+.1f} %.")


def tiny(quick: bool) -> None:
    """Ours against the proven optimum."""
    from tests.benchmarks.rounds.exact import optimum

    head("barns", "seed", "optimum", "ours", "gap, %")
    gaps = []
    for seed in range(1, 3 if quick else 11):
        for barns in (8, 10, 12):
            instance = region(barns, 3, 1, seed, near=True)
            best = optimum(instance)
            found = judged(instance, propose(instance, iterations=4000))
            gap = 100 * (found / best - 1) if best else 0.0
            gaps.append(gap)
            row(barns, seed, f"{best:.1f}", f"{found:.1f}", f"{gap:.2f}")
    say(f"{len(gaps)} cases, worst {max(gaps):.2f} %, mean {mean(gaps):.3f} %.")


def moving(quick: bool) -> None:
    """Replanning after one call-off, the others pencilled where they stood."""
    head("region", "call-offs", "median moved", "most", "median s")
    for case in REGIONS[: 1 if quick else 5]:
        instance = region(*case)
        plan = propose(instance, seconds=5)
        where = {i: one.key for one in plan.rounds for i in one.visits}
        booked = replace(
            instance,
            visits=tuple(
                v
                if v.fixed or v.id not in where
                else replace(
                    v, booked=Booking(where[v.id][0], 480, where[v.id][1], "pencilled")
                )
                for v in instance.visits
            ),
        )
        moved, took = [], []
        for gone in list(where)[:: max(1, len(where) // 10)][:10]:
            rest = replace(
                booked, visits=tuple(v for v in booked.visits if v.id != gone)
            )
            began = time.perf_counter()
            after = propose(rest, start=plan.without(gone), seconds=2)
            took.append(time.perf_counter() - began)
            moved.append(
                sum(after.shift_of(i) != key for i, key in where.items() if i != gone)
            )
        name = "×".join(str(n) for n in case[:3]) + f" seed {case[3]}"
        row(name, len(moved), median(moved), max(moved), f"{median(took):.1f}")


def first(quick: bool) -> None:
    """How soon and in how much memory the largest region is answered."""
    code = "from tests.benchmarks.rounds.run import largest; largest()"
    head("region", "seconds asked", "seconds taken", "memory, MB", "cost", "kept")
    subprocess.run([sys.executable, "-c", code], check=True, env=os.environ)


def largest() -> None:
    """In a process of its own, so that the memory is its own."""
    instance = region(400, 20, 3, 1)
    began = time.perf_counter()
    plan = propose(instance, seconds=3)
    took = time.perf_counter() - began
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    verdict = evaluate(instance, plan)
    cost = round(verdict.cost.total)
    row("400×20×3", 3, f"{took:.1f}", round(memory), cost, verdict.kept)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("part")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seconds", type=float, nargs="*", default=[])
    parser.add_argument("--after", type=int, default=0, help="leave so many out")
    parser.add_argument("--only", type=int, default=0, help="of the rest so many")
    given = parser.parse_args()
    if given.part == "regions":
        limits = given.seconds or ([2] if given.quick else [2, 10, 30])
        regions(given.quick, limits, given.only, given.after)
    elif given.part in ("tiny", "moving", "first"):
        {"tiny": tiny, "moving": moving, "first": first}[given.part](given.quick)
    else:
        from tests.benchmarks.rounds import outside

        limit = (given.seconds or [5])[0]
        outside.PARTS[given.part](limit, given.quick)


if __name__ == "__main__":
    main()
