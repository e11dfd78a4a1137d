"""What can go wrong with the state file, in words that say what was lost (nothing) and what to do."""

from __future__ import annotations

import sqlite3
import zlib
from pathlib import Path

from picklist.problems import Problem, Severity, Where


class StateError(Exception):
    """The state file could not be read or written; ``problem`` says why. What was in it is still in it."""

    kind = "state file"
    advice = ""

    def __init__(self, path: Path, message: str) -> None:
        super().__init__(message)
        self.problem = Problem(
            kind=self.kind,
            severity=Severity.STOPS_ALL,
            where=Where(file=path.name),
            message=message,
            expected=self.advice,
        )


class StateBusyError(StateError):
    """Somebody else is writing."""

    kind = "state file busy"
    advice = "a free file: try again in a moment, when the other picklist has finished"


class ToldMeanwhileError(StateError):
    """The crew reported a cart while a plan was made that does not know it."""

    kind = "cart told meanwhile"
    advice = "the same build again, which then knows the cart"


class StateFullError(StateError):
    """No room is left on the disk."""

    kind = "disk full"
    advice = "free room on the disk, then the same command again"


class NewerStateError(StateError):
    """A newer program wrote the file."""

    kind = "state file of a newer program"
    advice = "this computer's picklist brought up to date"


class NotStateError(StateError):
    """The file is damaged or is something else."""

    kind = "not a state file"
    advice = "a file that picklist wrote: move this one away, or put a copy of the state back in its place"


class DamagedPlanError(NotStateError):
    """A kept plan is damaged; the rest of the file is sound."""

    kind = "kept plan damaged"
    advice = "the day built again; all its lists are printed anew"


class StateReadOnlyError(StateError):
    """The file or its folder may not be written or found."""

    kind = "state file not writable"
    advice = "a folder in which you may write"


class RevisionTakenError(StateError):
    """Somebody else built meanwhile, so that the plan replaces one that no longer counts."""

    kind = "revision taken"
    advice = "the same command again, so that it starts from the newest plan"


# Primary result codes of SQLite (its documentation, "Result and Error Codes").
_ERRORS: dict[int, tuple[type[StateError], str]] = {
    5: (StateBusyError, "somebody else is writing it; nothing of yours was stored"),
    6: (StateBusyError, "somebody else is writing it; nothing of yours was stored"),
    13: (StateFullError, "the disk is full; nothing of yours was stored, what was there before still is"),
    8: (StateReadOnlyError, "it may not be written"),
    14: (StateReadOnlyError, "it cannot be opened"),
    3: (StateReadOnlyError, "you are not allowed to open it"),
    10: (StateError, "the disk failed while reading or writing; what was there before still is"),
    11: (NotStateError, "it is damaged; nothing was changed"),
    26: (NotStateError, "it is not a state file of picklist; nothing was changed"),
}


def explain(path: Path, error: sqlite3.Error | zlib.error) -> StateError | None:
    """The error in plain words; None when it is a fault of the program and not of the file."""
    if isinstance(error, zlib.error):
        return NotStateError(path, f"{path.name}: a plan in it is damaged; nothing was changed")
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        return None
    found = _ERRORS.get(code & 0xFF)
    if found is None:
        return None
    kind, message = found
    return kind(path, f"{path.name}: {message}")
