"""A search in a process of its own, for callers with a database or other threads. Pure.

That process knows the planner alone. It searches one seed on each core, up to two, and
tells its best plan some times a second. Asked to stop, it answers with the best; when
whoever asked has died, it sees the line's end at its next look and ends too.
"""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final

from scheduling.planner.search import Progress, propose
from scheduling.planner.weeks import Instance, Plan

MOST_WORKERS: Final = 2
TOLD_EVERY: Final = 0.25
"""Seconds between two words of progress."""
_STOP: Final = "stop"
_ROOT: Final = Path(__file__).resolve().parents[2]


class BrokeOff(RuntimeError):
    """The search's process died: killed, or out of memory."""


class Apart:
    """A search that runs elsewhere, as its caller sees it. ``latest``: how far it is,
    None before the first word."""

    def __init__(self, line: "Connection[Any, Any]") -> None:
        self.line = line
        self.latest: Progress | None = None
        self.is_stopping = False

    def wait(self, seconds: float) -> Plan | None:
        """Listens for so long. The plan, once the search has ended.

        Raises:
            BrokeOff: it will not come.
        """
        until = time.monotonic() + seconds
        try:
            while self.line.poll(max(0.0, until - time.monotonic())):
                said = self.line.recv()
                if isinstance(said, Plan):
                    return said
                self.latest = said
        except (EOFError, OSError) as error:
            raise BrokeOff("The search broke off.") from error
        return None

    def stop(self) -> None:
        """Ends the search soon; what was best comes. Again: harmless."""
        if not self.is_stopping:
            self.is_stopping = True
            try:
                self.line.send(_STOP)
            except OSError:
                return  # it has ended by itself; what it said is still in the line


@contextmanager
def searching(instance: Instance, **said: Any) -> Iterator[Apart]:
    """Has ``search.propose(instance, **said)`` run in a process of its own, killed at
    the block's end unless it has ended. The same iterations, seed and workers give the
    same plan.

    Args:
        said: workers: as many as there are cores, up to MOST_WORKERS, unless given.
    """
    mine, theirs = Pipe()
    with mine:
        try:
            process = subprocess.Popen(  # noqa: S603  # our own module
                [sys.executable, "-m", __name__, str(theirs.fileno())],
                cwd=_ROOT,
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
            )
        finally:
            theirs.close()
        try:
            try:
                mine.send((instance, said))
            except OSError as error:
                raise BrokeOff("The search did not begin.") from error
            yield Apart(mine)
        finally:
            process.kill()
            process.wait()


def cores() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class _Asker:
    """Whoever asked, as the search sees it."""

    def __init__(self, line: "Connection[Any, Any]") -> None:
        self.line = line
        self.told_at = 0.0
        self.stops = False

    def tell(self, found: Progress) -> None:
        """Says how far the search is, not too often."""
        now = time.monotonic()
        if now - self.told_at >= TOLD_EVERY:
            self.told_at = now
            self.line.send(found)

    def has_stopped(self) -> bool:
        """Whether asked to stop. Raises EOFError when there is nobody any more."""
        if self.line.poll():
            self.stops = self.line.recv() == _STOP
        return self.stops


def main(line: "Connection[Any, Any]") -> None:
    """The process that searches: one instance in, words of progress and a plan out."""
    asker = _Asker(line)
    try:
        instance, said = line.recv()
        said.setdefault("workers", min(MOST_WORKERS, cores()))
        plan = propose(
            instance, progress=asker.tell, cancelled=asker.has_stopped, **said
        )
        line.send(plan)
    except (EOFError, BrokenPipeError):
        return  # whoever asked has died; `propose` has ended its children


if __name__ == "__main__":
    main(Connection(int(sys.argv[1])))
