"""The bell, with a real Celery worker on each broker: rows go out without a sweep."""

import uuid

import pytest
import redis

from tests.faults.conftest import Installation, until

# It is the brokers that differ here; rows claimed on either database: test_outbox_killed.
pytestmark = pytest.mark.once
WORKER = (
    "-W", "ignore:You're running", "-m", "celery", "-q", "-A", "practice.celery",
    "worker", "-P", "solo", "-l", "ERROR",
)  # fmt: skip


def _rings_and_is_heard(installation: Installation, **more: str) -> None:
    """No beat is started, so that nothing but the bell can wake the worker."""
    worker = installation.start(*WORKER, **more)
    done = installation.run("-m", "tests.faults.acts", "mail", "3", **more)
    assert done.returncode == 0, done.stderr
    until(lambda: installation.states() == {"sent": 3})
    assert len(installation.mails()) == 3
    assert worker.poll() is None


def test_the_worker_hears_the_bell_on_files(installation: Installation) -> None:
    _rings_and_is_heard(installation)


@pytest.mark.redis
def test_the_worker_hears_the_bell_on_redis(
    installation: Installation, redis_url: str
) -> None:
    queue = f"faults-{uuid.uuid4().hex}"
    _rings_and_is_heard(
        installation, CLENCHLINE_REDIS_URL=redis_url, FAULTS_QUEUE=queue
    )
    with redis.Redis.from_url(redis_url) as server:
        for key in server.scan_iter(match=f"*{queue}*"):
            server.delete(key)


def test_with_no_broker_the_row_stands_and_the_page_does_not_fail(
    installation: Installation,
) -> None:
    nowhere = "redis://127.0.0.1:1/0"  # tcpmux: nothing listens
    done = installation.run(
        "-m", "tests.faults.acts", "mail", "1", CLENCHLINE_REDIS_URL=nowhere
    )
    assert done.returncode == 0, done.stderr
    assert "the bell did not ring" in done.stderr
    assert installation.states() == {"ready": 1}
