"""Changes and undoing worked out on one reading of the master, before anything is written."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from itertools import product

from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where, to_fix
from picklist.resolve.versions import line_text
from picklist.upkeep.card_rows import CardBook, CardRow, find_idle_rows, read_card
from picklist.upkeep.change_log import LogEntry, Stood
from picklist.upkeep.line_edits import Target, find_row, tell_edits
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import Approval, ApprovedBy, CardChange, change_text
from picklist.upkeep.slots import RowKey, RowValue, same_want, want_text
from picklist.upkeep.timeline import (
    SlotDays,
    Timeline,
    changes_behind,
    effects_of,
    find_pieces,
    what_stood,
    write_pieces,
)


@dataclass(slots=True, kw_only=True)
class Attempt:
    """One try at an approval or at undoing, on one reading of the master and of the log.

    ``book`` has the cards with what was done so far, ``first`` as they were read.
    """

    site: Site
    now: datetime
    first: CardBook
    book: CardBook
    log: tuple[LogEntry, ...]
    done: list[LogEntry] = field(default_factory=list)
    already: list[CardChange] = field(default_factory=list)
    refused: list[CardChange] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def card_log(self, target: Target) -> Timeline:
        """What the log says of a card."""
        return Timeline(one for one in (*self.log, *self.done) if _is_on(one, target))

    def logged_days(self, target: Target, slot: RowKey) -> frozenset[date]:
        """Days on which lines of a slot begin by the log: its own, and where the base card changed beneath it."""
        base = replace(target, owner=Owner())
        thing = (slot.kind, slot.thing)
        entries = (*self.log, *self.done)
        behind = changes_behind(entries)
        return frozenset(
            one.effective
            for one in entries
            if (_is_on(one, target) or _is_on(one, base))
            and any((other.kind, other.thing) == thing for other in effects_of(behind[one.number]))
        )

    @property
    def next_number(self) -> int:
        """The number that the next entry will have in the log."""
        return max((one.number for one in (*self.log, *self.done)), default=0) + 1


def do_changes(attempt: Attempt, approval: Approval) -> None:
    """Do approved changes, or say why not.

    One may only be possible once another is done, so that those refused are tried again after the others.
    """
    left: tuple[CardChange, ...] = approval.changes
    while left:
        problems = [(change, problem) for change in left if (problem := _do_change(attempt, approval, change))]
        if len(problems) in (0, len(left)):
            attempt.refused += [change for change, _ in problems]
            attempt.problems += [problem for _, problem in problems]
            return
        left = tuple(change for change, _ in problems)


def _do_change(attempt: Attempt, approval: Approval, change: CardChange) -> Problem | None:
    """Do one approved change; the problem when it is refused."""
    effective = change.counts_from(approval.approved.effective)
    target = Target(owner=approval.owner, procedure=change.procedure, effective=effective)
    row = find_row(attempt.book, target, change.slot)
    wishes = effects_of(change).items()
    if all(same_want(find_row(attempt.book, target, slot).want, after) for slot, (_, after) in wishes):
        message = f"the card says so already: {want_text(attempt.site, change.after)}"
        attempt.already.append(change)
        attempt.problems.append(replace(refusal("already-so", message), severity=Severity.NOTICE))
        return None
    wrong = _why_not(attempt, target, change, row)
    if wrong:
        return wrong
    log = attempt.card_log(target)
    change = replace(change, beneath=row.beneath)
    stood, *stood_new = [_what_stood(attempt, target, slot, log) for slot in effects_of(change)]
    standing = log.stand(change.slot, target.effective)
    entry = LogEntry(
        number=attempt.next_number,
        at=attempt.now,
        by=approval.approved.name,
        reason=approval.approved.reason,
        owner=approval.owner,
        change=change,
        effective=effective,
        source=approval.source,
        until=standing.last if standing and stood.logged else stood.until,
        stood=stood,
        stood_new=stood_new[0] if stood_new else Stood(),
    )
    if _carry_out(attempt, target, entry, log):
        return None
    message = f"card lines cannot say this: {change_text(attempt.site, change)}"
    return refusal("cannot-be-said", message, expected="lines written by hand in Cards")


def _what_stood(attempt: Attempt, target: Target, slot: RowKey, log: Timeline) -> Stood:
    return what_stood(attempt.book, target, slot, log, attempt.logged_days(target, slot) | {target.effective})


def undo_entry(attempt: Attempt, undo: ApprovedBy, number: int) -> None:
    """Undo one change of the log, or say why not. The rules are in ``timeline``."""
    entry = next((one for one in attempt.log if one.number == number), None)
    if entry is None:
        missing = refusal("no-such-change", f"the log has no change {number}", expected="a number of the log")
        attempt.problems.append(missing)
        return
    first = max(undo.effective, entry.effective)
    target = Target(owner=entry.owner, procedure=entry.change.procedure, effective=first)
    log = attempt.card_log(target)
    made = LogEntry(
        number=attempt.next_number,
        at=attempt.now,
        by=undo.name,
        reason=undo.reason,
        owner=entry.owner,
        change=entry.change,
        effective=first,
        source=f"undo of change {number}",
        undoes=number,
    )
    after = log.with_entry(made)
    pieces = {
        slot: find_pieces(attempt.book, target, slot, log, after, attempt.logged_days(target, slot))
        for slot in effects_of(changes_behind(attempt.log)[number])
    }
    wrong = _why_not_undone(attempt, entry, log, first, pieces)
    if wrong:
        attempt.refused.append(entry.change)
        attempt.problems.append(wrong)
        return
    if not _carry_out(attempt, target, replace(made, change=_undoing(entry.change, pieces)), log, tuple(pieces)):
        message = f"card lines cannot undo this: {change_text(attempt.site, entry.change)}"
        attempt.refused.append(entry.change)
        attempt.problems.append(refusal("cannot-be-said", message, expected="lines written by hand in Cards"))


def _carry_out(
    attempt: Attempt, target: Target, entry: LogEntry, log: Timeline, slots: tuple[RowKey, ...] = ()
) -> bool:
    """Write the lines of a change or of undoing one; False, and nothing is done, when lines cannot say it."""
    after = log.with_entry(entry)
    book: CardBook | None = attempt.book
    for slot in slots or tuple(effects_of(entry.change)):
        logged = attempt.logged_days(target, slot) | {entry.effective}
        if book is not None:
            pieces = find_pieces(book, target, slot, log, after, logged)
            book = write_pieces(book, target, slot, pieces, logged)
    if book is None:
        return False
    attempt.done.append(replace(entry, lines=tell_edits(attempt.site, attempt.book, book)))
    attempt.book = book
    return True


def _why_not(attempt: Attempt, target: Target, change: CardChange, row: CardRow) -> Problem | None:
    site = attempt.site
    if not same_want(row.want, change.before):
        day = site.settings.site_clock.day_text(target.effective)
        message = f"on {day} the card says {want_text(site, row.want)}, not {want_text(site, change.before)}"
        return refusal("clash", message, expected=_way_out(attempt, row))
    if row.fixed:
        return refusal("fixed-row", f"this line cannot be changed here: {row.fixed}")
    if change.after and change.slot.always:
        for other in read_card(attempt.book, target.owner, target.procedure, target.effective):
            same = other.want is not None and other.want.core[:2] == change.after.core[:2]
            if same and other.mine and other.slot.always and other.slot != change.slot:
                message = f"another line of the card has it already: {want_text(site, other.want)}"
                return refusal("stands-twice", message, expected="each thing once, with how many in all")
    return None


def _way_out(attempt: Attempt, row: CardRow) -> str:
    """What can be done about a clash: another day, where the card says something else only from a later day on."""
    clock = attempt.site.settings.site_clock
    today = clock.day(attempt.now)
    begins = max((line.begins for line in row.own if line.begins and line.begins > today), default=None)
    if begins is None:
        return "the change proposed anew on the card as it is"
    day = clock.day_text(begins)
    return f"a day before {day}; or the line that counts from {day} changed in the office's next workbook"


def _why_not_undone(
    attempt: Attempt, entry: LogEntry, log: Timeline, first: date, pieces: dict[RowKey, tuple[SlotDays, ...]]
) -> Problem | None:
    clock = attempt.site.settings.site_clock
    number = entry.number
    changed = [piece for of_slot in pieces.values() for piece in of_slot if piece.changes]
    if log.is_undone(number, first):
        return refusal("already-undone", f"change {number} is undone already", expected="another number of the log")
    if not changed:
        later = log.later(entry, first)
        if later:
            numbers = ", ".join(map(str, later))
            message = f"later changes are on the same line: {numbers}"
            return refusal("later-change", message, expected="those first")
        message = f"change {number} counts on no day from {clock.day_text(first)} on"
        return refusal("counts-no-more", message, expected="a change that counts")
    for piece in changed:
        if piece.by_hand:
            said = piece.was.says(piece.row.beneath) if piece.was else None
            day = clock.day_text(piece.first)
            is_now = want_text(attempt.site, piece.row.want)
            message = f"on {day} the card says {is_now}, not {want_text(attempt.site, said)}"
            return refusal("clash", message, expected="a change of the card as it is")
        if piece.row.fixed:
            return refusal("fixed-row", f"this line cannot be changed here: {piece.row.fixed}")
    return None


def _undoing(change: CardChange, pieces: dict[RowKey, tuple[SlotDays, ...]]) -> CardChange:
    """From what to what an undo changes the card, on the first day on which it does."""
    changed = {slot: [piece for piece in of_slot if piece.changes] for slot, of_slot in pieces.items()}
    firsts = {slot: found[0] for slot, found in changed.items() if found}
    if len(firsts) == 1:
        ((slot, piece),) = firsts.items()
        return replace(change, slot=slot, before=piece.row.want, after=piece.wanted, beneath=piece.row.beneath)
    wants: list[RowValue | None] = [want for piece in firsts.values() for want in (piece.row.want,) if want]
    back = [piece.wanted for piece in firsts.values() if piece.wanted]
    slot = next((slot for slot, piece in firsts.items() if piece.row.want), change.slot)
    return replace(change, slot=slot, before=wants[0] if wants else None, after=back[0] if back else None, beneath=None)


def _is_on(entry: LogEntry, target: Target) -> bool:
    return (entry.owner.layer, entry.change.procedure) == (target.owner.layer, target.procedure)


def idle_after(attempt: Attempt, first: date) -> list[Problem]:
    """Lines that would find nothing to replace or drop, on the effective day or when a later line begins."""
    cards = {entry.change.procedure for entry in attempt.done} - {None}
    lines = [line for line in attempt.book.site.card_lines if line.procedure in cards]
    days = {first} | {line.begins for line in lines if line.begins and line.begins > first}
    surgeons = {line.surgeon for line in lines}
    found: dict[str, Problem] = {}
    for day, surgeon, procedure in product(sorted(days), sorted(surgeons, key=str), sorted(cards, key=str)):
        owner = Owner(surgeon=surgeon or "")
        was = {line_text(one, attempt.site) for one in find_idle_rows(attempt.first, owner, str(procedure), day)}
        for line in find_idle_rows(attempt.book, owner, str(procedure), day):
            text = line_text(line, attempt.site)
            if text not in was:
                message = f"from {day} on this line finds nothing to {line.change}: {text}"
                found.setdefault(text, replace(refusal("finds-nothing", message), where=line.where))
    return list(found.values())


def refusal(kind: str, message: str, *, expected: str = "") -> Problem:
    """Why something was not written."""
    return to_fix(kind, Where(file="Cards"), message, expected=expected)
