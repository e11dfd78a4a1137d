"""What was read of a folder, kept in the user's own cache folder, so that unchanged files are not read again.

One file for what is read of all but the schedule, one for each schedule on top of it. Its name and its key are made of
all that was read for it, the day, the program, and what that runs with: where any of them changes there is another
name, and the former file is not found. What is written can be opened only by whoever has those very files: it is added,
byte by byte, to a stream that their digest starts (SHAKE-256, FIPS 202), and a keyed digest tells when a byte of it
changed. It holds no code: reading it makes objects of the model, of tables and of reading, and nothing else. Whatever
is wrong with a file or the folder, the tables are read instead.
"""

from __future__ import annotations

import dataclasses
import hashlib
import hmac
import io
import os
import pickle
import sys
import time
import zlib
import zoneinfo
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import date, datetime, timedelta, timezone
from datetime import time as wall_time
from enum import Enum
from functools import cache
from importlib import import_module
from pathlib import Path
from stat import S_ISDIR
from typing import Any

from picklist.garbage import no_search_for_garbage

FOLDER = "PICKLIST_CACHE"  # an environment variable: another folder; empty, nothing is kept
ENDING, PART = ".reading", ".part"
MOST_KEPT = 24  # files
MOST_BYTES = 64 << 20  # of all together
LONGEST = 30 * 24 * 60 * 60.0  # seconds that one is kept unused
TAG = 32  # bytes of the keyed digest
OF_READING = tuple(
    f"picklist.{one}"
    for one in ("model.", "settings", "problems", "labels.", "tables.", "inputs.", "tasks.read_folder")
)
OF_TIME = {one.__name__: one for one in (date, datetime, timedelta, timezone, wall_time)}


def find_reading(mark: str) -> Any:
    """What ``keep_reading`` kept under a mark with this program; None where there is none, or it cannot be used."""
    folder = _own_folder()
    if folder is None:
        return None
    try:
        root = _root(mark)
        path = folder / _name(root)
        plain = _opened(root, path.read_bytes())
        found = None if plain is None else _unpacked(plain)
        os.utime(path)
    except Exception:  # a damaged file may fail in any way, and is no more than a reading to be made anew
        return None
    return found


def keep_reading(mark: str, reading: object) -> None:
    """Keep plain values and objects of a reading under a mark. Where that is not possible, nothing is kept."""
    folder = _own_folder()
    if folder is None:
        return
    with suppress(OSError):
        root = _root(mark)
        part = folder / f"{_name(root)}.{os.getpid()}{PART}"
        data = _sealed(root, _packed(reading))
        if len(data) > MOST_BYTES:
            return
        try:
            with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
                file.write(data)
            part.replace(folder / _name(root))
        finally:
            part.unlink(missing_ok=True)
        _prune(folder)


def _prune(folder: Path) -> None:
    """Remove what was not used for long, and what was used longest ago beyond the number and size that are kept."""
    found = sorted((path.stat().st_mtime, path) for path in folder.iterdir() if path.suffix in (ENDING, PART))
    left = 0
    for number, (used, path) in enumerate(reversed(found)):
        left += path.stat().st_size
        if number >= MOST_KEPT or left > MOST_BYTES or time.time() - used > LONGEST:
            path.unlink(missing_ok=True)


def _own_folder() -> Path | None:
    """The cache folder, made where it is missing; None where there is none that is this user's alone."""
    try:
        folder = _named_folder()
        if folder is None:
            return None
        if not folder.is_dir():
            folder.parent.mkdir(parents=True, exist_ok=True)
            folder.mkdir(mode=0o700, exist_ok=True)
        facts = folder.stat()
    except (OSError, RuntimeError):  # RuntimeError: nobody knows where this user's home is
        return None
    if os.name == "posix" and (facts.st_uid != os.geteuid() or facts.st_mode & 0o077):
        return None
    return folder if S_ISDIR(facts.st_mode) else None


def _named_folder() -> Path | None:
    """Where this system keeps what programs may lose, or what the environment says instead."""
    named = os.environ.get(FOLDER)
    if named is not None:
        return Path(named) if named else None
    if os.name == "nt":
        local = os.environ.get("LOCALAPPDATA")
        return Path(local) / "picklist" / "cache" if local else None
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "picklist"
    shared = os.environ.get("XDG_CACHE_HOME", "")  # XDG Base Directory Specification: absolute, else ~/.cache
    return (Path(shared) if Path(shared).is_absolute() else Path.home() / ".cache") / "picklist"


def _root(mark: str) -> bytes:
    return hashlib.sha256(f"{_program()} {mark}".encode()).digest()


def _name(root: bytes) -> str:
    return hashlib.sha256(b"name" + root).hexdigest()[:40] + ENDING


@cache
def _program() -> str:
    """A mark of all that reads besides the files: this program, Python, the libraries, and the rules of time zones."""
    package = Path(__file__).parents[1]
    facts: list[object] = [sys.version, zoneinfo.TZPATH]
    facts += sorted(_stamps(package.rglob("*.py")))
    for folder in zoneinfo.TZPATH:
        facts += sorted(_stamps(Path(folder).glob("*")))
    for folder in sys.path:
        facts += sorted(path.name for path in Path(folder).glob("*.dist-info"))
    return hashlib.sha256(repr(facts).encode()).hexdigest()


def _stamps(paths: Iterator[Path]) -> Iterator[tuple[str, int, int]]:
    for path in paths:
        facts = path.stat()
        yield str(path), facts.st_size, facts.st_mtime_ns


def _sealed(root: bytes, plain: bytes) -> bytes:
    """The same bytes, for whoever knows the root. The stream starts anew for other bytes, so none is used twice."""
    key = hashlib.sha256(b"key" + root).digest()
    tag = hmac.digest(key, plain, "sha256")
    return tag + _added(key + tag, plain)


def _opened(root: bytes, sealed: bytes) -> bytes | None:
    """What was sealed; None for anything else."""
    key = hashlib.sha256(b"key" + root).digest()
    plain = _added(key + sealed[:TAG], sealed[TAG:])
    return plain if hmac.compare_digest(hmac.digest(key, plain, "sha256"), sealed[:TAG]) else None


def _added(start: bytes, data: bytes) -> bytes:
    stream = hashlib.shake_256(start).digest(len(data))
    return (int.from_bytes(stream, "little") ^ int.from_bytes(data, "little")).to_bytes(len(data), "little")


class _ModelMaker:
    """Makes objects of one dataclass from the values of its fields, much faster than a pickle of its own does."""

    def __init__(self, model: type) -> None:
        self._model = model
        self.names = tuple(field.name for field in dataclasses.fields(model))
        self._puts = tuple(getattr(model, name).__set__ for name in self.names)

    def __call__(self, *values: object) -> object:
        made: object = object.__new__(self._model)
        for put, value in zip(self._puts, values, strict=True):
            put(made, value)
        return made

    def __reduce__(self) -> tuple[Callable[[str, str], _ModelMaker], tuple[str, str]]:
        return maker_of, (self._model.__module__, self._model.__qualname__)


@cache
def maker_of(module: str, name: str) -> _ModelMaker:
    """The maker of a dataclass of a reading. Raises UnpicklingError for anything else."""
    return _ModelMaker(_of_reading(module, name))


def _of_reading(module: str, name: str) -> type:
    if module.startswith(OF_READING):
        found = getattr(import_module(module), name, None)
        if isinstance(found, type) and (dataclasses.is_dataclass(found) or issubclass(found, Enum)):
            return found
    raise pickle.UnpicklingError(f"{module}.{name} is not kept")


class _Packer(pickle.Pickler):
    def reducer_override(self, one: Any) -> Any:
        if not dataclasses.is_dataclass(one) or isinstance(one, type):
            return NotImplemented
        maker = maker_of(type(one).__module__, type(one).__qualname__)
        return maker, tuple([getattr(one, name) for name in maker.names])


class _Unpacker(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        if (module, name) == (__name__, maker_of.__name__):
            return maker_of
        if module == "datetime" and name in OF_TIME:
            return OF_TIME[name]
        return _of_reading(module, name)


def _packed(reading: object) -> bytes:
    packed = io.BytesIO()
    _Packer(packed, protocol=5).dump(reading)
    return zlib.compress(packed.getvalue(), 1)


def _unpacked(data: bytes) -> Any:
    with no_search_for_garbage():
        return _Unpacker(io.BytesIO(zlib.decompress(data))).load()
