"""Writes into a site's tables that were cut short are brought to their end before anything reads the tables."""

from __future__ import annotations

from pathlib import Path

from picklist.evening.keep_counted import unfinished
from picklist.evening.write_tables import finish_unfinished
from picklist.problems import Problem
from picklist.store.lock import hold_tables
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.state_errors import StateError
from picklist.tables.files import BusyError
from picklist.tasks.errors import WrongUse


def finish_writes(folder: Path) -> tuple[Problem, ...]:
    """Finish what an earlier command began to write into the tables, and say so.

    Raises WrongUse when that is not possible now: the tables hold half of it and must not be read.
    A state file that cannot be opened is left to whoever needs it.
    """
    if not state_path(folder).exists():
        return ()
    try:
        with open_state(state_path(folder)) as state:
            return _finish(state, folder) if unfinished(state) else ()
    except StateError:
        return ()


def _finish(state: StateFile, folder: Path) -> tuple[Problem, ...]:
    try:
        with hold_tables(folder):
            return finish_unfinished(state, folder)
    except (BusyError, StateError) as busy:
        raise WrongUse(f"an earlier settle was cut short and cannot be finished now: {busy}") from None
    except OSError as refused:
        why = f"{refused.filename or folder}: {refused.strerror}"
        raise WrongUse(f"an earlier settle was cut short and cannot be finished now ({why})") from None
