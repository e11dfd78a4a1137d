"""One message taken in: its answer by the standard's rule, and what may be kept of it."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import dataclass

from picklist.messages.door import Door
from picklist.messages.events import Answer, Event, RefusedError
from picklist.messages.fhir import Refusal, read_fhir
from picklist.messages.hl7_reader import Header, read_header, read_message


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A message, its answer, and what may be kept: an event, or for a refused one the place and why.

    ``header`` is for the answer alone and is not kept. ``digest`` tells a repeated message. An accepted
    message without an event is about no case.
    """

    answer: Answer
    digest: str
    control: str = ""
    header: Header | None = None
    event: Event | None = None
    place: str = ""
    why: str = ""

    @property
    def appointment(self) -> str:
        """The appointment by the filler's or placer's number, to find its other messages."""
        return "|".join((*self.event.filler, *self.event.placer)) if self.event else ""


def take_hl7(text: str, door: Door) -> Taken:
    """Take one HL7 v2 message in."""
    digest = _digest(text, door)
    header = None
    try:
        header = read_header(text)
        event = read_message(text, header, door)
    except RefusedError as refused:
        control = door.name(header.control) if header is not None else ""
        return Taken(
            answer=refused.answer, digest=digest, control=control, header=header, place=refused.place, why=refused.why
        )
    return Taken(answer=Answer.ACCEPT, digest=digest, control=door.name(header.control), header=header, event=event)


def take_fhir(text: str, door: Door) -> list[Taken]:
    """Take the appointments of a FHIR bundle in."""
    try:
        found = read_fhir(json.loads(text), door)
    except (json.JSONDecodeError, RecursionError):
        xml = text.lstrip().startswith("<")
        why = "FHIR in XML is not read; JSON is" if xml else "this is no JSON that can be read"
        return [Taken(answer=Answer.ERROR, digest=_digest(text, door), place="", why=why)]
    except RefusedError as refused:
        return [Taken(answer=refused.answer, digest=_digest(text, door), place=refused.place, why=refused.why)]
    taken = []
    for one in found:
        digest = _digest(repr(one), door)
        if isinstance(one, Refusal):
            taken.append(Taken(answer=Answer.ERROR, digest=digest, place=one.place, why=one.why))
        else:
            taken.append(Taken(answer=Answer.ACCEPT, digest=digest, control=one.control, event=one))
    return taken


def _digest(text: str, door: Door) -> str:
    made = hashlib.blake2b(text.encode("utf-8", "surrogatepass"), key=door.key, digest_size=20).digest()
    return base64.b32encode(made).decode().lower()
