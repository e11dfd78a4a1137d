"""Many sheets set at once, in processes of their own: they use all processors, and their memory ends with them.

They are started as programs and not forked or spawned, so that a script that imports picklist is never run again
by them, and one that was left behind by a killed picklist ends where its input does.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager, suppress
from dataclasses import asdict
from datetime import datetime
from functools import partial
from queue import SimpleQueue
from typing import IO, TypeAlias

from picklist.documents.pages import Sheet, draw

WORTH_STARTING = 200_000  # characters of data: two seconds of setting; two processes start in a sixth of that
MOST_AT_ONCE = 4  # each takes some 200 MB
ENDED = (
    "a part of picklist that sets pages was ended from outside, which happens where memory is short; its pages were "
    "set in another way and are complete"
)
HEAVY = 40_000  # characters of the data of a sheet after which its process ends, for another with memory given back
LENGTH = 8  # bytes before each message that say how long it is

Say = Callable[[str], None]
Free: TypeAlias = "SimpleQueue[_Typesetter | None]"  # the processes that are not setting a sheet; None for a lost one


class _EndedError(Exception):
    """The process that was to set a sheet is no longer there, or could not set it."""


def draw_all(
    sheets: Sequence[Sheet], progress: Say = lambda _: None, workers: int = 0, notice: Say = lambda _: None
) -> list[bytes]:
    """The PDFs of some sheets, drawn side by side; ``progress`` gets each file as it is done.

    ``workers`` 0 takes one for each processor. Much work is done in processes, little in threads. Neither changes
    a byte. A sheet whose process was ended from outside is drawn here, and ``notice`` says so once.
    """
    sizes = [len(json.dumps(sheet.data)) for sheet in sheets]
    workers = workers or min(MOST_AT_ONCE, os.cpu_count() or 1)
    with (
        _setters(workers if sum(sizes) >= WORTH_STARTING else 0, notice) as set_one,
        ThreadPoolExecutor(workers) as pool,
    ):
        longest_first = sorted(range(len(sheets)), key=lambda n: -sizes[n])
        setting = {pool.submit(set_one, sheets[n]): n for n in longest_first}
        drawn = [b""] * len(sheets)
        try:
            for done in as_completed(setting):
                drawn[setting[done]] = done.result()
                progress(sheets[setting[done]].file)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return drawn


@contextmanager
def _setters(count: int, notice: Say) -> Iterator[Callable[[Sheet], bytes]]:
    """What draws a sheet, in one of so many processes or else here; they have ended afterwards, whatever happened."""
    running: list[_Typesetter] = []
    try:
        with suppress(OSError):  # where none can be started, all is drawn here
            while len(running) < count and sys.executable:
                running.append(_Typesetter())
        yield partial(_set_by_one, _queue_of(running), notice) if running else draw
    finally:
        for one in running:
            one.end()


def _queue_of(running: list[_Typesetter]) -> Free:
    free: Free = SimpleQueue()
    for one in running:
        free.put(one)
    return free


def _set_by_one(free: Free, notice: Say, sheet: Sheet) -> bytes:
    """The pages of a sheet from the next process that is free; what cannot be had from it is drawn here."""
    typesetter = free.get()
    try:
        if typesetter:
            return typesetter.set(sheet)
    except (_EndedError, OSError):
        typesetter = None
        notice(ENDED)
    finally:
        free.put(typesetter)
    return draw(sheet)


class _Typesetter:
    """A process that sets one sheet after the other."""

    def __init__(self) -> None:
        self._process = self._started()

    def _started(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(  # its own code alone, with the paths of this process
            [sys.executable, "-P", "-c", f"from {__name__} import serve; serve()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )

    def set(self, sheet: Sheet) -> bytes:
        """The pages of a sheet. Raises _EndedError, and OSError."""
        assert self._process.stdin
        assert self._process.stdout
        asked = json.dumps(asdict(sheet) | {"made": sheet.made.isoformat()}).encode()
        _send(self._process.stdin, asked)
        pdf = _receive(self._process.stdout)
        if not pdf:
            raise _EndedError
        if len(asked) > HEAVY:
            self.end()
            self._process = self._started()
        return pdf

    def end(self) -> None:
        """End the process, if it has not ended."""
        self._process.kill()
        with suppress(OSError):
            self._process.communicate()


def serve() -> None:
    """Set the sheets that come in, until no more do. A stop by hand is for the program that asks."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(OSError):
        while asked := _receive(sys.stdin.buffer):
            words = json.loads(asked)
            sheet = Sheet(**words | {"made": datetime.fromisoformat(words["made"])})
            _send(sys.stdout.buffer, draw(sheet))


def _send(to: IO[bytes], message: bytes) -> None:
    """All of a message; without a buffer, as some environments ask for it, a write that is disturbed takes a part."""
    rest = len(message).to_bytes(LENGTH, "big") + message
    while rest:
        rest = rest[to.write(rest) :]
    to.flush()


def _receive(source: IO[bytes]) -> bytes:
    """The next message; empty where there is none, or only a part of one."""
    length = int.from_bytes(source.read(LENGTH), "big")
    message = source.read(length)
    return message if len(message) == length else b""
