"""Card lines written so that each day says what the log says of it; days of which the log says nothing new stay."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from picklist.upkeep.card_rows import CardBook, CardRow
from picklist.upkeep.change_log import Stood
from picklist.upkeep.check_edits import edits_do_it
from picklist.upkeep.line_edits import BookInWork, Lasting, Target, find_row, on_day
from picklist.upkeep.slots import RowKey, RowValue, same_want
from picklist.upkeep.timeline import Stand, Timeline

ONE_DAY = timedelta(days=1)


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
    work: BookInWork, target: Target, slot: RowKey, pieces: tuple[SlotDays, ...], logged: frozenset[date]
) -> BookInWork | None:
    """The work with each piece saying what is wanted; None when card lines cannot say it."""
    for number, piece in enumerate(pieces):
        here = on_day(target, piece.first)
        if same_want(find_row(work.book, here, slot).want, piece.wanted):
            continue
        last = piece.last
        for other in pieces[number + 1 :]:
            if not same_want(other.wanted, piece.wanted):
                break
            last = other.last
        done = work.done(here, slot, piece.wanted, Lasting(last=last, logged=logged))
        if not edits_do_it(work.book, done.book, here, [(slot, piece.wanted)]):
            return None
        work = done
    return work


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
    lines = [line for layer in layers for line in book.index.lines.get(layer, ())]
    return {line.begins for line in lines if line.begins} | {line.ends + ONE_DAY for line in lines if line.ends}


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
