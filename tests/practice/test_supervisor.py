"""The supervisor's own reckoning; real trees are in tests/faults/test_tree.py."""

import socket
import subprocess
import sys
import threading
from types import SimpleNamespace

import pytest

from practice import supervisor
from practice.supervisor import Child

pytestmark = pytest.mark.once


def test_it_stays_small_django_is_never_imported():
    code = "import sys, practice.supervisor; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_child_that_keeps_falling_waits_longer_each_time(monkeypatch):
    now = 1000.0
    monkeypatch.setattr(supervisor.time, "monotonic", lambda: now)
    child = Child("web", ["true"])
    waits = []
    for _ in range(9):
        child.started = now
        child.bury()
        waits.append(child.due - now)
    assert waits == [0.5, 1, 2, 4, 8, 16, 30, 30, 30]


def test_a_child_that_ran_for_long_starts_again_at_once(monkeypatch):
    monkeypatch.setattr(supervisor.time, "monotonic", lambda: 1000.0)
    child = Child("web", ["true"], started=1000.0 - supervisor.STEADY_AFTER_S - 1)
    child.falls = 5
    child.bury()
    assert child.due == 1000.0


def test_a_free_port_is_no_trouble():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    assert supervisor._port_trouble("127.0.0.1", port) == ""


def test_a_taken_port_names_another():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        said = supervisor._port_trouble("127.0.0.1", port)
    assert said.startswith(f"Port {port} at 127.0.0.1 is not free")
    assert said.endswith(f"--port {port + 1}.")


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_number_that_is_no_port_is_said(port):
    assert "is no port" in supervisor._port_trouble("127.0.0.1", port)


def test_an_address_that_is_not_ours_is_said():
    # RFC 5737: TEST-NET-1 is nobody's.
    assert "not free" in supervisor._port_trouble("192.0.2.1", 8000)


def test_the_address_that_people_use_follows_the_port(monkeypatch):
    monkeypatch.delenv("CLENCHLINE_SITE_URL", raising=False)
    near = supervisor._environment("127.0.0.1", 8123)
    assert near["CLENCHLINE_SITE_URL"] == "http://localhost:8123"
    far = supervisor._environment("192.0.2.7", 80)
    assert far["CLENCHLINE_SITE_URL"] == "http://192.0.2.7:80"


def test_a_given_address_stands(monkeypatch):
    monkeypatch.setenv("CLENCHLINE_SITE_URL", "https://forge.example")
    given = supervisor._environment("127.0.0.1", 8123)
    assert given["CLENCHLINE_SITE_URL"] == "https://forge.example"


@pytest.mark.parametrize(
    ("status", "said"),
    [("302 Found", "Clenchline is ready"), ("500 Internal Server Error", "a fault")],
)
def test_ready_is_said_of_pages_and_not_of_faults(status, said, capsys):
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        door.listen()

        def answer():
            line, _ = door.accept()
            with line:
                line.recv(1000)
                line.sendall(f"HTTP/1.1 {status}\r\n\r\n".encode())

        threading.Thread(target=answer).start()
        port = door.getsockname()[1]
        options = SimpleNamespace(host="localhost", port=port)
        tree = SimpleNamespace(stopping=False, children=[])
        supervisor._say_when_ready(tree, options, f"http://localhost:{port}")
    told = capsys.readouterr()
    assert said in told.out + told.err
    assert ("ready" in told.out) == (status < "4")
