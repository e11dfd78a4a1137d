"""Which change of a line counts on which day: the rules of the log, and the lines that follow from them.

1. A change counts from its day on, for as long as the line that it changed would have counted.
2. Of several that cover a day, the one of the latest day counts; of one day, the one made last.
   A line written by hand counts from its own ``from`` in the same way.
3. Undoing a change from a day on: from that day the line is as if the change had never been made.
   One that does not count yet never comes to count. Changes made since stay, whatever their day.
4. An undo can itself be undone from a day on: then the change counts again.
5. What says the same as the base card follows the base card from then on.

``find_pieces`` and ``write_pieces`` make the card lines say so; days of which the log says nothing new stay.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from picklist.upkeep.card_rows import CardBook, CardRow
from picklist.upkeep.change_log import LogEntry, Stood
from picklist.upkeep.line_edits import ONE_DAY, Lasting, Target, edits_do_it, find_row, on_day, turns_of, with_change
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
        """Whether a day is within it."""
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
        slots = effects_of(changes_behind(self._entries)[entry.number])
        return tuple(
            one.number
            for one in self._entries
            if one.undoes is None
            and one.number != entry.number
            and (one.effective, one.number) > (entry.effective, entry.number)
            and slots.keys() & effects_of(one.change).keys()
            and not self.is_undone(one.number, max(day, one.effective))
        )


def changes_behind(entries: Iterable[LogEntry]) -> dict[int, CardChange]:
    """By number, the change that each entry made, or that it takes back or brings back by undoing.

    An undo's own change only says what it came to; of a swap it may have been one of the two slots.
    """
    found: dict[int, CardChange] = {}
    for one in entries:
        found[one.number] = found.get(one.undoes or 0, one.change)
    return found


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
    """What was in a slot without the log, as changes found it: older than they, newer than those before.

    Of one day, and of all without a day, the one that was found last: somebody wrote it by hand since.
    """
    found: dict[date | None, Stand] = {}
    for one in touching:
        old, *_ = effects = effects_of(one.change)
        before, _ = effects[slot]
        stood = one.stood if slot == old else one.stood_new
        if not stood.logged:
            found[stood.begins] = Stand(
                want=before,
                as_base=not stood.own,
                begins=stood.begins,
                last=stood.until,
                number=one.number - 0.5,
            )
    return list(found.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotDays:
    """Days on which a slot says one thing: the row there now, what the log said of it and what it will say.

    ``last`` None is for good. ``changes``: the log says something new of these days.
    """

    first: date
    last: date | None
    row: CardRow
    was: Stand | None
    will: Stand | None
    changes: bool

    @property
    def wanted(self) -> RowValue | None:
        """What is to stand there."""
        if not self.changes:
            return self.row.want
        return self.will.says(self.row.beneath) if self.will else self.row.beneath

    @property
    def is_upon_base(self) -> bool:
        """Whether the base card has something there."""
        return self.row.beneath is not None

    @property
    def by_hand(self) -> bool:
        """Whether the card says something else than the log: somebody wrote in the table."""
        return self.was is not None and not same_want(self.row.want, self.was.says(self.row.beneath))


def find_pieces(
    book: CardBook, target: Target, slot: RowKey, before: Timeline, after: Timeline, logged: frozenset[date]
) -> tuple[SlotDays, ...]:
    """The days from the target's on, in pieces. ``logged`` are the days of the log, on which lines begin by it."""
    days = sorted({target.effective, *(day for day in _turns(book, target) | logged if day > target.effective)})
    pieces = []
    for first, following in zip(days, [*days[1:], None], strict=True):
        row = find_row(book, on_day(target, first), slot)
        was, will = before.stand(slot, first), after.stand(slot, first)
        pieces.append(
            SlotDays(
                first=first,
                last=following - ONE_DAY if following else None,
                row=row,
                was=was,
                will=will,
                changes=_differs(was, will) and not _is_newer_by_hand(row, (was, will), logged),
            )
        )
    return tuple(pieces)


def write_pieces(
    book: CardBook, target: Target, slot: RowKey, pieces: tuple[SlotDays, ...], logged: frozenset[date]
) -> CardBook | None:
    """The book with each piece saying what is wanted; None when card lines cannot say it."""
    for number, piece in enumerate(pieces):
        here = on_day(target, piece.first)
        if same_want(find_row(book, here, slot).want, piece.wanted):
            continue
        last = piece.last
        for other in pieces[number + 1 :]:
            if not (same_want(other.wanted, piece.wanted) and other.is_upon_base == piece.is_upon_base):
                break  # a line that replaces or drops something finds nothing where the base card has nothing
            last = other.last
        done = with_change(book, here, slot, piece.wanted, Lasting(last=last, logged=logged))
        if not edits_do_it(book, done, here, [(slot, piece.wanted)]):
            return None
        book = done
    return book


def what_stood(book: CardBook, target: Target, slot: RowKey, log: Timeline, logged: frozenset[date]) -> Stood:
    """What a change finds in its place on its day."""
    row = find_row(book, target, slot)
    stand = log.stand(slot, target.effective)
    if stand is not None and same_want(row.want, stand.says(row.beneath)):
        return Stood(own=bool(row.own), logged=True)
    begins = max((line.begins for line in row.own if line.begins), default=None)
    ends = [line.ends for line in row.own if line.begins == begins]
    last = max((one for one in ends if one), default=None) if ends and all(ends) else None
    if last is not None and last + ONE_DAY in logged:
        last = None  # it was ended by the log, not by hand
    if stand is not None and stand.begins:
        begins = max(begins or stand.begins, stand.begins)  # it was written by hand over what the log says
    return Stood(begins=begins, until=last, own=bool(row.own))


def _turns(book: CardBook, target: Target) -> set[date]:
    """Days on which a line of the card, or of the base card beneath, begins or no longer counts."""
    layers = {(target.procedure, target.owner.layer), (target.procedure, None)}
    return turns_of(line for layer in layers for line in book.index.lines.get(layer, ()))


def _differs(was: Stand | None, will: Stand | None) -> bool:
    if was is None or will is None:
        return was is not will
    return (was.want, was.as_base) != (will.want, will.as_base)


def _is_newer_by_hand(row: CardRow, stands: tuple[Stand | None, ...], logged: frozenset[date]) -> bool:
    """Whether a line of a later day, which the log does not know, counts over what the log says."""
    begins = _newest(row)
    known = [one.begins or date.min for one in stands if one]
    return begins is not None and begins not in logged and bool(known) and begins > max(known)


def _newest(row: CardRow) -> date | None:
    return max((line.begins for line in row.own if line.begins), default=None)
