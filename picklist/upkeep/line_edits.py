"""From a change on a card to the card lines that say it: lines end, begin, or never come to count.

A line that has counted is never rewritten: it ends the day before, and a new one begins. Only a
line that begins on or after the day from which it must not count is taken out; the log keeps it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from picklist.model.cards import CardLine, Change, ConditionKind, ThingKind
from picklist.model.schedule import Case, Side
from picklist.model.site import Site
from picklist.problems import NOWHERE
from picklist.resolve.being_resolved import CaseBeingResolved
from picklist.resolve.conditions import judge_line
from picklist.resolve.layers import resolve_procedure
from picklist.resolve.versions import line_text
from picklist.upkeep.card_rows import CardBook, CardRow, brings_nothing, open_book, read_card
from picklist.upkeep.owners import Owner
from picklist.upkeep.slots import RowKey, RowValue, same_want, slot_of

ONE_DAY = timedelta(days=1)
Thing = tuple[ThingKind, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineEdits:
    """``ended``: (line, its new last day); ``taken_out``: lines that must go; ``added``: new lines.

    Lines are those of one reading of the site, found again by identity.
    """

    ended: tuple[tuple[CardLine, date], ...] = ()
    taken_out: tuple[CardLine, ...] = ()
    added: tuple[CardLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Which card a change is on and from which day it counts; ``procedure`` None is for every procedure."""

    owner: Owner
    procedure: str | None
    effective: date


def on_day(target: Target, day: date) -> Target:
    """The same card from another day on."""
    return replace(target, effective=day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lasting:
    """How long what is written counts, up to ``last`` if any; ``logged`` are the days of which the log has changes.

    Coming lines of those days within the span give way; those written by hand stay.
    """

    last: date | None
    logged: frozenset[date]


def change_book(book: CardBook, edits: LineEdits) -> CardBook:
    """The book with the edits done."""
    ends = {id(line): last for line, last in edits.ended}
    gone = {id(line) for line in edits.taken_out}
    kept = [
        replace(line, ends=ends[id(line)]) if id(line) in ends else line
        for line in book.site.card_lines
        if id(line) not in gone
    ]
    return open_book(book.site, [*kept, *edits.added])


def edit_lines(
    book: CardBook, target: Target, slot: RowKey, after: RowValue | None, span: Lasting | None = None
) -> LineEdits:
    """The edits that put ``after`` into a slot from the effective day on, for the span if one is given."""
    row = find_row(book, target, slot)
    edits = _edit_row(row, target, after)
    if span:
        coming = tuple(line for line in own_lines(book, target, slot) if _gives_way(line, target, span))
        added = tuple(replace(line, ends=span.last) for line in edits.added)
        edits = replace(edits, added=added, taken_out=edits.taken_out + coming)
    return edits


def _gives_way(line: CardLine, target: Target, span: Lasting) -> bool:
    begins = line.begins
    within = begins is not None and target.effective < begins and (span.last is None or begins <= span.last)
    return within and begins in span.logged


def own_lines(book: CardBook, target: Target, slot: RowKey) -> tuple[CardLine, ...]:
    """The approved lines of a slot in the owner's layer, whatever their days."""
    lines = book.index.lines.get((target.procedure, target.owner.layer), ())
    return tuple(line for line in lines if line.approved and slot_of(line, book.site) == slot)


def find_row(book: CardBook, target: Target, slot: RowKey) -> CardRow:
    """The row of a slot on the effective day; an empty one when the card has none."""
    for row in read_card(book, target.owner, target.procedure, target.effective):
        if row.mine and row.slot == slot:
            return row
    return CardRow(slot=slot, want=None)


def _edit_row(row: CardRow, target: Target, after: RowValue | None, *, keep: bool = False) -> LineEdits:
    """``keep``: say what is wanted even where what is beneath says the same."""
    ended = tuple((o, target.effective - ONE_DAY) for o in row.own if _has_begun(o, target.effective))
    taken_out = tuple(line for line in row.own if not _has_begun(line, target.effective))
    new = None if same_want(row.beneath, after) and not keep else _new_line(row, target, after)
    return LineEdits(ended=ended, taken_out=taken_out, added=(new,) if new else ())


def _has_begun(line: CardLine, day: date) -> bool:
    return line.begins is None or line.begins < day


def _new_line(row: CardRow, target: Target, after: RowValue | None) -> CardLine | None:
    """The one line that takes what lies beneath to what is wanted; None when neither is anything."""
    wanted = after or row.beneath
    if wanted is None:
        return None
    beneath = row.beneath
    change = Change.REMOVE if after is None else Change.REPLACE if beneath else Change.ADD
    other = beneath is not None and after is not None and beneath.core[:2] != after.core[:2]
    return CardLine(
        procedure=target.procedure,
        surgeon=target.owner.layer,
        change=change,
        kind=wanted.kind,
        thing=wanted.thing,
        instead_of=beneath.thing if beneath and other else "",
        open=after.open if after else 0,
        hold=after.hold if after else 0,
        side=row.slot.side,
        only_if=row.slot.only_if,
        counted=wanted.counted,
        begins=target.effective,
        ends=_last_day(row),
        note=after.note if after else "",
    )


def _last_day(row: CardRow) -> date | None:
    """What was wanted for a time stays wanted for that time."""
    ends = [line.ends for line in row.own]
    return max((last for last in ends if last), default=None) if ends and all(ends) else None


def _touched(row: CardRow, after: RowValue | None) -> set[Thing]:
    return {_thing(row.slot), *(want.core[:2] for want in (row.want, row.beneath, after) if want)}


def _thing(slot: RowKey) -> Thing:
    return slot.kind, slot.thing


def _surgeons_on(site: Site, procedure: str | None) -> tuple[str, ...]:
    found = {line.surgeon for line in site.card_lines if line.procedure == procedure and line.surgeon}
    return tuple(sorted(found))


def with_change(
    book: CardBook, target: Target, slot: RowKey, after: RowValue | None, span: Lasting | None = None
) -> CardBook:
    """The book with a change done; after a base card's, what each surgeon wants stays as it is."""
    changed = change_book(book, edit_lines(book, target, slot, after, span))
    if target.owner.layer is None and target.procedure is not None:
        touched = _touched(find_row(book, target, slot), after)
        for surgeon in _surgeons_on(book.site, target.procedure):
            changed = _follow(book, changed, replace(target, owner=Owner(surgeon=surgeon)), touched)
    return changed


def _follow(before: CardBook, book: CardBook, theirs: Target, touched: set[Thing]) -> CardBook:
    """The book with a surgeon's lines following a change of the base card, on each day on which either turns."""
    for day in _days_to_look_at(before, book, theirs, touched):
        here = on_day(theirs, day)
        rows = [*_rows_of(before, here, touched), *_rows_of(book, here, touched)]
        for slot in dict.fromkeys(row.slot for row in rows):
            was, now = find_row(before, here, slot), find_row(book, here, slot)
            wish = _wish(before, here, was, now)
            if _no_longer_fits(was, now) or not same_want(now.want, wish):
                book = change_book(book, _edit_row(now, here, wish, keep=bool(was.own)))
    return book


def _days_to_look_at(before: CardBook, after: CardBook, theirs: Target, touched: set[Thing]) -> list[date]:
    """Days from the effective one on; none for a surgeon who says nothing of what was touched."""
    own = _lines_of(before, theirs.procedure, theirs.owner.layer, touched)
    base = [line for book in (before, after) for line in _lines_of(book, theirs.procedure, None, touched)]
    later = {day for day in turns_of([*own, *base]) if day > theirs.effective}
    return sorted({theirs.effective, *later}) if own else []


def turns_of(lines: Iterable[CardLine]) -> set[date]:
    """Days on which lines begin or no longer count."""
    lines = tuple(lines)
    return {line.begins for line in lines if line.begins} | {line.ends + ONE_DAY for line in lines if line.ends}


def _lines_of(book: CardBook, procedure: str | None, surgeon: str | None, touched: set[Thing]) -> list[CardLine]:
    lines = [line for line in book.index.lines.get((procedure, surgeon), ()) if line.approved]
    return [line for line in lines if {(line.kind, line.thing), _thing(slot_of(line, book.site))} & touched]


def _rows_of(book: CardBook, here: Target, touched: set[Thing]) -> list[CardRow]:
    rows = read_card(book, here.owner, here.procedure, here.effective)
    return [row for row in rows if row.mine and _thing(row.slot) in touched]


def _no_longer_fits(was: CardRow, now: CardRow) -> bool:
    """Whether lines that added something would now do so upon the base card, or others find nothing there."""
    turned = (was.beneath is None) != (now.beneath is None)
    return (turned and any(line in was.own for line in now.own)) or (brings_nothing(now) and not brings_nothing(was))


def _wish(before: CardBook, here: Target, was: CardRow, now: CardRow) -> RowValue | None:
    """What a surgeon wants of a thing whatever becomes of the base card; without own lines, what the base card has."""
    if was.own:
        return was.want
    if was.beneath is None and now.beneath is not None and _was_dropped(before, here, was.slot):
        return None
    return now.beneath


def _was_dropped(before: CardBook, here: Target, slot: RowKey) -> bool:
    """Whether a surgeon had dropped a thing for as long as the base card last had it."""
    base = own_lines(before, replace(here, owner=Owner()), slot)
    last = max((line.ends for line in base if line.ends and line.ends < here.effective), default=None)
    own = own_lines(before, here, slot)
    return last is not None and any(line.change is Change.REMOVE and line.ends == last for line in own)


def edits_between(before: CardBook, after: CardBook) -> LineEdits:
    """What was done to the lines of a book: one that was read is known by its place, a new one has none."""
    first, last = before.site.card_lines, after.site.card_lines
    left = {line.where: line.ends for line in last if line.where != NOWHERE}
    return LineEdits(
        ended=tuple((line, ends) for line in first if (ends := left.get(line.where)) and ends != line.ends),
        taken_out=tuple(line for line in first if line.where not in left),
        added=tuple(line for line in last if line.where == NOWHERE),
    )


def tell_edits(site: Site, before: CardBook, after: CardBook) -> tuple[str, ...]:
    """What was done to card lines from one book to the next, in words."""
    old = {id(line) for line in before.site.card_lines}
    kept = {id(line) for line in after.site.card_lines}
    fresh = [line for line in after.site.card_lines if id(line) not in old]
    ended = {line.where for line in fresh} - {NOWHERE}
    out = [line for line in before.site.card_lines if id(line) not in kept and line.where not in ended]
    return (
        *(f"{'ended' if line.where in ended else 'new'}: {line_text(line, site)}" for line in fresh),
        *(f"taken out: {line_text(line, site)}" for line in out),
    )


Amounts = Counter[tuple[ThingKind, str, str]]
Wish = tuple[RowKey, RowValue | None]


def edits_do_it(before: CardBook, after: CardBook, target: Target, changes: Iterable[Wish]) -> bool:
    """Whether a case of the card gets just what the changes say, and no list stops that did not stop before."""
    if target.procedure is None:
        return True
    changes = tuple(changes)
    rows = {row.slot: row for row in read_card(before, target.owner, target.procedure, target.effective) if row.mine}
    for slot in dict.fromkeys((RowKey(kind=ThingKind.TRAY, thing=""), *(slot for slot, _ in changes))):
        case = _case(target, slot)
        amounts, stops = _resolved(before, case)
        now, now_stops = _resolved(after, case)
        if now_stops - stops or now != _expected(amounts, rows, changes, case):
            return False
    return True


def _case(target: Target, slot: RowKey) -> Case:
    """A case in which a slot counts."""
    day = target.effective
    said = {one.kind: one.value for one in slot.only_if if not one.negated}
    return Case(
        number="",
        day=day,
        room="",
        start=datetime(day.year, day.month, day.day, tzinfo=UTC),
        minutes=0,
        surgeon=target.owner.surgeon,
        procedures=(target.procedure or "",),
        side=slot.side or Side(said.get(ConditionKind.SIDE, Side.LEFT)),
        alerts=(said[ConditionKind.ALERT],) if ConditionKind.ALERT in said else (),
        patient_size=said.get(ConditionKind.SIZE, "some size"),
    )


def _resolved(book: CardBook, case: Case) -> tuple[Amounts, Counter[tuple[str, str]]]:
    desk = CaseBeingResolved(site=book.site, index=book.index, case=case)
    amounts: Amounts = Counter()
    for draft in resolve_procedure(desk, case.procedures[0]):
        share = 1 if case.side is not Side.BOTH or draft.side is not Side.RIGHT else 0  # both sides alike
        amounts[draft.kind, draft.thing, "open"] += draft.open * share
        amounts[draft.kind, draft.thing, "hold"] += draft.hold * share
    return +amounts, Counter((stop.kind, stop.message) for stop in desk.stopped)


def _expected(before: Amounts, rows: dict[RowKey, CardRow], changes: tuple[Wish, ...], case: Case) -> Amounts:
    amounts = Counter(before)
    overruled = {slot for slot, row in rows.items() if row.fixed}
    for slot, after in changes:
        if slot in overruled or not _counts(slot, case):
            continue
        row = rows.get(slot)
        for want, sign in ((row.want if row else None, -1), (after, 1)):
            if want:
                amounts[want.kind, want.thing, "open"] += sign * want.open
                amounts[want.kind, want.thing, "hold"] += sign * want.hold
    return +amounts


def _counts(slot: RowKey, case: Case) -> bool:
    line = CardLine(
        procedure=None,
        surgeon=None,
        change=Change.ADD,
        kind=slot.kind,
        thing=slot.thing,
        side=slot.side,
        only_if=slot.only_if,
    )
    return judge_line(line, case).counts is True
