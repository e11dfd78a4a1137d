"""Every write of a command fails once at each of its points: an I/O error, a full disk, or the end of the process.

Points are what changes files: an opening for writing, a write, a sync, a rename, a removal, a new folder, and
each statement that writes to the state. After each failure the next run must be right. This is how SQLite
tests itself (sqlite.org/testing.html, "I/O Error Testing" and "Crash Testing"; from memory).
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from enum import Enum
from pathlib import Path
from typing import Any
from unittest.mock import patch

WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE", "CREATE", "ALTER", "DROP", "BEGIN IMMEDIATE", "COMMIT")
KILLED = 77  # exit code of a process that ends at a point


class Failure(Enum):
    """How a point fails."""

    IO = errno.EIO
    FULL = errno.ENOSPC
    KILL = 0


class Points:
    """Counts the points below a folder, and fails at one of them."""

    def __init__(self, below: Path, fail_at: int | None = None, how: Failure = Failure.IO) -> None:
        self.count = 0
        self.seen: list[str] = []
        self._below, self._fail_at, self._how = str(below), fail_at, how

    def pass_file(self, what: str, path: object, before: Callable[[], object] = lambda: None) -> None:
        """A point at a file; ``before`` is what still happens when it fails. Raises OSError."""
        name = os.fsdecode(path) if isinstance(path, str | bytes | os.PathLike) else ""
        if name.startswith(self._below) and self._is_here(f"{what} {name.removeprefix(self._below)}"):
            before()
            if self._how is Failure.KILL:
                os._exit(KILLED)
            raise OSError(self._how.value, os.strerror(self._how.value), name)

    def pass_statement(self, statement: str) -> None:
        """A point at a statement of the state. Raises sqlite3.OperationalError."""
        if statement.lstrip().upper().startswith(WRITES) and self._is_here(" ".join(statement.split())[:60]):
            if self._how is Failure.KILL:
                os._exit(KILLED)
            full = self._how is Failure.FULL
            error = sqlite3.OperationalError("database or disk is full" if full else "disk I/O error")
            error.sqlite_errorcode = sqlite3.SQLITE_FULL if full else sqlite3.SQLITE_IOERR
            error.sqlite_errorname = "SQLITE_FULL" if full else "SQLITE_IOERR"
            raise error

    def _is_here(self, what: str) -> bool:
        self.count += 1
        self.seen.append(what)
        return self.count == self._fail_at


class _File:
    """An open file whose every write is a point; half of what is written is there when it fails."""

    def __init__(self, file: Any, points: Points, path: object) -> None:
        self._file, self._points, self._path = file, points, path

    def write(self, data: Any) -> int:
        self._points.pass_file("write", self._path, lambda: self._file.write(data[: len(data) // 2]))
        written: int = self._file.write(data)
        return written

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def __iter__(self) -> Iterator[Any]:
        return iter(self._file)

    def __enter__(self) -> _File:
        self._file.__enter__()
        return self

    def __exit__(self, *error: Any) -> None:
        self._file.__exit__(*error)


@contextmanager
def failing(points: Points) -> Iterator[None]:
    """Have every writing call of this process go past the points."""
    real_open, real_os_open, connect = io.open, os.open, sqlite3.connect

    def opened(file: Any, mode: str = "r", *words: Any, **more: Any) -> Any:
        if isinstance(file, int) or not set(mode) & set("wxa+"):
            return real_open(file, mode, *words, **more)
        points.pass_file("open", file)
        return _File(real_open(file, mode, *words, **more), points, file)

    def os_opened(path: Any, flags: int, *words: Any, **more: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            points.pass_file("open", path)
        return real_os_open(path, flags, *words, **more)

    def at(name: str) -> Any:
        real = getattr(os, name)

        def passed(path: Any, *words: Any, **more: Any) -> Any:
            if name == "mkdir" or (isinstance(path, int) or os.path.lexists(path)):
                points.pass_file(name, points_path(path))
            return real(path, *words, **more)

        return patch.object(os, name, passed)

    class Watched(sqlite3.Connection):
        def execute(self, sql: str, *words: Any) -> sqlite3.Cursor:
            points.pass_statement(sql)
            return super().execute(sql, *words)

        def executemany(self, sql: str, *words: Any) -> sqlite3.Cursor:
            points.pass_statement(sql)
            return super().executemany(sql, *words)

    def connected(*words: Any, **more: Any) -> sqlite3.Connection:
        return connect(*words, factory=Watched, **more)

    with ExitStack() as stack:
        for name in ("replace", "rename", "link", "unlink", "remove", "mkdir", "rmdir", "chmod", "fsync"):
            stack.enter_context(at(name))
        stack.enter_context(patch.object(os, "open", os_opened))
        stack.enter_context(patch.object(io, "open", opened))
        stack.enter_context(patch.object(builtins, "open", opened))
        stack.enter_context(patch.object(sqlite3, "connect", connected))
        yield


def points_path(path: Any) -> Any:
    """The path of a file that is open by its number."""
    if not isinstance(path, int):
        return path
    with suppress(OSError):
        return Path(f"/proc/self/fd/{path}").readlink()
    return ""


def in_a_child(act: Callable[[], object], points: Points) -> int:
    """Run an act in a process of its own that dies at the point; its exit code, 0 when it came to its end."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            with failing(points):
                act()
            code = 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
