"""The command line: thin; each command calls one function of ``picklist.tasks`` and prints its answer."""

from __future__ import annotations

from picklist.cli.command_line import main

__all__ = ["main"]
