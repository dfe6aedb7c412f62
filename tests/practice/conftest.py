"""Tools of the tests of practice."""

import threading
import time
from collections.abc import Callable

import pytest
from django.db import OperationalError, connections

from practice.errors import Refused


@pytest.fixture
def at_once() -> Callable[[int, Callable[[], object]], int]:
    """``at_once(8, act)``: acts in eight threads at once, each with a connection of its
    own; how many were not refused. For tests with ``transaction=True``.
    """

    def run_all(count: int, act: Callable[[], object]) -> int:
        done: list[int] = []
        start = threading.Barrier(count)

        def run() -> None:
            start.wait()
            while not _acted(act, done):
                time.sleep(0.005)
            connections.close_all()

        threads = [threading.Thread(target=run) for _ in range(count)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return len(done)

    return run_all


def _acted(act: Callable[[], object], done: list[int]) -> bool:
    try:
        act()
    except Refused:
        return True
    except OperationalError as error:
        # SQLite in memory, as tests have it, says so instead of waiting. (A deadlock
        # of PostgreSQL's says "blocked": it is no reason to try again.)
        if "is locked" in str(error):
            return False
        raise
    done.append(1)
    return True
