"""Approved changes written into the master, and undone again."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.inputs import read_site
from picklist.problems import Problem, Severity, Where
from picklist.store.lock import hold_tables
from picklist.store.state import state_path
from picklist.store.state_errors import StateError
from picklist.tables.file_set import ChangedMeanwhileError, finish, kept_paths, make_ready, put_noted
from picklist.tables.files import BusyError
from picklist.tables.folder import read_table_files
from picklist.upkeep.attempt import Attempt, do_changes, idle_after, refusal, undo_entry
from picklist.upkeep.card_folder import FOLDER, bring_in_folder, has_card_folder
from picklist.upkeep.card_rows import open_cards
from picklist.upkeep.change_log import ChangeLog, LogEntry, cards_state
from picklist.upkeep.line_edits import edits_between
from picklist.upkeep.master import edit_master
from picklist.upkeep.proposals import Approval, ApprovedBy, CardChange

TRIES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovalResult:
    """What came of an approval: changes now in the log, files written, and where their former ones are kept.

    Of changes that were not applied the problems say why; nothing of them was written. ``already``
    are changes that the card says without them.
    """

    done: tuple[LogEntry, ...] = ()
    already: tuple[CardChange, ...] = ()
    refused: tuple[CardChange, ...] = ()
    files: tuple[str, ...] = ()
    former: tuple[Path, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """What is to be done: on which cards of the log so far, from which day on, and how; ``changes`` for a refusal."""

    effective: date
    cards: Callable[[tuple[LogEntry, ...]], Collection[str | None]]
    do: Callable[[Attempt], None]
    changes: tuple[CardChange, ...] = ()


def apply_approval(folder: Path, approval: Approval, *, now: datetime) -> ApprovalResult:
    """Write approved changes into the master, under a lock, on a fresh reading of it.

    A change whose slot no longer says what it said when it was proposed is refused, with a problem;
    the others are written. ``now`` is an instant. Raises OSError, BusyError and StateError for what cannot
    be written; all is as it was then, or is finished by the next command.
    """

    def do(attempt: Attempt) -> None:
        do_changes(attempt, approval)

    cards = {change.procedure for change in approval.changes}
    job = _Job(effective=approval.approved.effective, cards=lambda _log: cards, do=do, changes=approval.changes)
    return _do_under_lock(folder, job, now)


def undo_change(folder: Path, number: int, undo: ApprovedBy, *, now: datetime, whole: bool = False) -> ApprovalResult:
    """Undo one change of the log from a day on, or the ``whole`` approval that it came with; others stay.

    A change is refused, with a problem, when a later one is on its line, when it is undone
    already, or when the table was edited by hand since. The rules are in ``timeline``. Raises as
    ``apply_approval`` does.
    """

    def numbers(log: tuple[LogEntry, ...]) -> tuple[int, ...]:
        return approved_with(log, number) if whole else (number,)

    def do(attempt: Attempt) -> None:
        for one in sorted(numbers(attempt.log), reverse=True):
            undo_entry(attempt, undo, one)

    def cards(log: tuple[LogEntry, ...]) -> set[str | None]:
        return {one.change.procedure for one in log if one.number in numbers(log)}

    return _do_under_lock(folder, _Job(effective=undo.effective, cards=cards, do=do), now)


def approved_with(log: tuple[LogEntry, ...], number: int) -> tuple[int, ...]:
    """The numbers of all changes that were approved, or undone, together with one, itself among them."""
    found = next((one for one in log if one.number == number), None)
    if found is None:
        return (number,)
    return tuple(one.number for one in log if _occasion(one) == _occasion(found))


def _occasion(entry: LogEntry) -> tuple[object, ...]:
    """What all changes of one approval have in common, or all that were undone at once: each names its own change."""
    source = entry.source if entry.undoes is None else None
    return entry.at, entry.by, entry.reason, source


def _do_under_lock(folder: Path, job: _Job, now: datetime) -> ApprovalResult:
    with hold_tables(folder), cards_state(folder) as state:
        log = ChangeLog(state)
        bring_in_folder(state, folder)
        finish_interrupted(folder, log)
        for _ in range(TRIES):
            applied = _try_once(folder, job, now, log)
            if applied is not None:
                return applied
    message = "the master was changed by hand again and again while this was written"
    return _nothing(job, refusal("master-changed", message, expected="the same command again later"))


def catch_up(folder: Path) -> tuple[Problem, ...]:
    """Bring in what an earlier version kept in the site's folder, and finish a write that a crash cut short.

    So cards and log agree before anything is read. Problems say what cannot be done now.
    """
    try:
        if has_card_folder(folder):
            with hold_tables(folder), cards_state(folder) as state:
                said = bring_in_folder(state, folder)
        else:
            said = ()
    except (BusyError, OSError, sqlite3.Error, StateError) as error:
        message = f"what an earlier version kept there of the cards' changes cannot be brought in now ({error})"
        expected = "a folder and files that can be read and written; move one that is damaged away"
        said = (replace(refusal("former-cards", message, expected=expected), where=Where(file=FOLDER)),)
    try:
        if _is_cut_short(folder):
            with hold_tables(folder), cards_state(folder) as state:
                finish_interrupted(folder, ChangeLog(state))
    except (BusyError, OSError, StateError) as error:
        message = f"a change of the cards was cut short and cannot be finished now ({error})"
        said += (refusal("unfinished-change", message, expected="a folder and files that can be written"),)
    return said


def _is_cut_short(folder: Path) -> bool:
    """Whether a write of the cards was not finished; a state file that cannot be read is left to who needs it."""
    if not state_path(folder).exists():
        return False
    try:
        with cards_state(folder) as state:
            return bool(ChangeLog(state).unfinished())
    except StateError:
        return False


def finish_interrupted(folder: Path, log: ChangeLog) -> None:
    """Finish writes that a crash cut short, or turn them back where a file was changed since."""
    for number, files in log.unfinished():
        log.finish_write(number, whole=len(finish(folder, files)) == len(files))


def _try_once(folder: Path, job: _Job, now: datetime, log: ChangeLog) -> ApprovalResult | None:
    """None when the master changed under this hand."""
    files = read_table_files(folder)
    site, problems = read_site(folder, now=now)
    if site is None:
        return _nothing(job, *(one for one in problems if one.severity is Severity.STOPS_ALL))
    if job.effective < site.settings.site_clock.day(now):
        message = f"{job.effective} is past; what was asked for then can no longer be changed"
        return _nothing(job, refusal("past-date", message, expected="today or a later day"))
    entries = log.entries()
    book = open_cards(site, job.cards(entries))
    attempt = Attempt(site=site, now=now, first=book, book=book, log=entries)
    job.do(attempt)
    edits = edits_between(book, attempt.book)
    attempt.problems += idle_after(attempt, job.effective)
    try:
        return _write(folder, attempt, edit_master(folder, site, edits, files), files, log)
    except ChangedMeanwhileError:
        return None


def _write(
    folder: Path, attempt: Attempt, changed: Mapping[str, bytes], files: Mapping[str, bytes], log: ChangeLog
) -> ApprovalResult:
    """Write the files and the log. Raises ChangedMeanwhileError where a file is not as it was read."""
    writes = make_ready(folder, files, changed, attempt.site.settings.site_clock.wall(attempt.now))
    done: tuple[LogEntry, ...] = ()
    if attempt.done:
        done = put_noted(
            folder,
            writes,
            lambda: log.begin_write(writes, attempt.done),
            lambda number, placed: log.finish_write(number, whole=len(placed) == len(writes)),
        )
    return ApprovalResult(
        done=done,
        already=tuple(attempt.already),
        refused=tuple(attempt.refused),
        files=tuple(changed),
        former=kept_paths(folder, writes),
        problems=tuple(attempt.problems),
    )


def _nothing(job: _Job, *problems: Problem) -> ApprovalResult:
    return ApprovalResult(refused=job.changes, problems=problems)
