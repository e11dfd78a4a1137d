"""What could be a patient's, and the columns of the schema in which it is put. The person is invented."""

from __future__ import annotations

from typing import Any

from picklist.tables.columns import CellType, Column, Table
from picklist.tables.private import Kind, kind_of
from picklist.tables.schema import TABLES
from tests.inputs.folders import Rows

SURNAME = "Wrenfield"
# What a schedule of another program puts into a cell, and what a hurried hand does.
SAID = ("WRENFIELD, Oda F72", "MRN 4829130", "born 1952-03-04", "tel. 312 555-0142")
BARE = ("4829130", "1952-03-04", "312 555-0142", "WRENFIELD, Oda")
TRACES = (SURNAME, SURNAME.upper(), "Oda", "4829130", "1952-03-04", "1952", "555-0142")
NUMBERS = (CellType.WHOLE, CellType.NUMBER)
TEXTS = (CellType.TEXT, CellType.CODE, CellType.CODES, CellType.STAND_INS, CellType.CONDITIONS)


def may_stay(table: Table, column: Column, seed: str) -> bool:
    """Whether nobody could tell the seed from what belongs here: a number could be an id, a surname a colleague's."""
    if seed in SAID:
        return False
    if column.type in NUMBERS:
        return seed == "4829130" and column.most is None
    if seed == SURNAME:
        return column.type in TEXTS and column.refers_to in ("", "Places")
    return column.type in TEXTS and kind_of(table, column) is not Kind.OF_A_CASE


def seeded(rows: Rows, seed: str) -> list[tuple[str, str]]:
    """Put the seed into each column of each table, in a row of its own; which (table, column) must be found."""
    places = []
    for table in TABLES:
        for column in table.columns:
            if table.name == "Settings" and column.name == "meaning":
                continue  # not read at all
            if not may_stay(table, column, seed):
                rows.setdefault(table.name, []).append(_row(table, column, seed))
                places.append((table.name, column.name))
    return places


def _row(table: Table, column: Column, seed: str) -> dict[str, Any]:
    """A row that is sound but for the seed, with ids of its own."""
    row: dict[str, Any] = {}
    for one in table.columns:
        if one.required or one.name in table.key:
            row[one.name] = one.shown_example
    for number, name in enumerate(table.key):
        if not table.column(name).refers_to and table.name != "Settings":
            row[name] = f"Z-{len(column.name)}{ord(column.name[0])}{number}"
    if table.name == "Settings":
        row["setting"] = "paper"
    return row | {column.name: seed}
