"""Workers killed at the worst moments: nothing is lost, and 'twice' is visible."""

import random
import time

import pytest

from tests.faults.conftest import Installation, hear, kill_tree, until

ACTS = ("-m", "tests.faults.acts")
ONCE = ("manage.py", "send", "--once")


def _killed_at(
    installation: Installation, word: str, *command: str, **more: str
) -> None:
    """Starts it, waits for its word, and kills it."""
    process = installation.start(*command, **more)
    hear(process, word)
    kill_tree(process)


def test_a_mail_claimed_by_a_killed_worker_is_sent_by_the_next(
    installation: Installation,
) -> None:
    installation.run(*ACTS, "mail", "1")
    _killed_at(installation, "claimed", *ACTS, "claim")
    assert installation.states() == {"claimed": 1}
    installation.run(*ONCE)
    assert installation.mails() == []  # the lease still holds
    installation.let_leases_run_out()
    installation.run(*ONCE)
    assert installation.states() == {"sent": 1}
    assert installation.mails() == ["Subject: Number 0"]


@pytest.mark.parametrize(
    ("word", "mailbox", "gone"),
    [("before", "StallsBeforeSending", 0), ("after", "StallsAfterSending", 1)],
)
def test_a_mail_handed_over_by_a_killed_worker_is_shown_as_unsure_and_not_repeated(
    installation: Installation, word: str, mailbox: str, gone: int
) -> None:
    installation.run(*ACTS, "mail", "1")
    backend = f"tests.faults.acts.{mailbox}"
    _killed_at(installation, word, *ONCE, FAULTS_MAILBOX=backend)
    installation.let_leases_run_out()
    installation.run(*ACTS, "jobs", "1")  # a sweep has something to claim
    installation.run(*ONCE)
    assert installation.states() == {"unsure": 1, "sent": 1}
    assert len(installation.mails()) == gone


def test_the_last_mail_of_a_killed_worker_becomes_unsure_with_nothing_else_to_do(
    installation: Installation,
) -> None:
    installation.run(*ACTS, "mail", "1")
    backend = "tests.faults.acts.StallsAfterSending"
    _killed_at(installation, "after", *ONCE, FAULTS_MAILBOX=backend)
    installation.let_leases_run_out()
    installation.run(*ONCE)
    assert installation.states() == {"unsure": 1}


def test_two_workers_at_once_do_each_job_once(installation: Installation) -> None:
    installation.run(*ACTS, "jobs", "120")
    workers = [installation.start(*ACTS, "drain") for _ in range(2)]
    for worker in workers:
        hear(worker, "ready")
    for worker in workers:
        assert worker.stdin is not None
        worker.stdin.write("go\n")
        worker.stdin.flush()
    for worker in workers:
        assert worker.wait(timeout=60) == 0
    rows = installation.ask(
        "SELECT object_id FROM practice_change WHERE label='faults'"
    )
    assert sorted(int(row[0]) for row in rows) == list(range(120))
    assert installation.states() == {"sent": 120}


@pytest.mark.slow
def test_the_worker_tree_killed_in_the_middle_again_and_again_does_each_job_once(
    installation: Installation,
) -> None:
    chance = random.Random(7)  # noqa: S311 -- when to kill, not a secret
    left = []
    for turn in range(1, 5):
        done = installation.states().get("sent", 0)
        worker = installation.start(
            "-W", "ignore:You're running", "-m", "celery", "-q", "-A", "practice.celery",
            "worker", "-B", "-P", "solo", "-l", "ERROR",
            "--schedule", str(installation.data / "beat"),
        )  # fmt: skip
        installation.run(*ACTS, "jobs", str(turn * 60))  # sixty new ones, and the bell
        until(lambda done=done: installation.states().get("sent", 0) > done)
        time.sleep(chance.uniform(0.0, 0.3))
        kill_tree(worker)
        states = installation.states()
        left.append(states.get("ready", 0) + states.get("claimed", 0))
        installation.let_leases_run_out()
    assert sum(left) > 0, "every kill came too late to prove anything"
    while installation.states().keys() != {"sent"}:
        assert installation.run(*ONCE).stdout != "0 done\n"
    rows = installation.ask(
        "SELECT object_id FROM practice_change WHERE label='faults'"
    )
    assert sorted(int(row[0]) for row in rows) == list(range(240))
