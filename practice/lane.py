"""Long jobs in a process of their own, so that mail never waits for one.

The worker starts it when a long job is due and none runs, and is not held up; it does
what is due, one job after the other, and ends: between two jobs it costs no memory.
What the outbox promises holds here too, because the process claims its rows itself.

It lives no longer than whoever started it: its standard input is a pipe that ends with
that process, however that one dies.
"""

import os
import signal
import subprocess
import sys
import threading

from practice.bootstrap import ROOT

# The process below begins with this module, before Django knows its apps: what needs
# them is imported where it is used.


class Lane:
    """The process for long jobs, as the worker that looks after it sees it."""

    def __init__(self) -> None:
        self.process: subprocess.Popen[bytes] | None = None

    def look(self) -> bool:
        """Starts it where a long job is due and it does not run. Whether it runs."""
        from practice import outbox

        if self.process is not None and self.process.poll() is None:
            return True
        self.end()
        if outbox.waits(long=True):
            self.process = subprocess.Popen(  # noqa: S603  # our own module
                [sys.executable, "-m", __name__], cwd=ROOT, stdin=subprocess.PIPE
            )
        return self.process is not None

    def end(self) -> None:
        """Ends it, in the middle of a job too, which is then taken up again later."""
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None


def _die_with_who_started_it() -> None:
    """Ends this process at once when its standard input ends."""
    os.read(0, 1)
    os._exit(1)


def main() -> None:
    """The process: what is due, then the end."""
    # Ctrl+C is told to all processes of a terminal; the end of the one that started
    # this one is word enough.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_die_with_who_started_it, daemon=True).start()
    import django

    django.setup()
    from practice import outbox

    outbox.drain(long=True)


if __name__ == "__main__":
    main()
