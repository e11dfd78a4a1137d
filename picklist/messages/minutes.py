"""Start and minutes of an appointment, out of the places in which senders put them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.messages.events import DELETED, Doubt, Event, Part, Resource
from picklist.settings import MessageMinutes
from picklist.wording import span

LONGEST = 1440  # minutes
SECONDS_FROM = 600  # a duration without a unit from here on is in seconds, else in minutes
PER_UNIT = {"s": 1 / 60, "m": 1.0, "h": 60.0, "d": 1440.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Minutes:
    """Minutes as an event states them; ``said``: whether it states (or deletes) any."""

    said: bool
    minutes: int | None = None
    doubts: tuple[Doubt, ...] = ()


def start_of(event: Event) -> str:
    """The start that an event states: the appointment's, else the earliest service's, place's or person's."""
    if event.start:
        return event.start
    for part in (Part.SERVICE, Part.PLACE, Part.PERSON):
        starts = [one.start for one in event.resources if one.part is part and one.start not in ("", DELETED)]
        if starts:
            return min(starts)
    return ""


def minutes_of(event: Event, unit: MessageMinutes) -> Minutes:
    """The minutes that an event states. The first of its places counts; others that differ are noted."""
    if event.duration == DELETED:
        return Minutes(said=True)
    doubts: list[Doubt] = []
    between = _between(event.start or start_of(event), event.end)
    stated = {
        "SCH-9 or TQ1-6": _stated(event.duration, event.unit, unit, between, doubts),
        "start and end": between,
        "SCH-11.3": _span(event.span, unit, between, doubts),
        "AIS-7": _services(event, unit, doubts),
    }
    told = {place: minutes for place, minutes in stated.items() if minutes is not None}
    usable = {place: minutes for place, minutes in told.items() if 0 < minutes <= LONGEST}
    if told and not usable:
        doubts.append(Doubt(kind="strange duration", place=next(iter(told)), message="the duration cannot be right"))
    if len(set(usable.values())) > 1:
        named = ", ".join(f"{place} {span(minutes)}" for place, minutes in usable.items())
        first = next(iter(usable))
        message = f"the durations differ ({named}); {first} counts"
        doubts.append(Doubt(kind="two durations", place=f"field {first}", message=message, grave=False))
    doubts += _two_starts(event)
    return Minutes(said=bool(told), minutes=next(iter(usable.values()), None), doubts=tuple(doubts))


def _two_starts(event: Event) -> list[Doubt]:
    """Services that start on another day than the appointment; other hours are a service's own affair."""
    starts = {one.start[:10] for one in event.resources if one.start not in ("", DELETED)}
    if event.start in ("", DELETED) or not starts or event.start[:10] in starts:
        return []
    message = "the appointment and its parts start on different days; that of the appointment counts"
    return [Doubt(kind="two starts", place="field SCH-11.4 or TQ1-7", message=message)]


def _between(start: str, end: str) -> int | None:
    if DELETED in (start, end) or not start or not end:
        return None
    first, last = datetime.fromisoformat(start), datetime.fromisoformat(end)
    if (first.tzinfo is None) != (last.tzinfo is None):
        first, last = first.replace(tzinfo=None), last.replace(tzinfo=None)
    return round((last - first).total_seconds() / 60)


def _stated(number: str, unit: str, usual: MessageMinutes, between: int | None, doubts: list[Doubt]) -> int | None:
    if number in ("", DELETED):
        return None
    amount = float(number)
    if unit:
        return round(amount * PER_UNIT[unit])
    in_seconds = round(amount / 60)
    if usual is not MessageMinutes.BY_SIZE:
        return in_seconds if usual is MessageMinutes.SECONDS else round(amount)
    if between is not None and between in (round(amount), in_seconds):
        return between
    taken = MessageMinutes.SECONDS if amount >= SECONDS_FROM else MessageMinutes.MINUTES
    message = f"the duration has no unit; it was taken for {taken}"
    doubts.append(Doubt(kind="no unit", place="field SCH-10", message=message, grave=False))
    return in_seconds if taken is MessageMinutes.SECONDS else round(amount)


def _span(span: str, usual: MessageMinutes, between: int | None, doubts: list[Doubt]) -> int | None:
    if not span:
        return None
    letter = span[0].casefold()
    return (
        _stated(span[1:], letter, usual, between, doubts)
        if letter in PER_UNIT
        else _stated(span, "", usual, between, [])
    )


def _services(event: Event, usual: MessageMinutes, doubts: list[Doubt]) -> int | None:
    begin = start_of(event)
    ends = [
        _end(one, begin, usual, doubts) for one in event.resources if one.part is Part.SERVICE and one.action != "D"
    ]
    return max((end for end in ends if end is not None), default=None)


def _end(service: Resource, begin: str, usual: MessageMinutes, doubts: list[Doubt]) -> int | None:
    """Minutes from the start of the appointment to the end of a service; its offset counts only without a start."""
    minutes = _stated(service.duration, service.duration_unit, usual, None, doubts)
    if minutes is None:
        return None
    if service.start not in ("", DELETED):
        return minutes + max(0, _between(begin, service.start) or 0)
    return minutes + (_stated(service.offset, service.offset_unit, usual, None, []) or 0)
