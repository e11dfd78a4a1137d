"""A sender of messages over MLLP, as a hospital's system is one."""

from __future__ import annotations

import socket
from types import TracebackType

from picklist.messages.mllp import Frames, frame


class Sender:
    """One connection; ``send`` gives the answers that came back."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=30)
        self._frames = Frames()

    def __enter__(self) -> Sender:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._socket.close()

    def send(self, *texts: str) -> list[str]:
        """Send messages in one go and wait for as many answers; fewer when the other end is gone."""
        self._socket.sendall(b"".join(frame(text) for text in texts))
        answers: list[bytes] = []
        while len(answers) < len(texts):
            data = self._socket.recv(65536)
            if not data:
                break
            answers += self._frames.feed(data)
        return [one.decode() for one in answers]
