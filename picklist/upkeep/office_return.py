"""An office's workbook as it came back: rows of raw cells, whatever was done to the file on its way."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from picklist.problems import Problem, Where, to_fix
from picklist.tables.cells import CellFlaw, Grid, Raw, is_empty, shown, tidy
from picklist.tables.csv_files import read_csv_file
from picklist.tables.drafts import Ledger
from picklist.tables.file_safety import DAMAGED
from picklist.tables.forms_schema import CARD_SHEET
from picklist.tables.headers import header_places, known_headers
from picklist.tables.nearest import plain
from picklist.tables.private import Kind, looks_private, name_to_say
from picklist.tables.rows import Source, flaw_merged
from picklist.tables.workbooks import read_sheets, sheet_names
from picklist.upkeep.office_plan import ASK, EVERY_HEADING, RowUse
from picklist.upkeep.office_style import HIDDEN, LETTERS
from picklist.upkeep.stamps import StampRow, WorkbookStamp, read_mark

SEARCHED_ROWS = 40
VERSION = re.compile(r"\bversion ([0-9A-F]{4}-[0-9A-F]{4})\b")
HEADED = re.compile(r"\(([^()]+)\)$")
NEEDED = ("Name (number)", "Open", "Hold", "Note", "Keep or drop", "Only when")
FEW_HEADERS = 3  # by which a row of headers is known, whatever was done to the others


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeRow:
    """One row of a returned sheet. ``cells`` by header; ``sent`` is the row's own stamp, where it still has it.

    ``version`` is that of the workbook that it was sent in.
    """

    source: Source
    number: int
    cells: dict[str, Raw]
    key: str = ""
    version: str = ""
    sent: StampRow | None = None

    def where(self, header: str = "") -> Where:
        """The place of the row or of one of its cells."""
        return self.source.where(self.number, header)

    def text(self, header: str) -> str:
        """A cell as tidy text."""
        raw = self.cells.get(header)
        return "" if isinstance(raw, CellFlaw) else tidy(raw if isinstance(raw, str) else shown(raw))

    @property
    def use(self) -> RowUse:
        """What an office can do with it."""
        if self.sent:
            return RowUse.FIXED if self.sent.fixed else RowUse.LINE
        return RowUse.ASK if self.is_ask else RowUse.NEW

    @property
    def is_ask(self) -> bool:
        """Whether the row asks for something that is not in the catalogue."""
        return self.key == ASK or (not self.sent and plain(self.text("What")) == ASK)

    @property
    def is_blank(self) -> bool:
        """Whether an office has written nothing in it."""
        return all(is_empty(self.cells.get(header)) for header in ("Name (number)", "Open", "Hold", "Note"))


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeSheet:
    """A returned card: its procedure (None for every procedure) and its rows."""

    name: str
    procedure: str | None
    header_row: int
    rows: tuple[OfficeRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreadSheet:
    """A sheet with the card of a procedure that was not read."""

    name: str
    procedure: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeReturn:
    """A returned workbook: the stamp it was made with and the cards that are in it.

    ``unread`` are sheets with a card that were not read, and why; their cards stay as they are.
    """

    path: Path
    stamp: WorkbookStamp
    sheets: tuple[OfficeSheet, ...]
    unread: tuple[tuple[UnreadSheet, Problem], ...] = ()

    @property
    def is_csv(self) -> bool:
        """Whether it came as a CSV file, which has one card and no drop-downs."""
        return self.path.suffix.lower() in (".csv", ".tsv", ".txt")


def carries_stamp(path: Path) -> bool:
    """Whether a file is an office's workbook, or a sheet of it saved as CSV: by a mark, or by the version it shows."""
    for grid in _read_grids(path, Ledger()):
        for number, row in enumerate(grid.rows):
            shown = number < SEARCHED_ROWS and any(isinstance(raw, str) and VERSION.search(raw) for raw in row)
            if shown or any(read_mark(raw) for raw in row):
                return True
    return False


def read_office_workbook(
    path: Path, *, known: Callable[[str], WorkbookStamp | None] | None = None
) -> tuple[OfficeReturn | None, tuple[Problem, ...]]:
    """A returned workbook or CSV file, found by its stamp whatever it and its sheets are called now.

    ``known`` gives the stamp kept for a version, for a file that lost its hidden cells but still
    shows its version. None when there is no stamp or it cannot be read; the problems say why.
    Nothing is compared yet.
    """
    ledger = Ledger()
    grids = _read_grids(path, ledger)
    if not grids:
        return None, ledger.problems()
    stamp = _join_stamps(grids) or _shown_stamp(grids, known)
    if stamp is None:
        ledger.report(
            "no-stamp",
            Where(file=path.name),
            "this is not a workbook made for an office, or its hidden columns and sheets were lost",
            expected="the workbook that was sent, filled in; or ask for it anew and copy the changes over",
        )
        return None, ledger.problems()
    sheets: list[OfficeSheet] = []
    unread: list[tuple[UnreadSheet, Problem]] = []
    for grid in grids:
        header = _find_header(grid)
        changed = _private_name(grid, path, stamp, header) or _changed_header(grid, header, stamp)
        sheet = _read_sheet(grid, header, stamp, ledger) if header and not changed else None
        if changed:
            unread.append(changed)
        elif sheet and any(one.procedure == sheet.procedure for one in sheets):
            unread.append(_second_copy(grid, sheet))
        elif sheet:
            sheets.append(sheet)
    if not sheets and not unread:
        ledger.report("no-card", Where(file=path.name), "no sheet of this workbook holds a card now")
    return OfficeReturn(path=path, stamp=stamp, sheets=tuple(sheets), unread=tuple(unread)), ledger.problems()


def _changed_header(
    grid: Grid, header: tuple[int, dict[str, int]] | None, stamp: WorkbookStamp
) -> tuple[UnreadSheet, Problem] | None:
    """A sheet with the rows of a card, but without a header that is needed to read them."""
    number, positions = header or (0, {})
    missing = [name for name in NEEDED if name not in positions]
    known = _first_sent(grid) or _procedure_by_title(grid, stamp)
    if not missing or not (_first_sent(grid) or (header and known)):
        return None
    first = missing[0]
    cell = f"{LETTERS[first]}{number + 1}" if header and grid.sheet else ""
    where = Where(file=grid.file, sheet=grid.sheet, row=number + 1 if header else None, column=first, cell=cell)
    gone = f"no header says {', '.join(missing)} now" if header else "the row of headers is gone"
    message = f"{gone}, so nothing of this sheet was read"
    problem = to_fix("header-changed", where, message, expected=f"the header '{first}' as it was", nearest=(first,))
    return UnreadSheet(name=grid.sheet, procedure=known.procedure if known else None), problem


def _private_name(
    grid: Grid, path: Path, stamp: WorkbookStamp, header: tuple[int, dict[str, int]] | None
) -> tuple[UnreadSheet, Problem] | None:
    """A card whose sheet has a name that seems to tell who a patient is."""
    what = looks_private(grid.sheet, kind=Kind.FILE_NAME)
    sent = _first_sent(grid) or (_procedure_by_title(grid, stamp) if header else None)
    if not what or grid.is_csv or sent is None:
        return None
    name = name_to_say(grid.sheet, sheet_names(path)[0])
    problem = to_fix(
        "private sheet name",
        Where(file=grid.file, sheet=name),
        f"the name of this sheet seems to contain {what}, so nothing of it was read",
        expected="the name that the sheet had",
    )
    return UnreadSheet(name=name, procedure=sent.procedure), problem


def _first_sent(grid: Grid) -> StampRow | None:
    """The first row of a card as it was sent."""
    return next((mark[1] for row in grid.rows for raw in row[1:] if (mark := read_mark(raw))), None)


def _second_copy(grid: Grid, sheet: OfficeSheet) -> tuple[UnreadSheet, Problem]:
    where = Where(file=grid.file, sheet=grid.sheet)
    message = "this sheet holds a card that another sheet holds already; nothing of it was read"
    problem = to_fix("second-sheet", where, message, expected="one sheet for each card, with all changes")
    return UnreadSheet(name=grid.sheet, procedure=sheet.procedure), problem


def _read_grids(path: Path, ledger: Ledger) -> list[Grid]:
    if not path.is_file():
        ledger.report("no-file", Where(file=path.name), "there is no such file")
        return []
    if path.suffix.lower() in (".csv", ".tsv", ".txt"):
        titles: tuple[str, ...] = ()
        grid, fault = read_csv_file(path)
        faults = [("", fault)] if fault else []
        grids = [grid] if grid else []
    else:
        titles, fault = sheet_names(path)
        grids, faults = ([], [("", fault)]) if fault else read_sheets(path, _any_sheet)
    for sheet, fault in faults:
        if fault:
            ledger.report(
                fault.kind,
                Where(file=path.name, sheet=name_to_say(sheet, titles)),
                fault.message,
                expected=fault.expected,
            )
    return grids


def _any_sheet(_name: str) -> bool:
    return True


def _join_stamps(grids: list[Grid]) -> WorkbookStamp | None:
    """The stamp from all marks of the workbook; a row's own mark counts more than the stamp sheet's.

    Rows of another version than the most are from another workbook, and are left out.
    """
    found: dict[str, list[tuple[WorkbookStamp, StampRow]]] = {}
    for grid in grids:
        for row in grid.rows:
            for raw in row:
                mark = read_mark(raw)
                if mark:
                    found.setdefault(mark[0].version, []).append(mark)
    if not found:
        return None
    version = max(sorted(found), key=lambda one: len(found[one]))
    stamp = found[version][0][0]
    rows: dict[str, StampRow] = {}
    for _, row in found[version]:
        if row.key not in rows or row.asked:
            rows[row.key] = row
    return replace(stamp, rows=tuple(rows.values()))


def _shown_stamp(grids: list[Grid], known: Callable[[str], WorkbookStamp | None] | None) -> WorkbookStamp | None:
    """The stamp of the version that a sheet shows in its heading."""
    for grid in grids:
        for row in grid.rows[:SEARCHED_ROWS]:
            for raw in row:
                match = VERSION.search(raw) if isinstance(raw, str) and known else None
                stamp = known(match[1]) if match and known else None
                if stamp:
                    return stamp
    return None


def _read_sheet(
    grid: Grid, header: tuple[int, dict[str, int]], stamp: WorkbookStamp, ledger: Ledger
) -> OfficeSheet | None:
    row, positions = header
    # It is not certain what a merged cell says, nor of which row; hidden cells that were swallowed are empty.
    flaw_merged(grid, row, {place for name, place in positions.items() if name not in HIDDEN})
    source = Source.of(grid, positions)
    rows = [
        _read_row(source, number, {name: raws[place] for name, place in positions.items() if place < len(raws)})
        for number, raws in enumerate(grid.rows[row + 1 :], start=row + 2)
    ]
    rows = [one for one in rows if one.sent or one.key or not one.is_blank]
    strange = [one for one in rows if one.version not in ("", stamp.version)]
    for one in strange:
        ledger.report(
            "other-version",
            one.where("Name (number)"),
            f"this row was copied from another workbook (version {one.version})",
            expected="rows of this workbook; write new lines in the empty boxes",
        )
    kept = tuple(one for one in rows if one not in strange)
    procedures = [one.sent.procedure for one in kept if one.sent]
    if procedures:
        procedure = max(dict.fromkeys(procedures), key=procedures.count)
    else:
        found = _procedure_by_rows(kept, stamp) or _procedure_by_title(grid, stamp)
        heading = _heading(grid)
        if found:
            procedure = found.procedure
        elif heading and any(one.key in ("new", ASK) for one in kept):
            procedure = heading[0]  # a card without any line yet
        else:
            return None
    return OfficeSheet(name=grid.sheet, procedure=procedure, header_row=row + 1, rows=kept)


def _procedure_by_rows(rows: tuple[OfficeRow, ...], stamp: WorkbookStamp) -> StampRow | None:
    by_key = {one.key: one for one in stamp.rows}
    return next((by_key[one.key] for one in rows if one.key in by_key), None)


def _heading(grid: Grid) -> tuple[str | None] | None:
    """The procedure that the heading of a sheet names, None for every procedure; nothing when it names none."""
    text = tidy(str(grid.rows[0][0])) if grid.rows and grid.rows[0] else ""
    if text == EVERY_HEADING:
        return (None,)
    named = HEADED.search(text)
    return (named[1],) if named else None


def _procedure_by_title(grid: Grid, stamp: WorkbookStamp) -> StampRow | None:
    """Whose hidden columns were lost may still be known by the procedure in the heading or the sheet's name."""
    texts = [grid.sheet, *(tidy(str(raw)) for row in grid.rows[:3] for raw in row if isinstance(raw, str))]
    for row in stamp.rows:
        if row.procedure and any(text == row.procedure or text.endswith(f"({row.procedure})") for text in texts):
            return row
    return None


def _find_header(grid: Grid) -> tuple[int, dict[str, int]] | None:
    """The first row that holds some of the headers, and where it has them."""
    known = known_headers(CARD_SHEET)
    found = ((number, header_places(row, known)[0]) for number, row in enumerate(grid.rows[:SEARCHED_ROWS]))
    return next(((number, places) for number, places in found if len(places) >= FEW_HEADERS), None)


def _read_row(source: Source, number: int, cells: dict[str, Raw]) -> OfficeRow:
    mark, key = read_mark(cells.get("As sent")), cells.get("Line")
    version, sent = (mark[0].version, mark[1]) if mark else ("", None)
    known = sent.key if sent else tidy(key) if isinstance(key, str) else ""
    return OfficeRow(source=source, number=number, cells=cells, key=known, version=version, sent=sent)


def damaged_book(name: str) -> Problem:
    """What is said of a workbook that cannot be opened whole."""
    return to_fix(DAMAGED.kind, Where(file=name), DAMAGED.message, expected=DAMAGED.expected)
