"""What the log leaves out. Loaded before the apps are: it imports nothing of ours."""

import logging
import re


class HideTokens(logging.Filter):
    """Leaves the secret part of an address out of the log: whoever reads a log is not
    to sign in by it, nor to read a calendar."""

    _SECRET = re.compile(r"(/sign-in/link/|/feeds/)[^/\s]+")

    def filter(self, record: logging.LogRecord) -> bool:
        told = record.getMessage()
        if self._SECRET.search(told):
            record.msg, record.args = self._SECRET.sub(r"\1…", told), ()
        return True
