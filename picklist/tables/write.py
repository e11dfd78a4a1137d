"""Well-formed workbooks and CSV files from rows of plain values."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from picklist.tables.book import save_settled, set_widths, style_head, value_cell
from picklist.tables.cells import plain_text
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.csv_files import csv_text
from picklist.tables.files import write_file
from picklist.tables.schema import BOOKS, BY_NAME

Row = Mapping[str, object]

NUMBER_FORMATS = {
    CellType.WHOLE: "0",
    CellType.NUMBER: "General",
    CellType.DATE: "yyyy-mm-dd",
    CellType.EXPIRY: "yyyy-mm-dd",
    CellType.TIME: "hh:mm",
    CellType.STAMP: "yyyy-mm-dd hh:mm",
}


def write_tables(
    folder: Path,
    tables: Mapping[str, Iterable[Row]],
    *,
    as_csv: frozenset[str] = frozenset(),
    books: Mapping[str, tuple[str, ...]] = BOOKS,
) -> tuple[Path, ...]:
    """Write tables (name -> rows of column name -> plain value) into the folder; give the files' paths.

    A value is text, a number, True/False, a date, a time, a naive wall datetime, None, or a
    tuple or list of texts for columns of several. Tables in ``as_csv`` become CSV files, the
    others sheets of the workbooks in ``books`` (one not named there gets a workbook of its own
    name). Columns and tables that the schema does not know raise KeyError.
    """
    known = {name: _known_rows(BY_NAME[name], rows) for name, rows in tables.items()}
    folder.mkdir(parents=True, exist_ok=True)
    written = [_write_csv(folder, BY_NAME[name], known[name]) for name in known if name in as_csv]
    for book, names in _grouped(known, as_csv, books).items():
        workbook = Workbook(write_only=True)
        for name in names:
            fill_sheet(workbook.create_sheet(name), BY_NAME[name], known[name])
        path = folder / f"{book}.xlsx"
        save_settled(workbook, path)
        written.append(path)
    return tuple(written)


def fill_sheet(sheet: Any, table: Table, rows: Iterable[Row]) -> None:
    """Write a table's header and rows into an empty write-only sheet, header frozen, codes as text."""
    sheet.freeze_panes = "A2"
    set_widths(sheet, (column.width for column in table.columns))
    sheet.append([header_cell(sheet, column) for column in table.columns])
    for row in rows:
        sheet.append([body_cell(sheet, column, row.get(column.name)) for column in table.columns])


def _grouped(
    tables: Mapping[str, Iterable[Row]], as_csv: frozenset[str], books: Mapping[str, tuple[str, ...]]
) -> dict[str, list[str]]:
    book_of = {name: book for book, names in books.items() for name in names}
    grouped: dict[str, list[str]] = {}
    for name in tables:
        if name not in as_csv:
            grouped.setdefault(book_of.get(name, name), []).append(name)
    return grouped


def _write_csv(folder: Path, table: Table, rows: Iterable[Row]) -> Path:
    path = folder / f"{table.name}.csv"
    write_file(path, csv_bytes(table.columns, rows))
    return path


def csv_bytes(columns: Iterable[Column], rows: Iterable[Row]) -> bytes:
    """A CSV file with these columns, as a spreadsheet program reads it."""
    listed = tuple(columns)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.name for column in listed])
    for row in rows:
        writer.writerow([csv_text(plain_text(row.get(column.name))) for column in listed])
    return text.getvalue().encode("utf-8-sig")


def _known_rows(table: Table, rows: Iterable[Row]) -> list[Row]:
    known = list(rows)
    for name in {name for row in known for name in row}:
        table.column(name)
    return known


def header_cell(sheet: Any, column: Column) -> Any:
    """A header in the style of all headers."""
    return style_head(WriteOnlyCell(sheet, value=column.name))


def format_of(column: Column) -> str:
    """The number format of a column's cells; text for ids and words."""
    return NUMBER_FORMATS.get(column.type, "@")


def body_cell(sheet: Any, column: Column, value: Any) -> Any:
    """A cell for a plain value, or None for an empty one."""
    if value is None or value == "":
        return None
    if column.type not in NUMBER_FORMATS or isinstance(value, str | bool | tuple | list):
        cell = value_cell(sheet, plain_text(value))
        cell.number_format = "@"
        return cell
    cell = WriteOnlyCell(sheet, value=value)
    cell.number_format = format_of(column)
    return cell
