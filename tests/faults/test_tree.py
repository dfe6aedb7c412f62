"""``manage.py up``: one tree, that is kept running and dies as one."""

import os
import signal
import socket
import subprocess
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.conftest import Installation, hear, kill_tree, running, until

pytestmark = [pytest.mark.slow, pytest.mark.once]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _answers(port: int) -> bool:
    try:
        urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5).close()
    except urllib.error.HTTPError:
        return True
    except OSError:
        return False
    return True


def _parent(pid: int) -> int:
    """Whose child it is; 0 when it has just ended."""
    try:
        status = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8")
    except OSError:
        return 0
    return int(status.rpartition(")")[2].split()[1])


class Up:
    """A started ``up`` and what the tests ask of it."""

    def __init__(self, installation: Installation) -> None:
        self.installation = installation
        self.port = _free_port()
        self.process = installation.start(
            "manage.py", "up", "--empty", "--port", str(self.port)
        )
        hear(self.process, "ready", seconds=120)

    def processes(self) -> dict[int, str]:
        return running(self.installation.data)

    def child(self, name: str) -> int:
        """The direct child that runs ``name``."""
        for pid, line in self.processes().items():
            if f"-m {name}" in line and _parent(pid) == self.process.pid:
                return pid
        return 0


@pytest.fixture
def up(installation: Installation) -> Iterator[Up]:
    if not Path("/proc/self/environ").exists():
        pytest.skip("counts processes in /proc, which only Linux has")
    started = Up(installation)
    yield started
    for pid in started.processes():
        os.kill(pid, signal.SIGKILL)
    kill_tree(started.process)


def test_a_killed_supervisor_leaves_no_orphans(up: Up) -> None:
    until(lambda: len(up.processes()) == 5)  # itself, web and its worker, worker, beat
    os.kill(up.process.pid, signal.SIGKILL)
    up.process.wait()
    until(lambda: not up.processes())


def test_even_with_its_children_killed_beside_it_no_orphans_are_left(up: Up) -> None:
    until(lambda: len(up.processes()) == 5)
    parents = (up.process.pid, up.child("granian"), up.child("celery"))
    for pid in parents:
        os.kill(pid, signal.SIGKILL)
    up.process.wait()
    until(lambda: not up.processes())


def _stops(up: Up, word: signal.Signals) -> None:
    """Told to stop, all end and the port is free."""
    os.kill(up.process.pid, word)
    assert up.process.wait(timeout=30) == 0
    assert up.processes() == {}
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind(("127.0.0.1", up.port))


def test_a_killed_child_is_started_again_and_pages_come(up: Up) -> None:
    for name in ("granian", "celery"):
        first = until(lambda name=name: up.child(name))
        os.kill(first, signal.SIGKILL)
        until(lambda name=name, first=first: up.child(name) not in (0, first))
    until(lambda: _answers(up.port))
    _stops(up, signal.SIGINT)


def test_a_second_up_on_the_same_folder_says_where_the_first_runs(up: Up) -> None:
    done = up.installation.run("manage.py", "up", "--port", str(_free_port()))
    assert done.returncode == 2
    assert (
        f"already runs on this data folder at http://localhost:{up.port}" in done.stderr
    )
    assert len(done.stderr.splitlines()) == 1
    _stops(up, signal.SIGTERM)


def test_a_taken_port_is_one_clear_line(installation: Installation) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = installation.run("manage.py", "up", "--port", port)
    assert done.returncode == 2
    assert done.stderr.startswith(f"Port {port} at 127.0.0.1 is not free")
    assert len(done.stderr.splitlines()) == 1


def test_a_folder_that_can_not_be_written_is_one_clear_line(
    installation: Installation, tmp_path: Path
) -> None:
    file = tmp_path / "a file"
    file.write_text("", encoding="utf-8")
    below = str(file / "data")
    done = installation.run("manage.py", "up", CLENCHLINE_DATA=below)
    assert done.returncode == 2
    assert done.stderr.startswith(f"The data folder {below} can't be written")
    assert len(done.stderr.splitlines()) == 1


def test_a_database_that_does_not_answer_is_one_clear_line(
    installation: Installation,
) -> None:
    nowhere = "postgres://clenchline@127.0.0.1:1/clenchline"
    done = installation.run("manage.py", "prepare", CLENCHLINE_DATABASE_URL=nowhere)
    assert done.returncode == 2
    assert done.stderr.startswith("CommandError: The database does not answer")
    assert len(done.stderr.splitlines()) == 1


def test_a_bad_variable_is_one_clear_line(installation: Installation) -> None:
    done: subprocess.CompletedProcess[str] = installation.run(
        "manage.py", "up", CLENCHLINE_EMAIL_PORT="many"
    )
    assert done.returncode == 2
    assert done.stderr == "CLENCHLINE_EMAIL_PORT is 'many': write a whole number\n"
