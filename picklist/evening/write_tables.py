"""Changed cells written into the site's own tables: all files or none, the former ones kept, each count once.

How the files change together is in ``tables.file_set``, how their rows are written in ``tables.row_edits``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.evening.keep_counted import Unfinished, begin_settlement, finish_settlement, unfinished
from picklist.evening.table_changes import RowChange
from picklist.model.known import TableChange
from picklist.problems import Problem, Where, notice, to_fix
from picklist.store.state import StateFile
from picklist.tables.file_set import finish, kept_paths, make_ready, put_noted
from picklist.tables.row_edits import RowEdits
from picklist.tables.schema import BY_NAME


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsWritten:
    """Which changes were written, and what kept the others from it; ``kept`` are the former files."""

    done: tuple[TableChange, ...] = ()
    problems: tuple[Problem, ...] = ()
    kept: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Writing:
    """For which day rows are written, the instant, and the wall time under which former files are kept.

    ``files`` are the contents of the site's files as they were just before the rows were read.
    """

    day: date
    now: datetime
    stamp: datetime
    files: Mapping[str, bytes]


def apply_changes(state: StateFile, site_folder: Path, rows: Sequence[RowChange], writing: Writing) -> CellsWritten:
    """Write changed rows into the workbooks and CSV files that hold them, and remember what they count.

    A row whose table has no column for what it shall say is a problem, stays as it is and is not counted.
    The caller holds the tables (nobody else writes). Raises OSError, BusyError (also where a file is not as
    it was read) and StateError for what cannot be written; all is as it was then.
    """
    edits = RowEdits(site_folder, writing.files)
    problems: list[Problem] = []
    written: list[RowChange] = []
    for row in rows:
        problem = _write_row(edits, row)
        if problem:
            problems.append(problem)
        else:
            written.append(row)
    if not written:
        return CellsWritten(problems=tuple(problems))
    new = edits.contents()
    files = make_ready(site_folder, writing.files, new, writing.stamp)
    counted = [(row.where.file if row.where.file in new else "", row) for row in written]
    put_noted(
        site_folder,
        files,
        lambda: begin_settlement(state, writing.day, files, counted, writing.now),
        lambda number, placed: finish_settlement(state, number, placed if files else ("",)),
    )
    return CellsWritten(
        done=tuple(change for row in written for change in row.changes),
        problems=tuple(problems),
        kept=kept_paths(site_folder, files),
    )


def _write_row(edits: RowEdits, row: RowChange) -> Problem | None:
    """Write the cells of one row, or say why not: then none of them is written."""
    if not row.changes:
        return None
    sheet = edits.sheet(BY_NAME[row.changes[0].table], row.where)
    lost = sheet.lacks(change.column for change in row.changes if change.becomes not in ("", None))
    if lost:
        message = f"the table has no column for {', '.join(lost)}"
        return to_fix("missing column", row.where, message, value=lost[0], expected="a column with that header")
    sheet.write(row.where, {change.column: change.becomes for change in row.changes})
    return None


def finish_unfinished(state: StateFile, folder: Path) -> tuple[Problem, ...]:
    """Bring settlements that were cut short to their end, and say so.

    What lies ready is put in place. Where somebody has changed a file meanwhile, the others get their
    former contents back and nothing counts; a file that was in place and changed after that counts.
    The caller holds the tables. Raises OSError and BusyError, and nothing is lost by that.
    """
    said = []
    for one in unfinished(state):
        placed = finish(folder, one.files)
        finish_settlement(state, one.number, placed if one.files else [""])
        said.append(_said(one, placed))
    return tuple(said)


def _said(one: Unfinished, placed: Sequence[str]) -> Problem:
    names = ", ".join(file.file for file in one.files)
    if len(placed) == len(one.files):
        message = f"settling {one.day} was cut short and is finished now: {names or 'nothing'} written"
    elif placed:
        message = f"settling {one.day} was cut short; only {', '.join(placed)} holds it, as it was changed since"
    else:
        message = (
            f"settling {one.day} was cut short and somebody changed {names}; all of it was undone, settle it again"
        )
    where = Where(file=one.files[0].file if one.files else "")
    return notice("settling finished", where, message)
