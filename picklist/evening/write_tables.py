"""Changed cells written into the site's own tables: all files or none, the former ones kept, each count once.

How the files change together is in ``tables.file_set``.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from picklist.evening.keep_counted import Unfinished, begin_settlement, finish_settlement, unfinished
from picklist.evening.table_changes import RowChange
from picklist.grouping import grouped
from picklist.labels.items import ItemsByLabel, NoItemError
from picklist.model.catalogue import Item
from picklist.model.known import TableChange
from picklist.model.sets import SetState
from picklist.problems import Problem, Where, notice, to_fix
from picklist.settings import DateOrder
from picklist.store.state import StateFile
from picklist.tables.columns import Table
from picklist.tables.drafts import Ledger
from picklist.tables.file_set import finish, kept_paths, make_ready, put_noted
from picklist.tables.folder import FolderTables, read_folder, read_table_files
from picklist.tables.headers import find_header
from picklist.tables.rows import Row, RowReader
from picklist.tables.schema import BY_NAME
from picklist.tables.sheet_edit import edit_cells
from picklist.wording import counted


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsWritten:
    """Which changes were written, and what kept the others from it; ``kept`` are the former files."""

    done: tuple[TableChange, ...] = ()
    problems: tuple[Problem, ...] = ()
    kept: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Writing:
    """For which day rows are written, the instant, and the wall time under which former files are kept."""

    day: date
    now: datetime
    stamp: datetime


def apply_changes(state: StateFile, site_folder: Path, rows: Sequence[RowChange], writing: Writing) -> CellsWritten:
    """Write changed rows into the workbooks and CSV files that hold them, and remember what they count.

    Rows are found by their key. A row that was changed meanwhile, or is not there now, is a
    problem, stays as it is and is not counted. The caller holds the tables (nobody else writes).
    Raises OSError, BusyError and StateError for what cannot be written; all is as it was then.
    """
    before = read_table_files(site_folder)
    finder = Finder(read_folder(site_folder, Ledger()), writing.stamp.date())
    edits = finder.find([change for row in rows for change in row.changes])
    file_of = {edit.change: edit.row.source.file for edit in edits}
    counted = [
        (next((file_of[change] for change in row.changes if change in file_of), ""), row)
        for row in rows
        if not any(change in finder.refused for change in row.changes)
    ]
    former = {name: before[name] for name in sorted(set(file_of.values()))}
    new = {name: _edited(data, [e for e in edits if e.row.source.file == name]) for name, data in former.items()}
    files = make_ready(site_folder, former, new, writing.stamp)
    if not counted:
        return CellsWritten(problems=tuple(finder.problems))
    put_noted(
        site_folder,
        files,
        lambda: begin_settlement(state, writing.day, files, counted, writing.now),
        lambda number, placed: finish_settlement(state, number, placed if files else ("",)),
    )
    return CellsWritten(
        done=tuple(change for _, row in counted for change in row.changes),
        problems=tuple(finder.problems),
        kept=kept_paths(site_folder, files),
    )


def _edited(data: bytes, edits: Sequence[CellEdit]) -> bytes:
    """The contents of a file with changed cells, all else as it was."""
    by_sheet: dict[str, dict[tuple[int, int], str | int | date | None]] = {}
    for edit in edits:
        by_sheet.setdefault(edit.row.source.sheet, {})[edit.row.number - 1, edit.position] = edit.change.becomes
    for sheet, cells in sorted(by_sheet.items()):
        data = edit_cells(data, sheet, cells, like_row=max(row for row, _ in cells))
    return data


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


# A row is touched only while these still say what they said when the change was worked out.
GUARDS = frozenset({"quantity", "state"})


@dataclass(frozen=True, slots=True, kw_only=True)
class CellEdit:
    """A change and its cell: the row, and the 0-based ``position`` in it."""

    change: TableChange
    row: Row
    position: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    row: Row
    positions: dict[str, int]


_Key = tuple[str, tuple[str, ...]]


@dataclass(slots=True)
class Finder:
    """Finds rows by key; of a row that is not found, or says something else now, the change is ``refused``.

    A row may name its item by a maker's label; ``today`` decides the century of its expiry.
    """

    tables: FolderTables
    today: date
    refused: list[TableChange] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    _by_label: ItemsByLabel | None = None

    def find(self, changes: Sequence[TableChange]) -> list[CellEdit]:
        """The cells to edit; all changes of one row are made, or none of them."""
        by_row = grouped(((change.table, _plain_key(change.key)), change) for change in changes)
        rows = {table: self._rows(table) for table in sorted({change.table for change in changes})}
        edits: list[CellEdit] = []
        for (table, key), some in by_row.items():
            found = self._of_row(rows[table].get(key, []), some)
            if found is None:
                self.refused += some
            edits += found or ()
        return edits

    def _rows(self, name: str) -> dict[tuple[str, ...], list[_Found]]:
        table = BY_NAME[name]
        found: dict[tuple[str, ...], list[_Found]] = {}
        for grid in self.tables.grids.get(name, ()):
            header = find_header(grid, table, Ledger())
            if header is None:
                continue
            for row in RowReader(table, grid, header, Ledger(self.today), DateOrder.ANY).rows():
                self._name_item(row, table)
                key = _plain_key(tuple(str(row.values.get(column) or "") for column in table.key))
                one = _Found(row=row, positions=header.positions)
                found.setdefault(key, []).append(one)
        return found

    def _name_item(self, row: Row, table: Table) -> None:
        """Put the item's number in the place of a label that names it."""
        if row.label is None or table.labels is None or not row.label.names_item:
            return
        with suppress(NoItemError):
            row.values[table.labels.item] = self._items().find(row.label).id

    def _items(self) -> ItemsByLabel:
        if self._by_label is None:
            rows = (one.row.values for some in self._rows("Items").values() for one in some)
            self._by_label = ItemsByLabel(
                Item(id=row["item"], name="", gtin=row.get("GTIN") or "", hibc=row.get("HIBC") or "")
                for row in rows
                if row.get("item")
            )
        return self._by_label

    def _of_row(self, found: Sequence[_Found], changes: Sequence[TableChange]) -> list[CellEdit] | None:
        first = changes[0]
        name = " ".join(part for part in first.key if part)
        if len(found) != 1:
            what = f"{first.table} has {counted(len(found), 'row') if found else 'no row'} for {name}"
            self._report("no one row", Where(file="", sheet=first.table), what, name, "one row; nothing was changed")
            return None
        one = found[0]
        for change in (c for c in changes if c.column in GUARDS):
            if not self._says(one.row, change.column, change.was):
                now = one.row.values.get(change.column)
                what = f"{change.column} of {name} is {now} now and was {change.was} when the change was worked out"
                where = one.row.where(change.column)
                self._report("changed meanwhile", where, what, str(now), "the same command again")
                return None
        return self._edits(one, changes)

    def _says(self, row: Row, column: str, value: object) -> bool:
        said = row.values.get(column)
        return said == value or (column == "state" and not said and value == SetState.UNKNOWN)

    def _edits(self, one: _Found, changes: Sequence[TableChange]) -> list[CellEdit] | None:
        lost = [c.column for c in changes if c.column not in one.positions and c.becomes not in ("", None)]
        if lost:
            what = f"the table has no column for {', '.join(lost)}"
            self._report("missing column", one.row.where(), what, lost[0], "a column with that header")
            return None
        return [
            CellEdit(change=change, row=one.row, position=one.positions[change.column])
            for change in changes
            if change.column in one.positions
        ]

    def _report(self, kind: str, where: Where, message: str, value: str, expected: str) -> None:
        self.problems.append(to_fix(kind, where, message, value=value, expected=expected))


def _plain_key(key: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(part.casefold() for part in key)
