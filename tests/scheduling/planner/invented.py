"""Hypothesis: small instances of every kind that the planner takes."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

from scheduling.planner.judge import check_agreed
from scheduling.planner.weeks import BadInstance, Booking, Instance, Shift, Visit

MONDAY = date(2026, 3, 2)
FARRIERS = ("ada", "ben")


def days(first=-5, last=9):
    return st.integers(first, last).map(lambda n: MONDAY + timedelta(n))


def spans():
    def paired(minutes):
        return ((min(minutes), max(minutes)),)

    return st.lists(st.integers(7 * 60, 18 * 60), min_size=2, max_size=2).map(paired)


@st.composite
def shifts(draw, most=3):
    keys = draw(
        st.lists(
            st.tuples(days(0, 4), st.sampled_from(FARRIERS)),
            min_size=1,
            max_size=most,
            unique=True,
        )
    )
    found = []
    for day, farrier in keys:
        start = draw(st.sampled_from([360, 480, 540, 660, 840]))
        end = min(1440, start + draw(st.sampled_from([120, 300, 480, 600])))
        found.append(
            Shift(
                day,
                farrier,
                start,
                end,
                leaves_from=FARRIERS.index(farrier),
                returns_to=draw(st.sampled_from([None, None, 0])),
                break_minutes=draw(st.sampled_from([0, 30, 30, 45])),
                people=draw(st.sampled_from([1, 1, 2])),
                capacity=draw(st.sampled_from([None, None, 3.0])),
            )
        )
    return tuple(found)


@st.composite
def visits(draw, number, place):
    target = draw(days())
    hours = None
    if draw(st.booleans()):
        hours = draw(st.dictionaries(st.integers(0, 4), spans(), max_size=5))
    return Visit(
        id=f"v{number}",
        place=place,
        minutes=draw(st.sampled_from([20, 45, 60, 90, 150, 240])),
        earliest=target - timedelta(draw(st.integers(0, 6))),
        target=target,
        latest=target + timedelta(draw(st.integers(0, 6))),
        setup_minutes=draw(st.sampled_from([0, 10, 15])),
        weight=draw(st.sampled_from([0.0, 1.0, 2.0, 5.0])),
        hours=hours,
        finish_by=draw(
            st.dictionaries(st.integers(0, 4), st.integers(600, 1100), max_size=2)
        ),
        not_on=draw(st.frozensets(days(0, 4), max_size=1)),
        farriers=draw(
            st.sampled_from([None, None, frozenset({"ada"}), frozenset({"ben"})])
        ),
        people=draw(st.sampled_from([1, 1, 1, 2])),
        load=draw(st.sampled_from([0.0, 1.0, 2.0])),
        booked=draw(
            st.none()
            | st.builds(
                Booking,
                days(0, 4),
                st.integers(480, 900),
                st.sampled_from(FARRIERS),
                st.sampled_from(["pencilled", "asked", "agreed"]),
            )
        ),
    )


@st.composite
def instances(draw, most_visits=5, most_shifts=3):
    """Every rule may come up. Agreed bookings that can't be kept are only asked."""
    number = draw(st.integers(0, most_visits))
    points = draw(
        st.lists(
            st.tuples(st.integers(0, 60), st.integers(0, 60)),
            min_size=2 + number,
            max_size=2 + number,
        )
    )
    pace = draw(st.sampled_from([0.0, 0.5, 0.85, 1.0]))
    minutes = [[pace * (abs(a - c) + abs(b - d)) for c, d in points] for a, b in points]
    chosen = []
    for v in range(number):
        place = 2 + draw(st.integers(0, v))  # some at one barn
        chosen.append(draw(visits(v, place)))
    instance = Instance(draw(shifts(most_shifts)), tuple(chosen), minutes)
    return possible(instance)


def possible(instance):
    """The instance with its impossible agreed bookings made to asked ones."""
    while True:
        try:
            check_agreed(instance)
        except BadInstance as fault:
            changed = tuple(
                replace(v, booked=replace(v.booked, status="asked"))
                if v.id == fault.key
                else v
                for v in instance.visits
            )
            instance = replace(instance, visits=changed)
        else:
            return instance
