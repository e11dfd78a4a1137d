"""How a list's other changes read: hours, rooms, deadlines, conflicts, shortages, notes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.evening.changes import CartChange, CartChangeKind
from picklist.evening.content import PieceLine
from picklist.evening.details import NAME, TO_CHECK, Detail, DetailValue
from picklist.grouping import grouped
from picklist.wording.quantities import wait_for

HEAD = ("case", "room", "start", "cart complete by", "surgeon", "procedures", "side", "alerts", "patient size", "notes")
GIVE_BACK = ("given back for", "must leave the room by", "must reach decontamination by")
COMES = ("comes from", "expected from there")
MOMENTS = {
    "given back for": "by",
    "must leave the room by": "out of the room by",
    "must reach decontamination by": "into decontamination by",
    "comes from": "from",
    "expected from there": "expected",
}
COUNTED = re.compile(r"(\d+)/(\d+)\s*(.*)")
NO_LONGER = "no longer"
BUILT = "This cart is built. Change it as follows:"
BUILT_BEFORE = "This cart was reported from list {report}. Change it as follows, unless that is done already:"
AS_REPORTED = "The items stay as they were reported from list {report}."
TAKEN_BACK = "Undo what else list {replaces} asked, if it is done already."
ASKED_NEW = "This may be a cart that exists already. Start it only if the answer is that it is new."
_WORDS = {CartChangeKind.NEW: "NEW CART", CartChangeKind.STOPPED: "ON HOLD", CartChangeKind.UNREAD: "ON HOLD"}


@dataclass(frozen=True, kw_only=True)
class SaidRow(View):
    """One thing that a list says otherwise: what, as it was and as it is."""

    what: str
    was: str
    now: str


def change_word(kind: CartChangeKind) -> str:
    """What becomes of a cart, in capitals."""
    return _WORDS.get(kind, kind.value.upper())


def built_words(change: CartChange) -> str:
    """What to do with a cart that is built: by its report, whatever lists asked since."""
    if not change.since_report:
        return BUILT
    said = (BUILT_BEFORE if change.has_work else AS_REPORTED).format(report=change.built_from)
    return f"{TAKEN_BACK.format(replaces=change.replaces)} {said}" if change.takes_back else said


def head_rows(found: Lookup, details: Iterable[Detail]) -> tuple[SaidRow, ...]:
    """What the head of a list says otherwise: room, start, surgeon, side and alerts."""
    return tuple(
        SaidRow(what=wording.capital(one.what), was=_value(found, one, one.was), now=_value(found, one, one.now))
        for one in details
        if one.what in HEAD and not (one.what == "case" and str(one.was).startswith(f"{one.now} (list "))
    )


def other_lines(found: Lookup, details: Iterable[Detail], moved: Iterable[PieceLine] = ()) -> tuple[str, ...]:
    """What the lines of a list say otherwise, a sentence each.

    Notes on things that are ``moved`` are left out: they come and go with the things.
    """
    things = {line.piece.wanted for line in moved}
    rest = [one for one in details if one.what not in HEAD and not _goes_with_thing(one, things)]
    stopped = [one for one in rest if one.what == "list stopped" and one.now]
    rest = stopped or rest  # a stopped list says nothing else
    together: dict[tuple[str, str], list[Detail]] = {}
    for one in rest:
        kind = "needed next" if one.what in GIVE_BACK else "coming" if one.what in COMES else one.what
        together.setdefault((kind, one.of), []).append(one)
    return tuple(_sentence(found, kind, of, some) for (kind, of), some in together.items())


def _goes_with_thing(one: Detail, things: set[str]) -> bool:
    return one.what in ("note", TO_CHECK) and None in (one.was, one.now) and _thing(one.of, things) != ""


def _thing(of: str, known: Iterable[str]) -> str:
    """The thing that the name of a line begins with, where it is a known one."""
    return max((thing for thing in known if of == thing or of.startswith(f"{thing} ")), key=len, default="")


def _sentence(found: Lookup, kind: str, of: str, some: Sequence[Detail]) -> str:
    name = _named(found, of)
    subject = wording.capital(kind) + (f", {name}" if name else "")
    now, was = (_side_of(found, some, side) for side in ("now", "was"))
    if kind == "list stopped":
        end = "" if now.endswith(("?", ".")) else "."
        return f"The list is on hold: {now}{end}" if now else "The list is no longer on hold."
    if kind == "no set for":
        return f"No set for {name}." if now else f"{name} has a set again."
    if kind == "awaited by":
        if not now:
            return f"No case waits for {name} any more."
        return f"{wait_for(now.split('; '), name)}: send it out at once."
    if kind == "conflict":
        return f"{name} is now {now}" + (f", was {was}." if was else ".") if now else f"{name} is no longer {was}."
    if kind == NAME:
        return f"{was} is now called {now}."
    if not now:
        return f"{subject}: {NO_LONGER} (was {was})."
    return f"{subject}: now {now}" + (f" (was {was})." if was else ".")


def _side_of(found: Lookup, some: Sequence[Detail], side: str) -> str:
    """What some details of one line say together, before or now; empty for nothing."""
    said = {
        one.what: _value(found, one, getattr(one, side)) for one in some if getattr(one, side) not in (None, "", ())
    }
    worded = [f"{word} {said[what]}" for what, word in MOMENTS.items() if what in said]
    if worded:
        return ", ".join(worded)
    return ", ".join(said.values())


def _named(found: Lookup, of: str) -> str:
    """The line a detail is of: the name of its thing, then what follows its id."""
    thing = _thing(of, found.tray_names) or _thing(of, found.item_names)
    rest = of.removeprefix(thing).strip()
    if thing in found.tray_names:
        return found.tray(thing) + ("" if rest in ("", "1") else f" copy {rest}")
    return wording.joined(found.item(thing), rest, by=" ")


def _value(found: Lookup, one: Detail, value: DetailValue) -> str:
    if isinstance(value, datetime):
        return found.when(value)
    if isinstance(value, tuple) and one.what == "conflict":
        kinds = (text.partition(", ") for text in dict.fromkeys(value))
        return wording.listed(f"{kind} ({cases})" if cases else kind for kind, _, cases in kinds) or wording.NONE
    if isinstance(value, tuple):
        return "; ".join(dict.fromkeys(value)) or wording.NONE
    if value in (None, ""):
        return "not stated" if one.what == "side" else wording.NONE
    if one.what in ("given back for", "comes from"):
        return found.case_in_room(str(value))
    counted = COUNTED.fullmatch(str(value)) if one.what not in HEAD else None
    if counted:
        opened, hold, note = int(counted[1]), int(counted[2]), counted[3]
        return wording.joined(wording.open_and_hold(opened, hold), note)
    return str(value)


def set_rows(found: Lookup, whereabouts: Iterable[Detail]) -> tuple[SaidRow, ...]:
    """Where sets are now and when they are expected, a row a set, where either is news."""
    by_set = grouped((one.of, one) for one in whereabouts)
    return tuple(
        SaidRow(what=of, was=_whereabouts(found, some, "was"), now=_whereabouts(found, some, "now"))
        for of, some in by_set.items()
    )


def _whereabouts(found: Lookup, some: Sequence[Detail], side: str) -> str:
    said = {one.what: getattr(one, side) for one in some}
    parts = [str(said["is now"])] if said.get("is now") else []
    if "expected" in said:
        parts.append(f"expected {found.when(said['expected'])}" if said["expected"] else "ready")
    return ", ".join(parts) or wording.NONE
