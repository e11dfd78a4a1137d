"""The frames of MLLP: 0x0B, a message, 0x1C 0x0D (HL7 Transport Specification, MLLP)."""

from __future__ import annotations

START, END, CR = b"\x0b", b"\x1c", b"\r"
LARGEST = 4 << 20  # bytes of a message; one of scheduling has a few thousand


class TooLargeError(Exception):
    """A frame has no end within reason."""


class Frames:
    """Whole messages out of a stream of bytes, however it is cut.

    What stands outside a frame is dropped; a frame whose end never comes is never a message. A
    second start within a frame begins the message anew: the sender gave the first one up.
    """

    def __init__(self) -> None:
        self._data = b""

    def feed(self, data: bytes) -> list[bytes]:
        """The messages that are whole with these bytes. Raises TooLargeError."""
        self._data += data
        whole: list[bytes] = []
        while True:
            start = self._data.find(START)
            if start < 0:
                self._data = b""
                return whole
            end = self._data.find(END + CR, start)
            if end < 0:
                self._data = self._data[start:]
                if len(self._data) > LARGEST:
                    raise TooLargeError
                return whole
            frame = self._data[start + 1 : end]
            whole.append(frame[frame.rfind(START) + 1 :])
            self._data = self._data[end + 2 :]


def frame(message: str) -> bytes:
    """A message in its frame."""
    return START + message.encode() + END + CR
