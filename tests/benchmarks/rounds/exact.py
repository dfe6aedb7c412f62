"""The proven optimum of tiny regions: every round that can be, chosen by CP-SAT.

For each shift all sets of visits that some order keeps are listed with their least
driving (a search over sets and last visits, told apart from the planner's code by the
clock alone: earliest time without the break, and with it over); CP-SAT then chooses one
set a shift, no visit twice. Its answer is proven for the whole problem.
"""

from math import ceil, inf

from ortools.sat.python import cp_model

from scheduling.planner.weeks import BREAK_FROM, BREAK_UNTIL, Instance
from tests.scheduling.planner import plain

SCALE = 10_000


def columns(instance: Instance, shift) -> dict[frozenset[int], float]:
    """Least minutes of driving by set of visits that the shift can keep."""
    may = [
        v
        for v, visit in enumerate(instance.visits)
        if plain.may(instance, visit, shift)
    ]
    rest = shift.break_minutes if shift.start <= BREAK_UNTIL else 0
    layer = {(frozenset(), -1): [(0.0, shift.start, inf)]}
    found: dict[frozenset[int], float] = {}
    while layer:
        following: dict = {}
        for (done, last), labels in layer.items():
            for v in may:
                if v not in done:
                    new = [
                        label
                        for old in labels
                        if (label := _extended(instance, shift, rest, old, last, v))
                    ]
                    if new:
                        key = (done | {v}, v)
                        following[key] = _undominated(following.get(key, []) + new)
        for (done, last), labels in following.items():
            for label in labels:
                driven = _home(instance, shift, rest, label, last)
                found[done] = min(found.get(done, inf), driven)
        layer = following
    return {done: driven for done, driven in found.items() if driven < inf}


def _extended(instance, shift, rest, label, last, v):
    driven, time, over = label
    visit = instance.visits[v]
    before = None if last < 0 else instance.visits[last]
    start = shift.leaves_from if before is None else before.place
    drive = float(instance.minutes[start][visit.place])
    clock = ceil(round(drive, 6))
    arrive = over + clock
    if rest and time <= BREAK_UNTIL:
        arrive = min(arrive, max(time + clock, BREAK_FROM) + rest)
    same = before is not None and (before.site or before.place) == (
        visit.site or visit.place
    )
    setup = 0 if same else visit.setup_minutes
    spans = plain.spans_on(visit, shift.day)
    times = [_ended(spans, t + setup, visit.minutes) for t in (time + clock, arrive)]
    return None if min(times) == inf else (driven + drive, *times)


def _ended(spans, ready, minutes):
    return min((max(a, ready) for a, b in spans if ready <= b), default=inf) + minutes


def _home(instance, shift, rest, label, last):
    driven, time, over = label
    drive = float(instance.minutes[instance.visits[last].place][shift.home])
    clock = ceil(round(drive, 6))
    home = time + clock
    if rest and home >= BREAK_UNTIL:
        home = over + clock
        if time <= BREAK_UNTIL:
            home = min(home, max(time + clock, BREAK_FROM) + rest)
    return driven + drive if home <= shift.end else inf


def _undominated(labels):
    kept = []
    for label in sorted(labels):
        if not any(all(a <= b for a, b in zip(k, label, strict=True)) for k in kept):
            kept.append(label)
    return kept


def optimum(instance: Instance) -> float:
    """The least cost there is; raises where CP-SAT can't prove it."""
    model = cp_model.CpModel()
    goal, of_visit = [], {v: [] for v in range(len(instance.visits))}
    left = [plain.left_cost(instance, visit) for visit in instance.visits]
    for shift in instance.shifts:
        mine = []
        for done, driven in columns(instance, shift).items():
            cost = instance.weights.drive * driven + instance.weights.day
            for v in sorted(done):
                one = plain.cost_on(instance, instance.visits[v], shift)
                cost += one - left[v]
            chosen = model.new_bool_var("")
            mine.append(chosen)
            for v in done:
                of_visit[v].append(chosen)
            goal.append(round(cost * SCALE) * chosen)
        model.add_at_most_one(mine)
    for v, chosen in of_visit.items():
        if instance.visits[v].fixed:
            model.add_exactly_one(chosen)
        else:
            model.add_at_most_one(chosen)
    model.minimize(sum(goal))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return solver.objective_value / SCALE + sum(left)
