"""Approved changes written into the master, and taken back again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import product
from pathlib import Path

from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.resolve.versions import line_text
from picklist.tables.files import (
    BusyError,
    FileWrite,
    check_not_open,
    digest_now,
    digest_of,
    keep_former,
    prepare_file,
    put_in_place,
)
from picklist.upkeep.card_rows import CardRow, open_cards
from picklist.upkeep.change_log import ChangeLog, LogEntry, read_history
from picklist.upkeep.check_edits import edits_do_it
from picklist.upkeep.idle_rows import find_idle_rows
from picklist.upkeep.line_edits import Target, Work, begin_work, find_row, tell_edits
from picklist.upkeep.master import MasterChangedError, edit_master
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import Approval, CardChange, change_text
from picklist.upkeep.safe_files import hold_cards, read_files
from picklist.upkeep.slots import Slot, same_want, want_text

TRIES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What came of an approval: changes now in the log, files written, and where their former ones are kept.

    Of changes that were not applied the problems say why; nothing of them was written.
    """

    done: tuple[LogEntry, ...] = ()
    refused: tuple[CardChange, ...] = ()
    files: tuple[str, ...] = ()
    former: tuple[Path, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(slots=True, kw_only=True)
class _Try:
    """One try at an approval, on one reading of the master."""

    site: Site
    approval: Approval
    now: datetime
    work: Work
    done: list[LogEntry]
    refused: list[CardChange]
    problems: list[Problem]


def apply_approval(folder: Path, approval: Approval, *, now: datetime) -> Applied:
    """Write approved changes into the master, under a lock, on a fresh reading of it.

    A change whose slot no longer says what it said when it was proposed is refused, with a problem;
    the others are written. ``now`` is an instant.
    """
    try:
        with hold_cards(folder):
            log = ChangeLog(folder)
            finish_interrupted(folder, log)
            for _ in range(TRIES):
                applied = _try_once(folder, approval, now, log)
                if applied is not None:
                    return applied
    except BusyError as error:
        return _nothing(approval, _refusal("busy", str(error), expected="the same again in a while"))
    except (OSError, sqlite3.Error) as error:
        message = f"the folder of the tables cannot be written ({error})"
        return _nothing(approval, _refusal("cannot-write", message, expected="a folder and files that can be written"))
    message = "the master was changed by hand again and again while this was written"
    return _nothing(approval, _refusal("master-changed", message, expected="the same again in a while"))


def undo_change(folder: Path, number: int, *, by: str, reason: str, effective: date, now: datetime) -> Applied:
    """Take one change of the log back, from a day on; later changes stay.

    Refused when a later change stands on the same line of the card.
    """
    entries = read_history(folder)
    entry = next((one for one in entries if one.number == number), None)
    if entry is None:
        missing = _refusal("no-such-change", f"the log has no change {number}", expected="a number of the log")
        return Applied(problems=(missing,))
    approval = Approval(
        owner=entry.owner,
        changes=(_turned_back(entry.change),),
        by=by,
        reason=reason,
        effective=effective,
        source=f"undo of change {number}",
        undoes=number,
    )
    applied = apply_approval(folder, approval, now=now)
    later = [one for one in entries if one.number > number and _same_line(one, entry)]
    if applied.refused and later:
        numbers = ", ".join(str(one.number) for one in later)
        said = _refusal("later-change", f"later changes stand on the same line: {numbers}", expected="those first")
        return replace(applied, problems=(said, *applied.problems))
    return applied


def finish_interrupted(folder: Path, log: ChangeLog) -> None:
    """Finish writes that a crash cut short: what was prepared is put in place, unless the file changed since."""
    for number, files in log.unfinished():
        current = {one.file: digest_now(folder / one.file) for one in files}
        stopped = any(current[one.file] not in (one.former, one.new) for one in files)
        ready = all(current[one.file] == one.new or (folder / one.part).exists() for one in files)
        if stopped or not ready:
            _give_up(folder, log, number, files)
            continue
        for one in files:
            if current[one.file] != one.new:
                put_in_place(folder / one.part, folder / one.file)
        log.finish_write(number)


def _try_once(folder: Path, approval: Approval, now: datetime, log: ChangeLog) -> Applied | None:
    """None when the master changed under this hand."""
    files = read_files(folder)
    site, problems = read_site(folder, now=now)
    if site is None:
        return _nothing(approval, *(one for one in problems if one.severity is Severity.STOPS_ALL))
    if approval.effective < site.settings.site_clock.day(now):
        message = f"{approval.effective} has gone by; what was wanted then cannot be changed any more"
        return _nothing(approval, _refusal("past-date", message, expected="today or a later day"))
    work = begin_work(open_cards(site, {change.procedure for change in approval.changes}))
    attempt = _Try(site=site, approval=approval, now=now, work=work, done=[], refused=[], problems=[])
    for change in approval.changes:
        _do_change(attempt, change)
    edits = attempt.work.net()
    attempt.problems += _idle_after(attempt)
    try:
        contents = edit_master(folder, site, edits, files)
        return _write(folder, attempt, contents, files, log)
    except MasterChangedError:
        return None


def _do_change(attempt: _Try, change: CardChange) -> None:
    approval = attempt.approval
    target = Target(owner=approval.owner, procedure=change.procedure, effective=approval.effective)
    row = find_row(attempt.work.book, target, change.slot)
    wrong = _why_not(attempt, change, row)
    if wrong:
        attempt.refused.append(change)
        attempt.problems.append(wrong)
        return
    before = attempt.work
    work = before.done(target, change.slot, change.after)
    if not edits_do_it(before.book, work.book, target, [(change.slot, change.after)]):
        message = f"card lines cannot say this: {change_text(attempt.site, change)}"
        attempt.refused.append(change)
        attempt.problems.append(_refusal("cannot-be-said", message, expected="lines written by hand in Cards"))
        return
    attempt.work = work
    attempt.done.append(
        LogEntry(
            at=attempt.now,
            by=approval.by,
            reason=approval.reason,
            owner=approval.owner,
            change=replace(change, beneath=row.beneath),
            effective=approval.effective,
            source=approval.source,
            undoes=approval.undoes,
            lines=tell_edits(attempt.site, before, work),
        )
    )


def _why_not(attempt: _Try, change: CardChange, row: CardRow) -> Problem | None:
    site = attempt.site
    if same_want(row.want, change.after):
        message = f"the card says so already: {want_text(site, row.want)}"
        return replace(_refusal("already-so", message), severity=Severity.NOTICE)
    if not same_want(row.want, change.before):
        day = site.settings.site_clock.day_text(attempt.approval.effective)
        message = f"on {day} the card says {want_text(site, row.want)}, not {want_text(site, change.before)}"
        return _refusal("clash", message, expected="the change proposed anew on the card as it is")
    if row.fixed:
        return _refusal("fixed-row", f"this line cannot be changed here: {row.fixed}")
    return None


def _idle_after(attempt: _Try) -> list[Problem]:
    """Lines that would find nothing to replace or drop, on the effective day or when a later line begins."""
    cards = {entry.change.procedure for entry in attempt.done} - {None}
    lines = [line for line in attempt.work.book.site.card_lines if line.procedure in cards]
    first = attempt.approval.effective
    days = {first} | {line.begins for line in lines if line.begins and line.begins > first}
    surgeons = {line.surgeon for line in lines}
    found: dict[str, Problem] = {}
    for day, surgeon, procedure in product(sorted(days), sorted(surgeons, key=str), sorted(cards, key=str)):
        owner = Owner(surgeon=surgeon or "")
        was = {line_text(one, attempt.site) for one in find_idle_rows(attempt.work.first, owner, str(procedure), day)}
        for line in find_idle_rows(attempt.work.book, owner, str(procedure), day):
            text = line_text(line, attempt.site)
            if text not in was:
                message = f"from {day} on this line finds nothing to {line.change}: {text}"
                found.setdefault(text, replace(_refusal("finds-nothing", message), where=line.where))
    return list(found.values())


def _write(
    folder: Path, attempt: _Try, contents: Mapping[str, bytes], files: Mapping[str, bytes], log: ChangeLog
) -> Applied | None:
    changed = {name: data for name, data in contents.items() if data != files[name]}
    stamp = attempt.site.settings.site_clock.wall(attempt.now)
    for name in changed:
        check_not_open(folder / name)
    parts = {name: prepare_file(folder / name, data) for name, data in changed.items()}
    if any(digest_now(folder / name) != digest_of(files[name]) for name in changed):
        for part in parts.values():
            part.unlink()
        return None
    former = tuple(keep_former(folder, name, files[name], stamp) for name in changed)
    writes = [
        FileWrite(file=name, former=digest_of(files[name]), new=digest_of(data), part=parts[name].name)
        for name, data in changed.items()
    ]
    done: tuple[LogEntry, ...] = ()
    if attempt.done:
        done = _put_all(folder, log, log.begin_write(writes, attempt.done), writes)
    return Applied(
        done=done,
        refused=tuple(attempt.refused),
        files=tuple(changed),
        former=former,
        problems=tuple(attempt.problems),
    )


def _put_all(folder: Path, log: ChangeLog, number: int, writes: list[FileWrite]) -> tuple[LogEntry, ...]:
    """Put all files in place. What stops at the first file is given up; after that it is finished later."""
    for place, one in enumerate(writes):
        try:
            put_in_place(folder / one.part, folder / one.file)
        except BusyError:
            if place == 0:
                _give_up(folder, log, number, writes)
            raise
    return log.finish_write(number)


def _give_up(folder: Path, log: ChangeLog, number: int, writes: Iterable[FileWrite]) -> None:
    for one in writes:
        (folder / one.part).unlink(missing_ok=True)
    log.finish_write(number, "given up")


def _turned_back(change: CardChange) -> CardChange:
    slot = change.slot
    if change.beneath is None and change.after is not None:
        slot = Slot(kind=change.after.kind, thing=change.after.thing, side=slot.side, only_if=slot.only_if)
    return replace(change, slot=slot, before=change.after, after=change.before)


def _same_line(one: LogEntry, other: LogEntry) -> bool:
    touched = {one.change.slot, _turned_back(one.change).slot}
    same_card = (one.owner.surgeon, one.change.procedure) == (other.owner.surgeon, other.change.procedure)
    return same_card and bool(touched & {other.change.slot, _turned_back(other.change).slot})


def _nothing(approval: Approval, *problems: Problem) -> Applied:
    return Applied(refused=approval.changes, problems=problems)


def _refusal(kind: str, message: str, *, expected: str = "") -> Problem:
    return Problem(kind=kind, severity=Severity.TO_MEND, where=Where(file="Cards"), message=message, expected=expected)
