"""A listener for HL7 v2 messages over MLLP: each message is kept on the disk before it is acknowledged."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from picklist.messages.answers import Frames, TooLargeError, answers_to, frame
from picklist.messages.door import Door, is_mark
from picklist.messages.events import Answer
from picklist.messages.hl7_reader import decode_message
from picklist.messages.take import Taken, take_hl7
from picklist.problems import Severity
from picklist.store.keep_messages import Keeping, keep_messages
from picklist.store.state import StateFile
from picklist.store.state_errors import StateError
from picklist.tasks.errors import WrongUse, check_folder, opened_state
from picklist.tasks.message_files import open_door
from picklist.tasks.moment import Meant
from picklist.tasks.read_folder import load_folder

CHUNK = 1 << 16
NOT_KEPT = "it could not be stored; send it again later"


@dataclass(frozen=True, slots=True, kw_only=True)
class Listener:
    """Takes messages from any number of senders; ``say`` gets one line about each, ``stored`` is told of new ones."""

    state: StateFile
    door: Door
    now: Callable[[], datetime]
    say: Callable[[str], None]
    original: bool = False  # whether every answer is in original mode
    stored: Callable[[], None] = lambda: None

    def answer(self, data: bytes) -> list[bytes]:
        """Keep one message and give the frames to send back. A message that was not kept is never accepted."""
        now = self.now()
        taken = take_hl7(decode_message(data), self.door)
        try:
            kept = keep_messages(self.state, [taken], now)[0]
        except StateError:
            taken = replace(taken, answer=Answer.REJECT, place="", why=NOT_KEPT)
            kept = None
        if kept is not None and kept is not Keeping.REPEATED and taken.event is not None:
            self.stored()
        self.say(_line(taken, kept))
        if taken.header is None:
            return []
        control = uuid.uuid4().hex[:19]
        made = answers_to(taken.header, taken.answer, now, control, original=self.original, place=taken.place)
        return [frame(one) for one in made]

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Answer one sender until it leaves; what it sends outside of whole frames is dropped."""
        frames = Frames()
        try:
            while data := await reader.read(CHUNK):
                for message in frames.feed(data):
                    for one in self.answer(message):
                        writer.write(one)
                    await writer.drain()
        except TooLargeError:
            self.say("a message without an end was dropped, and its connection closed")
        except ConnectionError:
            pass  # the sender left; what was not acknowledged it sends again
        finally:
            with suppress(ConnectionError):
                writer.close()
                await writer.wait_closed()


def _line(taken: Taken, kept: Keeping | None) -> str:
    control = taken.control if taken.control and not is_mark(taken.control) else "(no id to show)"
    trigger = taken.event.trigger if taken.event is not None else ""
    said = f"{taken.answer.value} {control} {trigger}".rstrip()
    if taken.why:
        return f"{said}: {taken.place}: {taken.why}" if taken.place else f"{said}: {taken.why}"
    return f"{said}: came before" if kept is Keeping.REPEATED else said


async def run_listener(
    folder: Path, host: str, port: int, original: bool, say: Callable[[str], None], pause: float
) -> None:
    """Listen until cancelled; some ``pause`` (seconds) after new messages the schedule is written. Raises WrongUse."""
    check_folder(folder)
    fresh = asyncio.Event()
    with opened_state(folder) as state:
        door = open_door(folder, state)
        listener = Listener(state=state, door=door, now=_now, say=say, original=original, stored=fresh.set)
        try:
            server = await asyncio.start_server(listener.serve, host, port)
        except OSError as error:
            raise WrongUse(f"cannot listen on {host}, port {port}: {error.strerror}") from None
        say(f"listening on {host}, port {server.sockets[0].getsockname()[1]}")
        async with server:
            while True:
                await fresh.wait()
                await asyncio.sleep(pause)
                fresh.clear()
                say(await asyncio.to_thread(_renew, folder))


def _now() -> datetime:
    return datetime.now(UTC).astimezone()


def _renew(folder: Path) -> str:
    """Write the schedule anew from all messages; what came of it, in a line."""
    try:
        loaded = load_folder(folder, Meant.of(_now()))
    except WrongUse as wrong:
        return f"the schedule was not written: {wrong}"
    grave = sum(one.severity is not Severity.NOTICE for one in loaded.problems)
    return f"schedule written; {grave} to fix (picklist check {folder.resolve().name} lists them)"
