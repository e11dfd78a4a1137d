"""A process of picklist's own that answers one message after the other: its work uses another processor.

It is started as a program and not forked or spawned, so that a script that imports picklist is never run again by
it, and one that was left behind by a killed picklist ends where its input does.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import IO, TypeVar

MOST_AT_ONCE = 4  # each takes some 200 MB
LENGTH = 8  # bytes before each message that say how long it is


class EndedError(Exception):
    """The process is no longer there, or could not answer."""


class OwnProcess:
    """A process that answers messages by ``serve`` of a module, which calls ``answer_all``."""

    def __init__(self, module: str) -> None:
        self._module = module
        self.process = self._started()

    def _started(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(  # its own code alone, with the paths of this process
            [sys.executable, "-P", "-c", f"from {self._module} import serve; serve()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )

    def ask(self, message: bytes) -> bytes:
        """The answer to a message. Raises EndedError, and OSError."""
        assert self.process.stdin
        assert self.process.stdout
        send(self.process.stdin, message)
        answer = receive(self.process.stdout)
        if not answer:
            raise EndedError
        return answer

    def end(self) -> None:
        """End the process, if it has not ended."""
        self.process.kill()
        with suppress(OSError):
            self.process.communicate()

    def start_again(self) -> None:
        """End the process, whose memory is given back, and start another."""
        self.end()
        self.process = self._started()


P = TypeVar("P", bound=OwnProcess)


def worth_having() -> int:
    """How many processes are of use at once: one for each processor, and no more than memory is there for."""
    return min(MOST_AT_ONCE, os.cpu_count() or 1)


@contextmanager
def processes(count: int, start: Callable[[], P]) -> Iterator[list[P]]:
    """So many processes, fewer or none where they cannot be started; they have ended afterwards, whatever happened."""
    running: list[P] = []
    try:
        with suppress(OSError):
            while len(running) < count and sys.executable:
                running.append(start())
        yield running
    finally:
        for one in running:
            one.end()


def answer_all(answer: Callable[[bytes], bytes]) -> None:
    """Answer the messages that come in, until no more do. A stop by hand is for the program that asks."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(OSError):
        while asked := receive(sys.stdin.buffer):
            send(sys.stdout.buffer, answer(asked))


def send(to: IO[bytes], message: bytes) -> None:
    """All of a message; without a buffer, as some environments ask for it, a write that is disturbed takes a part."""
    rest = len(message).to_bytes(LENGTH, "big") + message
    while rest:
        rest = rest[to.write(rest) :]
    to.flush()


def receive(source: IO[bytes]) -> bytes:
    """The next message; empty where there is none, or only a part of one."""
    length = int.from_bytes(source.read(LENGTH), "big")
    message = source.read(length)
    return message if len(message) == length else b""
