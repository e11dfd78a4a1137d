"""One writer of a site's tables at a time, whatever it writes there: cards, lots or sets."""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from picklist.store.state_errors import StateBusyError, explain
from picklist.tables.files import BusyError

LOCK_SUFFIX = ".picklist.lock"
WAIT_SECONDS = 60


@contextmanager
def hold_tables(site_folder: Path, *, wait: float = WAIT_SECONDS) -> Iterator[None]:
    """Hold the tables of a site; a second process waits, and a process that dies lets go at once.

    The lock is SQLite's, on an empty file beside the site's folder: it works on every system, and a
    waiting process gets it within hundredths of a second. Raises BusyError; StateError where
    nothing can be written beside the folder; FileNotFoundError where the folder itself is not there.
    """
    folder = site_folder.resolve()
    if not folder.is_dir():  # nothing is made beside it, and no write that was cut short is taken for finished
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(site_folder))
    path = folder.with_name(folder.name + LOCK_SUFFIX)
    with closing(_locked(path, wait)) as lock:
        yield
        lock.execute("ROLLBACK")


def _locked(path: Path, wait: float) -> sqlite3.Connection:
    lock = None
    try:
        lock = sqlite3.connect(path, timeout=wait, isolation_level=None)
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        if lock is not None:
            lock.close()
        refused = explain(path, error)
        if refused is None or isinstance(refused, StateBusyError):
            raise BusyError("somebody else is changing the tables") from error
        raise refused from error
    return lock
