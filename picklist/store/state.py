"""The program's memory between runs: one SQLite file beside the site's folder.

Every write is one transaction, so that a killed run leaves the file as it was before; a
second writer waits a while and is then told. Times are stored as UTC in ISO form.
"""

from __future__ import annotations

import os
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import ValidationError

from picklist.store.state_errors import NewerStateError, NotStateError, explain

APPLICATION_ID = 0x7069636B  # "pick"
SUFFIX = ".picklist.sqlite"
# The steps by which the state file grew, each applied once and in order; ``user_version`` counts them.
MIGRATIONS = tuple(sorted(Path(__file__).with_name("migrations").glob("*.sql")))
ON_THE_DISK = "FULL"  # what is recorded is on the disk before anybody is told so
PATIENCE = 5.0  # seconds to wait for another writer


def state_path(site_folder: Path) -> Path:
    """Where the state of a site lives: ``north`` has ``north.picklist.sqlite`` beside it."""
    folder = site_folder.resolve()
    return folder.with_name(folder.name + SUFFIX)


@dataclass(frozen=True, slots=True)
class StateFile:
    """An open state file."""

    path: Path
    connection: sqlite3.Connection
    writes: list[Path] = field(default_factory=list, repr=False)  # not empty while it is written

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is kept or nothing; inside another one a part of that. Raises StateError."""
        if self.writes:
            yield self.connection
            return
        with _plain_words(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            self.writes.append(self.path)
            try:
                yield self.connection
                self.connection.execute("COMMIT")
            except BaseException:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise
            finally:
                self.writes.clear()

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A view of the file that no other writer changes meanwhile; inside ``writing`` as it is being written.

        Raises StateError.
        """
        if self.connection.in_transaction:
            yield self.connection
            return
        with _plain_words(self.path):
            self.connection.execute("BEGIN")
            try:
                yield self.connection
            finally:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")


@contextmanager
def open_state(path: Path, *, patience: float = PATIENCE) -> Iterator[StateFile]:
    """Open the state file, making it or bringing it up to date as needed.

    ``patience``: seconds to wait for another writer. Raises StateError: a file of a newer
    program or one that is no state file is not touched.
    """
    connection = None
    try:
        with _plain_words(path):
            _for_its_owner_alone(path)
            connection = sqlite3.connect(path, timeout=patience, isolation_level=None)
            connection.row_factory = sqlite3.Row
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute(f"PRAGMA synchronous = {ON_THE_DISK}")
        state = StateFile(path, connection)
        _bring_up_to_date(state)
        yield state
    finally:
        if connection is not None:
            connection.close()


def copy_state(path: Path, copy: Path) -> None:
    """Copy a state file as it is now, for work that leaves the file itself alone. Raises StateError."""
    with _plain_words(path):
        _for_its_owner_alone(copy)
        with closing(sqlite3.connect(path)) as state, closing(sqlite3.connect(copy)) as target:
            state.backup(target)


def _for_its_owner_alone(path: Path) -> None:
    """Let nobody else read the file; what SQLite writes beside it takes the file's own rights."""
    with suppress(OSError):  # what cannot be opened is said by SQLite in the next line; Windows has no such rights
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
        for name in (path.name, f"{path.name}-wal", f"{path.name}-shm", f"{path.name}-journal"):
            one = path.with_name(name)
            if one.exists() and one.stat().st_mode & 0o077:
                one.chmod(0o600)


@contextmanager
def _plain_words(path: Path) -> Iterator[None]:
    try:
        yield
    except ValidationError as error:
        raise NotStateError(path, f"{path.name}: a record in it cannot be read; nothing was changed") from error
    except (sqlite3.Error, zlib.error) as error:
        told = explain(path, error)
        if told is None:
            raise
        raise told from error


def _bring_up_to_date(state: StateFile) -> None:
    with state.reading():
        if _version(state) == len(MIGRATIONS):
            return
    with state.writing() as db:
        version = _version(state)  # somebody else may have done it meanwhile
        for number, step in enumerate(MIGRATIONS[version:], start=version + 1):
            for statement in _statements(step):
                db.execute(statement)
            db.execute(f"PRAGMA user_version = {number}")
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _statements(step: Path) -> tuple[str, ...]:
    """The statements of an SQL file, each as soon as it is whole: a trigger has semicolons within it."""
    found, statement = [], ""
    for line in step.read_text(encoding="utf-8").splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            found.append(statement)
            statement = ""
    return tuple(found)


def _version(state: StateFile) -> int:
    """How many migrations the file has seen, inside a transaction. Raises NotStateError and NewerStateError."""
    db, path = state.connection, state.path
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    version: int = db.execute("PRAGMA user_version").fetchone()[0]
    empty = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if owner != APPLICATION_ID and not (empty and version == 0):
        raise NotStateError(path, f"{path.name}: it is a database of another program; nothing was changed")
    if version > len(MIGRATIONS):
        raise NewerStateError(
            path,
            f"{path.name}: a newer picklist wrote it (its format is {version}, this program knows "
            f"{len(MIGRATIONS)}); nothing was changed",
        )
    return version
