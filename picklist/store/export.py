"""Everything in the state file as tables that any program reads."""

from __future__ import annotations

import csv
import json
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from picklist.store.state import StateFile
from picklist.store.typed_records import RECORD, form_of
from picklist.tables.csv_files import csv_text

SECRET = frozenset({"message_key"})  # with it, a mark could be tried against guesses
Cell = str | int | float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedTable:
    """One table of the state: its name, headers and rows."""

    name: str
    headers: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def export_tables(state: StateFile) -> tuple[ExportedTable, ...]:
    """Every table of the state at one moment, by name; a plan's bytes show as their number."""
    with state.reading() as db:
        names = [
            row[0]
            for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
            if row[0] not in SECRET
        ]
        tables = []
        for name in names:
            found = db.execute(f'SELECT * FROM "{name}" ORDER BY rowid')
            columns = dict.fromkeys(column[0] for column in found.description if column[0] != RECORD)
            flat = [_flat(dict(row)) for row in found]
            columns |= dict.fromkeys(column for row in flat for column in row)
            tables.append(
                ExportedTable(
                    name=name.replace("_", " "),
                    headers=tuple(column.replace("_", " ") for column in columns),
                    rows=tuple(tuple(row.get(column) for column in columns) for row in flat),
                )
            )
    return tuple(tables)


def _flat(row: dict[str, Any]) -> dict[str, Cell]:
    """A row with the fields of its record as columns of their own; a list stays in one cell, as JSON."""
    record = form_of(dict[str, Any]).validate_json(row.pop(RECORD, "{}"))
    return {**{column: _cell(value) for column, value in row.items()}, **_fields(record)}


def _fields(record: dict[str, Any], of: str = "") -> dict[str, Cell]:
    found: dict[str, Cell] = {}
    for name, value in record.items():
        if isinstance(value, dict):
            found |= _fields(value, f"{of}{name} ")
        else:
            found[of + name] = json.dumps(value, ensure_ascii=False) if isinstance(value, list) else value
    return found


def _cell(value: object) -> Cell:
    if isinstance(value, bytes):
        return len(zlib.decompress(value))
    assert value is None or isinstance(value, str | int | float)
    return value


def export_plans(state: StateFile) -> dict[str, bytes]:
    """Each plan's plan.json under a file name of its day and revision."""
    with state.reading() as db:
        rows = db.execute("SELECT day, revision, json FROM plan ORDER BY day, revision").fetchall()
    return {f"plan {row['day']} revision {row['revision']}.json": zlib.decompress(row["json"]) for row in rows}


def export_csv(state: StateFile, folder: Path) -> tuple[Path, ...]:
    """Write every table as CSV and every plan as JSON into a folder (made if need be); what was written.

    A text that a spreadsheet program would take for a formula begins with an apostrophe.
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


def _csv_cell(value: Cell) -> Cell:
    return csv_text(value) if isinstance(value, str) else value
