"""Everything in the state file as tables that any program reads."""

from __future__ import annotations

import csv
import zlib
from dataclasses import dataclass
from pathlib import Path

from openpyxl import Workbook

from picklist.store.state import State
from picklist.tables.text_cells import csv_text, value_cell

Cell = str | int | float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedTable:
    """One table of the state: its name, headers and rows."""

    name: str
    headers: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def export_tables(state: State) -> tuple[ExportedTable, ...]:
    """Every table of the state at one moment, by name; a plan's bytes show as their number."""
    with state.reading() as db:
        names = [
            row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        ]
        tables = []
        for name in names:
            found = db.execute(f'SELECT * FROM "{name}" ORDER BY rowid')
            headers = tuple(column[0].replace("_", " ") for column in found.description)
            rows = tuple(tuple(_cell(value) for value in row) for row in found)
            tables.append(ExportedTable(name=name.replace("_", " "), headers=headers, rows=rows))
    return tuple(tables)


def _cell(value: object) -> Cell:
    if isinstance(value, bytes):
        return len(zlib.decompress(value))
    assert value is None or isinstance(value, str | int | float)
    return value


def export_plans(state: State) -> dict[str, bytes]:
    """Each plan's plan.json under a file name of its day and revision."""
    with state.reading() as db:
        rows = db.execute("SELECT day, revision, json FROM plan ORDER BY day, revision").fetchall()
    return {f"plan {row['day']} revision {row['revision']}.json": zlib.decompress(row["json"]) for row in rows}


def export_csv(state: State, folder: Path) -> tuple[Path, ...]:
    """Write every table as CSV and every plan as JSON into a folder (made if need be); what was written.

    A text that a spreadsheet program would take for a formula has an apostrophe in front.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for table in export_tables(state):
        path = folder / f"{table.name}.csv"
        with path.open("w", encoding="utf-8-sig", newline="") as file:
            csv.writer(file).writerows((table.headers, *([_csv_cell(one) for one in row] for row in table.rows)))
        written.append(path)
    for name, data in export_plans(state).items():
        path = folder / name
        path.write_bytes(data)
        written.append(path)
    return tuple(written)


def export_workbook(state: State, path: Path) -> None:
    """Write every table as a sheet of one workbook. Text that looks like a formula stays text."""
    book = Workbook(write_only=True)
    for table in export_tables(state):
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "A2"
        sheet.append(table.headers)
        for row in table.rows:
            sheet.append([value_cell(sheet, value) for value in row])
    book.save(path)


def _csv_cell(value: Cell) -> Cell:
    return csv_text(value) if isinstance(value, str) else value
