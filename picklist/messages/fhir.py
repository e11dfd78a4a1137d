"""FHIR Appointments (R4 and R5) out of a bundle, as events.

The models below are the white list: an element that they do not name is not read, whatever
resource, extension or narrative it stands in. Both versions are read in one shape.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError, field_validator

from picklist.messages.door import PATIENTS_OWN, Door, holds_number, patient_numbers, read_iso_time
from picklist.messages.events import (
    BROKEN,
    STATUS_WORDS,
    Answer,
    Doubt,
    Event,
    FieldCode,
    Part,
    RefusedError,
    Resource,
)

NAMESPACE = "FHIR"
WITHOUT_TIMES = frozenset({"proposed", "cancelled", "waitlist"})  # app-3
MAY_HAVE_REASON = frozenset({"cancelled", "noshow"})  # app-4
PARTS = {
    "Location": Part.PLACE,
    "Practitioner": Part.PERSON,
    "PractitionerRole": Part.PERSON,
    "HealthcareService": Part.OTHER,
}
READ = frozenset({*PARTS, "ServiceRequest"})
CHAIN = 4  # a bed is part of a room, a room of a ward
NOT_IN_THE_BUNDLE = (
    "this participant is not in the bundle, and nothing says whether it is a person or a place; it is left out. "
    "Let it be sent in the same bundle"
)


class _Model(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True)


class _Identifier(_Model):
    system: str = ""
    value: str = ""


class _Coding(_Model):
    system: str = ""
    code: str = ""


class _Reference(_Model):
    reference: str = ""
    type: str = ""
    identifier: _Identifier = _Identifier()


class _Coded(_Model):
    """A CodeableConcept (R4), or a CodeableReference (R5) with a concept or a reference."""

    coding: tuple[_Coding, ...] = ()
    concept: _Coded | None = None
    reference: _Reference | None = None

    def codings(self) -> tuple[_Coding, ...]:
        return (*self.coding, *(self.concept.coding if self.concept else ()))


class _Participant(_Model):
    type: tuple[_Coded, ...] = ()
    actor: _Reference | None = None
    status: str = ""


class _Meta(_Model):
    lastUpdated: str = ""  # noqa: N815 - the standard's name


class _Thing(_Model):
    """Any resource that an appointment refers to."""

    resourceType: str  # noqa: N815
    id: str = ""
    identifier: tuple[_Identifier, ...] = ()
    partOf: _Reference | None = None  # noqa: N815
    practitioner: _Reference | None = None
    code: _Coded | None = None  # of a ServiceRequest; a PractitionerRole has a list of them, which is not read
    bodySite: tuple[_Coded, ...] = ()  # noqa: N815

    @field_validator("code", mode="before")
    @classmethod
    def _not_of_a_role(cls, code: Any) -> Any:
        return None if isinstance(code, list) else code


class _Service(_Model):
    type: tuple[_Coded, ...] = ()


class _Appointment(_Model):
    id: str = ""
    meta: _Meta = _Meta()
    status: str = ""
    identifier: tuple[_Identifier, ...] = ()
    serviceType: tuple[_Coded, ...] = ()  # noqa: N815
    participant: tuple[_Participant, ...] = ()
    subject: _Reference | None = None
    basedOn: tuple[_Reference, ...] = ()  # noqa: N815
    start: str = ""
    end: str = ""
    minutesDuration: int | None = None  # noqa: N815
    contained: tuple[dict[str, Any], ...] = ()


class _Request(_Model):
    method: str = ""
    url: str = ""


class _Search(_Model):
    mode: str = ""


class _Entry(_Model):
    fullUrl: str = ""  # noqa: N815
    resource: dict[str, Any] | None = None
    request: _Request = _Request()
    search: _Search = _Search()


class _Bundle(_Model):
    entry: tuple[_Entry, ...] = ()


@dataclass(frozen=True, slots=True)
class Refusal:
    """An appointment of a bundle that could not be read."""

    place: str
    why: str


Found = Event | Refusal


def read_fhir(data: Any, door: Door) -> list[Found]:
    """The appointments of a bundle, or one alone, out of parsed JSON. Raises RefusedError for what is neither."""
    kind = data.get("resourceType") if isinstance(data, dict) else None
    if kind == "Appointment":
        return [_read_entry(_Entry(resource=data), 1, _Book({}, patients=frozenset(_patient_numbers(data))), door)]
    if kind != "Bundle":
        raise RefusedError(Answer.ERROR, "resourceType", "this is neither a Bundle nor an Appointment")
    try:
        bundle = _Bundle.model_validate(data)
    except ValidationError as error:
        raise RefusedError(Answer.ERROR, _path(error), "this is not in the form of FHIR") from None
    book = _Book({}, patients=frozenset(one for entry in bundle.entry for one in _patient_numbers(entry.resource)))
    for entry in bundle.entry:
        book.add(entry.fullUrl, entry.resource)
    return [
        found for number, entry in enumerate(bundle.entry, start=1) for found in _entries(entry, number, book, door)
    ]


def _entries(entry: _Entry, number: int, book: _Book, door: Door) -> Iterator[Found]:
    method, _, path = entry.request.method, *entry.request.url.rpartition("Appointment/")[1:]
    if method == "DELETE" and path:
        number_of = door.appointment(path.split("/")[0])
        yield Event(control=number_of, at="", trigger="DELETE", filler=(number_of, NAMESPACE))
    elif entry.resource == BROKEN:
        yield Refusal(f"line {number}", "this is not JSON that can be read")
    elif entry.resource and not isinstance(entry.resource.get("resourceType"), str):
        yield Refusal(f"entry {number}, resourceType", "this does not say what it is")
    elif entry.resource and entry.resource.get("resourceType") == "Appointment" and entry.search.mode != "outcome":
        yield _read_entry(entry, number, book, door)


def _path(error: ValidationError) -> str:
    """The element that is wrong, by its name; what stands in it is not said."""
    return ".".join(str(one) for one in error.errors(include_input=False, include_url=False)[0]["loc"])


@dataclass(slots=True)
class _Book:
    """The resources of a bundle, by the ways in which a reference may name them.

    ``patients`` are the numbers of patients, which no number of a case may hold; nothing of them is kept.
    """

    found: dict[str, _Thing]
    services: dict[str, _Service] = field(default_factory=dict)
    types: dict[str, str] = field(default_factory=dict)  # of all, also of those that are not read
    patients: frozenset[str] = frozenset()

    def add(self, url: str, resource: dict[str, Any] | None, local: bool = False) -> None:
        """Take a resource in; one that does not have the form is not there."""
        try:
            thing = _Thing.model_validate(resource or {})
            service = _Service.model_validate(resource) if thing.resourceType == "HealthcareService" else None
        except ValidationError:
            return
        names = (f"#{thing.id}",) if local else (url, f"{thing.resourceType}/{thing.id}" if thing.id else "")
        for name in filter(None, names):
            self.types[name] = thing.resourceType
            if thing.resourceType not in READ:
                continue
            self.found[name] = thing
            if service is not None:
                self.services[name] = service

    def name_of(self, reference: _Reference) -> str:
        """The name under which a referenced resource is known here, without its version."""
        return reference.reference.split("/_history/")[0]

    def type_of(self, reference: _Reference) -> str:
        """The type of what is referred to, as far as it can be told."""
        name = self.name_of(reference)
        parts = name.split("/")
        return self.types.get(name) or reference.type or (parts[-2] if len(parts) > 1 else "")

    def codes(self, reference: _Reference, name: str, door: Door, depth: int = CHAIN) -> Iterator[FieldCode]:
        """The ids of what is referred to, from the thing itself outwards: a bed, its room, its ward."""
        identifiers = [reference.identifier]
        known = self.name_of(reference)
        thing = self.found.get(known)
        if thing is not None:
            identifiers += thing.identifier
        for one in identifiers:
            if one.value:
                yield FieldCode(field=name, code=door.code(one.value), system=door.code(one.system))
        number = thing.id if thing is not None else known.rpartition("/")[2] if "/" in known else ""
        if number:
            yield FieldCode(field=name, code=door.code(number))
        if thing is not None and thing.code is not None:
            yield from _field_codes(thing.code, name, door)
        for coded in self.services[known].type if known in self.services else ():
            yield from _field_codes(coded, name, door)
        further = (thing.partOf or thing.practitioner) if thing is not None else None
        if further is not None and depth:
            yield from self.codes(further, name, door, depth - 1)


def _field_codes(coded: _Coded, name: str, door: Door) -> Iterator[FieldCode]:
    for one in coded.codings():
        if one.code:
            yield FieldCode(field=name, code=door.code(one.code), system=door.code(one.system))


def _read_entry(entry: _Entry, number: int, book: _Book, door: Door) -> Found:
    place = f"entry {number}"
    try:
        read = _Appointment.model_validate(entry.resource)
    except ValidationError as error:
        return Refusal(f"{place}, {_path(error)}", "this is not in the form of FHIR")
    if read.status not in STATUS_WORDS:
        return Refusal(f"{place}, status", "this is not a FHIR status")
    url = entry.fullUrl.rpartition(":" if entry.fullUrl.startswith("urn:") else "/")[2]
    if not (read.id or url):
        return Refusal(f"{place}, id", "the appointment has no id")
    if read.contained:
        book = replace(book, found={**book.found}, services={**book.services}, types={**book.types})
    for one in read.contained:
        book.add("", one, local=True)
    own = [one.value for one in read.identifier if one.system in door.id_systems and one.value]
    for element, texts in (("id", [read.id or url]), ("identifier", own)):
        if not door.hide_ids and any(holds_number(one, book.patients) for one in texts):
            return Refusal(f"{place}, {element}", PATIENTS_OWN)
    number_of = door.appointment(read.id or url)
    numbers = [door.appointment(one) for one in own]
    doubts: list[Doubt] = []
    start, end = _times(read, entry.resource or {}, place, doubts)
    at = read_iso_time(read.meta.lastUpdated)
    if not at:
        message = "it has no time of its own (meta.lastUpdated); the time of arrival counts"
        doubts.append(Doubt(kind="no time", place=f"{place}, meta", message=message, grave=False))
    return Event(
        control=number_of,
        at=at,
        trigger="FHIR",
        filler=(number_of, NAMESPACE),
        number=numbers[0] if numbers else "",
        status=(FieldCode(field="status", code=read.status),),
        start=start,
        end=end,
        span=f"M{read.minutesDuration}" if read.minutesDuration and 0 < read.minutesDuration < 100_000 else "",
        resources=(*_participants(read, book, door, place, doubts), *_services(read, book, door, place)),
        doubts=tuple(doubts),
    )


def _patient_numbers(resource: dict[str, Any] | None) -> Iterator[str]:
    """The ids of a patient, or of the patients whom an appointment or order names, as far as they look like numbers."""
    try:
        thing = _Thing.model_validate(resource or {})
        read = _Appointment.model_validate(resource or {})
    except ValidationError:
        return
    if thing.resourceType == "Patient":
        yield from patient_numbers((thing.id, *(one.value for one in thing.identifier)))
    people = [one for one in (read.subject, *(each.actor for each in read.participant)) if one is not None]
    yield from patient_numbers(one.reference.split("/")[-1] for one in people if "Patient/" in one.reference)
    yield from patient_numbers(one.identifier.value for one in people if one.type == "Patient")
    for one in read.contained:
        yield from _patient_numbers(one)


def _times(read: _Appointment, raw: dict[str, Any], place: str, doubts: list[Doubt]) -> tuple[str, str]:
    """Start and end, both or neither, by the invariants app-2 to app-5 of FHIR R4 and R5."""

    def doubt(kind: str, element: str, message: str, *, grave: bool = True) -> None:
        doubts.append(Doubt(kind=kind, place=f"{place}, {element}", message=message, grave=grave))

    start, end = read_iso_time(read.start), read_iso_time(read.end)
    for name, text, moment in (("start", read.start, start), ("end", read.end, end)):
        if text and (not moment or len(moment) == len("2026-11-26T07:30:00")):
            doubt("not a time", name, "this is not a time with its offset from UTC")
            return "", ""
    if (
        any(raw.get(name) for name in ("cancelationReason", "cancellationReason"))
        and read.status not in MAY_HAVE_REASON
    ):
        doubt("app-4", "status", "it has a reason for cancelling, but is not cancelled", grave=False)
    if bool(start) != bool(end):
        doubt("app-2", "start", "start and end must both be there, or neither; none was taken")
        return "", ""
    if not start and read.status not in WITHOUT_TIMES:
        doubt("app-3", "start", "this status needs a start and an end")
    if start and datetime.fromisoformat(start) > datetime.fromisoformat(end):
        doubt("app-5", "start", "the start is after the end; none was taken")
        return "", ""
    return start, end


def _participants(read: _Appointment, book: _Book, door: Door, place: str, doubts: list[Doubt]) -> Iterator[Resource]:
    for number, one in enumerate(read.participant, start=1):
        here = f"{place}, participant {number}"
        if one.actor is None:
            if not one.type:
                doubts.append(Doubt(kind="app-1", place=here, message="a participant has neither type nor actor"))
            continue
        kind = book.type_of(one.actor)
        part = PARTS.get(kind)
        if not kind:
            doubts.append(Doubt(kind="unknown participant", place=here, message=NOT_IN_THE_BUNDLE))
        if part is None:
            continue
        if one.status == "declined":
            message = "this participant declined, and is left out"
            doubts.append(Doubt(kind="declined", place=here, message=message))
            continue
        name = "Practitioner" if part is Part.PERSON else kind
        yield Resource(
            part=part,
            place=here,
            key=f"/{part}/{number}",
            codes=tuple(book.codes(one.actor, name, door)),
            roles=tuple(code for each in one.type for code in _field_codes(each, "participant.type", door)),
        )


def _services(read: _Appointment, book: _Book, door: Door, place: str) -> Iterator[Resource]:
    """Services by their order (basedOn) where one is resolved, else by the appointment's service type."""
    kinds = {book.type_of(one) for one in read.basedOn}
    of_orders = {"ServiceRequest", ""} if "ServiceRequest" in kinds else set()  # one that is not here may be one more
    ordered = [one for one in read.basedOn if book.type_of(one) in of_orders]
    for number, reference in enumerate(ordered, start=1):
        thing = book.found.get(book.name_of(reference))
        sites = thing.bodySite if thing is not None else ()
        coded = thing.code if thing is not None else None
        yield Resource(
            part=Part.SERVICE,
            place=f"{place}, basedOn {number}",
            key=f"/basedOn/{number}",
            codes=tuple(_field_codes(coded, "ServiceRequest", door)) if coded else (),
            sides=tuple(code for one in sites for code in _field_codes(one, "bodySite", door)),
        )
    if ordered:
        return
    for number, coded in enumerate(read.serviceType, start=1):
        codes = list(_field_codes(coded, "serviceType", door))
        if coded.reference is not None:
            codes += book.codes(coded.reference, "HealthcareService", door)
        yield Resource(
            part=Part.SERVICE, place=f"{place}, serviceType {number}", key=f"/service/{number}", codes=tuple(codes)
        )
