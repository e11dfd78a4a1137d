"""A folder is written whole or not at all.

Everything goes into a new folder beside the target. Only when it is complete and on the
disk do the two change places by renaming. Between the two renames the target is missing
for a moment: whoever looks next (``recover``) finds the former folder under its resting
name and puts back what belongs there.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

MARKER = ".picklist"
MARKER_TEXT = "This folder is written by picklist as a whole; what else is put in here is lost at the next run.\n"


class NotOurFolderError(Exception):
    """The target exists and was not written by this program, so it is not replaced."""


def is_ours(folder: Path) -> bool:
    """Whether a folder was written by ``write_folder``."""
    return (folder / MARKER).is_file()


def write_folder(target: Path, make: Callable[[Path], None]) -> None:
    """Let ``make`` fill a new folder, then put it in the place of ``target``.

    If ``make`` raises, or the process dies at any point, the former folder stays whole (after
    a death between the two renames: once ``recover`` has run, which this also does first).
    Raises NotOurFolderError when the target is a file, or a folder with content of others.
    """
    target = target.absolute()
    recover(target)
    _refuse_foreign(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    fresh, resting = _fresh(target), _resting(target)
    fresh.mkdir()
    try:
        make(fresh)
        (fresh / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
        _to_disk(fresh)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    if target.exists():
        target.rename(resting)
    fresh.rename(target)
    _folder_to_disk(target.parent)
    shutil.rmtree(resting, ignore_errors=True)


def recover(target: Path) -> None:
    """Clear what a killed run left beside the target, and put the former folder back if it is missing."""
    target = target.absolute()
    resting = _resting(target)
    if resting.exists():
        if target.exists():
            shutil.rmtree(resting, ignore_errors=True)
        else:
            resting.rename(target)
    shutil.rmtree(_fresh(target), ignore_errors=True)


def _fresh(target: Path) -> Path:
    return target.with_name(f".{target.name}.new")


def _resting(target: Path) -> Path:
    return target.with_name(f".{target.name}.former")


def _refuse_foreign(target: Path) -> None:
    if target.is_dir():
        if not is_ours(target) and any(target.iterdir()):
            raise NotOurFolderError(f"{target} holds files that picklist did not write; choose an empty or new folder")
    elif target.exists():
        raise NotOurFolderError(f"{target} is a file, not a folder")


def _to_disk(folder: Path) -> None:
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            with path.open("rb") as file, suppress(OSError):
                os.fsync(file.fileno())
    _folder_to_disk(folder)


def _folder_to_disk(folder: Path) -> None:
    """Make renames in a folder last; Windows cannot open a folder and needs no such call."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
