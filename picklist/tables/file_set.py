"""Several files of a site changed together: all of them or none, the former ones kept.

What is to be written lies ready beside the files; whoever writes notes it in the state before the
first file changes. A run that is cut short is finished by the next command, or turned back where
somebody has changed a file in between.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from picklist.tables.files import (
    BusyError,
    FileWrite,
    check_not_open,
    digest_now,
    digest_of,
    keep_former,
    kept_folder,
    prepare_file,
    put_in_place,
)

T = TypeVar("T")


class ChangedMeanwhileError(BusyError):
    """A file is not as it was when it was read."""

    def __init__(self, file: str) -> None:
        super().__init__(f"{file} was just changed by somebody else; try again")


def make_ready(
    folder: Path, former: Mapping[str, bytes], new: Mapping[str, bytes], stamp: datetime
) -> tuple[FileWrite, ...]:
    """Keep the former files under the wall time ``stamp`` and lay the new ones beside them.

    Raises BusyError (ChangedMeanwhileError where a file is not as ``former`` has it) and OSError; then nothing is left.
    """
    ready: list[FileWrite] = []
    try:
        for name in new:
            check_not_open(folder / name)
        for name, data in new.items():
            part = prepare_file(folder / name, data).name
            ready.append(FileWrite(file=name, former=digest_of(former[name]), new=digest_of(data), part=part))
        for one in ready:
            if digest_now(folder / one.file) != one.former:
                raise ChangedMeanwhileError(one.file)
        return tuple(replace(one, kept=keep_former(folder, one.file, former[one.file], stamp).name) for one in ready)
    except (OSError, BusyError):
        drop_parts(folder, ready)
        raise


def kept_paths(folder: Path, files: Sequence[FileWrite]) -> tuple[Path, ...]:
    """Where the former contents are kept."""
    return tuple(kept_folder(folder) / one.kept for one in files)


def put_noted(
    folder: Path, files: Sequence[FileWrite], begin: Callable[[], int], end: Callable[[int, tuple[str, ...]], T]
) -> T:
    """Put all files in place, what ``begin`` notes before the first one changes; ``end`` is told which hold it then.

    Raises what they raise, OSError and BusyError; all files have their former contents then.
    """
    try:
        number = begin()
    except BaseException:
        drop_parts(folder, files)
        raise
    try:
        _put_all(folder, files)
    except (OSError, BusyError):
        end(number, turn_back(folder, files))
        raise
    return end(number, tuple(one.file for one in files))


def _put_all(folder: Path, files: Sequence[FileWrite]) -> None:
    for one in files:
        put_in_place(folder / one.part, folder / one.file)


def finish(folder: Path, files: Sequence[FileWrite]) -> tuple[str, ...]:
    """Bring a write that was cut short to its end, and give the files that hold it.

    What lies ready is put in place. Where somebody has changed a file meanwhile, the others get their
    former contents back; a file that was in place and changed after that holds it. Raises OSError and
    BusyError, and nothing is lost by that.
    """
    waiting = [one for one in files if (folder / one.part).is_file()]
    if any(digest_now(folder / one.file) != one.former for one in waiting):
        return turn_back(folder, files)
    _put_all(folder, waiting)
    return tuple(one.file for one in files)


def turn_back(folder: Path, files: Sequence[FileWrite]) -> tuple[str, ...]:
    """Give files that are in place their former contents again; give those that somebody changed since, which stay."""
    stay = []
    for one in files:
        path = folder / one.file
        if (folder / one.part).is_file() or digest_now(path) == one.former:
            continue
        if digest_now(path) == one.new and one.kept:
            put_in_place(prepare_file(path, (kept_folder(folder) / one.kept).read_bytes()), path)
        else:
            stay.append(one.file)
    drop_parts(folder, files)
    return tuple(stay)


def drop_parts(folder: Path, files: Sequence[FileWrite]) -> None:
    """Remove what lies ready."""
    for one in files:
        (folder / one.part).unlink(missing_ok=True)
