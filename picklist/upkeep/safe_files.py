"""Files written whole or not at all, one writer at a time, the former kept."""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

KEPT_FOLDER = "card changes"
WAIT_SECONDS = 60
TABLE_ENDINGS = (".xlsx", ".xlsm", ".xltx", ".xltm", ".csv", ".tsv")


class BusyError(Exception):
    """Somebody else holds the cards, or has the file open in a spreadsheet program."""


def kept_folder(folder: Path) -> Path:
    """The folder beside the tables that holds the log, former files and proposals."""
    kept = folder / KEPT_FOLDER
    kept.mkdir(exist_ok=True)
    return kept


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


def digest_of(data: bytes) -> str:
    """A mark by which contents are known again."""
    return hashlib.sha256(data).hexdigest()


def check_not_open(path: Path) -> None:
    """Raise BusyError when a spreadsheet program has marked the file as open."""
    for mark in (f"~${path.name}", f".~lock.{path.name}#"):
        if (path.parent / mark).exists():
            raise BusyError(f"{path.name} is open in a spreadsheet program; close it first")


def prepare_file(path: Path, data: bytes) -> Path:
    """Write new contents beside a file, safe on the disk; the file itself is not touched yet."""
    part = path.with_name(f".{path.stem}.{digest_of(data)[:12]}.part")
    with part.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    if path.exists():
        shutil.copymode(path, part)
    return part


def put_in_place(part: Path, path: Path) -> None:
    """Let prepared contents take the place of a file, in one step."""
    try:
        part.replace(path)
    except PermissionError as error:
        raise BusyError(f"{path.name} is open in another program; close it first") from error
    _settle_folder(path.parent)


def keep_former(folder: Path, path: Path, data: bytes, stamp: datetime) -> Path:
    """Keep the former contents of a file under the wall time of the change."""
    former = kept_folder(folder) / "former"
    former.mkdir(exist_ok=True)
    number = 0
    while True:
        more = f" {number}" if number else ""
        target = former / f"{path.stem} {stamp:%Y-%m-%d %H%M%S}{more}{path.suffix}"
        if not target.exists():
            target.write_bytes(data)
            return target
        if target.read_bytes() == data:
            return target
        number += 1


def _settle_folder(folder: Path) -> None:
    """Where the system allows it, the folder's entry is put on the disk as well."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
