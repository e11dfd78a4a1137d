"""A returned workbook compared with what was sent and with the cards as they are now."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from datetime import date

from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.resolve.desk import amount_text
from picklist.tables.nearest import plain
from picklist.upkeep.card_rows import CardBook, CardRow, open_book, read_card
from picklist.upkeep.check_edits import edits_do_it
from picklist.upkeep.entries import list_entries
from picklist.upkeep.line_edits import Target, begin_work
from picklist.upkeep.office_cells import CellReader, Written
from picklist.upkeep.office_match import Matched, match_rows
from picklist.upkeep.office_plan import MINE_COUNTS
from picklist.upkeep.office_return import OfficeReturn, OfficeRow, OfficeSheet, to_mend
from picklist.upkeep.proposals import VERBS, CardChange, CardRequest, Proposal
from picklist.upkeep.slots import Slot, Want, same_want, want_text, when_text
from picklist.upkeep.stamps import StampRow
from picklist.upkeep.three_way import Outcome, compare_wants


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """A row that was changed here and in the master: the row, its new stamp, and the problem that says so."""

    row: OfficeRow
    stamp: StampRow
    problem: Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What a return comes to: a proposal of what is clean, clashes, mistakes, and what is only worth knowing."""

    proposal: Proposal
    clashes: tuple[Clash, ...] = ()
    mistakes: tuple[Problem, ...] = ()
    notices: tuple[Problem, ...] = ()

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Everything that goes back to the office, in the order of the workbook."""
        return (*(clash.problem for clash in self.clashes), *self.mistakes, *self.notices)

    @property
    def goes_back(self) -> bool:
        """Whether the office has anything to mend or to answer."""
        return bool(self.clashes or self.mistakes)


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
    """One card while it is compared: its rows in the master, and where each thing stands in the return."""

    sheet: OfficeSheet
    matched: Matched
    now: dict[Slot, CardRow]
    seen: dict[tuple[str, str], OfficeRow] = field(default_factory=dict)
    changes: list[CardChange] = field(default_factory=list)


def compare_return(site: Site, returned: OfficeReturn, day: date) -> Comparison:
    """Compare a return with its stamp and with the cards as they stand on ``day``."""
    desk = _Desk(
        site=site,
        book=open_book(site),
        returned=returned,
        day=day,
        reader=CellReader(list_entries(site), day),
    )
    for sheet in returned.sheets:
        _compare_sheet(desk, sheet)
    return Comparison(
        proposal=_propose(desk),
        clashes=tuple(desk.clashes),
        mistakes=tuple(desk.mistakes),
        notices=tuple(desk.notices),
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
    owner = desk.returned.stamp.owner
    rows = read_card(desk.book, owner, sheet.procedure, desk.day)
    card = _Card(
        sheet=sheet,
        matched=match_rows(sheet, desk.returned.stamp),
        now={row.slot: row for row in rows if row.mine},
    )
    written = [(row, sent, desk.reader.read_line(row, sent)) for row, sent in card.matched.pairs if not sent.fixed]
    stays_first = sorted(written, key=lambda one: not _is_same_thing(one[1].want, one[2].want))
    for row, _, wrote in stays_first:
        if wrote.want:
            card.seen.setdefault((wrote.want.kind.value, wrote.want.thing), row)
    for row, sent, wrote in written:
        _compare_row(desk, card, row, sent, wrote)
    for row, sent in card.matched.pairs:
        if sent.fixed:
            _check_fixed(desk, row, sent)
    for row in card.matched.new:
        _compare_new(desk, card, row)
    for row in card.matched.asks:
        _take_request(desk, sheet, row)
    for sent in card.matched.gone:
        _note_gone(desk, sheet, sent)
    _keep_what_works(desk, card)


def _is_same_thing(sent: Want | None, office: Want | None) -> bool:
    return sent is not None and office is not None and sent.core[:2] == office.core[:2]


def _compare_row(desk: _Desk, card: _Card, row: OfficeRow, sent: StampRow, wrote: Written) -> None:
    moved = _check_unmoved(row, sent)
    if wrote.problems or moved:
        desk.mistakes += [*wrote.problems, *moved]
        return
    now = card.now.get(sent.slot, CardRow(slot=sent.slot, want=None))
    if sent.asked and not wrote.insists and not same_want(now.want, wrote.want):
        _clash(desk, row, sent, now, wrote.want)
        return
    compared = compare_wants(sent.want, now.want, wrote.want)
    if compared.outcome is Outcome.CLASH:
        _clash(desk, row, sent, now, wrote.want)
    elif compared.outcome is Outcome.ALREADY:
        desk.notices.append(_already(desk, row, now))
    elif compared.outcome is Outcome.CLEAN:
        _propose_change(desk, card, row, now, compared.want)


def _propose_change(desk: _Desk, card: _Card, row: OfficeRow, now: CardRow, want: Want | None) -> None:
    twice = _stands_already(card, row, want)
    if twice:
        desk.mistakes.append(twice)
        return
    if now.fixed:
        desk.mistakes.append(_fixed(row, now.fixed))
        return
    card.changes.append(
        CardChange(
            number=len(desk.changes) + len(card.changes) + 1,
            procedure=card.sheet.procedure,
            slot=now.slot,
            before=now.want,
            after=want,
            beneath=now.beneath,
            where=row.where("Name (number)"),
        )
    )


def _stands_already(card: _Card, row: OfficeRow, want: Want | None) -> Problem | None:
    """Whether the thing wanted here stands on the card in another row that keeps it."""
    if want is None:
        return None
    other = card.seen.setdefault((want.kind.value, want.thing), row)
    if other.number == row.number:
        return None
    message = f"{row.text('Name (number)')} stands on this card already, in row {other.number}"
    return replace(
        to_mend("stands-twice", row.where("Name (number)"), message, expected="each thing once, with how many in all"),
        value=row.text("Name (number)"),
        related=(other.where("Name (number)"),),
    )


def _compare_new(desk: _Desk, card: _Card, row: OfficeRow) -> None:
    slot, wrote = desk.reader.read_new(row)
    if wrote.problems or slot is None:
        desk.mistakes += wrote.problems
        return
    now = card.now.get(slot)
    if now is None or (now.want is None and not now.fixed):
        _propose_change(desk, card, row, now or CardRow(slot=slot, want=None), wrote.want)
        return
    if same_want(now.want, wrote.want):
        desk.notices.append(_already(desk, row, now))
        return
    twice = _stands_already(card, row, wrote.want)
    if twice:
        desk.mistakes.append(twice)
        return
    sent = StampRow(
        procedure=card.sheet.procedure,
        key=f"N{card.sheet.name}-{row.number}",
        slot=slot,
        want=None,
        shown=row.text("Name (number)"),
    )
    _clash(desk, row, sent, now, wrote.want)


def _clash(desk: _Desk, row: OfficeRow, sent: StampRow, now: CardRow, office: Want | None) -> None:
    clock = desk.site.settings.site_clock
    since = clock.day_text(desk.returned.stamp.day)
    yours = amount_text(office.open, office.hold) if office else "not wanted"
    message = f"you wrote {_brief(desk, office)}; since {since} the card says {_brief(desk, now.want)}"
    problem = replace(
        to_mend(
            "clash",
            row.where("Name (number)"),
            message,
            expected=f"what the card says now, or '{MINE_COUNTS}' under Your word if {yours} is right all the same",
        ),
        value=row.text("Name (number)"),
    )
    stamped = replace(sent, want=now.want, asked=True)
    desk.clashes.append(Clash(row=row, stamp=stamped, problem=problem))


def _brief(desk: _Desk, want: Want | None) -> str:
    return want_text(desk.site, want)


def _already(desk: _Desk, row: OfficeRow, now: CardRow) -> Problem:
    message = f"the card says so already: {_brief(desk, now.want)}"
    return Problem(kind="already-so", severity=Severity.NOTICE, where=row.where("Name (number)"), message=message)


def _check_unmoved(row: OfficeRow, sent: StampRow) -> list[Problem]:
    """When a line counts is not for an office to change on a line that was sent."""
    if "Only when" not in row.cells or plain(row.text("Only when")) == plain(when_text(sent.slot)):
        return []
    expected = f"'{when_text(sent.slot)}'" if not sent.slot.always else "nothing here"
    message = "when this line counts was changed"
    return [to_mend("condition-changed", row.where("Only when"), message, expected=f"{expected}; or a new line")]


def _check_fixed(desk: _Desk, row: OfficeRow, sent: StampRow) -> None:
    wrote = desk.reader.read_line(row, sent)
    if wrote.problems or not same_want(wrote.want, sent.want):
        was = f"{sent.shown}, {amount_text(sent.want.open, sent.want.hold)}" if sent.want else sent.shown
        desk.mistakes.append(_fixed(row, row.text("Comes from") or "it is not the office's", was))


def _fixed(row: OfficeRow, why: str, was: str = "") -> Problem:
    expected = f"the line as it was{f' ({was})' if was else ''}; ask for the change at the foot of the sheet"
    problem = to_mend("fixed-row", row.where("Name (number)"), f"this line is fixed here: {why}", expected=expected)
    return replace(problem, value=row.text("Name (number)"))


def _take_request(desk: _Desk, sheet: OfficeSheet, row: OfficeRow) -> None:
    text, wrong = desk.reader.read_note(row, "Name (number)")
    why, wrong_why = desk.reader.read_note(row, "Note")
    if wrong or wrong_why:
        desk.mistakes += [*wrong, *wrong_why]
        return
    if not text:
        desk.mistakes.append(
            to_mend("empty-cell", row.where("Name (number)"), "it is not said what is asked for", expected="what it is")
        )
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


def _note_gone(desk: _Desk, sheet: OfficeSheet, sent: StampRow) -> None:
    if sent.fixed or sent.want is None:
        return
    where = Where(file=desk.returned.path.name, sheet=sheet.name)
    message = f"the row of {sent.shown} is missing; the line stays on the card"
    desk.notices.append(
        Problem(
            kind="row-missing",
            severity=Severity.NOTICE,
            where=where,
            message=message,
            expected="a row with 'no longer' if it is to be dropped",
        )
    )


def _keep_what_works(desk: _Desk, card: _Card) -> None:
    """Try all changes of a card with the resolving that carts use; what does not come out is for a person."""
    target = Target(owner=desk.returned.stamp.owner, procedure=card.sheet.procedure, effective=desk.day)
    kept: list[CardChange] = []
    work = begin_work(desk.book)
    for change in card.changes:
        tried = work.done(target, change.slot, change.after)
        wishes = [(one.slot, one.after) for one in (*kept, change)]
        if edits_do_it(desk.book, tried.book, target, wishes):
            kept.append(change)
            work = tried
            continue
        desk.mistakes.append(
            to_mend(
                "cannot-be-said",
                change.where,
                "card lines cannot say this change together with the others on this card",
                expected="the change written as a request at the foot of the sheet",
            )
        )
    desk.changes += kept
