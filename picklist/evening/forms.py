"""Workbooks with boxes to fill, and reading them back cell by cell.

A form's sheets are tables declared like those of a site's folder; the columns to fill are
framed and open, all others are locked (without a password: the lock is against slips).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from itertools import zip_longest
from math import ceil
from pathlib import Path
from typing import Literal

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.problems import Severity, Where
from picklist.settings import DateOrder
from picklist.tables.book import BOLD, WRAPPED, settled_bytes
from picklist.tables.cells import Fault, Grid
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.csv_files import read_csv_file
from picklist.tables.drafts import Ledger
from picklist.tables.headers import find_header
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, LaidSheet, Page, lay_out, line_above, row_of
from picklist.tables.nearest import plain
from picklist.tables.private import name_to_say
from picklist.tables.rows import Row, RowReader
from picklist.tables.workbooks import read_sheets, sheet_names
from picklist.wording.lists import CAUTIONS, CAUTIONS_SHEET

CHOICES_SHEET = "Choices"
NOT_TABLES = (CHOICES_SHEET, CAUTIONS_SHEET)
TITLE_ROWS = 3  # a title, what to do, and the header
YES_NO = ("yes", "no")
_INLINE_LIMIT = 250  # characters that a drop-down written into its cells may have
_THIN = Side(style="thin", color="808080")
_BOX = Border(left=Side(style="medium"), right=Side(style="medium"), top=_THIN, bottom=_THIN)
_RULE = Border(bottom=_THIN)
_HEAD = PatternFill("solid", fgColor="D9D9D9")
_TO_FILL = PatternFill("solid", fgColor="FFFBE6")
_TITLE, _TO_DO = CellLook(font=Font(bold=True, size=14)), CellLook(font=Font(size=11))
_LINE, _LINE_OF_CELL = 19, 15  # points, of a title and of a cell
_HEADS = {
    fill: CellLook(font=BOLD, fill=_HEAD, border=(_RULE, _BOX)[fill], alignment=WRAPPED) for fill in (True, False)
}
_FORMATS = {CellType.WHOLE: "0", CellType.DATE: "yyyy-mm-dd", CellType.TIME: "hh:mm"}

CAUTIONS_AS_SHEET = LaidSheet(
    name=CAUTIONS_SHEET,
    widths=(80,),  # as wide as an upright page
    rows=tuple(row_of([caution], CellLook(alignment=WRAPPED), height=34) for caution in CAUTIONS),
    allowed=(),
    page=Page(portrait=True),
)

Value = str | int | date | datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FormRow:
    """A row of a form: values by column name, and the drop-down of a cell where it is the row's own."""

    values: Mapping[str, Value]
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class FormSheet:
    """A sheet of a form: what it is and what to do with it; its table says which columns are to be filled."""

    table: Table
    title: str
    to_do: str
    rows: tuple[FormRow, ...]
    blank_rows: int = 0  # open rows below, in which every column may be filled


def form_bytes(sheets: Sequence[FormSheet]) -> bytes:
    """A form as a workbook, with the cautions as its last sheet; the same content gives the same bytes."""
    book = Workbook(write_only=True)
    lists: dict[tuple[str, ...], str] = {}
    for sheet in sheets:
        lay_out(book, _declared(sheet, lists))
    lay_out(book, CAUTIONS_AS_SHEET)
    if lists:
        _write_choices(book, lists)
    return settled_bytes(book)


def _height(row: FormRow, columns: Sequence[Column]) -> float | None:
    """In points, of a row in which a text is wider than its column; None for any other."""
    widths = {column.name: column.width for column in columns}
    texts = ((name, value) for name, value in row.values.items() if isinstance(value, str))
    lines = max((_lines(value, widths[name]) for name, value in texts), default=1)
    return None if lines == 1 else _LINE_OF_CELL * lines + 3


def _lines(text: str, width: float) -> int:
    """How many lines a text takes in a column, with a little to spare."""
    return max(1, ceil(1.1 * len(text) / width))


def _above(text: str, columns: Sequence[Column], look: CellLook) -> LaidRow:
    size = look.font.size if look.font else 11
    lines = _lines(text, sum(column.width for column in columns) * 11 / size)
    return line_above(text, look, lines, _LINE * lines)


def _declared(form: FormSheet, lists: dict[tuple[str, ...], str]) -> LaidSheet:
    columns = form.table.columns
    looks = {column.name: _look(column) for column in columns}
    filled = []
    for row in form.rows:
        cells = tuple(LaidCell(value=row.values.get(name), look=looks[name]) for name in looks)
        filled.append(LaidRow(cells=cells, height=_height(row, columns)))
    blank = LaidRow(cells=tuple(LaidCell(look=_look(replace(column, fill=True))) for column in columns))
    return LaidSheet(
        name=form.table.name,
        widths=tuple(column.width for column in columns),
        rows=(
            _above(form.title, columns, _TITLE),
            _above(form.to_do, columns, _TO_DO),
            LaidRow(cells=tuple(_head(column) for column in columns), height=34),
            *filled,
            *(blank for _ in range(form.blank_rows)),
        ),
        freeze=f"A{TITLE_ROWS + 1}",
        filters=f"A{TITLE_ROWS}:{get_column_letter(len(columns))}{TITLE_ROWS}",
        row_height=18,
        allowed=("autoFilter", "sort"),
        choices=_choices(form, lists),
        page=Page(titles=f"{TITLE_ROWS}:{TITLE_ROWS}"),
    )


def _head(column: Column) -> LaidCell:
    note = column.help if column.fill else ""
    return LaidCell(value=column.name, look=_HEADS[column.fill], note=note, note_size=(260, 80))


def _look(column: Column) -> CellLook:
    """How the cells of a column look."""
    return CellLook(
        format=_FORMATS.get(column.type, "@"),
        border=_BOX if column.fill else _RULE,
        fill=_TO_FILL if column.fill else None,
        open=column.fill,
        alignment=Alignment(
            vertical="top",
            horizontal="left" if column.type in (CellType.TEXT, CellType.CODE) else "center",
            wrap_text=column.type is CellType.TEXT,
        ),
    )


def _choices(form: FormSheet, lists: dict[tuple[str, ...], str]) -> tuple[DataValidation, ...]:
    """What may be filled in: in cells as their rows say, in whole columns as these are declared."""
    made: dict[tuple[str, ...], DataValidation] = {}
    letters = {column.name: get_column_letter(number) for number, column in enumerate(form.table.columns, start=1)}
    for number, row in enumerate(form.rows, start=TITLE_ROWS + 1):
        for name, choices in row.choices.items():
            if choices:
                if choices not in made:
                    made[choices] = _one_of(choices, lists, "warning")
                made[choices].add(f"{letters[name]}{number}")
    last = TITLE_ROWS + len(form.rows) + form.blank_rows
    for column in form.table.columns if last > TITLE_ROWS else ():
        span = f"{letters[column.name]}{TITLE_ROWS + 1}:{letters[column.name]}{last}"
        if column.fill and column.type is CellType.YES_NO:
            made.setdefault(YES_NO, _one_of(YES_NO, lists, "stop")).add(span)
        elif column.fill and column.type is CellType.WHOLE:
            made.setdefault(("whole", column.name), _whole_number(column)).add(span)
    return tuple(made.values())


def _whole_number(column: Column) -> DataValidation:
    return DataValidation(
        type="whole",
        operator="between",
        formula1=str(int(column.least or 0)),
        formula2=str(int(column.most or 99999)),
        errorTitle=column.name,
        error="a whole number",
    )


def _one_of(
    choices: tuple[str, ...], lists: dict[tuple[str, ...], str], strictness: Literal["stop", "warning"]
) -> DataValidation:
    """A drop-down; one too long for its cells stands on a sheet of its own (``lists``: where)."""
    inline = ",".join(choices)
    if len(inline) > _INLINE_LIMIT or '"' in inline or inline.count(",") >= len(choices):
        letter = get_column_letter(len(lists) + 1)
        lists.setdefault(choices, f"{CHOICES_SHEET}!${letter}$1:${letter}${len(choices)}")
    formula = lists.get(choices, f'"{inline}"')
    return DataValidation(
        type="list", formula1=formula, allow_blank=True, errorStyle=strictness, error="not in the list"
    )


def _write_choices(book: Workbook, lists: Mapping[tuple[str, ...], str]) -> None:
    rows = tuple(row_of(row) for row in zip_longest(*lists))
    lay_out(book, LaidSheet(name=CHOICES_SHEET, widths=(), rows=rows)).sheet_state = "hidden"


def read_form(path: Path, tables: Sequence[Table], ledger: Ledger) -> dict[str, list[Row]]:
    """The filled rows of each table of a form, from a workbook, or from a CSV file when it is one table.

    What is wrong with the file, a sheet or a cell is reported with its place.
    """
    grids = _csv_grid(path, tables[0], ledger) if path.suffix.lower() in (".csv", ".tsv") else _sheets(path, ledger)
    found: dict[str, list[Row]] = {}
    for table in tables:
        grid = grids.get(plain(table.name))
        if grid is None:
            if grids:
                _report_no_sheet(path, table, ledger)
            continue
        # Whoever fills in a form filters it and strikes out what is done: that is no mistake.
        grid.hidden_rows, grid.struck = frozenset(), frozenset()
        header = find_header(grid, table, ledger)
        if header:
            found[table.name] = list(RowReader(table, grid, header, ledger, DateOrder.ANY).rows())
    return found


def _sheets(path: Path, ledger: Ledger) -> dict[str, Grid]:
    names, fault = sheet_names(path)
    if fault:
        _report(path, "", fault, ledger)
        return {}
    grids, faults = read_sheets(path, lambda name: name in names and name not in NOT_TABLES)
    for sheet, found in faults:
        _report(path, name_to_say(sheet, names), found, ledger)
    return {plain(grid.sheet): grid for grid in grids}


def _csv_grid(path: Path, table: Table, ledger: Ledger) -> dict[str, Grid]:
    grid, fault = read_csv_file(path)
    if fault:
        _report(path, "", fault, ledger)
    return {plain(table.name): grid} if grid else {}


def _report(path: Path, sheet: str, fault: Fault, ledger: Ledger) -> None:
    ledger.report(
        fault.kind,
        Where(file=path.name, sheet=sheet),
        fault.message,
        severity=Severity.STOPS_ALL,
        expected=fault.expected,
        nearest=fault.nearest,
    )


def _report_no_sheet(path: Path, table: Table, ledger: Ledger) -> None:
    ledger.report(
        "missing sheet",
        Where(file=path.name, sheet=table.name),
        f"the sheet {table.name} is missing (each row is {table.row_is})",
        expected="the workbook as build wrote it, with all its sheets",
    )
