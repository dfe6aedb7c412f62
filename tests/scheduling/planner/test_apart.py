"""A search in a process of its own: the same plan, stopped when asked, never left alone."""

import time
from multiprocessing import Pipe

import pytest

from scheduling.planner.apart import Apart, BrokeOff, main, searching
from scheduling.planner.ils import BUNDLE
from scheduling.planner.judge import evaluate
from scheduling.planner.search import propose
from tests.benchmarks.rounds.regions import region


@pytest.fixture(scope="module")
def small_region():
    return region(42, 5, 2, seed=1)


def ended(search):
    last = time.monotonic() + 60
    while (plan := search.wait(0.2)) is None:
        assert time.monotonic() < last
    return plan


def test_two_seeds_apart_find_what_they_find_here(small_region):
    said = {"iterations": 2 * BUNDLE, "seed": 5, "workers": 2}
    with searching(small_region, **said) as search:
        found = ended(search)
    assert found == propose(small_region, **said)


def test_one_that_is_stopped_gives_its_best_so_far(small_region):
    with searching(small_region, iterations=10**9) as search:
        while search.latest is None:
            assert search.wait(0.05) is None
        for _ in range(2):
            search.stop()
        found = ended(search)
    verdict = evaluate(small_region, found)
    assert verdict.kept
    assert verdict.cost.total <= search.latest.cost + 1e-6


def test_one_that_nobody_waits_for_any_more_ends(small_region):
    mine, theirs = Pipe()
    mine.send((small_region, {"iterations": 10**9, "workers": 2}))
    mine.close()
    main(theirs)  # seconds, if it searched


def test_one_that_has_died_is_told():
    mine, theirs = Pipe()
    theirs.close()
    with pytest.raises(BrokeOff):
        Apart(mine).wait(60)
