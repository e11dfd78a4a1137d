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
EVERY = "every"
KEPT_WORDS = frozenset({"", EVERY})
LENT_ROUTE = "LOAN"
WORN = frozenset({"outer glove", "under glove", "gown"})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Campus:
    """A campus by its number, which ``owner`` lends its trays on loan, and what all have in ``common``."""

    number: int
    owner: int
    lent: frozenset[str]
    common: frozenset[str]

    def put(self, value: object) -> object:
        """An id with the mark of whose it is."""
        if isinstance(value, tuple):
            return tuple(self.put(one) for one in value)
        if not isinstance(value, str) or value in KEPT_WORDS or value in self.common:
            return value
        return f"{(self.owner if value in self.lent else self.number) + 1:02d}.{value}"

    def keeps(self, table: str, row: Row) -> bool:
        """Whether a row is this campus's own, and not one that another has for several."""
        if table in ("Trays", "Tray contents"):
            return self.number == self.owner or row["tray"] not in self.lent
        if table == "Items":
            return self.number == 0 or row["item"] not in self.common
        return table != "Cards" or self.number == 0 or not _is_house_line(row)


def gather_campuses(campuses: list[Tables], lend: int) -> Tables:
    """One region of many campuses, of which so many neighbours share the trays on loan; the settings are the first's.

    What people wear and what the house's lines ask for is in one catalogue for all: else everybody could be given
    the gloves of every campus, and every cart the house's things of all.
    """
    lent = {one["tray"] for one in read_list("trays") if one["route"] == LENT_ROUTE and lend > 1}
    common = {str(row["item"]) for row in campuses[0]["Items"] if row["class"] in WORN}
    common |= {str(row["thing"]) for row in campuses[0]["Cards"] if _is_house_line(row)}
    gathered: Tables = {name: [] for name in campuses[0]}
    for number, tables in enumerate(campuses):
        owner = number // lend * lend
        campus = _Campus(number=number, owner=owner, lent=frozenset(lent), common=frozenset(common))
        for name, rows in tables.items():
            gathered[name] += [_marked(BY_NAME[name], row, campus) for row in rows if campus.keeps(name, row)]
    gathered["Settings"] = campuses[0]["Settings"]
    return gathered


def _is_house_line(row: Row) -> bool:
    return row["procedure"] == EVERY and row["surgeon"] == EVERY


def _marked(table: Table, row: Row, campus: _Campus) -> Row:
    ids = _ids_of(table)
    return {header: campus.put(value) if header in ids else value for header, value in row.items()}


@cache
def _ids_of(table: Table) -> frozenset[str]:
    return frozenset(one.name for one in table.columns if _is_id(table, one))


def _is_id(table: Table, column: Column) -> bool:
    if column.name in MORE_IDS.get(table.name, ()) or column.refers_to:
        return True
    return column.name == table.key[0] if len(table.key) == 1 else False
