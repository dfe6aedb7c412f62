"""A long job holds no mail up, and its worker killed in the middle doubles nothing."""

import os
from pathlib import Path

import pytest

from tests.faults.conftest import Installation, running, until

pytestmark = [pytest.mark.slow, pytest.mark.once]

ACTS = ("-m", "tests.faults.acts")
WORKER = ("manage.py", "send", "--every", "1")


def _told(installation: Installation) -> tuple[str, int, bool]:
    """State and tries of the proposal, and whether a plan is told."""
    sql = "SELECT state, tries, best IS NOT NULL FROM scheduling_proposal"
    [(state, tries, has_best)] = installation.ask(sql)
    return state, tries, bool(has_best)


def _job(installation: Installation) -> str:
    """The state of its row in the outbox."""
    sql = "SELECT state FROM practice_message WHERE kind = 'propose_weeks'"
    [(state,)] = installation.ask(sql)
    return str(state)


def test_a_worker_killed_in_the_middle_of_a_search_leaves_it_to_the_next(
    installation: Installation,
) -> None:
    if not Path("/proc/self/environ").exists():
        pytest.skip("counts processes in /proc, which only Linux has")
    assert installation.run(*ACTS, "weeks").returncode == 0
    worker = installation.start(*WORKER)
    until(lambda: _told(installation) == ("running", 1, True))
    installation.run(*ACTS, "mail", "1")
    until(installation.mails)  # the search goes on, and holds no mail up
    assert _told(installation) == ("running", 1, True)

    os.kill(worker.pid, 9)  # alone: its long job has to see it
    worker.wait()
    until(lambda: not running(installation.data))
    assert _job(installation) == "claimed"
    installation.let_leases_run_out()
    installation.start(*WORKER)
    until(lambda: _told(installation) == ("running", 2, True))
    installation.ask("UPDATE scheduling_proposal SET stop_asked = true")
    until(lambda: _told(installation)[0] == "ready")
    until(lambda: _job(installation) == "sent")
    assert installation.ask("SELECT count(*) FROM scheduling_booking") == [(0,)]
    assert len(installation.mails()) == 1
