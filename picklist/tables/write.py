"""Well-formed workbooks and CSV files from rows of plain values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import chain
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.grouping import grouped
from picklist.tables.book import BOLD, HEAD_FILL, WRAPPED, settled_bytes
from picklist.tables.cells import plain_text
from picklist.tables.column_words import note_text
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.csv_files import csv_bytes
from picklist.tables.files import write_file
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, LaidSheet, lay_out
from picklist.tables.schema import BOOKS, BY_NAME

Row = Mapping[str, object]

TEXT = "@"  # the number format of ids and words
HEAD = CellLook(font=BOLD, fill=HEAD_FILL, alignment=WRAPPED)

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
        path = folder / f"{book}.xlsx"
        write_file(path, book_bytes({name: known[name] for name in names}))
        written.append(path)
    return tuple(written)


def book_bytes(tables: Mapping[str, Iterable[Row]]) -> bytes:
    """A workbook with a sheet for each of these tables; the same rows give the same bytes."""
    workbook = Workbook(write_only=True)
    for name, rows in tables.items():
        lay_out(workbook, table_sheet(BY_NAME[name], rows))
    return settled_bytes(workbook)


def table_sheet(
    table: Table,
    rows: Iterable[Row],
    *,
    font: Font | None = None,
    for_blank: bool = False,
    choices: tuple[DataValidation, ...] = (),
) -> LaidSheet:
    """A table as a sheet, header frozen, codes as text.

    ``for_blank``: it is to be filled in, so that headers have notes and columns the format of their cells.
    """
    columns = table.columns
    looks = {form: CellLook(font=font, format=form) for form in (*NUMBER_FORMATS.values(), TEXT)}
    heads = (LaidCell(value=one.name, look=HEAD, note=note_text(one) if for_blank else "") for one in columns)
    body = (LaidRow(cells=tuple(_body(one, row.get(one.name), looks) for one in columns)) for row in rows)
    return LaidSheet(
        name=table.name,
        widths=tuple(column.width for column in columns),
        rows=chain([LaidRow(cells=tuple(heads))], body),
        formats=tuple(NUMBER_FORMATS.get(column.type, TEXT) for column in columns) if for_blank else (),
        freeze="A2",
        choices=choices,
    )


def _body(column: Column, value: Any, looks: Mapping[str, CellLook]) -> LaidCell | None:
    if value is None or value == "":
        return None
    if column.type not in NUMBER_FORMATS or isinstance(value, str | bool | tuple | list):
        return LaidCell(value=plain_text(value), look=looks[TEXT])
    return LaidCell(value=value, look=looks[NUMBER_FORMATS[column.type]])


def _grouped(
    tables: Mapping[str, Iterable[Row]], as_csv: frozenset[str], books: Mapping[str, tuple[str, ...]]
) -> dict[str, list[str]]:
    book_of = {name: book for book, names in books.items() for name in names}
    return grouped((book_of.get(name, name), name) for name in tables if name not in as_csv)


def _write_csv(folder: Path, table: Table, rows: Iterable[Row]) -> Path:
    path = folder / f"{table.name}.csv"
    write_file(path, csv_bytes(table.columns, rows))
    return path


def _known_rows(table: Table, rows: Iterable[Row]) -> list[Row]:
    known = list(rows)
    for name in {name for row in known for name in row}:
        table.column(name)
    return known
