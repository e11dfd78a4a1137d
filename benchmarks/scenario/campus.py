"""Several campuses in one region: every id gets its campus in front, and the tables are joined."""

from __future__ import annotations

from benchmarks.scenario.lists import Row, Tables
from picklist.tables.columns import Column, Table
from picklist.tables.schema import BY_NAME

# Ids that the declaration of the tables does not tell: a card's things, and keys that are free words.
MORE_IDS = {
    "Cards": frozenset({"thing", "instead of"}),
    "Lots": frozenset({"item"}),
    "Packs": frozenset({"pack"}),
    "Routes": frozenset({"route", "run"}),
    "Departures": frozenset({"run"}),
    "Holidays": frozenset({"station"}),
    "Past cases": frozenset({"surgeon", "room"}),
}
KEPT_WORDS = frozenset({"", "every"})


def gather_campuses(campuses: list[Tables]) -> Tables:
    """One region of many campuses; the settings are the first one's."""
    gathered: Tables = {name: [] for name in campuses[0]}
    for number, tables in enumerate(campuses, start=1):
        for name, rows in tables.items():
            gathered[name] += [_marked(BY_NAME[name], row, f"{number:02d}.") for row in rows]
    gathered["Settings"] = campuses[0]["Settings"]
    return gathered


def _marked(table: Table, row: Row, mark: str) -> Row:
    return {
        header: _with_mark(value, mark) if _is_id(table, table.column(header)) else value
        for header, value in row.items()
    }


def _is_id(table: Table, column: Column) -> bool:
    if column.name in MORE_IDS.get(table.name, ()) or column.refers_to:
        return True
    return column.name == table.key[0] if len(table.key) == 1 else False


def _with_mark(value: object, mark: str) -> object:
    if isinstance(value, tuple):
        return tuple(_with_mark(one, mark) for one in value)
    return f"{mark}{value}" if isinstance(value, str) and value not in KEPT_WORDS else value
