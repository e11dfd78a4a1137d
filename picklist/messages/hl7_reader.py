"""HL7 v2 scheduling messages (SIU, v2.2 to v2.9) as events.

One reader for all versions: later ones only add fields at the end. The field numbers are those of
HL7 v2.9.1, chapters 2 and 10. Segments that are not named here are never parsed.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import hl7

from picklist.messages.door import PATIENTS_OWN, Door, holds_number, patient_numbers, read_hl7_time
from picklist.messages.events import (
    DELETED,
    OF_SLOTS,
    SCHEDULING,
    Answer,
    Doubt,
    Event,
    FieldCode,
    Part,
    RefusedError,
    Resource,
)

HEADER = re.compile(r"MSH([^\w\s])([^\w\s]{1,5})(?=\1|$)")
READ = frozenset({"MSH", "SCH", "TQ1", "RGS", "AIS", "AIG", "AIL", "AIP", "DSC"})
ACTIONS = frozenset("ADUX")
SNAPSHOT = "S"
GONE = frozenset({"cancelled", "deleted", "discontinued"})
NUMBER = re.compile(r"-?\d{1,6}(\.\d{1,3})?")
SHORT = re.compile(r"\d{1,4}")
SPAN = re.compile(r"[SMHD]?\d{1,5}")
UNIT = re.compile(r"(?:s|sec|second|m|min|mins|minute|h|hr|hrs|hour|d|day)s?", re.IGNORECASE)
FHS, BHS, BTS, FTS = "FHS", "BHS", "BTS", "FTS"
CUT_OFF = Doubt(
    kind="batch cut off", place="", message="the batch has no end, so this message may be cut off; send it whole"
)
NO_LINE_END = Doubt(
    kind="no line end",
    place="",
    message="the file ends without a line end, so its last message may be cut off, and a person be missing in it",
    grave=False,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageHeader:
    """The header of a message, for its answer; nothing of it is kept as it is."""

    separator: str
    encoding: str
    sender: tuple[str, str]
    receiver: tuple[str, str]
    kind: str
    trigger: str
    control: str
    processing: str
    version: str
    accept: str
    application: str


@dataclass(frozen=True, slots=True)
class _Segment:
    """A parsed segment: fields by their number in the standard, escapes resolved."""

    message: hl7.Message
    parsed: Any
    name: str
    ordinal: int

    def get(self, field: int, component: int = 1, repetition: int = 0) -> str:
        """A component's first subcomponent, without outer spaces."""
        node = self.parsed
        for index in (field, repetition, component - 1, 0):
            if isinstance(node, str):
                if index:
                    return ""
                continue
            if index >= len(node):
                return ""
            node = node[index]
        text = str(node)
        return _unescaped(text, self.message).strip()

    def repetitions(self, field: int) -> range:
        """The numbers of a field's repetitions."""
        return range(len(self.parsed[field])) if field < len(self.parsed) else range(0)

    def place(self, field: int) -> str:
        """Where a field stands, as said to a person: ``AIL 2, field AIL-3``."""
        return (
            f"{self.name} {self.ordinal}, field {self.name}-{field}" if self.ordinal else f"field {self.name}-{field}"
        )


def _unescaped(text: str, message: hl7.Message) -> str:
    """A text with its escapes resolved; one that is for layout or unknown is a blank.

    The library's own way writes what it does not know into a log, where a patient could stand.
    """
    escape = str(message.esc)
    if not escape.strip() or escape not in text:
        return text
    _, field, repetition, component, subcomponent = message.separators[:5]
    delimiters = {"F": field, "S": component, "T": subcomponent, "R": repetition, "E": escape}

    def resolved(found: re.Match[str]) -> str:
        name = found[1]
        if name[:1] == "X" and re.fullmatch(r"(?:[0-9A-Fa-f]{2})+", name[1:]):
            return decode_message(bytes.fromhex(name[1:]))
        return str(delimiters.get(name, " "))

    sign = re.escape(escape)
    return re.sub(f"{sign}([^{sign}]*){sign}", resolved, text)


def decode_message(data: bytes) -> str:
    """A message's text: UTF-8, else Windows Western European. No message is refused for the byte of a name."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def split_file(text: str) -> tuple[list[str], list[Doubt]]:
    """The messages of a batch, a file, or a plain row of messages; what is strange about their number and their end."""
    lines = [line.strip("\x0b\x1c \t") for line in re.split(r"[\r\n]+", text)]
    messages: list[list[str]] = []
    doubts: list[Doubt] = []
    counted, outside = 0, 0
    for line in lines:
        name = line[:3]
        if name == "MSH":
            messages.append([line])
            counted += 1
        elif name == BHS:
            counted = 0
        elif name == BTS:
            doubts += _check_count(line, counted)
        elif name not in (FHS, FTS) and line:
            if messages:
                messages[-1].append(line)
            else:
                outside += 1
    if outside and messages:
        doubts.append(
            Doubt(kind="not a message", place="", message=f"lines before the first message were not read: {outside}")
        )
    if messages and text.rstrip(" \t")[-1:] not in "\r\n\x1c":
        doubts.append(NO_LINE_END)
    names = [line[:3] for line in lines if line]
    if messages and {FHS, BHS}.intersection(names) and names[-1] not in (BTS, FTS):
        doubts.append(CUT_OFF)  # the last message could be half a case
    return ["\r".join(one) for one in messages], doubts


def _check_count(trailer: str, counted: int) -> list[Doubt]:
    said = re.match(r"BTS\W(\d{1,9})(?!\d)", trailer)
    if said is None or int(said[1]) == counted:
        return []
    message = f"the batch says that it holds {int(said[1])} messages, but {counted} were found"
    return [Doubt(kind="batch count", place="field BTS-1", message=message)]


def read_header(text: str) -> MessageHeader:
    """The header of a message. Raises RefusedError when there is none."""
    found = HEADER.match(text)
    if not found:
        raise RefusedError(Answer.REJECT, "MSH", "this is not an HL7 v2 message")
    if len({found[1], *found[2]}) <= len(found[2]):
        raise RefusedError(Answer.REJECT, "field MSH-2", "one character separates two different things")
    msh = _segments(text.split("\r", 1)[0])[0]
    kind, trigger = msh.get(9), msh.get(9, 2)
    if not trigger and "_" in msh.get(9, 3):
        trigger = msh.get(9, 3).partition("_")[2]
    return MessageHeader(
        separator=text[3],
        encoding=found[2],
        sender=(_raw(msh, 3), _raw(msh, 4)),
        receiver=(_raw(msh, 5), _raw(msh, 6)),
        kind=kind,
        trigger=trigger,
        control=msh.get(10),
        processing=_raw(msh, 11),
        version=_raw(msh, 12),
        accept=msh.get(15),
        application=msh.get(16),
    )


def _raw(segment: _Segment, field: int) -> str:
    """A whole field as it was sent, to be sent back."""
    return str(segment.parsed[field]) if field < len(segment.parsed) else ""


def read_message(text: str, header: MessageHeader, door: Door) -> Event | None:
    """A message as an event; None for one that is about no case (time slots). Raises RefusedError."""
    _check_header(header)
    if header.trigger in OF_SLOTS:
        return None
    parts = _segments(text)
    msh, sch = parts[0], next((one for one in parts if one.name == "SCH"), None)
    if msh.get(14) or any(one.name == "DSC" for one in parts):
        raise RefusedError(Answer.ERROR, "DSC or field MSH-14", "this is a part of a longer message; send it whole")
    if sch is None:
        raise RefusedError(Answer.ERROR, "SCH", "the segment SCH is missing")
    at = read_hl7_time(msh.get(7))
    if msh.get(7) and not at:
        raise RefusedError(Answer.ERROR, "field MSH-7", "this is not a day and time")
    sender = door.mark("|".join(header.sender))
    filler, placer = _appointment(sch, 2, door, sender), _appointment(sch, 1, door, sender)
    if not filler[0] and not placer[0]:
        raise RefusedError(Answer.ERROR, "field SCH-1 or SCH-2", "the appointment has no number")
    own = _patient_numbers(text, header)
    for field in (1, 2):
        if not door.hide_ids and holds_number(sch.get(field), own):
            raise RefusedError(Answer.ERROR, f"field SCH-{field}", PATIENTS_OWN)
    doubts: list[Doubt] = []
    times = _Times(at, doubts)
    timing = _timing(sch, [one for one in parts if one.name == "TQ1"], times)
    return Event(
        control=message_id(text, header, door),
        at=at,
        trigger=header.trigger,
        sequence=int(msh.get(13)) if re.fullmatch(r"\d{1,9}", msh.get(13)) else 0,
        filler=filler,
        placer=placer,
        occurrence=sch.get(3) if SHORT.fullmatch(sch.get(3)) else "",
        status=_codes(sch, 25, door),
        reasons=(*_codes(sch, 7, door), *_codes(sch, 8, door)),
        resources=tuple(_resources(parts, door, times)),
        doubts=tuple(doubts),
        **timing,
    )


def message_id(text: str, header: MessageHeader, door: Door) -> str:
    """The control id as it may be kept; a mark where it holds the patient's own number."""
    control = header.control
    return door.mark(control) if holds_number(control, _patient_numbers(text, header)) else door.name(control)


def _patient_numbers(text: str, header: MessageHeader) -> frozenset[str]:
    """The numbers in PID-2 to PID-4, to know them where they must not stand; they go no further than this reader."""
    component, repetition = header.encoding[0], header.encoding[1:2] or "~"
    lines = (line.split(header.separator) for line in text.split("\r") if line[:4] == f"PID{header.separator}")
    ids = (one for fields in lines for field in fields[2:5] for one in field.split(repetition))
    return patient_numbers(one.split(component)[0].strip() for one in ids)


def _check_header(header: MessageHeader) -> None:
    if header.kind != "SIU" or header.trigger not in SCHEDULING | OF_SLOTS:
        raise RefusedError(Answer.REJECT, "field MSH-9", "only scheduling messages (SIU, S12 to S27) are taken")
    version = header.version.split(header.encoding[0])[0].strip()
    if not re.fullmatch(r"2\.\d(\.\d)?", version):
        raise RefusedError(Answer.REJECT, "field MSH-12", "only HL7 v2 is read")
    if header.processing[:1] not in ("P", ""):
        raise RefusedError(Answer.REJECT, "field MSH-11", "messages for training or debugging are not taken")
    if not header.control:
        raise RefusedError(Answer.ERROR, "field MSH-10", "the message has no control id")


def _segments(text: str) -> list[_Segment]:
    """The segments that are read, in their order; all others never reach the parser."""
    kept = [line for line in text.split("\r") if line[:3] in READ and (line[3:4] == text[3] or len(line) == 3)]
    try:
        message = hl7.parse("\r".join(kept) + "\r")
    except (AssertionError, IndexError):  # the library's way to say that separators clash
        raise RefusedError(Answer.REJECT, "field MSH-2", "the separators cannot be used") from None
    counts: Counter[str] = Counter()
    found = []
    for parsed in message:
        name = str(parsed[0])
        counts[name] += 1
        found.append(_Segment(message, parsed, name, 0 if name in ("MSH", "SCH") else counts[name]))
    return found


def _appointment(sch: _Segment, field: int, door: Door, sender: str) -> tuple[str, str]:
    """An appointment's number and its namespace; a number without one is of its sender."""
    number = sch.get(field)
    if not number or number == DELETED:
        return "", ""
    namespace = sch.get(field, 2) or sch.get(field, 3)
    return door.appointment(number), door.mark(namespace) if namespace else sender


def _marked(found: Iterable[tuple[str, str, str]], door: Door) -> tuple[FieldCode, ...]:
    """Codes as they may be kept, out of (field, text, coding system); an empty or deleted one is none."""
    told = ((field, text, system) for field, text, system in found if text and text != DELETED)
    return tuple(FieldCode(field=field, code=door.code(text), system=door.code(system)) for field, text, system in told)


def _codes(segment: _Segment, field: int, door: Door) -> tuple[FieldCode, ...]:
    """The codes of a CE, CWE or XCN field, each repetition's own and its alternative."""
    name, each = f"{segment.name}-{field}", itertools.product(segment.repetitions(field), ((1, 3), (4, 6)))
    found = ((name, segment.get(field, code, n), segment.get(field, system, n)) for n, (code, system) in each)
    return _marked(found, door)


def _person(segment: _Segment, door: Door) -> tuple[FieldCode, ...]:
    """The ids of AIP-3: only component 1, with its assigning authority (9). The rest is a name."""
    found = (("AIP-3", segment.get(3, 1, n), segment.get(3, 9, n)) for n in segment.repetitions(3))
    return _marked(found, door)


def _location(segment: _Segment, door: Door) -> tuple[FieldCode, ...]:
    """Point of care, room and bed of AIL-3: a room may stand in any of them, sender by sender."""
    return _marked(((f"AIL-3.{n}", segment.get(3, n), segment.get(3, 4)) for n in (1, 2, 3)), door)


class _Times:
    """Times of a message; one that cannot be is left out and noted. A time long before the message is no start."""

    def __init__(self, at: str, doubts: list[Doubt]) -> None:
        self._earliest = str(int(at[:4]) - 1) + at[4:10] if at else ""
        self._doubts = doubts

    def read(self, text: str, place: str) -> str:
        if not text or text == DELETED:
            return text
        moment = read_hl7_time(text)
        if not moment or moment[:10] < self._earliest:
            message = "this is not a day with a time near the message's own"
            self._doubts.append(Doubt(kind="not a time", place=place, message=message))
            return ""
        return moment

    def number(self, text: str, place: str) -> str:
        if text in ("", DELETED) or NUMBER.fullmatch(text):
            return text
        self._doubts.append(Doubt(kind="not a number", place=place, message="this is not a number"))
        return ""

    def unit(self, text: str, place: str) -> str:
        if text in ("", DELETED) or UNIT.fullmatch(text):
            return "" if text == DELETED else text[:1].casefold()
        self._doubts.append(Doubt(kind="unknown unit", place=place, message="this is not a unit of time", grave=False))
        return ""


def _timing(sch: _Segment, tq1: list[_Segment], times: _Times) -> dict[str, str]:
    """Start, end and minutes as SCH and TQ1 state them."""
    start, end = times.read(sch.get(11, 4), "field SCH-11.4"), times.read(sch.get(11, 5), "field SCH-11.5")
    duration, unit = times.number(sch.get(9), "field SCH-9"), times.unit(sch.get(10), "field SCH-10")
    if tq1:
        first = tq1[0]
        start = start or times.read(first.get(7), first.place(7))
        end = end or times.read(first.get(8), first.place(8))
        if not duration:
            duration, unit = times.number(first.get(6), first.place(6)), times.unit(first.get(6, 2), first.place(6))
    span = sch.get(11, 3)
    return {
        "start": start,
        "end": end,
        "duration": duration,
        "unit": unit,
        "span": span if SPAN.fullmatch(span) else "",
    }


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where a resource segment keeps what is read; the fields differ from segment to segment."""

    part: Part
    start: int
    status: int


LAYOUTS = {
    "AIS": _Layout(Part.SERVICE, 4, 10),
    "AIG": _Layout(Part.OTHER, 8, 14),
    "AIL": _Layout(Part.PLACE, 6, 12),
    "AIP": _Layout(Part.PERSON, 6, 12),
}


def _resources(parts: list[_Segment], door: Door, times: _Times) -> list[Resource]:
    """All services, places and persons in the order of the message, with the group that they stand in."""
    group, group_action = "", ""
    found = []
    for segment in parts:
        if segment.name == "RGS":
            group, group_action = _number(segment), _action(segment)
            if group_action == "D":
                found.append(Resource(part=Part.GROUP, place=segment.place(2), key=group, action="D"))
        elif segment.name in LAYOUTS:
            found.append(_resource(segment, (group, group_action), door, times))
    return found


def _number(segment: _Segment) -> str:
    """A segment's set id; its place among its like where it has none."""
    return segment.get(1) if segment.get(1).isdigit() and len(segment.get(1)) < 5 else str(segment.ordinal)


def _action(segment: _Segment) -> str:
    """The action code of table 0206; anything else in its place (senders put running numbers there) is none."""
    action = segment.get(2)
    return action if action in ACTIONS or action == SNAPSHOT else ""


def _resource(segment: _Segment, group: tuple[str, str], door: Door, times: _Times) -> Resource:
    name, layout = segment.name, LAYOUTS[segment.name]
    start = layout.start
    gone = segment.get(layout.status).casefold() in GONE
    codes = {"AIL": _location, "AIP": _person}
    return Resource(
        part=layout.part,
        place=segment.place(3),
        key=f"{group[0]}/{name}/{_number(segment)}",
        action="D" if gone or group[1] == "D" else _action(segment),
        codes=codes[name](segment, door) if name in codes else _codes(segment, 3, door),
        roles=_codes(segment, 4, door) if name == "AIP" else (),
        sides=_codes(segment, 11, door) if name == "AIS" else (),
        start=times.read(segment.get(start), segment.place(start)),
        offset=times.number(segment.get(start + 1), segment.place(start + 1)),
        offset_unit=times.unit(segment.get(start + 2), segment.place(start + 2)),
        duration=times.number(segment.get(start + 3), segment.place(start + 3)),
        duration_unit=times.unit(segment.get(start + 4), segment.place(start + 4)),
    )
