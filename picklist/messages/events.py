"""An appointment's message as plain facts: whichever standard it came by, and as it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from picklist.tables.schema import BY_NAME, SIDE_ALSO

DELETED = '""'  # HL7's sign that a value is to be deleted
BROKEN: dict[str, Any] = {"resourceType": "(broken)"}  # stands for a line of FHIR that cannot be read


class State(StrEnum):
    """Where an appointment stands."""

    BOOKED = "booked"
    WAITING = "waiting"  # proposed, on a list or a blocked slot: no case yet
    STARTED = "started"
    DONE = "done"
    STOPPED = "stopped"
    CANCELLED = "cancelled"
    DELETED = "deleted"


# HL7 table 0278 (filler status codes) and the status codes of FHIR Appointment, R4 and R5.
STATUS_WORDS = {
    "pending": State.BOOKED,
    "booked": State.BOOKED,
    "overbook": State.BOOKED,
    "arrived": State.BOOKED,
    "checked-in": State.BOOKED,
    "waitlist": State.WAITING,
    "blocked": State.WAITING,
    "proposed": State.WAITING,
    "started": State.STARTED,
    "complete": State.DONE,
    "fulfilled": State.DONE,
    "discontinued": State.STOPPED,
    "cancelled": State.CANCELLED,
    "noshow": State.CANCELLED,
    "deleted": State.DELETED,
    "entered-in-error": State.DELETED,
}
SIDE_WORDS = dict(SIDE_ALSO) | {side: side for side in BY_NAME["Schedule"].column("side").choices}
TRIGGER_STATE = {
    "S15": State.CANCELLED,
    "S16": State.STOPPED,
    "S17": State.DELETED,
    "S26": State.CANCELLED,
    "DELETE": State.DELETED,
}
BOOKS = frozenset({"S12", "S13", "S27"})  # makes an appointment stand again that was cancelled
WHOLE = frozenset({"S12", "S27", "FHIR"})  # says all of the appointment
PART_ACTION = {"S18": "A", "S19": "U", "S20": "D", "S21": "D", "S22": "D"}
SCHEDULING = frozenset({*(f"S{n}" for n in range(12, 23)), "S26", "S27"})
OF_SLOTS = frozenset({"S23", "S24"})


class Part(StrEnum):
    """What an appointment is made of."""

    SERVICE = "service"
    PLACE = "place"
    PERSON = "person"
    OTHER = "other"
    GROUP = "group"


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldCode:
    """A code in a field, such as AIL-3.2, and its coding system; a code that looks like none is a mark."""

    field: str
    code: str
    system: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resource:
    """One service, place or person of an appointment.

    ``place`` says where in the message it stands, ``key`` tells it from its like, ``action`` is A, U, D,
    X or empty. ``codes`` are other ways to say the same; ``roles`` say what a person does, ``sides`` of
    which side a service is. Minutes are of the service alone.
    """

    part: Part
    place: str
    key: str = ""
    action: str = ""
    codes: tuple[FieldCode, ...] = ()
    roles: tuple[FieldCode, ...] = ()
    sides: tuple[FieldCode, ...] = ()
    start: str = ""
    offset: str = ""
    offset_unit: str = ""
    duration: str = ""
    duration_unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Something of a message that could not be used or is strange: what, where, and whether it must be fixed."""

    kind: str
    place: str
    message: str
    grave: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One message about one appointment.

    ``at`` is the message's own time (ISO, with its offset if it has one); empty: the time of arrival counts.
    ``filler`` and ``placer`` are (id, namespace). ``start``, ``end``, ``duration`` are text as it was
    sent; empty for unchanged, DELETED for deleted. ``span`` is SCH-11.3.
    Raises ValueError for a time that is none, as a damaged record may hold.
    """

    control: str
    at: str
    trigger: str
    sequence: int = 0
    filler: tuple[str, str] = ("", "")
    placer: tuple[str, str] = ("", "")
    occurrence: str = ""
    number: str = ""
    status: tuple[FieldCode, ...] = ()
    start: str = ""
    end: str = ""
    duration: str = ""
    unit: str = ""
    span: str = ""
    reasons: tuple[FieldCode, ...] = ()
    resources: tuple[Resource, ...] = ()
    doubts: tuple[Doubt, ...] = ()

    def __post_init__(self) -> None:
        for time in (self.at, self.start, self.end, *(one.start for one in self.resources)):
            if time not in ("", DELETED):
                datetime.fromisoformat(time)


class Answer(StrEnum):
    """The answers of HL7's original mode; enhanced mode has CA, CE and CR in their place."""

    ACCEPT = "AA"
    ERROR = "AE"
    REJECT = "AR"


class RefusedError(Exception):
    """A message cannot be used; ``place`` is the segment and field, ``why`` says nothing of what is there."""

    def __init__(self, answer: Answer, place: str, why: str) -> None:
        super().__init__(why)
        self.answer, self.place, self.why = answer, place, why
