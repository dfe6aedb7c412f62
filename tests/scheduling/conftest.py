"""Tools of the tests of scheduling."""

from tests.practice.conftest import at_once

__all__ = ["at_once"]
