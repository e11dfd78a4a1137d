"""Several campuses in one region: every id gets its campus in front, and the tables are joined."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from benchmarks.scenario.lists import Row, Tables, read_list
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
LENT_ROUTE = "LOAN"
OF_TRAYS = ("Trays", "Tray contents")
EMPTY: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _Marks:
    """What is put before the ids of a campus, and before those of the ``lent`` trays that a neighbour owns."""

    own: str
    owner: str
    lent: frozenset[str]

    def put(self, value: object) -> object:
        if isinstance(value, tuple):
            return tuple(self.put(one) for one in value)
        if not isinstance(value, str) or value in KEPT_WORDS:
            return value
        return f"{self.owner if value in self.lent else self.own}{value}"


def gather_campuses(campuses: list[Tables], lend: int) -> Tables:
    """One region of many campuses, of which so many neighbours share the lent trays; the settings are the first's."""
    lent = frozenset(one["tray"] for one in read_list("trays") if one["route"] == LENT_ROUTE) if lend > 1 else EMPTY
    gathered: Tables = {name: [] for name in campuses[0]}
    for number, tables in enumerate(campuses):
        marks = _Marks(own=f"{number + 1:02d}.", owner=f"{number // lend * lend + 1:02d}.", lent=lent)
        for name, rows in tables.items():
            kept = rows if number % lend == 0 or name not in OF_TRAYS else [r for r in rows if r["tray"] not in lent]
            gathered[name] += [_marked(BY_NAME[name], row, marks) for row in kept]
    gathered["Settings"] = campuses[0]["Settings"]
    return gathered


def _marked(table: Table, row: Row, marks: _Marks) -> Row:
    ids = _ids_of(table)
    return {header: marks.put(value) if header in ids else value for header, value in row.items()}


@cache
def _ids_of(table: Table) -> frozenset[str]:
    return frozenset(one.name for one in table.columns if _is_id(table, one))


def _is_id(table: Table, column: Column) -> bool:
    if column.name in MORE_IDS.get(table.name, ()) or column.refers_to:
        return True
    return column.name == table.key[0] if len(table.key) == 1 else False
