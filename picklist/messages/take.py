"""One message taken in: its answer by the standard's rule, and what may be kept of it."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import dataclass
from typing import Any

from picklist.messages.door import Door
from picklist.messages.events import BROKEN, Answer, Event, RefusedError
from picklist.messages.hl7_reader import MessageHeader, message_id, read_header, read_message


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A message, its answer, and what may be kept: an event, or for a refused one the place and why.

    ``header`` is for the answer alone and is not kept. ``digest`` tells a repeated message. An accepted
    message without an event is about no case.
    """

    answer: Answer
    digest: str
    control: str = ""
    header: MessageHeader | None = None
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
        control = message_id(text, header, door) if header is not None else ""
        return Taken(
            answer=refused.answer, digest=digest, control=control, header=header, place=refused.place, why=refused.why
        )
    control = message_id(text, header, door)
    return Taken(answer=Answer.ACCEPT, digest=digest, control=control, header=header, event=event)


def take_fhir(text: str, door: Door) -> list[Taken]:
    """Take the appointments of a FHIR bundle in, of one alone, or of resources line by line (NDJSON)."""
    from picklist.messages.fhir import Refusal, read_fhir  # its models take a while to load, for few sites

    try:
        found = [one for part in _parsed(text) for one in read_fhir(part, door)]
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


def _parsed(text: str) -> list[Any]:
    """The JSON of a text: one value, or where each line is a resource of its own, those together as one bundle.

    A bundle on a line stays a bundle. Raises RefusedError.
    """
    if text.lstrip().startswith("<"):
        why = "FHIR in XML is not read: let the other system send or export JSON (_format=json)"
        raise RefusedError(Answer.ERROR, "", why)
    whole = _json(text)
    if whole is not None:
        return [whole]
    lines = text.splitlines()
    if not isinstance(_json(next(iter(filter(str.strip, lines)), "")), dict):
        raise RefusedError(Answer.ERROR, "", "this is not JSON that can be read")
    resources = [_json(line) if line.strip() else {} for line in lines]
    resources = [one if isinstance(one, dict) else BROKEN for one in resources]
    bundles = [one for one in resources if one.get("resourceType") == "Bundle"]
    entries = [{} if one.get("resourceType") == "Bundle" else {"resource": one} for one in resources]
    return [*bundles, {"resourceType": "Bundle", "entry": entries}]


def _json(text: str) -> Any:
    """What a text says in JSON; None where it is none that can be read."""
    try:
        found = json.loads(text)
        if "\\ud" in text.lower():  # half of a character, which no text may hold and nothing can keep, becomes a "?"
            whole = json.dumps(found, ensure_ascii=False).encode(errors="replace").decode()
            return json.loads(whole)
        return found
    except (ValueError, RecursionError):  # also for a number of thousands of digits
        return None


def _digest(text: str, door: Door) -> str:
    made = hashlib.blake2b(text.encode("utf-8", "surrogatepass"), key=door.key, digest_size=20).digest()
    return base64.b32encode(made).decode().lower()
