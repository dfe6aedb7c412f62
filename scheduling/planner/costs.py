"""What a plan costs, in minutes of driving: the parts that belong to one visit. Pure.

The one definition that every engine, the judge and ``reckon rounds`` share:

- drive: `drive` a minute; days: `day` for each round driven
- dates: a visit of weight w on day d, n days after target: late·w·n·(1 + n / max(1,
  latest − target)); n days before it: early·w·n. Outside [earliest, latest] it may
  not be. A visit whose latest day is past on the first day keeps its target and gets
  the horizon's last day as its latest
- left over, latest within the horizon: left_over + left_over_each·w, or
  left_over_late times the late cost at latest, whichever is more; else beyond + what
  the next calendar day after the horizon would cost (nothing outside the window)
- moved: `pencilled` or `asked` for such a booking put on another day or farrier

All of it ours; no source.
"""

from datetime import date, timedelta

from scheduling.planner.weeks import Instance, Shift, Visit, Weights


def latest_of(instance: Instance, visit: Visit) -> date:
    """The latest day on which the visit may be: its own, or the horizon's last day
    where its own was past when the horizon began."""
    first, last = instance.first_day, instance.last_day
    if first is not None and last is not None and visit.latest < first:
        return last
    return visit.latest


def date_cost(visit: Visit, day: date, latest: date, weights: Weights) -> float:
    """What the day is off the target, priced. Window and calendar are not asked."""
    days = (day - visit.target).days
    if days <= 0:
        return weights.early * visit.weight * -days
    span = max(1, (latest - visit.target).days)
    return weights.late * visit.weight * days * (1 + days / span)


def late_cost(days: float, span: float, weights: Weights) -> float:
    """What one horse costs so many days after its target, `span` days from target to
    latest."""
    late = max(0.0, days)
    return weights.late * late * (1 + late / max(1.0, span))


def move_cost(visit: Visit, shift: Shift, weights: Weights) -> float:
    """What putting a booked visit on this shift costs; nothing where it stands."""
    booked = visit.booked
    if booked is None or booked.status == "agreed":
        return 0.0
    if (booked.day, booked.farrier) == shift.key:
        return 0.0
    return weights.asked if booked.status == "asked" else weights.pencilled


def wish_cost(visit: Visit, shift: Shift, weights: Weights) -> float:
    """What wishes that this shift does not meet cost; nothing unless priced."""
    cost = 0.0
    if visit.prefers is not None and visit.prefers != shift.farrier:
        cost += weights.other_farrier
    if visit.area is not None and shift.area is not None and visit.area != shift.area:
        cost += weights.other_area
    return cost


def left_over_cost(instance: Instance, visit: Visit) -> float:
    """What leaving the visit out of the horizon costs."""
    weights, last = instance.weights, instance.last_day
    latest = latest_of(instance, visit)
    if last is None or latest <= last:
        late = date_cost(visit, latest, latest, weights)
        flat = weights.left_over + weights.left_over_each * visit.weight
        return max(flat, weights.left_over_late * late)
    following = last + timedelta(days=1)
    if visit.earliest <= following <= latest:
        return weights.beyond + date_cost(visit, following, latest, weights)
    return weights.beyond
