"""Answers to HL7 v2 messages, in original and enhanced mode (HL7 v2.9.1, 2.8.2 and 2.8.3), and their frames.

A frame is 0x0B, a message, 0x1C 0x0D (HL7 Transport Specification, MLLP).
"""

from __future__ import annotations

from datetime import datetime

from picklist.letters import whole_number
from picklist.messages.events import Answer
from picklist.messages.hl7_reader import MessageHeader

ENHANCED = {Answer.ACCEPT: "CA", Answer.ERROR: "CE", Answer.REJECT: "CR"}


def answers_to(
    header: MessageHeader,
    answer: Answer,
    now: datetime,
    control: str,
    *,
    original: bool = False,
    place: str = "",
) -> list[str]:
    """The messages to send back: one in original mode; in enhanced mode none, one or two, as the sender wants.

    ``original``: one in original mode, whatever the sender asks for.
    ``now`` is when, ``control`` the id of the answer. ``place`` is what an ERR segment points at; never a value.
    """
    if original or not (header.accept or header.application):
        return [_message(header, answer.value, now, control, place)]
    made = []
    if _is_wanted(header.accept, answer):
        made.append(_message(header, ENHANCED[answer], now, control, place))
    if _is_wanted(header.application, answer):
        made.append(_message(header, answer.value, now, f"{control}A", place))
    return made


def _is_wanted(condition: str, answer: Answer) -> bool:
    good = answer is Answer.ACCEPT
    return condition == "AL" or (condition == "SU" and good) or (condition == "ER" and not good)


def _message(header: MessageHeader, code: str, now: datetime, control: str, place: str) -> str:
    separator, component = header.separator, header.encoding[0]
    kind = component.join(("ACK", header.trigger, "ACK")) if _names_structure(header) else "ACK"
    msh = (
        f"MSH{separator}{header.encoding}",
        *header.receiver,
        *header.sender,
        f"{now:%Y%m%d%H%M%S%z}",
        "",
        kind,
        control,
        header.processing,
        header.version,
    )
    lines = [separator.join(msh), separator.join(("MSA", code, header.control))]
    if code[1] != "A":
        lines.append(separator.join(("ERR", "", _location(place, component), "207", "E")))
    return "\r".join(lines) + "\r"


def _names_structure(header: MessageHeader) -> bool:
    """Whether MSH-9 has three components: from version 2.3.1 on."""
    version = header.version.split(header.encoding[0])[0]
    numbers = [number for one in version.split(".") if (number := whole_number(one)) is not None]
    return bool(header.trigger) and numbers >= [2, 3, 1]


def _location(place: str, component: str) -> str:
    """Segment, number and field of ``AIL 2, field AIL-3`` as the type ERL has them."""
    first = place.split(" or ", maxsplit=1)[0].rpartition(" ")[2]
    segment, _, field = first.partition("-")
    return component.join((segment, "1", field)) if field else segment


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
