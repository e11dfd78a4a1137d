"""Which returned row is which sent row, after sorting, inserting, copying and deleting.

The thing that a row names counts before its hidden key, for a sort that left the hidden columns
behind moves the keys to other things. A key is believed where the thing was changed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from picklist.tables.nearest import plain
from picklist.upkeep.office_return import OfficeRow, OfficeSheet
from picklist.upkeep.stamps import StampRow, WorkbookStamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """Pairs of returned and sent rows in the order of the sheet, rows that are new, and sent rows that are gone."""

    pairs: tuple[tuple[OfficeRow, StampRow], ...]
    new: tuple[OfficeRow, ...]
    asks: tuple[OfficeRow, ...]
    gone: tuple[StampRow, ...]


@dataclass(slots=True)
class _Table:
    """Sent rows not yet matched, by key, and who took which."""

    left: dict[str, StampRow]
    taken: dict[str, OfficeRow] = field(default_factory=dict)
    match: dict[int, StampRow] = field(default_factory=dict)

    def take(self, row: OfficeRow, key: str) -> None:
        self.match[row.number] = self.left.pop(key)
        self.taken[key] = row


def match_rows(sheet: OfficeSheet, stamp: WorkbookStamp) -> Matched:
    """Match the rows of a returned card."""
    sent = {one.key: one for one in stamp.rows if one.procedure == sheet.procedure}
    rows = [row for row in sheet.rows if not row.is_ask]
    table = _Table(left=dict(sent))
    for row in rows:
        one = table.left.get(_key(row))
        if one and plain(row.text("Name (number)")) == plain(one.shown):
            table.take(row, one.key)
    for row in _open(rows, table):
        found = _find_by_thing(row, table)
        if found:
            table.take(row, found)
    for row in _open(rows, table):
        if _key(row) in table.left:
            table.take(row, _key(row))
    for row in _open(rows, table):
        key = _free_key(row, table)
        if key:
            table.take(row, key)
    new = [row for row in _open(rows, table) if not row.is_blank]
    return Matched(
        pairs=tuple((row, table.match[row.number]) for row in rows if row.number in table.match),
        new=tuple(new),
        asks=tuple(row for row in sheet.rows if row.is_ask and not row.is_blank),
        gone=tuple(table.left.values()),
    )


def _key(row: OfficeRow) -> str:
    return row.sent.key if row.sent else row.key


def _open(rows: list[OfficeRow], table: _Table) -> list[OfficeRow]:
    return [row for row in rows if row.number not in table.match]


def _find_by_thing(row: OfficeRow, table: _Table) -> str:
    name = plain(row.text("Name (number)"))
    found = [one for one in table.left.values() if name and name == plain(one.shown)]
    if len(found) > 1:
        when = plain(row.text("Only when"))
        found = [one for one in found if plain(one.when) == when]
    return found[0].key if len(found) == 1 else ""


def _free_key(row: OfficeRow, table: _Table) -> str:
    """Where another row, by its thing, took this row's key, the key that the other left free is this row's."""
    key, seen = _key(row), set[str]()
    while key in table.taken and key not in seen:
        seen.add(key)
        key = _key(table.taken[key])
    return key if key in table.left else ""
