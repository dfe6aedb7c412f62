"""Cutting a barn's due horses into visits: pure."""

from datetime import date
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.planner.weeks import Shift, Weights
from scheduling.weeks.jobs import (
    ONE_MORE_VISIT,
    DueAnimal,
    cut,
    date_cost,
    longest_visit,
)
from scheduling.weeks.world import Job, JobHorse


def animal(key, earliest, target, latest, minutes=45, **over):
    return DueAnimal(key, earliest, target, latest, minutes, **over)


def keys(pieces):
    return [[horse.key for horse in piece.horses] for piece in pieces]


def test_horses_due_in_one_week_are_attended_together():
    pieces = cut([animal(n, 0, 5 + n, 14) for n in range(3)], most_minutes=400)
    assert keys(pieces) == [[0, 1, 2]]
    (piece,) = pieces
    assert (piece.earliest, piece.target, piece.latest) == (0, 6, 14)
    assert piece.minutes == 135


def test_windows_that_share_no_day_are_cut_apart():
    pieces = cut([animal(1, 0, 2, 4), animal(2, 10, 12, 14)], most_minutes=400)
    assert keys(pieces) == [[1], [2]]


def test_a_visit_too_long_for_a_day_is_cut_and_a_horse_alone_never_lost():
    pieces = cut([animal(n, 0, 5, 14, 60) for n in range(5)], most_minutes=130)
    assert sorted(len(piece.horses) for piece in pieces) == [1, 2, 2]
    assert keys(cut([animal(1, 0, 5, 14, 500)], most_minutes=130)) == [[1]]


def test_who_may_be_treated_by_others_only_is_a_visit_of_its_own():
    rows = [
        animal(1, 0, 5, 14),
        animal(2, 0, 5, 14, may_treat=frozenset({7})),
        animal(3, 0, 5, 14, needs_two=True),
    ]
    assert sorted(keys(cut(rows, most_minutes=400))) == [[1], [2], [3]]


def test_the_dates_cost_what_the_planner_says():
    """By planner.md's formula, worked by hand: 0.5 a day early; 2·n·(1 + n/10) late."""
    one = animal(1, 0, 10, 20)
    assert date_cost(one, 6, Weights()) == 2.0
    assert date_cost(one, 10, Weights()) == 0.0
    assert date_cost(one, 15, Weights()) == 2 * 5 * 1.5


def test_a_day_holds_the_morning_or_the_afternoon_beside_a_break():
    """8:00–17:00 with half an hour off, a barn 20 minutes away, 10 to set up: from 8:30
    to the latest start of a break at 13:30 are 300 minutes, and from 12:10 (break from
    11:30, set up) to 16:40, 270."""
    day = Shift(date(2026, 3, 2), "1", 480, 1020, 0, break_minutes=30)
    assert longest_visit([day], drive=20, setup=10) == 300
    free = Shift(date(2026, 3, 2), "1", 480, 1020, 0)
    assert longest_visit([free], drive=20, setup=10) == 490
    assert longest_visit([], drive=20, setup=10) == 60


def test_a_window_out_of_order_is_refused():
    with pytest.raises(ValueError, match="in this order"):
        animal(1, 5, 4, 10)


HORSES = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 9), st.integers(0, 9)),
    min_size=1,
    max_size=5,
).map(
    lambda rows: [
        animal(n, start, start + a, start + a + b)
        for n, (start, a, b) in enumerate(rows)
    ]
)


@settings(max_examples=60, deadline=None)
@given(HORSES)
def test_no_cut_of_the_row_is_cheaper(rows):
    """Against all cuts of the sorted row, tried out one by one."""
    row = sorted(rows, key=lambda a: (a.target, a.latest, a.key))
    pieces = cut(rows, most_minutes=10_000)
    assert sorted(h.key for p in pieces for h in p.horses) == [a.key for a in rows]

    def cost(group):
        first = max(a.earliest for a in group)
        last = min(a.latest for a in group)
        days = range(first, last + 1)
        return min(
            (sum(date_cost(a, day, Weights()) for a in group) for day in days),
            default=float("inf"),
        )

    def total(groups):
        return sum(cost(group) + ONE_MORE_VISIT for group in groups)

    places = range(1, len(row))
    all_cuts = [
        [row[a:b] for a, b in zip((0, *at), (*at, len(row)), strict=True)]
        for n in range(len(row))
        for at in combinations(places, n)
    ]
    best = min(total(groups) for groups in all_cuts)
    assert total([list(p.horses) for p in pieces]) == pytest.approx(best)


def test_a_visit_is_as_late_as_the_latest_of_its_horses():
    days = [date(2026, 3, day) for day in (2, 4, 10, 20)]
    long_due, fresh = (
        JobHorse(key, name, earliest, target, days[3])
        for key, name, earliest, target in (
            (1, "Rollo", days[0], days[1]),
            (2, "Wren", days[1], days[2]),
        )
    )
    job = Job("b1", 1, "Low Barn", (fresh, long_due))
    assert job.off(date(2026, 3, 6)) == 2  # Rollo's, though Wren is early
    assert job.off(date(2026, 3, 1)) == -3
