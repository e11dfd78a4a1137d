"""The one error that a task raises for its caller's mistake."""

from __future__ import annotations


class WrongUse(Exception):  # noqa: N818 - it is not an error of the program
    """The task was asked for something that cannot be; its text says what would be right."""
