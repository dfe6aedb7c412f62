"""Numbers without gap or twin, and money counted once, under real concurrency.

Invariants 4 and 5: several processes issue and pay at once, some transactions fail
after their number was taken, one process is killed in the middle.
"""

import hashlib
import subprocess
import uuid

from tests.faults.conftest import Installation, hear, kill_tree, until

ISSUING = ("-m", "tests.faults.issuing")


def together(*processes: subprocess.Popen[str]) -> None:
    """Off at the same moment."""
    for process in processes:
        hear(process, "ready")
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()


def finished(*processes: subprocess.Popen[str]) -> None:
    for process in processes:
        assert process.wait(timeout=60) == 0


def numbers(installation: Installation) -> list[str]:
    sql = "SELECT number FROM billing_invoice WHERE state = 'issued' ORDER BY number"
    return [row[0] for row in installation.ask(sql)]


def without_gap(count: int) -> list[str]:
    return [f"INV-{number:05}" for number in range(1, count + 1)]


def test_fifty_threads_with_a_third_failing_leave_no_gap_and_no_twin(
    installation: Installation,
) -> None:
    """Two processes of 25 threads each, all off at the same moment."""
    assert installation.run(*ISSUING, "draft", "40").returncode == 0
    issuers = [installation.start(*ISSUING, "threads", "25") for _ in range(2)]
    together(*issuers)
    finished(*issuers)
    assert numbers(installation) == without_gap(40)
    mails = "SELECT count(*) FROM practice_message WHERE kind = 'render_invoice'"
    assert installation.ask(mails) == [(40,)]
    booked = "SELECT count(*), sum(amount) FROM billing_ledgerentry"
    assert [tuple(map(float, row)) for row in installation.ask(booked)] == [(40, 4000)]


def test_an_issuer_killed_in_the_middle_leaves_no_gap(
    installation: Installation,
) -> None:
    installation.run(*ISSUING, "draft", "40")
    victim = installation.start(*ISSUING, "issue", "1", "0.25")
    together(victim)
    until(lambda: len(numbers(installation)) >= 3)
    kill_tree(victim)
    given = len(numbers(installation))
    assert numbers(installation) == without_gap(given)
    heir = installation.start(*ISSUING, "issue", "2", "0")
    together(heir)
    finished(heir)
    assert numbers(installation) == without_gap(40)


def test_a_worker_killed_between_number_and_bytes_is_finished_by_the_next_once(
    installation: Installation,
) -> None:
    assert installation.run(*ISSUING, "draft", "1").returncode == 0
    issuer = installation.start(*ISSUING, "issue", "1", "0")
    together(issuer)
    finished(issuer)
    victim = installation.start(*ISSUING, "render")
    together(victim)
    hear(victim, "rendering")
    kill_tree(victim)
    made = "SELECT count(*) FROM billing_rendition"
    assert numbers(installation) == without_gap(1)
    assert installation.ask(made) == [(0,)]
    installation.let_leases_run_out()
    heirs = [installation.start(*ISSUING, "drain") for _ in range(2)]
    together(*heirs)
    finished(*heirs)
    assert installation.ask(made) == [(1,)]
    files = list((installation.data / "documents").rglob("*.pdf"))
    assert len(files) == 1
    ((digest,),) = installation.ask("SELECT sha256 FROM billing_rendition")
    assert hashlib.sha256(files[0].read_bytes()).hexdigest() == digest == files[0].stem


def test_a_month_end_killed_half_way_goes_on_and_issues_none_twice(
    installation: Installation,
) -> None:
    assert installation.run(*ISSUING, "draft", "15").returncode == 0
    assert installation.run(*ISSUING, "month").returncode == 0
    victim = installation.start(*ISSUING, "slowly")
    together(victim)
    until(lambda: len(numbers(installation)) >= 5)
    kill_tree(victim)
    given = len(numbers(installation))
    assert 5 <= given < 15
    assert given % 5 == 0  # whole steps: each is one transaction
    installation.let_leases_run_out()
    heirs = [installation.start(*ISSUING, "slowly") for _ in range(2)]
    together(*heirs)
    finished(*heirs)
    assert numbers(installation) == without_gap(15)
    run = "SELECT issued, at FROM billing_issuerun WHERE ended_at IS NOT NULL"
    assert [tuple(row) for row in installation.ask(run)] == [(15, 15)]


def test_the_same_payments_sent_by_two_at_once_are_counted_once(
    installation: Installation,
) -> None:
    """Ten payments of 30 against two invoices of 100: 200 allocated, 100 over."""
    installation.run(*ISSUING, "draft", "2")
    issuer = installation.start(*ISSUING, "issue", "1", "0")
    together(issuer)
    finished(issuer)
    keys = [str(uuid.uuid4()) for _ in range(10)]
    payers = [
        installation.start(*ISSUING, "pay", *keys),
        installation.start(*ISSUING, "pay", *reversed(keys)),
    ]
    together(*payers)
    finished(*payers)
    paid = installation.ask("SELECT count(*), sum(amount) FROM billing_payment")
    assert [tuple(map(float, row)) for row in paid] == [(10, 300)]
    allocated = installation.ask(
        "SELECT sum(amount) FROM billing_allocation GROUP BY invoice_id"
    )
    assert [float(row[0]) for row in allocated] == [100, 100]
    over = installation.ask(
        "SELECT sum(amount) FROM billing_allocation GROUP BY payment_id"
    )
    assert max(float(row[0]) for row in over) <= 30
