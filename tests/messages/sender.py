"""A sender of messages over MLLP, as a hospital's system is one."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from types import TracebackType

from picklist.messages.answers import Frames, frame
from tests.patience import PATIENCE


class Sender:
    """One connection; ``send`` gives the answers that came back."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE)
        self._frames = Frames()

    def __enter__(self) -> Sender:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._socket.close()

    def answers(self, *texts: str) -> Iterator[str]:
        """Send messages in one go and give as many answers as they come; fewer when the other end is gone."""
        self._socket.sendall(b"".join(frame(text) for text in texts))
        left = len(texts)
        while left > 0:
            try:
                data = self._socket.recv(65536)
            except ConnectionError:
                return
            if not data:
                return
            for one in self._frames.feed(data):
                left -= 1
                yield one.decode()

    def send(self, *texts: str) -> list[str]:
        """All answers to messages that are sent in one go."""
        return list(self.answers(*texts))
