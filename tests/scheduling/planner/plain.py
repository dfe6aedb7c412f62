"""A second, plain reading of the rules and the cost, apart from the planner's code.

Slow and by the book: every order, every leg for the break, dates from the calendar. It
takes the planner's dataclasses and nothing else of it.
"""

from datetime import date, timedelta
from itertools import pairwise, permutations, product
from math import ceil


def drive_of(instance, a, b):
    return float(instance.minutes[a][b])


def spans_on(visit, day):
    """Spans of the start of work on this day, or [] when it may not be."""
    spans = [(0, 2880)]
    if visit.hours is not None:
        spans = list(visit.hours.get(day.weekday(), ()))
    if day.weekday() in visit.finish_by:
        over = visit.finish_by[day.weekday()]
        spans = [(a, min(b, over - visit.minutes)) for a, b in spans]
    if visit.booked is not None and visit.booked.status == "agreed":
        spans = [
            (max(a, visit.booked.start), min(b, visit.booked.start)) for a, b in spans
        ]
    return [(a, b) for a, b in spans if a <= b]


def horizon(instance):
    days = [shift.day for shift in instance.shifts]
    return min(days), max(days)


def last_day_of(instance, visit):
    first, last = horizon(instance)
    return last if visit.latest < first else visit.latest


def may(instance, visit, shift):
    if visit.farriers is not None and shift.farrier not in visit.farriers:
        return False
    if visit.people > shift.people or shift.day in visit.not_on:
        return False
    if not visit.earliest <= shift.day <= last_day_of(instance, visit):
        return False
    booked = visit.booked
    if booked is not None and booked.status == "agreed":
        return (booked.day, booked.farrier) == (shift.day, shift.farrier)
    return True


def keeps(instance, shift, order):
    """Whether the visits can be attended in this order under every rule."""
    if not all(may(instance, visit, shift) for visit in order):
        return False
    most = float("inf") if shift.capacity is None else shift.capacity
    if sum(visit.load for visit in order) > most + 1e-9:
        return False
    if not order:
        return True
    needs = shift.break_minutes > 0 and shift.start <= 13 * 60 + 30
    for leg in range(-1, len(order) + 1 if needs else 0):
        home = _home(instance, shift, order, leg)
        if home is None or home > shift.end:
            continue
        if leg == -1 and needs and home >= 13 * 60 + 30:
            continue
        return True
    return False


def _home(instance, shift, order, leg):
    """When the round is home with the break on this leg (-1: none); None if it can't."""
    time, place, site = shift.start, shift.leaves_from, None
    home = shift.leaves_from if shift.returns_to is None else shift.returns_to
    for i, visit in enumerate([*order, None]):
        goal = home if visit is None else visit.place
        arrive = time + ceil(round(drive_of(instance, place, goal), 6))
        if i == leg:
            if time > 13 * 60 + 30:
                return None
            arrive = max(arrive, 11 * 60 + 30) + shift.break_minutes
        if visit is None:
            return arrive
        at = ("place", visit.place) if visit.site is None else ("site", visit.site)
        ready = arrive if at == site else arrive + visit.setup_minutes
        later = [
            max(ready, a) for a, b in spans_on(visit, shift.day) if max(ready, a) <= b
        ]
        if not later:
            return None
        time, place, site = min(later) + visit.minutes, visit.place, at
    return None


def date_cost(instance, visit, day):
    off = day.toordinal() - visit.target.toordinal()
    if off < 0:
        return instance.weights.early * visit.weight * -off
    span = max(1, (last_day_of(instance, visit) - visit.target).days)
    return instance.weights.late * visit.weight * off * (1 + off / span)


def left_cost(instance, visit):
    w, last = instance.weights, horizon(instance)[1]
    latest = last_day_of(instance, visit)
    if latest <= last:
        return max(
            w.left_over + w.left_over_each * visit.weight,
            w.left_over_late * date_cost(instance, visit, latest),
        )
    after = date.fromordinal(last.toordinal() + 1)
    if visit.earliest <= after <= latest:
        return w.beyond + date_cost(instance, visit, after)
    return w.beyond


def cost_on(instance, visit, shift):
    """Date and move of a visit on a shift."""
    w, booked = instance.weights, visit.booked
    price = {"pencilled": w.pencilled, "asked": w.asked, "agreed": 0, None: 0}
    stays = booked and (booked.day, booked.farrier) == (shift.day, shift.farrier)
    moved = 0 if stays else price[booked and booked.status]
    return date_cost(instance, visit, shift.day) + moved


def cost(instance, orders):
    """The total of orders: a list of visits for each shift."""
    w = instance.weights
    total, attended = 0.0, set()
    for shift, order in zip(instance.shifts, orders, strict=True):
        if not order:
            continue
        home = shift.leaves_from if shift.returns_to is None else shift.returns_to
        stops = [shift.leaves_from, *(visit.place for visit in order), home]
        for a, b in pairwise(stops):
            total += w.drive * drive_of(instance, a, b)
        total += w.day
        for visit in order:
            attended.add(visit.id)
            total += cost_on(instance, visit, shift)
    return total + sum(
        left_cost(instance, visit)
        for visit in instance.visits
        if visit.id not in attended
    )


def best(instance):
    """The least cost of all plans there are that keep every rule."""
    found = float("inf")
    shifts = range(len(instance.shifts))
    for where in product([*shifts, None], repeat=len(instance.visits)):
        groups = [
            [v for v, s in zip(instance.visits, where, strict=True) if s == shift]
            for shift in shifts
        ]
        fixed = [v for v in instance.visits if v.fixed]
        if any(v.id not in {u.id for g in groups for u in g} for v in fixed):
            continue
        ways = [
            [
                order
                for order in permutations(group)
                if keeps(instance, shift, list(order))
            ]
            for shift, group in zip(instance.shifts, groups, strict=True)
        ]
        if all(ways):
            shortest = [
                min(way, key=lambda order, s=s: _driven(instance, s, order))
                for s, way in zip(instance.shifts, ways, strict=True)
            ]
            found = min(found, cost(instance, shortest))
    return found


def _driven(instance, shift, order):
    home = shift.leaves_from if shift.returns_to is None else shift.returns_to
    stops = [shift.leaves_from, *(visit.place for visit in order), home]
    return sum(drive_of(instance, a, b) for a, b in pairwise(stops))


def shifted(day, weeks):
    return day + timedelta(weeks * 7)
