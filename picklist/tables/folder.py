"""All tables of a folder: which file and sheet holds which, and their rows."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from picklist.problems import NOWHERE, Severity, Where
from picklist.settings import DateOrder
from picklist.tables.cells import Fault, Grid, is_empty
from picklist.tables.columns import Table
from picklist.tables.csv_files import read_csv_file
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.examples import EXAMPLE
from picklist.tables.file_safety import is_packed
from picklist.tables.files import is_passed_over
from picklist.tables.foreign_schedule import ExportMap, export_map, read_export
from picklist.tables.headers import find_header
from picklist.tables.nearest import Candidates, plain
from picklist.tables.private import Kind, looks_private, name_to_say
from picklist.tables.rows import Row, RowReader
from picklist.tables.schema import BY_NAME, EXPORT, SCHEDULE, TABLES
from picklist.tables.workbooks import read_sheets, sheet_names
from picklist.wording import counted

WORKBOOKS = (".xlsx", ".xlsm", ".xltx", ".xltm")
OTHER_WORKBOOKS = (".xls", ".xlsb", ".ods", ".numbers", ".fods")
TEXTS = (".csv", ".tsv")
FROM_MESSAGES = "Schedule from messages"  # the file that picklist keeps of the messages of other systems
FROM_EXPORT = "Schedule from export"  # what picklist keeps of a hospital's own export: the columns that Export names
BY_PLAIN = {plain(table.name): table for table in TABLES} | {
    plain(name): SCHEDULE for name in (FROM_MESSAGES, FROM_EXPORT)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleFile:
    """What a file that is named for the schedule has of it; and all else that counts of the file, as one text."""

    name: str
    grids: tuple[Grid, ...]
    besides: str


@dataclass(slots=True, kw_only=True)
class FolderTables:
    """Grids by table name as found in a folder; rows are parsed when asked for.

    ``broken`` says why a table that was found could not be read; ``unread`` are the problems of
    files and sheets that could not be opened, in which any missing table may lie. ``strange`` are files, and
    sheets of workbooks, that have no table's name. ``export`` is what the table Export says, of ``export_rows``.
    """

    grids: dict[str, list[Grid]] = field(default_factory=dict)
    broken: dict[str, tuple[Draft, ...]] = field(default_factory=dict)
    unread: list[Draft] = field(default_factory=list)
    strange: list[tuple[Path, str]] = field(default_factory=list)
    export_rows: list[Row] = field(default_factory=list)
    export: ExportMap | None = None

    def why_absent(self, name: str) -> tuple[Draft, ...]:
        """The problems for which a table may be missing or not readable; none when it was read or never given."""
        if name in self.broken:
            return self.broken[name]
        return () if name in self.grids else tuple(self.unread)

    def add(self, name: str, grid: Grid) -> None:
        """Note that a grid holds a table; one without any content holds none."""
        if any(not is_empty(raw) for row in grid.rows for raw in row):
            self.grids.setdefault(name, []).append(grid)

    def without_cells(self) -> FolderTables:
        """The same without what is in any cell: which tables there are, and why one is not there."""
        grids = {name: [replace(grid, rows=[]) for grid in some] for name, some in self.grids.items()}
        return FolderTables(grids=grids, broken=self.broken, unread=self.unread, export=self.export)

    def is_in(self, name: str, files: Collection[str]) -> bool:
        """Whether a table that is there is in some files alone."""
        return name in self.grids and all(grid.file in files for grid in self.grids[name])

    def rows(self, name: str, ledger: Ledger, order: DateOrder = DateOrder.ANY) -> list[Row]:
        """All rows of a table, from all its files, reporting faults of headers and cells."""
        table = BY_NAME[name]
        rows: list[Row] = []
        for found in self.grids.get(name, ()):
            before = len(ledger.drafts)
            grid = (self.export and table is SCHEDULE and read_export(found, self.export, ledger)) or found
            header = find_header(grid, table, ledger)
            if header is None:
                self.broken[name] = (*self.broken.get(name, ()), *ledger.drafts[before:])
                continue
            rows += RowReader(table, grid, header, ledger, order).rows()
        if not rows and name in self.grids and name not in self.broken:
            _report_no_rows(table, self.grids[name][0], ledger)
        _notice_examples(table, rows, ledger)
        return rows


def read_folder(folder: Path, ledger: Ledger) -> FolderTables:
    """Find the tables of a folder: by sheet name in any workbook, by file name for CSV.

    Not looked at: lock files (``~$``), hidden files, sub-folders. Files of other kinds get a
    notice. The same table in several files is joined, with a notice.
    """
    found = FolderTables()
    for path in _listed(folder, ledger):
        if path.is_file() and not is_passed_over(path.name):
            _take_file(path, found, ledger)
    _take_exports(found, ledger)
    _notice_joined(found, ledger)
    _report_missing(found, ledger)
    return found


def _take_file(path: Path, found: FolderTables, ledger: Ledger) -> None:
    kind = path.suffix.lower()
    if what := looks_private(path.stem, kind=Kind.FILE_NAME):
        _report_private_name(kind, what, found, ledger)
    elif kind in WORKBOOKS:
        _take_workbook(path, found, ledger)
    elif kind == ".xls" and is_packed(path):
        _take_workbook(path, found, ledger)
        _notice_other_ending(path, ledger)
    elif kind in TEXTS:
        _take_csv(path, found, ledger)
    else:
        _pass_over(path, found, ledger)


def schedule_files(folder: Path) -> tuple[ScheduleFile, ...]:
    """The files of a folder that are named for the schedule, in their order.

    Without those that have a sheet of another name, which the table Export may know. Raises OSError.
    """
    named = (path for path in folder.iterdir() if BY_PLAIN.get(plain(path.stem)) is SCHEDULE)
    read = (_schedule_file(path) for path in named if may_hold_tables(path) and path.is_file())
    return tuple(sorted(filter(None, read), key=lambda one: _file_order(one.name)))


def _schedule_file(path: Path) -> ScheduleFile | None:
    found, ledger = FolderTables(), Ledger()
    _take_file(path, found, ledger)
    grids = tuple(found.grids.pop(SCHEDULE.name, ()))
    if found.strange:
        return None
    besides = repr(([grid.sheet for grid in grids], found.grids, ledger.problems()))
    return ScheduleFile(name=path.name, grids=grids, besides=besides)


def _take_exports(found: FolderTables, ledger: Ledger) -> None:
    """Files and sheets of any name are the schedule where the table Export knows their headers."""
    if EXPORT.name in found.grids:
        found.export_rows = found.rows(EXPORT.name, ledger)
        found.export = export_map(found.export_rows)
    for path, sheet in found.strange:
        if found.export and _take_export(path, sheet, found.export, found, ledger):
            continue
        if sheet:
            number, _, name = sheet.partition(" ")
            _report_strange(Where(file=path.name, sheet=f"no. {number}"), "sheet", name, found, ledger)
        else:
            _report_strange(Where(file=path.name), "file", path.stem, found, ledger)


def _take_export(path: Path, sheet: str, export: ExportMap, found: FolderTables, ledger: Ledger) -> bool:
    """Take a file or sheet for the schedule, or say why it cannot be read; False for one that is something else."""
    grid, fault = _strange_grid(path, sheet)
    if grid is not None and export.header(grid) is None:
        return False
    _report_read(
        Where(file=path.name, sheet=f"no. {sheet.partition(' ')[0]}" if sheet else ""), grid, fault, found, ledger
    )
    if grid is not None:
        found.add(SCHEDULE.name, grid)
    return grid is not None or fault is not None


def _strange_grid(path: Path, sheet: str) -> tuple[Grid | None, Fault | None]:
    """A file or sheet without a table's name, and what is wrong with it; neither where its name must not be said."""
    if not sheet:
        return read_csv_file(path)
    name = sheet.partition(" ")[2]
    if looks_private(name, kind=Kind.FILE_NAME):
        return None, None
    grids, faults = read_sheets(path, lambda one: one == name)
    return next(iter(grids), None), next((fault for _, fault in faults), None)


def read_table_files(folder: Path) -> dict[str, bytes]:
    """The contents of all workbooks and CSV files of a folder, by name. Raises OSError."""
    return {
        path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file() and may_hold_tables(path)
    }


def may_hold_tables(path: Path) -> bool:
    """Whether a file is opened to look for tables; of every other the name alone counts."""
    return path.suffix.lower() in (*WORKBOOKS, ".xls", *TEXTS) and not is_passed_over(path.name)


def _file_order(name: str) -> tuple[str, str]:
    return name.casefold(), name


def _listed(folder: Path, ledger: Ledger) -> list[Path]:
    try:
        return sorted(folder.iterdir(), key=lambda one: _file_order(one.name))
    except OSError as error:
        message = f"the folder cannot be opened ({error.strerror})"
        ledger.report("cannot open", Where(file=str(folder)), message, severity=Severity.STOPS_ALL)
        return []


def _report_private_name(kind: str, what: str, found: FolderTables, ledger: Ledger) -> None:
    """A file whose own name must not be said goes no further, and stands for any table that may be in it."""
    ending = f"with the ending {kind}" if kind else "without an ending"
    message = f"the name of a file here, {ending}, seems to hold {what}; it was not read"
    draft = ledger.report("private name", Where(file=""), message, expected="a name that tells of no patient")
    if kind in WORKBOOKS + TEXTS:
        found.unread.append(draft)


def _notice_other_ending(path: Path, ledger: Ledger) -> None:
    message = "this workbook is of the format .xlsx, though its name ends in .xls; it was read as .xlsx"
    ledger.notice("other ending", Where(file=path.name), message, expected="the ending .xlsx")


def _pass_over(path: Path, found: FolderTables, ledger: Ledger) -> None:
    if path.suffix.lower() in OTHER_WORKBOOKS:
        draft = ledger.report(
            "old format",
            Where(file=path.name),
            f"workbooks of the format {path.suffix.lower()} are not read",
            expected="a workbook saved as .xlsx",
        )
        found.unread.append(draft)
    else:
        ledger.notice(
            "file not read", Where(file=path.name), "this file is neither a workbook nor a CSV file; it was not read"
        )


def _take_workbook(path: Path, found: FolderTables, ledger: Ledger) -> None:
    names, fault = sheet_names(path)
    if fault:
        found.unread.append(ledger.of_fault(fault, Where(file=path.name)))
        return
    tables = {name: BY_PLAIN[plain(name)] for name in names if plain(name) in BY_PLAIN}
    if not tables and plain(path.stem) in BY_PLAIN:
        _take_only_sheet(path, names, BY_PLAIN[plain(path.stem)], found, ledger)
        return
    grids, faults = read_sheets(path, tables.__contains__)
    for sheet, sheet_fault in faults:
        found.unread.append(ledger.of_fault(sheet_fault, Where(file=path.name, sheet=sheet)))
    for grid in grids:
        found.add(tables[grid.sheet].name, grid)
    found.strange += [(path, f"{n} {name}") for n, name in enumerate(names, start=1) if name not in tables]


def _take_only_sheet(path: Path, names: Sequence[str], table: Table, found: FolderTables, ledger: Ledger) -> None:
    """An export is often named for its table while its sheet is called Sheet1."""
    grids, faults = read_sheets(path, _any_sheet)
    for sheet, fault in faults:
        found.unread.append(ledger.of_fault(fault, Where(file=path.name, sheet=name_to_say(sheet, names))))
    filled = [grid for grid in grids if any(not is_empty(raw) for row in grid.rows[:50] for raw in row)]
    if len(filled) == 1 and (what := looks_private(filled[0].sheet, kind=Kind.FILE_NAME)):
        message = f"the name of the one sheet of this workbook seems to hold {what}; it was not read"
        found.unread.append(ledger.report("private name", Where(file=path.name), message, expected=table.name))
        return
    if len(filled) == 1:
        found.add(table.name, filled[0])
        ledger.notice(
            "sheet by file name",
            filled[0].where(),
            f"no sheet has the name of a table; this one was read as {table.name}, after the file's name",
        )
        return
    found.strange += [(path, f"{n} {grid.sheet}") for n, grid in enumerate(grids, start=1)]


def _any_sheet(_name: str) -> bool:
    return True


def _take_csv(path: Path, found: FolderTables, ledger: Ledger) -> None:
    table = BY_PLAIN.get(plain(path.stem))
    if table is None:
        found.strange.append((path, ""))
        return
    grid, fault = read_csv_file(path)
    _report_read(Where(file=path.name), grid, fault, found, ledger)
    if grid is not None:
        found.add(table.name, grid)


def _report_read(where: Where, grid: Grid | None, fault: Fault | None, found: FolderTables, ledger: Ledger) -> None:
    """Report what is wrong with a file or sheet that was read, and what was guessed."""
    if fault:
        found.unread.append(ledger.of_fault(fault, where))
    for note in grid.notes if grid else ():
        ledger.notice("encoding", where, note, expected="UTF-8")


def _report_strange(where: Where, what: str, name: str, found: FolderTables, ledger: Ledger) -> None:
    near = Candidates(tuple(table.name for table in TABLES)).nearest(name, 1)
    if near:
        message = f"this {what} is not named after a table and was not read"
        found.unread.append(ledger.report(f"unknown {what}", where, message, value=name, nearest=near))
    else:
        ledger.notice(f"{what} not read", where, f"this {what} is not named after a table and was not read")


def _report_no_rows(table: Table, grid: Grid, ledger: Ledger) -> None:
    """An empty schedule is a quiet day; another needed table without rows is hardly meant so."""
    grave = table.required and table.name != "Schedule"
    ledger.report(
        "no rows",
        grid.where(),
        f"{table.name} has a header but no rows{f', so {table.assumed}' if table.assumed else ''}",
        severity=Severity.TO_FIX if grave else Severity.NOTICE,
        expected=f"rows, each {table.row_is}",
    )


def _notice_examples(table: Table, rows: list[Row], ledger: Ledger) -> None:
    key = table.columns[0].name
    left = [row for row in rows if str(row.values.get(key, "")).startswith(EXAMPLE)]
    if left:
        ledger.notice(
            "example line",
            left[0].where(key),
            f"{counted(len(left), 'example line')} of the blank workbook still in {table.name}; "
            "such a line counts like any other",
            expected="your own lines instead",
        )


def _notice_joined(found: FolderTables, ledger: Ledger) -> None:
    for name, grids in found.grids.items():
        if len(grids) > 1:
            places = tuple(grid.where() for grid in grids)
            message = f"{name} is in {len(grids)} places; the rows of all of them were read"
            ledger.notice("table in several files", places[0], message, related=places[1:])


def _report_missing(found: FolderTables, ledger: Ledger) -> None:
    for table in TABLES:
        if table.required and table.name not in found.grids:
            ledger.report(
                "missing table",
                Where(file="", sheet=table.name),
                f"the table {table.name} is missing (each row is {table.row_is})",
                severity=Severity.STOPS_ALL,
                expected=f"a sheet {table.name} in a workbook, or a file {table.name}.csv",
            )
    absent = [table for table in TABLES if table.assumed and table.name not in found.grids]
    if absent:
        named = "; ".join(f"{table.name}: {table.assumed}" for table in absent)
        ledger.notice("missing table", NOWHERE, f"these tables are not in the folder, and what is assumed: {named}")
