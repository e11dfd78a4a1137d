"""A returned workbook compared with what was sent and with the cards as they are now.

The thing that a row names counts before its hidden key, for a sort that left the hidden columns
behind moves the keys to other things. A key is believed where the thing was changed.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from datetime import date

from picklist.model.site import Site
from picklist.problems import Problem
from picklist.tables.nearest import plain
from picklist.upkeep.card_rows import CardBook, CardRow, Origin, open_book, open_cards, read_card, read_coming
from picklist.upkeep.entries import list_entries
from picklist.upkeep.line_edits import Target, edits_do_it, with_change
from picklist.upkeep.office_cells import CellReader, RowReading
from picklist.upkeep.office_outside import find_outside
from picklist.upkeep.office_problems import (
    already_so,
    cannot_be_said,
    clash,
    condition_changed,
    empty_request,
    fixed_row,
    row_missing,
    stands_twice,
)
from picklist.upkeep.office_return import OfficeReturn, OfficeRow, OfficeSheet
from picklist.upkeep.proposals import VERBS, CardChange, CardRequest, Proposal
from picklist.upkeep.slots import RowKey, RowValue, Verdict, compare_wants, same_want
from picklist.upkeep.stamps import StampRow, WorkbookStamp
from picklist.upkeep.timeline import effects_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """A row that was changed here and in the master: the row, its new stamp, and the problem that says so."""

    row: OfficeRow
    stamp: StampRow
    problem: Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What a return comes to: a proposal of what is clean, clashes, mistakes, and what is only worth knowing.

    ``outside`` is what was done outside the boxes.
    """

    proposal: Proposal
    clashes: tuple[Clash, ...] = ()
    mistakes: tuple[Problem, ...] = ()
    notices: tuple[Problem, ...] = ()
    outside: tuple[Problem, ...] = ()

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Everything that goes back to the office, in the order of the workbook."""
        return (*(clash.problem for clash in self.clashes), *self.mistakes, *self.outside, *self.notices)

    @property
    def goes_back(self) -> bool:
        """Whether the office has anything to correct, to answer or to say again in the boxes."""
        return bool(self.clashes or self.mistakes or self.outside)


@dataclass(slots=True, kw_only=True)
class _Desk:
    """One comparison while it is made."""

    site: Site
    book: CardBook
    returned: OfficeReturn
    day: date
    reader: CellReader
    changes: list[CardChange] = field(default_factory=list)
    requests: list[CardRequest] = field(default_factory=list)
    clashes: list[Clash] = field(default_factory=list)
    mistakes: list[Problem] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class _Card:
    """One card while it is compared: its rows in the master, and where each thing is in the return."""

    sheet: OfficeSheet
    matched: Matched
    rows: dict[date, dict[RowKey, CardRow]] = field(default_factory=dict)
    seen: dict[tuple[date | None, str, str], OfficeRow] = field(default_factory=dict)
    changes: list[CardChange] = field(default_factory=list)


def compare_return(site: Site, returned: OfficeReturn, day: date) -> Comparison:
    """Compare a return with its stamp and with the cards as they are on ``day``."""
    desk = _Desk(
        site=site,
        book=open_book(site),
        returned=returned,
        day=day,
        reader=CellReader(list_entries(site), day, (one for line in site.card_lines for one in line.only_if)),
        mistakes=[problem for _, problem in returned.unread],
    )
    for sheet in returned.sheets:
        _compare_sheet(desk, sheet)
    return Comparison(
        proposal=_propose(desk),
        clashes=tuple(desk.clashes),
        mistakes=tuple(desk.mistakes),
        notices=tuple(desk.notices),
        outside=find_outside(returned),
    )


def _propose(desk: _Desk) -> Proposal:
    stamp = desk.returned.stamp
    cards = list(dict.fromkeys(one.procedure for one in desk.changes))
    ordered = sorted(desk.changes, key=lambda one: (cards.index(one.procedure), VERBS.index(one.verb)))
    changes = tuple(replace(one, number=number) for number, one in enumerate(ordered, start=1))
    digest = hashlib.sha256(repr((stamp.version, stamp.owner, changes, desk.requests)).encode()).hexdigest()
    return Proposal(
        id=f"{stamp.owner.surgeon or 'base'}-{digest[:6]}",
        owner=stamp.owner,
        file=desk.returned.path.name,
        version=stamp.version,
        day=desk.day,
        changes=changes,
        requests=tuple(desk.requests),
    )


def _compare_sheet(desk: _Desk, sheet: OfficeSheet) -> None:
    card = _Card(sheet=sheet, matched=match_rows(sheet, desk.returned.stamp))
    written = [(row, sent, desk.reader.read_line(row, sent)) for row, sent in card.matched.pairs if not sent.fixed]
    stays_first = sorted(written, key=lambda one: not _is_same_thing(one[1].want, one[2].want))
    for row, sent, wrote in stays_first:
        if wrote.want:
            card.seen.setdefault((sent.begins, wrote.want.kind.value, wrote.want.thing), row)
    for row, sent, wrote in written:
        _compare_row(desk, card, row, sent, wrote)
    for row, sent in card.matched.pairs:
        if sent.fixed:
            _check_fixed(desk, card, row, sent)
    for row in card.matched.new:
        _compare_new(desk, card, row)
    for row in card.matched.asks:
        _take_request(desk, sheet, row)
    for sent in card.matched.gone:
        if sent.want and not sent.fixed:
            desk.notices.append(row_missing(desk.returned.path.name, sheet.name, sent))
    _keep_what_works(desk, card)


def _now(desk: _Desk, card: _Card, slot: RowKey, begins: date | None = None) -> CardRow | None:
    """What the master says now of a slot, today or on the later day of which the row speaks."""
    day = max(begins, desk.day) if begins else desk.day
    if day not in card.rows:
        rows = read_card(desk.book, desk.returned.stamp.owner, card.sheet.procedure, day)
        card.rows[day] = {row.slot: row for row in rows if row.mine}
    return card.rows[day].get(slot)


def _is_same_thing(sent: RowValue | None, office: RowValue | None) -> bool:
    return sent is not None and office is not None and sent.core[:2] == office.core[:2]


def _compare_row(desk: _Desk, card: _Card, row: OfficeRow, sent: StampRow, wrote: RowReading) -> None:
    moved = condition_changed(row, sent)
    if wrote.problems or moved:
        desk.mistakes += [*wrote.problems, *moved]
        return
    now = _row_now(desk, card, sent, wrote.want)
    if sent.asked and not wrote.insists and not same_want(now.want, wrote.want):
        _clash(desk, row, sent, now, wrote.want)
        return
    compared = compare_wants(sent.want, now.want, wrote.want)
    if compared.outcome is Verdict.CLASH:
        _clash(desk, row, sent, now, wrote.want)
    elif compared.outcome is Verdict.ALREADY:
        desk.notices.append(already_so(desk.site, row, now.want))
    elif compared.outcome is Verdict.CLEAN:
        _propose_change(desk, card, row, now, compared.want, sent.begins)


def _row_now(desk: _Desk, card: _Card, sent: StampRow, office: RowValue | None = None) -> CardRow:
    """The row as the card has it now.

    What was in the place of a base line stands by itself once the base card has dropped that line; so does what
    the ``office`` wants in the place of a line of its own, once that was approved.
    """
    found = _now(desk, card, sent.slot, sent.begins)
    for other in (sent.want, office):
        if found is None and other and other.core[:2] != (sent.slot.kind, sent.slot.thing):
            own = _now(desk, card, replace(sent.slot, kind=other.kind, thing=other.thing), sent.begins)
            found = own if own and (other is sent.want or same_want(own.want, office)) else None
    return found or CardRow(slot=sent.slot, want=None)


def _propose_change(
    desk: _Desk, card: _Card, row: OfficeRow, now: CardRow, want: RowValue | None, begins: date | None = None
) -> None:
    twice = _stands_already(card, row, want, begins)
    if twice:
        desk.mistakes.append(twice)
        return
    if now.fixed:
        desk.mistakes.append(fixed_row(row, now.fixed))
        return
    _add_change(desk, card, row, now, want, begins)


def _add_change(
    desk: _Desk, card: _Card, row: OfficeRow, now: CardRow, want: RowValue | None, begins: date | None = None
) -> None:
    change = CardChange(
        number=len(desk.changes) + len(card.changes) + 1,
        procedure=card.sheet.procedure,
        slot=now.slot,
        before=now.want,
        after=want,
        beneath=now.beneath,
        begins=begins if begins and begins > desk.day else None,
        where=row.where("Name (number)"),
    )
    if day := _comes_already(desk, card, change):
        desk.notices.append(already_so(desk.site, row, want, day))
    else:
        card.changes.append(change)


def _comes_already(desk: _Desk, card: _Card, change: CardChange) -> date | None:
    """The later day from which the card says so already, by what was approved since the workbook was made."""
    stamp, wishes = desk.returned.stamp, effects_of(change)
    shown = {sent.begins for sent in stamp.rows if sent.procedure == change.procedure and sent.slot in wishes}
    for day in sorted({row.begins for row in _coming(desk, card) if row.begins and row.begins not in shown}):
        then = ((_now(desk, card, slot, day), after) for slot, (_, after) in wishes.items())
        if not change.begins and all(same_want(row.want if row else None, after) for row, after in then):
            return day
    return None


def _coming(desk: _Desk, card: _Card) -> tuple[CardRow, ...]:
    return read_coming(desk.book, desk.returned.stamp.owner, card.sheet.procedure, desk.day)


def _stands_already(card: _Card, row: OfficeRow, want: RowValue | None, begins: date | None = None) -> Problem | None:
    """Whether the thing wanted here is on the card in another row that keeps it."""
    if want is None:
        return None
    other = card.seen.setdefault((begins, want.kind.value, want.thing), row)
    return None if other.number == row.number else stands_twice(row, other)


def _compare_new(desk: _Desk, card: _Card, row: OfficeRow) -> None:
    slot, wrote = desk.reader.read_new(row)
    if wrote.problems or slot is None:
        desk.mistakes += wrote.problems
        return
    now = _now(desk, card, slot)
    if now is None or (now.want is None and not now.fixed):
        _propose_change(desk, card, row, now or CardRow(slot=slot, want=None), wrote.want)
        return
    if same_want(now.want, wrote.want):
        desk.notices.append(already_so(desk.site, row, now.want))
        return
    twice = _stands_already(card, row, wrote.want)
    if twice:
        desk.mistakes.append(twice)
        return
    if now.want and now.want.core[:2] != (slot.kind, slot.thing):
        _propose_both(desk, card, row, now, wrote.want)
        return
    sent = StampRow(
        procedure=card.sheet.procedure,
        key=f"N{card.sheet.name}-{row.number}",
        slot=slot,
        want=None,
        shown=row.text("Name (number)"),
    )
    _clash(desk, row, sent, now, wrote.want)


def _propose_both(desk: _Desk, card: _Card, row: OfficeRow, now: CardRow, want: RowValue | None) -> None:
    """A base line that the office's own line takes the place of is wanted as well: each gets a line to itself."""
    of_row = next((one for one in card.changes if one.slot == now.slot and one.begins is None), None)
    instead = of_row.after if of_row else now.want
    if of_row:
        card.changes.remove(of_row)
    _propose_change(desk, card, row, now, want)
    if instead and not now.fixed:
        slot = replace(now.slot, kind=instead.kind, thing=instead.thing)
        _add_change(desk, card, row, _now(desk, card, slot) or CardRow(slot=slot, want=None), instead)


def _clash(desk: _Desk, row: OfficeRow, sent: StampRow, now: CardRow, office: RowValue | None) -> None:
    problem = clash(desk.site, row, desk.returned.stamp.day, office, now.want)
    desk.clashes.append(Clash(row=row, stamp=replace(sent, want=now.want, asked=True), problem=problem))


def _check_fixed(desk: _Desk, card: _Card, row: OfficeRow, sent: StampRow) -> None:
    wrote = desk.reader.read_line(row, sent)
    if wrote.problems or not same_want(wrote.want, sent.want):
        said = (str(one) for one in Origin if row.text("Comes from").startswith(one))
        why = _row_now(desk, card, sent).fixed or max(said, key=len, default="it is not the office's")
        desk.mistakes.append(fixed_row(row, why, sent))


def _take_request(desk: _Desk, sheet: OfficeSheet, row: OfficeRow) -> None:
    text, wrong = desk.reader.read_note(row, "Name (number)")
    why, wrong_why = desk.reader.read_note(row, "Note")
    if wrong or wrong_why:
        desk.mistakes += [*wrong, *wrong_why]
        return
    if not text:
        desk.mistakes.append(empty_request(row))
        return
    desk.requests.append(
        CardRequest(
            procedure=sheet.procedure,
            text=text,
            open=row.text("Open"),
            hold=row.text("Hold"),
            why=why,
            where=row.where("Name (number)"),
        )
    )


def _keep_what_works(desk: _Desk, card: _Card) -> None:
    """Try all changes of a card with the resolving that carts use; what does not come out is for a person."""
    owner = desk.returned.stamp.owner
    kept: list[CardChange] = []
    book = changed = open_cards(desk.site, {card.sheet.procedure})
    for change in card.changes:
        target = Target(owner=owner, procedure=card.sheet.procedure, effective=change.counts_from(desk.day))
        tried = with_change(changed, target, change.slot, change.after)
        wishes = _wishes((*kept, change), _coming(desk, card), target.effective)
        if edits_do_it(book, tried, target, wishes):
            kept.append(change)
            changed = tried
            continue
        desk.mistakes.append(cannot_be_said(change.where))
    desk.changes += kept


def _wishes(
    changes: tuple[CardChange, ...], coming: tuple[CardRow, ...], day: date
) -> list[tuple[RowKey, RowValue | None]]:
    """What the changes want on a day: of what counts today, that of slots for which nothing else has come by then."""
    come = {row.slot for row in coming if row.begins and row.begins <= day}
    own_days = {(one.slot, one.begins) for one in changes}
    return [
        (one.slot, one.after)
        for one in changes
        if (one.begins is None and one.slot not in come)
        or (one.begins and one.begins <= day and one.begins == _latest(one.slot, own_days, day))
    ]


def _latest(slot: RowKey, days: set[tuple[RowKey, date | None]], day: date) -> date | None:
    return max((begins for one, begins in days if one == slot and begins and begins <= day), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """Pairs of returned and sent rows in the order of the sheet, rows that are new, and sent rows that are gone."""

    pairs: tuple[tuple[OfficeRow, StampRow], ...]
    new: tuple[OfficeRow, ...]
    asks: tuple[OfficeRow, ...]
    gone: tuple[StampRow, ...]


@dataclass(slots=True)
class _Table:
    """Sent rows not yet matched, by key, and who took which."""

    left: dict[str, StampRow]
    taken: dict[str, OfficeRow] = field(default_factory=dict)
    match: dict[int, StampRow] = field(default_factory=dict)

    def take(self, row: OfficeRow, key: str) -> None:
        self.match[row.number] = self.left.pop(key)
        self.taken[key] = row


def match_rows(sheet: OfficeSheet, stamp: WorkbookStamp) -> Matched:
    """Match the rows of a returned card."""
    sent = {one.key: one for one in stamp.rows if one.procedure == sheet.procedure}
    rows = [row for row in sheet.rows if not row.is_ask]
    table = _Table(left=dict(sent))
    for row in rows:
        one = table.left.get(row.key)
        if one and plain(row.text("Name (number)")) == plain(one.shown):
            table.take(row, one.key)
    for row in _open(rows, table):
        found = _find_by_thing(row, table)
        if found:
            table.take(row, found)
    for row in _open(rows, table):
        if row.key in table.left:
            table.take(row, row.key)
    for row in _open(rows, table):
        key = _free_key(row, table)
        if key:
            table.take(row, key)
    new = [row for row in _open(rows, table) if not row.is_blank]
    return Matched(
        pairs=tuple((row, table.match[row.number]) for row in rows if row.number in table.match),
        new=tuple(new),
        asks=tuple(row for row in sheet.rows if row.is_ask and not row.is_blank),
        gone=tuple(table.left.values()),
    )


def _open(rows: list[OfficeRow], table: _Table) -> list[OfficeRow]:
    return [row for row in rows if row.number not in table.match]


def _find_by_thing(row: OfficeRow, table: _Table) -> str:
    name = plain(row.text("Name (number)"))
    found = [one for one in table.left.values() if name and name == plain(one.shown)]
    if len(found) > 1:
        when = plain(row.text("Only when"))
        found = [one for one in found if plain(one.when) == when]
    return found[0].key if len(found) == 1 else ""


def _free_key(row: OfficeRow, table: _Table) -> str:
    """Where another row, by its thing, took this row's key, the key that the other left free is this row's."""
    key, seen = row.key, set[str]()
    while key in table.taken and key not in seen:
        seen.add(key)
        key = table.taken[key].key
    return key if key in table.left else ""
