"""Files of a site put in place whole, the former ones kept; used by everything that changes a site's files."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

KEPT_SUFFIX = ".picklist.kept"
KEPT_NAME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} ")
DAY = 24 * 60 * 60.0  # seconds

# What a computer refuses, by its error number, after the name of the file.
REFUSALS = {
    errno.ENOSPC: "cannot be written: the disk is full; what was there before is unchanged",
    errno.EDQUOT: "cannot be written: your share of this disk is used up; what was there before is unchanged",
    errno.EFBIG: "cannot be written: it is larger than this account may write; what was there before is unchanged",
    errno.EROFS: "cannot be written: this disk is read-only",
    errno.EACCES: "cannot be opened or written: you are not allowed to, or another program has it open",
    errno.EPERM: "cannot be written: you are not allowed to",
    errno.ENOENT: "is not there",
    errno.ENOTDIR: "cannot be reached: a part of this path is a file, not a folder",
    errno.EISDIR: "is a folder, not a file",
    errno.EEXIST: "is in the way; nothing was changed",
    errno.ENOTEMPTY: "was changed by another program at this moment; try again",
    errno.ENAMETOOLONG: "has a name that is too long for this disk",
    errno.ELOOP: "is a link that leads back to itself",
    errno.EBUSY: "is in use by another program; try again",
    errno.EIO: "cannot be read or written: the disk failed",
    errno.ENXIO: "cannot be written: it is not an ordinary file",
}

DISK_FAULTS = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EIO})  # what was written may not be there

# Names that Windows keeps for devices, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
DEVICES = {"con", "prn", "aux", "nul", "conin$", "conout$"} | {
    f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³"
}


def is_passed_over(name: str) -> bool:
    """Whether a file is hidden, or the lock or a temporary file of an open program: nothing is read from it."""
    return name.startswith((".", "~"))


class BusyError(Exception):
    """Somebody else holds the tables, or has the file open in a spreadsheet program."""


def why_refused(error: OSError) -> str | None:
    """What the computer refused, in plain words with the file's name; None for what a user can do nothing about."""
    words = REFUSALS.get(error.errno or 0)
    file = error.filename2 or error.filename
    return words and f"{os.fsdecode(file) if isinstance(file, str | bytes | os.PathLike) else 'what comes out'} {words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileWrite:
    """One file of a write: its name, the marks of its former and new contents, and where the new ones lie prepared.

    ``kept`` is the name under which the former contents are kept; empty in writes that an earlier version noted.
    """

    file: str
    former: str
    new: str
    part: str
    kept: str = ""


def is_device(name: str) -> bool:
    """Whether Windows takes a file's name, whatever its ending, for a device."""
    return name.split(".", maxsplit=1)[0].strip().casefold() in DEVICES


def digest_of(data: bytes) -> str:
    """A mark by which contents are known again."""
    return hashlib.sha256(data).hexdigest()


def digest_now(path: Path) -> str:
    """The mark of what a file holds now; empty when there is none."""
    return digest_of(path.read_bytes()) if path.is_file() else ""


def check_not_open(path: Path) -> None:
    """Raise BusyError when a spreadsheet program has marked the file as open."""
    for mark in (f"~${path.name}", f".~lock.{path.name}#"):
        if (path.parent / mark).exists():
            raise BusyError(f"{path.name} is open in a spreadsheet program; close it first")


def prepare_file(path: Path, data: bytes) -> Path:
    """Write new contents beside a file, safe on the disk; the file itself is not touched yet.

    Raises OSError; nothing is left of what was written then.
    """
    part = path.with_name(f".{path.stem}.{digest_of(data)[:12]}.part")
    _write_through(part, data, path, rights_of=path)
    return part


def put_in_place(part: Path, path: Path) -> None:
    """Let prepared contents take the place of a file, in one step. Raises BusyError."""
    try:
        part.replace(path)
    except PermissionError as error:
        raise BusyError(f"{path.name} is open in another program; close it first") from error
    folder_to_disk(path.parent)


def real_path(path: Path) -> Path:
    """Where a path leads: a link stays a link, and what it leads to is written. Raises OSError when that is not there.

    Something new may be written to a path that leads nowhere yet, but not through a link: the disk that
    the link leads to may be missing for the moment.
    """
    real = Path(os.path.realpath(path))
    if path.is_symlink() and not real.exists():
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), f"{path} is a link to {real}, which")
    return real


def check_file(path: Path) -> None:
    """Raise OSError or BusyError when a file cannot be written there, before any work is done for it."""
    real = real_path(path)
    if real.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    check_not_open(real)
    check_folder(real.parent)


def check_folder(path: Path) -> None:
    """Raise OSError when nothing can be written into a folder, or where it would be made."""
    real = real_path(path)
    near = next(one for one in (real, *real.parents) if one.exists())
    if not near.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(path))
    if not os.access(near, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))


def write_file(path: Path, data: bytes) -> None:
    """Write a file completely or not at all: what was there stays until the new one is on the disk.

    A missing folder is made, a link is followed. Raises OSError and BusyError; nothing is left behind then.
    """
    check_file(path)
    real = real_path(path)
    real.parent.mkdir(parents=True, exist_ok=True)
    replace_file(real, data, named=path)


def replace_file(path: Path, data: bytes, *, named: Path | None = None) -> None:
    """Write a file completely or not at all; a link is replaced, and what it leads to is left alone.

    Raises OSError, which tells of ``named`` where that is given, and BusyError; nothing is left behind then.
    """
    part = path.with_name(f".{digest_of(data)[:16]}.part")
    try:
        _write_through(part, data, named or path, rights_of=path)
        put_in_place(part, path)
    finally:
        part.unlink(missing_ok=True)


def kept_folder(site_folder: Path) -> Path:
    """Where former files of a site are kept: beside its folder, where no table is looked for."""
    folder = site_folder.resolve()
    return folder.with_name(folder.name + KEPT_SUFFIX)


def keep_former(site_folder: Path, name: str, data: bytes, stamp: datetime) -> Path:
    """Keep former contents under the wall time of the change; nothing that is kept is ever written over.

    The same contents of the same file and second are kept once. Raises OSError.
    """
    folder = kept_folder(site_folder)
    folder.mkdir(mode=0o700, exist_ok=True)
    part = folder / f".{digest_of(data)[:16]}.part"  # so that a run that is cut short leaves no half of a file
    number = 1
    try:
        _write_through(part, data, folder / name)
        while True:
            more = f" ({number})" if number > 1 else ""
            kept = folder / f"{stamp:%Y-%m-%d %H%M%S}{more} {name}"
            if _named_anew(part, kept):
                break
            if kept.is_file() and kept.read_bytes() == data:
                return kept
            number += 1
    finally:
        part.unlink(missing_ok=True)
    folder_to_disk(folder)
    return kept


def _named_anew(part: Path, path: Path) -> bool:
    """Give a file a name that no other has; False where one has it. Raises OSError."""
    try:
        path.hardlink_to(part)
    except FileExistsError:
        return False
    except OSError:  # a disk without such links
        if path.exists():
            return False
        part.rename(path)
    return True


def forget_former(site_folder: Path, days: int) -> int:
    """Remove former files that were kept for more than so many days, by this computer's clock; how many.

    0 days: they are kept without end. What cannot be removed stays for the next time.
    """
    folder = kept_folder(site_folder)
    if not days or not folder.is_dir():
        return 0
    gone = 0
    for path in sorted(folder.iterdir()):
        with suppress(OSError):
            left = path.suffix == ".part"  # by a run that was cut short
            if (
                (left or KEPT_NAME.match(path.name))
                and path.is_file()
                and time.time() - path.stat().st_mtime > days * DAY
            ):
                path.unlink()
                gone += 1
    return gone


def folder_to_disk(folder: Path) -> None:
    """Make the names in a folder last; Windows cannot open a folder and needs no such call."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write_through(path: Path, data: bytes, named: Path, rights_of: Path | None = None) -> None:
    """Write a new file until it is on the disk, with the rights of another one where that is there.

    Raises OSError that names ``named``; nothing is left of it then.
    """
    started = False
    try:
        with path.open("wb") as file:
            started = True
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if rights_of and rights_of.exists():
            shutil.copymode(rights_of, path)
    except OSError as error:
        error.filename = str(named)  # a full disk names no file
        if started:
            with suppress(OSError):
                path.unlink()
        raise
