"""The card of one owner for one procedure on one day, row by row, with where each row comes from.

This is the card as an office sees it: no case is looked at, so rows that count only under a
condition are beside the others with that condition named.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from picklist.grouping import grouped
from picklist.model.cards import CardLine, Change, Counted, ThingKind
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.resolve.being_resolved import CaseBeingResolved, each_once
from picklist.resolve.card_index import CardIndex, index_cards
from picklist.resolve.versions import dates_hold, lines_standing
from picklist.upkeep.owners import Owner
from picklist.upkeep.slots import RowKey, RowValue, same_want, slot_of

ONE_DAY = timedelta(days=1)
KIND_ORDER = {ThingKind.TRAY: 0, ThingKind.PACK: 1, ThingKind.ITEM: 2}


class Origin(StrEnum):
    """Where a row of a card comes from."""

    OWN = "own"
    BASE = "base card"
    CHANGED = "own, instead of the base card"
    DROPPED = "dropped from the base card"
    EVERY = "own, for every procedure"
    HOUSE = "house rule"
    COMING = "from a later day"
    PENDING = "waits for approval"


MINE = frozenset({Origin.OWN, Origin.BASE, Origin.CHANGED, Origin.DROPPED})


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRow:
    """One row: its slot, what is wanted (None: dropped), what lies beneath, and the owner's lines in force.

    ``fixed`` says in words why the owner cannot change the row here; empty when it can.
    ``coming`` are the owner's later lines for the slot, ``begins`` is set for a row that only comes.
    """

    slot: RowKey
    want: RowValue | None
    beneath: RowValue | None = None
    origin: Origin = Origin.OWN
    own: tuple[CardLine, ...] = ()
    coming: tuple[CardLine, ...] = ()
    fixed: str = ""
    begins: date | None = None

    @property
    def mine(self) -> bool:
        """Whether the row belongs to the owner's layer and counts today, whether it can be changed or not."""
        return self.origin in MINE


@dataclass(frozen=True, slots=True, kw_only=True)
class CardBook:
    """A site with its card lines indexed, so that many cards can be read quickly."""

    site: Site
    index: CardIndex = field(repr=False)


def open_book(site: Site, lines: Iterable[CardLine] | None = None) -> CardBook:
    """A book of a site's cards, or of the site with other card lines."""
    site = site if lines is None else replace(site, card_lines=tuple(lines))
    return CardBook(site=site, index=index_cards(site))


def open_cards(site: Site, procedures: Collection[str | None]) -> CardBook:
    """A book of the cards of some procedures only, which is quicker to change in a large site."""
    wanted = {*procedures, None}
    return open_book(site, (line for line in site.card_lines if line.procedure in wanted))


def read_card(book: CardBook, owner: Owner, procedure: str | None, day: date) -> tuple[CardRow, ...]:
    """The rows of one card on one day: trays, packs, items, each in the order of the cards.

    ``procedure`` None is a surgeon's card for every procedure.
    """
    own_lines = book.index.lines.get((procedure, owner.layer), ())
    rows = lay_card(book, owner, procedure, day)
    rows = _fix_repeated(rows) if procedure else _fix_without_card(rows)
    rows = [*_fix_overruled(book, rows, _above(book, owner, procedure), day), *_later(book, rows, own_lines, day)]
    return tuple(sorted(rows, key=lambda row: KIND_ORDER[row.slot.kind]))


def read_coming(book: CardBook, owner: Owner, procedure: str | None, day: date) -> tuple[CardRow, ...]:
    """Rows of the owner that say something else from a later day on: as on that day, with the day as ``begins``."""
    own = [line for line in book.index.lines.get((procedure, owner.layer), ()) if line.approved]
    turns: dict[date, set[RowKey]] = {}
    for line in own:
        for turn in (line.begins, line.ends + ONE_DAY if line.ends else None):
            if turn and turn > day:
                turns.setdefault(turn, set()).add(slot_of(line, book.site))
    said = {row.slot: row.want for row in read_card(book, owner, procedure, day) if row.mine}
    found = []
    for turn, slots in sorted(turns.items()):
        for row in read_card(book, owner, procedure, turn):
            if row.mine and row.slot in slots and not same_want(row.want, said.get(row.slot)):
                said[row.slot] = row.want
                found.append(replace(row, begins=turn))
    return tuple(found)


def lay_card(book: CardBook, owner: Owner, procedure: str | None, day: date) -> list[CardRow]:
    """The owner's rows alone, on what lies beneath, without a look at what is fixed or lies above."""
    own_lines = book.index.lines.get((procedure, owner.layer), ())
    return _lay(book, _beneath(book, owner, procedure, day), own_lines, day)


def _beneath(book: CardBook, owner: Owner, procedure: str | None, day: date) -> dict[RowKey, RowValue]:
    known = book.site.procedures.get(procedure or "")
    found: dict[RowKey, RowValue] = {}
    if known and known.pack in book.site.packs:
        pack = RowKey(kind=ThingKind.PACK, thing=known.pack)
        found[pack] = RowValue(kind=ThingKind.PACK, thing=known.pack, open=1, hold=0)
    if owner.layer is None or procedure is None:
        return found
    base = _lay(book, found, book.index.lines.get((procedure, None), ()), day)
    found = {}
    for row in base:
        if row.want:
            slot = replace(row.slot, kind=row.want.kind, thing=row.want.thing)
            found[slot] = _joined(found[slot], row.want) if slot in found else row.want
    return found


def _lay(book: CardBook, beneath: dict[RowKey, RowValue], lines: tuple[CardLine, ...], day: date) -> list[CardRow]:
    """Lay a layer's lines upon what lies beneath."""
    in_force: dict[RowKey, list[CardLine]] = {slot: [] for slot in beneath}
    for line in lines:
        if line.approved and dates_hold(line, day):
            in_force.setdefault(slot_of(line, book.site), []).append(line)
    standing = grouped((slot_of(one.line, book.site), one.line) for one in lines_standing(_desk(book, day), lines))
    coming = _coming(book.site, lines, day)
    rows = []
    for slot, own in in_force.items():
        under = beneath.get(slot)
        want = _want(under, standing.get(slot, []))
        origin = _origin(under, want, bool(own))
        rows.append(
            CardRow(
                slot=slot, want=want, beneath=under, origin=origin, own=tuple(own), coming=tuple(coming.get(slot, ()))
            )
        )
    return rows


def _desk(book: CardBook, day: date) -> CaseBeingResolved:
    """A desk for reading lines without a case; only its day is looked at."""
    start = datetime(day.year, day.month, day.day, tzinfo=UTC)
    return CaseBeingResolved(
        site=book.site,
        index=book.index,
        case=Case(number="", day=day, room="", start=start, minutes=0, surgeon="", procedures=()),
    )


def _want(beneath: RowValue | None, standing: list[CardLine]) -> RowValue | None:
    by_change = {change: [line for line in standing if line.change is change] for change in Change}
    if by_change[Change.REMOVE]:
        return None
    want = beneath
    for line in by_change[Change.ADD]:
        implied = beneath is not None and want is beneath and line.kind is ThingKind.PACK
        want = _of_line(line) if want is None or implied else _joined(want, _of_line(line))
    replacing = by_change[Change.REPLACE]
    if replacing:
        under = want
        want = _instead(replacing[0], under)
        for line in replacing[1:]:
            want = _joined(want, _instead(line, under))
    return want


def _of_line(line: CardLine) -> RowValue:
    return RowValue(
        kind=line.kind, thing=line.thing, open=line.open, hold=line.hold, note=line.note, counted=line.counted
    )


def _instead(line: CardLine, under: RowValue | None) -> RowValue:
    """What a replace line makes of what is under it; it stays counted per procedure if that was."""
    want = _of_line(line)
    if under is None:
        return want
    per_procedure = Counted.PER_PROCEDURE in (want.counted, under.counted)
    takes_over = not (line.open or line.hold) and line.thing != under.thing
    return replace(
        want,
        open=under.open if takes_over else want.open,
        hold=under.hold if takes_over else want.hold,
        counted=Counted.PER_PROCEDURE if per_procedure else Counted.PER_CASE,
    )


def _joined(one: RowValue, other: RowValue) -> RowValue:
    per_procedure = Counted.PER_PROCEDURE in (one.counted, other.counted)
    return replace(
        one,
        open=one.open + other.open,
        hold=one.hold + other.hold,
        note="; ".join(each_once((one.note, other.note))),
        counted=Counted.PER_PROCEDURE if per_procedure else Counted.PER_CASE,
    )


def _origin(beneath: RowValue | None, want: RowValue | None, has_own: bool) -> Origin:
    if beneath is None:
        return Origin.OWN
    if want is None:
        return Origin.DROPPED
    return Origin.CHANGED if has_own else Origin.BASE


def _coming(site: Site, lines: Iterable[CardLine], day: date) -> dict[RowKey, list[CardLine]]:
    return grouped((slot_of(line, site), line) for line in lines if line.approved and line.begins and line.begins > day)


def _fix_repeated(rows: list[CardRow]) -> list[CardRow]:
    """A thing in several rows would be touched by a line meant for one of them, so a person must do it."""
    places: dict[tuple[ThingKind, str], set[RowKey]] = {}
    for row in rows:
        places.setdefault((row.slot.kind, row.slot.thing), set()).add(row.slot)
        if row.want:
            places.setdefault((row.want.kind, row.want.thing), set()).add(row.slot)
    made = []
    for row in rows:
        things = {(row.slot.kind, row.slot.thing)} | ({row.want.core[:2]} if row.want else set())
        several = any(len(places[thing]) > 1 for thing in things)
        idle = row.want is None and row.beneath is None
        reason = "asked for in several ways" if several else "it has nothing to drop" if idle else ""
        made.append(replace(row, fixed=reason))
    return made


def _fix_without_card(rows: list[CardRow]) -> list[CardRow]:
    """Lines for every procedure that replace or drop something act on cards that are not seen here."""
    reason = "it changes the cards of several procedures"
    return [row if all(o.change is Change.ADD for o in row.own) else replace(row, fixed=reason) for row in rows]


def _above(book: CardBook, owner: Owner, procedure: str | None) -> list[tuple[Origin, tuple[CardLine, ...]]]:
    house = (Origin.HOUSE, book.index.lines.get((None, None), ()))
    if owner.layer is None or procedure is None:
        return [house]
    return [(Origin.EVERY, book.index.lines.get((None, owner.layer), ())), house]


def _fix_overruled(
    book: CardBook, rows: list[CardRow], above: list[tuple[Origin, tuple[CardLine, ...]]], day: date
) -> list[CardRow]:
    """Rows of the layers above, and which rows beneath they overrule."""
    added: list[CardRow] = []
    for origin, lines in above:
        for row in _lay(book, {}, lines, day):
            if all(line.change is Change.ADD for line in row.own):
                added.append(replace(row, origin=origin, fixed=str(origin)))
            elif row.slot.always:
                rows = [_overruled(one, row.slot, origin) for one in rows]
    return rows + added


def _overruled(row: CardRow, slot: RowKey, origin: Origin) -> CardRow:
    hit = row.want is not None and row.want.core[:2] == (slot.kind, slot.thing)
    return replace(row, fixed=f"overruled by: {origin}") if hit else row


def _later(book: CardBook, rows: list[CardRow], lines: tuple[CardLine, ...], day: date) -> list[CardRow]:
    """Rows for what only comes on a later day, and for what waits for approval."""
    there = {row.slot for row in rows}
    made = []
    for slot, coming in _coming(book.site, lines, day).items():
        first = min(coming, key=lambda line: line.begins or day)
        if slot not in there and first.change is not Change.REMOVE:
            made.append(_waiting(slot, first, Origin.COMING))
    return made + [_waiting(slot_of(line, book.site), line, Origin.PENDING) for line in lines if _pends(line, day)]


def _pends(line: CardLine, day: date) -> bool:
    return not line.approved and line.change is not Change.REMOVE and not (line.ends and line.ends < day)


def _waiting(slot: RowKey, line: CardLine, origin: Origin) -> CardRow:
    return CardRow(slot=slot, want=_of_line(line), origin=origin, own=(line,), fixed=str(origin), begins=line.begins)


def find_idle_rows(book: CardBook, owner: Owner, procedure: str, day: date) -> tuple[CardLine, ...]:
    """The lines of one card that find nothing on a day; conditions are not looked at."""
    return idle_lines(lay_card(book, owner, procedure, day))


def idle_lines(rows: list[CardRow]) -> tuple[CardLine, ...]:
    """The lines among a card's rows that find nothing."""
    return tuple(line for row in rows if brings_nothing(row) and not _is_elsewhere(row, rows) for line in row.own[-1:])


def brings_nothing(row: CardRow) -> bool:
    """Whether all of a row's own lines replace or drop what the base card does not have."""
    return row.beneath is None and bool(row.own) and all(line.change is not Change.ADD for line in row.own)


def _is_elsewhere(row: CardRow, rows: list[CardRow]) -> bool:
    """Whether another row has the thing, always or under another condition."""
    thing = (row.slot.kind, row.slot.thing)
    for other in rows:
        here = other.beneath or (other.want if any(line.change is Change.ADD for line in other.own) else None)
        if other is not row and here and here.core[:2] == thing:
            return True
    return False
