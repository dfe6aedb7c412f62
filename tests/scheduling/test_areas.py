"""Barns near each other, what an outline holds, what a newcomer adds to a round.

Checks from outside: UPGMA by hand in plain Python beside scipy's; Shapely's point in
polygon; the day planner's own timing for the cheapest place.
"""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from practice.geo import Position, distance_metres, drive_estimate
from scheduling.areas import around, cheapest, clusters, inside, usual_apart
from scheduling.driving import estimate_matrix
from scheduling.planner.one_day import Call, Day, time_round
from scheduling.running import Course, Leg


def upgma(minutes, apart):
    """Average linkage in plain Python: join the two nearest groups while they are."""
    both = np.maximum(minutes, minutes.T)
    groups = [[i] for i in range(len(both))]
    while len(groups) > 1:
        (a, b), mean = min(
            (
                ((x, y), np.mean([both[i, j] for i in groups[x] for j in groups[y]]))
                for x, y in combinations(range(len(groups)), 2)
            ),
            key=lambda one: one[1],
        )
        if mean > apart:
            break
        groups[a] += groups.pop(b)
    return {frozenset(group) for group in groups}


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("apart", [5, 15, 40])
def test_groups_are_those_of_average_linkage(seed, apart):
    chance = np.random.default_rng(seed)
    minutes = chance.uniform(1, 60, (14, 14))
    np.fill_diagonal(minutes, 0)
    found = clusters(minutes, apart)
    assert {frozenset(one.members) for one in found} == upgma(minutes, apart)


def test_three_valleys_are_three_areas():
    valleys = [(55.6, -2.8), (55.75, -2.4), (55.4, -3.2)]
    places = [
        Position(lat + i / 300, lon + i / 200) for lat, lon in valleys for i in range(4)
    ]
    found = clusters(estimate_matrix(places).minutes, 15)
    assert sorted(sorted(one.members) for one in found) == [
        [0, 1, 2, 3],
        [4, 5, 6, 7],
        [8, 9, 10, 11],
    ]
    assert all(one.middle in (one.members[0],) and one.spread < 15 for one in found)
    assert len(clusters(estimate_matrix(places).minutes, 15, most=2)) == 2
    assert usual_apart(estimate_matrix(places).minutes) == 10


def test_one_place_or_none():
    assert clusters(np.zeros((0, 0), dtype=np.int32), 10) == ()
    (one,) = clusters(np.zeros((1, 1), dtype=np.int32), 10)
    assert (one.members, one.spread) == ((0,), 0)


spot = st.tuples(st.integers(0, 60), st.integers(0, 60)).map(
    lambda at: Position(55.4 + at[0] / 200, -3 + at[1] / 120)
)


@settings(max_examples=40)
@given(st.lists(spot, min_size=1, max_size=5), spot)
def test_the_cheapest_place_is_that_of_the_day_planner(stops, new):
    home = Position(55.55, -2.75)
    day = Day(480, 1020, 0, home)
    calls = [Call(str(i), str(i), at, 60, 10) for i, at in enumerate(stops)]
    plan = time_round(day, calls)
    legs = [Leg(stop.key, stop.key, stop.drive_minutes, 10, 60) for stop in plan.stops]
    every = [home, *stops, home, new]
    last = len(every) - 1

    def minutes(a, b):
        return drive_estimate(every[a], every[b]).minutes

    course = Course(480, 1020, 0, plan.home_minutes)
    joining = cheapest(
        course, legs, range(len(stops) + 2), Leg("new", "new", 0, 10, 45), last, minutes
    )
    newcomer = Call("new", "new", new, 45, 10)
    plans = [
        time_round(day, [*calls[:gap], newcomer, *calls[gap:]])
        for gap in range(len(stops) + 1)
    ]
    added = [one.drive_minutes - plan.drive_minutes for one in plans]
    late = max(0, plan.home_at - day.end)
    fits = [max(0, one.home_at - day.end) <= late for one in plans]
    best = min(range(len(plans)), key=lambda gap: (not fits[gap], added[gap], gap))
    assert (joining.added, joining.after) == (added[best], best)
    assert joining.fits == fits[best]
    assert joining.start == plans[best].stops[best].start


def test_no_known_ends_no_answer():
    leg = Leg("a", "a", 10, 0, 60)
    course = Course(480, 1020, 0, 10)
    new = Leg("n", "n", 0, 0, 30)
    assert cheapest(course, [leg], [None, None, None], new, 0, lambda a, b: 5) is None


SQUARE = tuple(Position(*p) for p in ((55, -3), (56, -3), (56, -2), (55, -2)))


def test_an_outline_holds_what_it_goes_round():
    assert inside(Position(55.5, -2.5), SQUARE)
    assert inside(Position(55.5, -2.5), SQUARE[::-1])
    assert not inside(Position(55.5, -1.9), SQUARE)
    assert not inside(Position(56.1, -2.5), SQUARE)
    # Odd crossings: the notch of a U is outside, and so is what is gone round twice.
    notched = tuple(
        Position(lat, lon)
        for lat, lon in ((0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (2, 2), (2, 3), (0, 3))
    )
    assert not inside(Position(1.5, 1.5), notched)
    assert inside(Position(0.5, 1.5), notched)
    assert not inside(Position(55.5, -2.5), SQUARE * 2)


def test_a_common_edge_is_in_one_of_two_outlines():
    east = tuple(Position(one.lat, one.lon + 1) for one in SQUARE)
    north = tuple(Position(one.lat + 1, one.lon) for one in SQUARE)
    for edge, other in ((Position(55.5, -2), east), (Position(56, -2.5), north)):
        assert inside(edge, SQUARE) != inside(edge, other)


def test_an_outline_across_the_date_line():
    fiji = tuple(
        Position(*p) for p in ((-19, 179), (-16, 179), (-16, -179), (-19, -179))
    )
    assert inside(Position(-17, 180), fiji)
    assert inside(Position(-17, -179.5), fiji)
    assert not inside(Position(-17, -178), fiji)


degrees = st.tuples(st.floats(55, 56), st.floats(-3, -2))


@settings(max_examples=60, deadline=None)
@given(st.lists(degrees, min_size=3, max_size=9, unique=True), degrees)
def test_inside_is_what_shapely_says(corners, at):
    ring = Polygon(corners)
    if not ring.is_valid or ring.exterior.distance(Point(at)) < 1e-9:
        return
    outline = tuple(Position(*corner) for corner in corners)
    assert inside(Position(*at), outline) == ring.contains(Point(at))


@settings(max_examples=30, deadline=None)
@given(st.lists(degrees, min_size=1, max_size=8))
def test_an_outline_round_places_leaves_a_kilometre(spots):
    places = [Position(*spot) for spot in spots]
    outline = around(places)
    assert all(inside(place, outline) for place in places)
    for corner in outline:
        nearest = min(distance_metres(corner, place) for place in places)
        # The plane is that of the first place: a degree off it stretches by some 3 %.
        assert 850 <= nearest <= 1100
    assert len(outline) <= 4 * len(set(places)) + 8


def test_nothing_to_go_round():
    assert around([]) == ()
