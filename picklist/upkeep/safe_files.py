"""The folder of what upkeep keeps with a site's tables, and one writer of the cards at a time."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from picklist.tables.files import BusyError

KEPT_FOLDER = "card changes"
WAIT_SECONDS = 60
TABLE_ENDINGS = (".xlsx", ".xlsm", ".xltx", ".xltm", ".csv", ".tsv")


def kept_folder(folder: Path) -> Path:
    """The folder beside the tables that holds the log and the proposals."""
    found = folder / KEPT_FOLDER
    found.mkdir(exist_ok=True)
    return found


@contextmanager
def hold_cards(folder: Path, *, wait: float = WAIT_SECONDS) -> Iterator[None]:
    """Hold the cards of a site; a second process waits, and a process that dies lets go.

    The lock is that of a small database file, which every system keeps. Raises BusyError.
    """
    lock = sqlite3.connect(kept_folder(folder) / "lock.sqlite", timeout=wait, isolation_level=None)
    try:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            raise BusyError("somebody else is changing the cards") from error
        yield
        lock.execute("ROLLBACK")
    finally:
        lock.close()


def read_files(folder: Path) -> dict[str, bytes]:
    """The contents of all tables of a folder, by file name."""
    return {
        path.name: path.read_bytes()
        for path in sorted(folder.iterdir())
        if path.is_file() and path.suffix.lower() in TABLE_ENDINGS and not path.name.startswith(("~", "."))
    }
