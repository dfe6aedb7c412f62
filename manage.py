#!/usr/bin/env python3
"""The one door for commands: ``up``, ``test``, and Django's and the house's own.

It runs on any Python 3, so that a Python which is too old is told so.
"""

import os
import sys


def main() -> None:
    """Run the command named on the command line inside ``.venv``."""
    if sys.version_info < (3, 11):  # noqa: UP036 -- said, instead of a SyntaxError
        sys.stderr.write(
            "Clenchline needs Python 3.11 or later; this is %d.%d. Debian 12, "  # noqa: UP031
            "Ubuntu 24.04, Fedora 37 and `brew install python` have it.\n"
            % sys.version_info[:2]
        )
        sys.exit(2)
    from practice import bootstrap

    command = sys.argv[1] if len(sys.argv) > 1 else "help"
    bootstrap.enter("test" if command == "test" else "run")
    if command == "up":
        from practice import supervisor

        sys.exit(supervisor.up(sys.argv[2:]))
    if command == "test":
        from practice import suite

        sys.exit(suite.test(sys.argv[2:]))
    bootstrap.check_environment()
    bootstrap.make_secret_key()
    if bootstrap.needs_tables(command):
        bootstrap.make_tables()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "practice.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:
        sys.exit(130)
