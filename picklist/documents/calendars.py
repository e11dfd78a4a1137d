"""Deadlines as calendars to subscribe to (RFC 5545): one for the department, one for the coordinator, one a room.

An entry holds case number, set, tray and kind of conflict, nothing else. It is what all revisions of a day's plan
make of it: a later revision that changes it makes its sequence grow, one that drops it cancels it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from icalendar import Calendar, Event

from picklist.documents.page_cache import free_name
from picklist.documents.views.lookup import Lookup
from picklist.model.plan import Plan
from picklist.model.uses import Act, Reuse

DEPARTMENT = "Department"
COORDINATOR = "Coordinator"
_PRODUCT = "-//picklist//deadlines//EN"


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """Something that must be done by a moment; ``key`` tells entries of one calendar and day apart."""

    calendar: str
    key: str
    at: datetime
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A due thing as the revisions left it; ``changed`` is when the plan was made that last changed it."""

    due: Due
    changed: datetime
    sequence: int = 0
    cancelled: bool = False


def due_things(plan: Plan) -> tuple[Due, ...]:
    """What a plan asks for by when, for the carts of its day; the moments are those on its papers."""
    found = Lookup(plan)
    carts = [cart for cart in plan.carts if not cart.stopped]
    ours = {cart.case.number for cart in plan.carts}
    return (
        *(
            Due(
                calendar=_room(cart.case.room),
                key=f"{cart.case.number} complete",
                at=cart.complete_by,
                text=f"{cart.case.number}: cart complete",
            )
            for cart in carts
        ),
        *(due for one in plan.reuses if one.waiter in ours for due in _of_reuse(found, one)),
        *(
            Due(
                calendar=COORDINATOR,
                key=f"{one.id} decide",
                at=one.decide_by,
                text=f"Decide: {one.waiter}, {found.tray_wanted(one)} ({one.kind.value})",
            )
            for one in plan.conflicts
            if one.decide_by and one.waiter in ours
        ),
    )


def _room(room: str) -> str:
    return f"Room {room}"


def _of_reuse(found: Lookup, reuse: Reuse) -> Iterator[Due]:
    """A set leaves a room, which the room must see to, and passes the acts of the department."""
    for one in reuse.deadlines:
        leaves = one.act == Act.OUT_OF_ROOM
        room = found.room(reuse.giver) if leaves else ""
        source = f", from {reuse.giver}" if room else ""
        text = f"{reuse.set_id}, {found.tray(reuse.tray)}: {one.act}{source}, for {reuse.waiter}"
        yield Due(
            calendar=_room(room) if room else DEPARTMENT, key=f"{reuse.waiter_use} {one.act}", at=one.latest, text=text
        )


def entries_of(revisions: Sequence[Plan]) -> tuple[Entry, ...]:
    """What the revisions of one day, the oldest first, leave of each entry."""
    entries: dict[tuple[str, str], Entry] = {}
    for plan in revisions:
        now = {(due.calendar, due.key): due for due in due_things(plan)}
        for key, due in now.items():
            before = entries.get(key)
            if before is None:
                entries[key] = Entry(due=due, changed=plan.now)
            elif before.due != due or before.cancelled:
                entries[key] = Entry(due=due, changed=plan.now, sequence=before.sequence + 1)
        for key in entries.keys() - now.keys():
            gone = entries[key]
            if not gone.cancelled:
                entries[key] = replace(gone, changed=plan.now, sequence=gone.sequence + 1, cancelled=True)
    return tuple(entries.values())


def calendars(days: Iterable[Sequence[Plan]], site_mark: str) -> dict[str, bytes]:
    """Each calendar as a file, by its name, from the revisions of each day (see ``entries_of``).

    ``site_mark`` makes the entries' names those of this site alone. The same plans give the same bytes.
    """
    by_calendar: dict[str, list[tuple[UUID, Entry]]] = {DEPARTMENT: [], COORDINATOR: []}
    for revisions in days:
        for entry in entries_of(revisions):
            name = f"picklist {site_mark} {revisions[0].day} {entry.due.calendar} {entry.due.key}"
            by_calendar.setdefault(entry.due.calendar, []).append((uuid5(NAMESPACE_URL, name), entry))
    taken: set[str] = set()
    return {f"{free_name(name, taken)}.ics": _written(name, some) for name, some in by_calendar.items()}


def _written(name: str, entries: list[tuple[UUID, Entry]]) -> bytes:
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", _PRODUCT)
    calendar.add("name", name)  # RFC 7986
    for uid, entry in sorted(entries, key=lambda one: (one[1].due.at, one[1].due.text, one[0])):
        calendar.add_component(_event(uid, entry))
    return bytes(calendar.to_ical())


def _event(uid: UUID, entry: Entry) -> Event:
    """A moment that takes no time of anybody's: an event that begins and does not last, in UTC."""
    event = Event()
    event.add("uid", str(uid))  # says nothing of case or site (RFC 7986, 5.3)
    event.add("dtstamp", entry.changed.replace(microsecond=0))
    event.add("dtstart", entry.due.at.replace(second=0, microsecond=0))
    event.add("summary", entry.due.text)
    event.add("sequence", entry.sequence)
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    return event
