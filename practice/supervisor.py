"""``manage.py up``: web, worker and schedule as one tree that dies as one.

Standard library only, and Django is never imported here: this process stays for as
long as the service runs, and is to stay small. Each child leads a session of its own
and is told by the kernel when we die (elsewhere than on Linux it looks for itself, see
``watch_supervisor``). A child that ends is started again; its whole group is killed
first, because a web server's orphaned worker would go on holding the port.
"""

import argparse
import contextlib
import ctypes
import fcntl
import os
import select
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from practice import bootstrap
from practice.bootstrap import ROOT, say

FIRST_DELAY_S = 0.5
LONGEST_DELAY_S = 30.0
STEADY_AFTER_S = 60.0  # a child that lived this long starts again without waiting
WATCH_EVERY_S = 2.0
GRACE_S = 10.0  # for a request or a task in hand, before the group is killed
READY_WITHIN_S = 60.0
_PR_SET_PDEATHSIG = 1  # prctl(2)
_SUPERVISOR = "CLENCHLINE_SUPERVISOR"
_LOOPBACK = {"127.0.0.1", "localhost", "::1"}


# --- dying together ----------------------------------------------------------


def _tied_to_us() -> Callable[[], None] | None:
    """What a child runs before exec, so that it gets SIGTERM when we are gone."""
    if sys.platform != "linux":
        return None
    libc = ctypes.CDLL(None)  # loaded here: after the fork it is too late to
    us = os.getpid()

    def tie() -> None:
        libc.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
        if os.getppid() != us:  # we died between fork and prctl
            os._exit(1)

    return tie


def watch_supervisor() -> None:
    """Called inside web and worker: end this process's group when ours is gone.

    Covers what the kernel's word does not: other systems than Linux, and children of
    a child that was itself killed. Does nothing when not started by ``up``.
    """
    given = os.environ.get(_SUPERVISOR, "")
    if not given.isdecimal():
        return
    supervisor = int(given)
    leader = os.getpgrp()

    def look() -> None:
        while _alive(supervisor) and _alive(leader):
            time.sleep(WATCH_EVERY_S)
        for last_word in (signal.SIGTERM, signal.SIGKILL):
            os.killpg(leader, last_word)
            time.sleep(GRACE_S)

    threading.Thread(target=look, name="watch-supervisor", daemon=True).start()


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except OSError:
        return False
    return True


# --- the tree ----------------------------------------------------------------


@dataclass(slots=True)
class Child:
    """One process of the tree, its command, and when it may start again."""

    name: str
    command: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    falls: int = 0
    due: float = 0.0

    def start(self, environment: dict[str, str]) -> None:
        """Start it as the leader of a session of its own."""
        self.started = time.monotonic()
        self.process = subprocess.Popen(
            self.command,
            cwd=ROOT,
            env=environment,
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=_tied_to_us(),  # noqa: PLW1509 -- one thread, no locks held
        )

    def ended(self) -> int | None:
        """Its exit code once it has ended."""
        return None if self.process is None else self.process.poll()

    def bury(self) -> None:
        """Kill what is left of its group and reckon when it may start again."""
        now = time.monotonic()
        self.kill()
        self.process = None
        self.falls = 0 if now - self.started > STEADY_AFTER_S else self.falls + 1
        wait = FIRST_DELAY_S * 2 ** (self.falls - 1) if self.falls else 0.0
        self.due = now + min(wait, LONGEST_DELAY_S)

    def kill(self) -> None:
        """Kill its group, the leader and whatever the leader left behind."""
        if self.process is not None:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()


@dataclass(slots=True)
class Tree:
    """The children, kept running until we are told to stop."""

    children: list[Child]
    environment: dict[str, str] = field(default_factory=dict)
    stopping: int = 0  # how often we were told

    def run(self, at_start: Callable[[], None]) -> None:
        """Start all, call ``at_start``, keep them running, end all."""
        with self._woken_by_signals() as wake:
            try:
                for child in self.children:
                    child.start(self.environment)
                at_start()
                while not self.stopping:
                    _rest(wake, self._until_due())
                    self._restart()
            finally:
                self._end(wake)

    @contextlib.contextmanager
    def _woken_by_signals(self) -> Iterator[int]:
        """A pipe that a signal writes to: waits for children without polling."""
        reader, writer = os.pipe()
        for end in (reader, writer):
            os.set_blocking(end, False)
        signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
        signal.signal(signal.SIGCHLD, lambda _signal, _frame: None)
        for told in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(told, self._told_to_stop)
        yield reader

    def _told_to_stop(self, _signal: int, _frame: object) -> None:
        self.stopping += 1

    def _until_due(self) -> float | None:
        """Seconds until a dead child is due; None waits for a signal."""
        waiting = [child.due for child in self.children if child.process is None]
        return max(0.0, min(waiting) - time.monotonic()) if waiting else None

    def _restart(self) -> None:
        for child in self.children:
            code = child.ended()
            if code is not None and not self.stopping:
                child.bury()
                say(f"{child.name} ended ({_cause(code)}); starting it again.")
            if child.process is None and child.due <= time.monotonic():
                child.start(self.environment)

    def _end(self, wake: int) -> None:
        for child in self.children:
            if child.process is not None and child.ended() is None:
                child.process.terminate()
        last = time.monotonic() + GRACE_S
        while self._running() and time.monotonic() < last and self.stopping < 2:
            _rest(wake, last - time.monotonic())
        for child in self.children:
            child.kill()

    def _running(self) -> bool:
        return any(child.process and child.ended() is None for child in self.children)


def _rest(wake: int, seconds: float | None) -> None:
    select.select([wake], [], [], seconds)
    with contextlib.suppress(BlockingIOError):
        os.read(wake, 4096)


def _cause(code: int) -> str:
    return f"signal {-code}" if code < 0 else f"exit code {code}"


# --- up ----------------------------------------------------------------------


def _options(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="manage.py up",
        description="Start Clenchline: web, worker and schedule, on this machine.",
    )
    parser.add_argument(
        "--empty", action="store_true", help="begin without the demo practice"
    )
    parser.add_argument("--port", type=int, default=8000, help="default 8000")
    parser.add_argument(
        "--host",
        default="127.0.0.1",
        help="address to listen at; 0.0.0.0 for all in the network (default: "
        "this machine only)",
    )
    return parser.parse_args(arguments)


def up(arguments: Sequence[str]) -> int:
    """Prepare and run the service until told to stop; the exit code."""
    options = _options(arguments)
    bootstrap.check_environment()
    data = bootstrap.data_folder()
    if trouble := _folder_trouble(data):
        say(trouble)
        return 2
    with _only_one(data) as note:
        if note is None:
            return 2
        if trouble := _port_trouble(options.host, options.port):
            say(trouble)
            return 2
        bootstrap.bring_pdf_libraries()
        bootstrap.make_secret_key(always=True)
        environment = _environment(options.host, options.port)
        if code := _prepare(environment, empty=options.empty):
            return code
        address = environment["CLENCHLINE_SITE_URL"]
        note.write_text(f"{os.getpid()} {address}\n", encoding="utf-8")
        tree = Tree(_children(options.host, options.port, data), environment)
        tree.run(lambda: _say_when_ready(tree, options, address))
    return 0


def _folder_trouble(data: Path) -> str:
    """Why we can't write there, as a line; empty when we can."""
    try:
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        (data / "up.lock").open("a").close()
    except OSError as error:
        return (
            f"The data folder {data} can't be written ({error.strerror}): mend that, "
            "or name another in CLENCHLINE_DATA."
        )
    return ""


@contextlib.contextmanager
def _only_one(data: Path) -> Iterator[Path | None]:
    """Hold the data folder's lock; None, and said, when another holds it."""
    note = data / "up.lock"
    with note.open("a+", encoding="utf-8") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            pid, _, address = note.read_text(encoding="utf-8").strip().partition(" ")
            where = f" at {address} (process {pid})" if address else ", just starting"
            say(f"Clenchline already runs on this data folder{where}.")
            yield None
            return
        file.truncate(0)
        yield note


def _port_trouble(host: str, port: int) -> str:
    """Why we can't listen there, as a line; empty when we can."""
    if not 0 < port < 65536:
        return f"{port} is no port: take one from 1024 to 65535."
    try:
        family, kind, *_, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM
        )[0]
        with socket.socket(family, kind) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except PermissionError:
        return f"Port {port} is kept for the system: take one from 1024 to 65535."
    except OSError as error:
        if isinstance(error, socket.gaierror):
            return f"{host} is no address of this machine."
        return (
            f"Port {port} at {host} is not free ({error.strerror}): stop what uses "
            f"it, or choose another with --port {port + 1}."
        )
    return ""


def _environment(host: str, port: int) -> dict[str, str]:
    """Ours, with the address that people use and our number for the children."""
    environment = {**os.environ, _SUPERVISOR: str(os.getpid())}
    # Django's checks would load each page into the worker, which shows none.
    environment["CELERY_SKIP_CHECKS"] = "1"
    if not environment.get("CLENCHLINE_SITE_URL"):
        name = "localhost" if host in _LOOPBACK else host
        if host in ("0.0.0.0", "::"):  # noqa: S104 -- compared, not bound
            name = _own_address()
        environment["CLENCHLINE_SITE_URL"] = f"http://{name}:{port}"
    return environment


def _own_address() -> str:
    """Our address in the local network. Connecting a datagram sends nothing."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: an address that is nobody's
            return str(probe.getsockname()[0])
    except OSError:
        return "localhost"


def _prepare(environment: dict[str, str], *, empty: bool) -> int:
    """Tables, static files and on the first start the demo practice."""
    command = [sys.executable, str(ROOT / "manage.py"), "prepare"]
    choice = "--empty" if empty else "--demo"
    return subprocess.run(
        [*command, choice], env=environment, cwd=ROOT, check=False
    ).returncode


def _children(host: str, port: int, data: Path) -> list[Child]:
    # Celery's warning to root is about pickles and users; the broker is a folder here.
    calm = "ignore:You're running the worker with superuser"
    python = [sys.executable, "-W", calm, "-m"]
    web = [
        *python, "granian", "--interface", "wsgi", "--host", host, "--port", str(port),
        "--workers", "1", "--blocking-threads", "4", "--no-ws",
        "--log-level", "warning", "--workers-kill-timeout", "8",
        "practice.wsgi:application",
    ]  # fmt: skip
    worker = [
        *python, "celery", "--quiet", "--app", "practice.celery", "worker", "--beat",
        "--pool", "solo", "--loglevel", "WARNING", "--schedule", str(data / "beat"),
        "--without-gossip", "--without-mingle", "--without-heartbeat",
    ]  # fmt: skip
    return [Child("web", web), Child("worker", worker)]


def _say_when_ready(tree: Tree, options: argparse.Namespace, address: str) -> None:
    """Wait for the first answer, then print the address to standard output."""
    last = time.monotonic() + READY_WITHIN_S
    host = options.host
    near = "127.0.0.1" if host in ("0.0.0.0", "localhost") else host  # noqa: S104
    near = "::1" if host == "::" else near
    while not tree.stopping and not (answer := _answer(near, options.port)):
        if time.monotonic() > last or tree.children[0].ended() is not None:
            say("The web server has not answered yet; what stands above says why.")
            return
        time.sleep(0.05)
    if tree.stopping:
        return
    if answer.startswith("5"):
        say("The web server answers with a fault; what stands above says why.")
        return
    sys.stdout.write(f"\nClenchline is ready: {address}\nStop it with Ctrl+C.\n")
    sys.stdout.flush()
    if host not in _LOOPBACK and address.startswith("http://"):
        say("Plain http: fine to look at, but use HTTPS before people sign in.")


def _answer(host: str, port: int) -> str:
    """The status with which a page comes back, or ''. Asked by hand: an HTTP client
    costs memory."""
    try:
        with socket.create_connection((host, port), timeout=10) as line:
            line.sendall(
                b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
            )
            protocol, _, status = line.recv(12).partition(b" ")
    except OSError:
        return ""
    return status.decode("ascii", "replace") if protocol == b"HTTP/1.1" else ""
