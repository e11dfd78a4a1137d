"""Events in the order of their own time, and where each appointment stands after them.

Everything is made anew from all that is kept, so a late or repeated message, or one whose code is
added later, needs no rule of its own: whatever the order of arrival, the result is the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime

from picklist.clock import NoSuchTimeError, SiteClock
from picklist.grouping import grouped
from picklist.messages.events import (
    BOOKS,
    DELETED,
    PART_ACTION,
    STATUS_WORDS,
    TRIGGER_STATE,
    WHOLE,
    Doubt,
    Event,
    FieldCode,
    Part,
    Resource,
    State,
)
from picklist.messages.minutes import minutes_of, start_of
from picklist.settings import MessageMinutes

Key = tuple[str, ...]
SAME_TIME = "another message of this case has the same time; the one that arrived later counts"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An event as it was kept: its running number, and when it arrived (an instant)."""

    serial: int
    arrived: datetime
    event: Event


@dataclass(slots=True, kw_only=True)
class Appointment:
    """An appointment after the events so far; ``last`` is the newest of them.

    ``start`` is ISO text, ``minutes`` None where no message said it. ``status`` are codes of a status that the
    standard does not know. ``sources`` name the message by which a resource stands.
    ``booked``: a message has booked or changed it.
    """

    key: Key
    number: str
    last: Kept
    state: State | None = None
    booked: bool = False
    status: tuple[FieldCode, ...] = ()
    start: str = ""
    zone: str = ""
    minutes: int | None = None
    reasons: tuple[FieldCode, ...] = ()
    resources: dict[str, Resource] = field(default_factory=dict)
    sources: dict[str, Kept] = field(default_factory=dict)
    doubts: dict[str, list[tuple[Kept, Doubt]]] = field(default_factory=dict)


def instant_of(kept: Kept, clock: SiteClock) -> datetime:
    """The message's own time; without an offset it is the site's wall time, and without a time that of arrival."""
    if not kept.event.at:
        return kept.arrived
    moment = datetime.fromisoformat(kept.event.at)
    if moment.tzinfo is not None:
        return moment.astimezone(UTC)
    try:
        return clock.instant(moment.date(), moment.time())
    except NoSuchTimeError:
        return clock.at_or_after(moment.date(), moment.time())


def appointments(
    kept: Iterable[Kept], clock: SiteClock, unit: MessageMinutes = MessageMinutes.BY_SIZE
) -> list[Appointment]:
    """Where each appointment stands, in the order of their numbers."""
    ordered = sorted(
        ((instant_of(one, clock), one.event.sequence, one.serial, one) for one in kept), key=lambda four: four[:3]
    )
    keys = _keys([four[3] for four in ordered])
    found: dict[Key, Appointment] = {}
    before: dict[Key, tuple[datetime, int]] = {}
    for at, sequence, serial, one in ordered:
        key = keys[serial]
        known = found.get(key)
        if known is None:
            known = found[key] = Appointment(key=key, number=_number(one.event), last=one)
        _apply(known, one, unit)
        if before.get(key) == (at, sequence):
            _note(known, one, "same time", "field MSH-7", SAME_TIME)
        before[key] = (at, sequence)
    return sorted(found.values(), key=lambda one: (one.number, one.key))


def outdated(kept: Iterable[Kept], clock: SiteClock, before: date) -> list[int]:
    """The running numbers of messages that count no more: of appointments of which all was before a day.

    All means the days of which any of its messages spoke, and those on which they were sent.
    """
    ordered = sorted(kept, key=lambda one: (instant_of(one, clock), one.event.sequence, one.serial))
    keys = _keys(ordered)
    newest: dict[Key, date] = {}
    for one in ordered:
        newest[keys[one.serial]] = max(newest.get(keys[one.serial], date.min), _last_day(one, clock))
    return [one.serial for one in ordered if newest[keys[one.serial]] < before]


def _last_day(kept: Kept, clock: SiteClock) -> date:
    """The last day of which a message speaks, or on which it was sent."""
    event = kept.event
    times = [event.start, event.end, *(resource.start for resource in event.resources)]
    days = [date.fromisoformat(time[:10]) for time in times if time not in ("", DELETED)]
    return max((clock.day(instant_of(kept, clock)), *days))


def _keys(ordered: list[Kept]) -> dict[int, Key]:
    """To which appointment each event belongs: by the filler's number, else by the placer's.

    A placer's number alone is the appointment for which it stands in other messages, where that is one.
    """
    fillers: dict[tuple[str, str, str], set[tuple[str, str]]] = defaultdict(set)
    for one in ordered:
        event = one.event
        if event.filler[0] and event.placer[0]:
            fillers[(*event.placer, event.occurrence)].add(event.filler)
    keys: dict[int, Key] = {}
    for one in ordered:
        event = one.event
        filler = event.filler
        if not filler[0]:
            also = fillers.get((*event.placer, event.occurrence), set())
            filler = next(iter(also)) if len(also) == 1 else ("", "")
        keys[one.serial] = (
            ("filler", *filler, event.occurrence) if filler[0] else ("placer", *event.placer, event.occurrence)
        )
    return keys


def _number(event: Event) -> str:
    number = event.number or event.filler[0] or event.placer[0]
    number = f"M{number[1:]}" if number.startswith("#") else number
    return f"{number}-{event.occurrence}" if event.occurrence else number


def _note(one: Appointment, kept: Kept, kind: str, place: str, message: str, *, grave: bool = False) -> None:
    one.doubts.setdefault(kind, []).append((kept, Doubt(kind=kind, place=place, message=message, grave=grave)))


def _apply(one: Appointment, kept: Kept, unit: MessageMinutes) -> None:
    event = kept.event
    if event.trigger in WHOLE or (start_of(event) and event.resources):
        one.doubts.clear()
    if event.trigger in WHOLE:
        one.resources.clear()
        one.sources.clear()
    _apply_state(one, kept)
    start = start_of(event)
    if start or event.trigger in WHOLE:
        one.start, one.zone = ("" if start == DELETED else start), event.at
    stated = minutes_of(event, unit)
    if stated.said or event.trigger in WHOLE:
        one.minutes = stated.minutes
    for doubt in (*stated.doubts, *event.doubts):
        one.doubts.setdefault(doubt.kind, []).append((kept, doubt))
    if event.reasons or event.trigger in WHOLE:
        one.reasons = event.reasons
    _apply_resources(one, kept)
    if event.filler[0] or not one.number:
        one.number = _number(event)
    one.booked = one.booked or event.trigger not in TRIGGER_STATE
    one.last = kept


def _apply_state(one: Appointment, kept: Kept) -> None:
    event = kept.event
    was = one.state
    known = next(
        (STATUS_WORDS[code.code.casefold()] for code in event.status if code.code.casefold() in STATUS_WORDS), None
    )
    if event.trigger in TRIGGER_STATE:
        one.state = TRIGGER_STATE[event.trigger]
        one.status = ()
    elif known is not None:
        one.state, one.status = known, ()
    elif event.status:
        one.state, one.status = State.BOOKED, event.status
    elif was is None or event.trigger in BOOKS:
        one.state, one.status = State.BOOKED, ()
    if was is None and event.trigger in TRIGGER_STATE:
        _note(one, kept, "unknown appointment", "field SCH-2", "no message has booked this appointment")
    elif was is None and event.trigger not in WHOLE:
        _note(one, kept, "unknown appointment", "field SCH-2", "a change of an appointment that no message has booked")
    if was is State.CANCELLED and one.state is State.CANCELLED and event.trigger == "S14":
        _note(
            one, kept, "change of a cancelled case", "field MSH-9", "this changes a cancelled case; it stays cancelled"
        )


def _apply_resources(one: Appointment, kept: Kept) -> None:
    event = kept.event
    by_part = grouped((resource.part, resource) for resource in event.resources)
    for gone in by_part.pop(Part.GROUP, ()):
        _remove(one, [key for key in one.resources if key.split("/")[0] == gone.key])
    usual = PART_ACTION.get(event.trigger, "")
    for part, resources in by_part.items():
        stepwise = usual or any(resource.action in "AUX" and resource.action for resource in resources)
        only_gone = all(resource.action == "D" for resource in resources)
        if not stepwise and not only_gone:
            _remove(one, [key for key, known in one.resources.items() if known.part is part])
        for number, resource in enumerate(resources):
            _apply_one(one, kept, resource, resource.action or usual, number)


def _apply_one(one: Appointment, kept: Kept, resource: Resource, action: str, number: int) -> None:
    key = resource.key or f"/{resource.part}/{number}"
    if action == "D":
        _remove(one, [key])
        return
    known = one.resources.get(key)
    if action == "X" and known is not None:
        return
    if action == "U" and known is not None and not resource.codes:
        resource = replace(resource, codes=known.codes)
    one.resources[key] = resource
    one.sources[key] = kept


def _remove(one: Appointment, keys: Iterable[str]) -> None:
    for key in keys:
        one.resources.pop(key, None)
        one.sources.pop(key, None)
