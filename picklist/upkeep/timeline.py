"""Which change of a line counts on which day: the rules of the log, without a look at the tables.

1. A change counts from its day on, for as long as the line that it changed would have counted.
2. Of several that cover a day, the one of the latest day counts; of one day, the one made last.
   A line written by hand counts from its own ``from`` in the same way.
3. Undoing a change from a day on: from that day the line is as if the change had never been made.
   One that does not count yet never comes to count. Changes made since stay, whatever their day.
4. An undo can itself be undone from a day on: then the change counts again.
5. What says the same as the base card follows the base card from then on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from picklist.upkeep.change_log import LogEntry
from picklist.upkeep.proposals import CardChange
from picklist.upkeep.slots import RowKey, RowValue, same_want


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """What the log says of a slot on a day; ``as_base``: nothing of its own, whatever the base card has.

    ``begins`` is the day from which it says so; None for what was there before all changes.
    """

    want: RowValue | None
    as_base: bool
    begins: date | None = None
    last: date | None = None
    number: float = 0

    @property
    def rank(self) -> tuple[date, float]:
        """The greatest counts."""
        return self.begins or date.min, self.number

    def covers(self, day: date) -> bool:
        """Whether a day lies within it."""
        return (self.begins or date.min) <= day and (self.last is None or day <= self.last)

    def says(self, beneath: RowValue | None) -> RowValue | None:
        """What is wanted upon a base card."""
        return beneath if self.as_base else self.want


class Timeline:
    """The log of one card of one owner."""

    def __init__(self, entries: Iterable[LogEntry]) -> None:
        """Take the entries of the card, undoing among them."""
        self._entries = tuple(entries)
        self._undos = [one for one in self._entries if one.undoes is not None]

    def with_entry(self, entry: LogEntry) -> Timeline:
        """The log with one entry more."""
        return Timeline((*self._entries, entry))

    def stand(self, slot: RowKey, day: date) -> Stand | None:
        """What counts in a slot on a day; None when the log says nothing of it."""
        touching = [one for one in self._entries if one.undoes is None and slot in effects_of(one.change)]
        claims = [_claim(one, slot) for one in touching if not self.is_undone(one.number, day)]
        found = [one for one in (*claims, *_originals(touching, slot)) if one.covers(day)]
        return max(found, key=lambda one: one.rank, default=None)

    def is_undone(self, number: int, day: date) -> bool:
        """Whether an entry does not count on a day because it was undone."""
        return any(
            one.undoes == number and one.effective <= day and not self.is_undone(one.number, day) for one in self._undos
        )

    def later(self, entry: LogEntry, day: date) -> tuple[int, ...]:
        """Numbers of other changes that cover a slot of an entry on a day or later."""
        slots = effects_of(entry.change)
        return tuple(
            one.number
            for one in self._entries
            if one.undoes is None
            and one.number != entry.number
            and (one.effective, one.number) > (entry.effective, entry.number)
            and slots.keys() & effects_of(one.change).keys()
            and not self.is_undone(one.number, max(day, one.effective))
        )


def effects_of(change: CardChange) -> dict[RowKey, tuple[RowValue | None, RowValue | None]]:
    """What a change does, slot by slot: before and after. A swap of an own line is two slots' doing."""
    before, after, slot = change.before, change.after, change.slot
    if change.beneath is None and before and after and before.core[:2] != after.core[:2]:
        return {
            replace(slot, kind=before.kind, thing=before.thing): (before, None),
            replace(slot, kind=after.kind, thing=after.thing): (None, after),
        }
    return {slot: (before, after)}


def _claim(entry: LogEntry, slot: RowKey) -> Stand:
    _, after = effects_of(entry.change)[slot]
    beneath = entry.change.beneath
    return Stand(
        want=after,
        as_base=same_want(after, beneath),
        begins=entry.effective,
        last=entry.until,
        number=entry.number,
    )


def _originals(touching: list[LogEntry], slot: RowKey) -> list[Stand]:
    """What stood in a slot without the log, as changes found it: older than they, newer than those before."""
    found: dict[date | None, Stand] = {}
    for one in touching:
        before, _ = effects_of(one.change)[slot]
        stood = one.stood
        if not stood.logged and (stood.begins or stood.begins not in found):
            found[stood.begins] = Stand(
                want=before,
                as_base=not stood.own,
                begins=stood.begins,
                last=stood.until,
                number=one.number - 0.5 if stood.begins else 0,
            )
    return list(found.values())
