"""Invented regions: barns in clustered villages, their windows, hours and bookings.

The same for the same arguments. All figures are invented (ours, no source), meant to be
like a rural practice: 1–9 horses a barn, 20–50 minutes a horse, windows of some three
weeks, most barns always open.
"""

import math
import random
from dataclasses import replace
from datetime import date, timedelta

from practice.geo import Position
from scheduling.driving import estimate_matrix
from scheduling.planner.judge import time_shift
from scheduling.planner.sheet import Sheet
from scheduling.planner.weeks import Booking, Instance, Shift, Visit, Weights

MONDAY = date(2026, 3, 2)
CENTRE = Position(55.60, -2.80)
SIDE_KM = 70.0


def at(x_km: float, y_km: float) -> Position:
    """A place so many kilometres east and north of the region's centre."""
    lat = CENTRE.lat + y_km / 111.2
    return Position(lat, CENTRE.lon + x_km / (111.2 * math.cos(math.radians(lat))))


def working_days(count: int) -> list[date]:
    """Mondays to Fridays from MONDAY on."""
    days = (MONDAY + timedelta(n) for n in range(count * 2))
    return [day for day in days if day.weekday() < 5][:count]


def positions(rng: random.Random, barns: int) -> list[Position]:
    """Six of seven barns in villages (one for eight barns), the rest anywhere."""
    half = SIDE_KM / 2

    def anywhere() -> tuple[float, float]:
        return rng.uniform(-half, half), rng.uniform(-half, half)

    villages = [anywhere() for _ in range(max(1, barns // 8))]
    found = []
    for _ in range(barns):
        x, y = anywhere()
        if rng.random() > 0.15:
            village = rng.choice(villages)
            x, y = rng.gauss(village[0], 1.5), rng.gauss(village[1], 1.5)
        found.append(at(x, y))
    return found


def access(rng: random.Random) -> dict[int, tuple[tuple[int, int], ...]] | None:
    """60 % always open, 25 % one span a day, 15 % by weekday with closed days."""
    kind = rng.random()
    if kind < 0.60:
        return None
    if kind < 0.85:
        opens = rng.choice([7, 8, 9, 10, 12, 13]) * 60
        closes = opens + rng.choice([120, 180, 240, 360])
        return dict.fromkeys(range(7), ((opens, closes),))
    spans = [((480, 720),), ((780, 1020),), ((480, 1020),)]
    days = rng.sample(range(5), rng.randint(2, 4))
    return {weekday: rng.choice(spans) for weekday in sorted(days)}


def region(
    barns: int,
    days: int,
    farriers: int,
    seed: int,
    *,
    weights: Weights | None = None,
    break_minutes: int = 30,
    booked: float = 0.25,
    near: bool = False,
) -> Instance:
    """A region of so many barns, each with one visit.

    `booked`: the share with a booking, two fifths of them agreed and kept together
    possible, the others pencilled or asked. `near`: targets within the horizon, so
    that nearly every visit can be planned.
    """
    rng = random.Random(f"{barns}x{days}x{farriers}s{seed}")  # noqa: S311 (a region, no secret)
    calendar = working_days(days)
    names = "abc"[:farriers]
    homes = [at(rng.uniform(-15, 15), rng.uniform(-15, 15)) for _ in names]
    places = [*homes, *positions(rng, barns)]
    shifts = tuple(
        Shift(day, name, 480, 1050, f, break_minutes=break_minutes)
        for day in calendar
        for f, name in enumerate(names)
    )
    visits = []
    for b in range(barns):
        horses = min(9, 1 + int(rng.expovariate(0.8)))
        each = rng.randint(20, 50)
        late = days if near else days * 7 // 5 + 10
        target = calendar[0] + timedelta(rng.randint(-6, late))
        earliest, latest = target - timedelta(7), target + timedelta(12)
        treat = None
        if farriers > 1 and rng.random() < 0.2:
            treat = frozenset(rng.sample(names, farriers - 1))
        visits.append(
            Visit(
                id=f"b{b}",
                place=farriers + b,
                minutes=min(420, horses * each),
                earliest=earliest,
                target=target,
                latest=latest,
                setup_minutes=10,
                weight=horses,
                hours=access(rng),
                farriers=treat,
            )
        )
    minutes = estimate_matrix(tuple(places)).minutes
    bare = Instance(shifts, tuple(visits), minutes, weights or Weights())
    return _with_bookings(rng, bare, booked)


def _with_bookings(rng: random.Random, bare: Instance, share: float) -> Instance:
    sheet = Sheet(bare)
    visits = list(bare.visits)
    agreed: dict[int, list[int]] = {}
    for v in range(sheet.n):
        open_shifts = [s for s in range(sheet.m) if sheet.allow[v][s]]
        if rng.random() >= share or not open_shifts:
            continue
        s = rng.choice(open_shifts)
        order = [*agreed.get(s, []), v]
        if not sheet.fits(s, order):
            continue
        shift = sheet.shifts[s]
        ids = [sheet.visits[u].id for u in order]
        start = time_shift(bare, shift.day, shift.farrier, ids).stops[-1].start
        status = rng.choice(["agreed", "agreed", "pencilled", "pencilled", "asked"])
        if status == "agreed":
            before, sheet.windows[v][s] = sheet.windows[v][s], ((start, start),)
            if not sheet.fits(s, order):
                sheet.windows[v][s] = before
                continue
            agreed[s] = order
        booking = Booking(shift.day, start, shift.farrier, status)
        visits[v] = replace(visits[v], booked=booking)
    return Instance(bare.shifts, tuple(visits), bare.minutes, bare.weights)
