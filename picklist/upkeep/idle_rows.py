"""Lines of a named procedure that find nothing beneath them to replace or to drop: they stop a list."""

from __future__ import annotations

from datetime import date

from picklist.model.cards import CardLine, Change
from picklist.upkeep.card_rows import CardBook, CardRow, lay_card
from picklist.upkeep.owners import Owner


def find_idle_rows(book: CardBook, owner: Owner, procedure: str, day: date) -> tuple[CardLine, ...]:
    """The lines of one card that find nothing on a day; conditions are not looked at."""
    return idle_lines(lay_card(book, owner, procedure, day))


def idle_lines(rows: list[CardRow]) -> tuple[CardLine, ...]:
    """The lines among a card's rows that find nothing."""
    return tuple(line for row in rows if _brings_nothing(row) and not _is_elsewhere(row, rows) for line in row.own[-1:])


def _brings_nothing(row: CardRow) -> bool:
    return row.beneath is None and bool(row.own) and all(line.change is not Change.ADD for line in row.own)


def _is_elsewhere(row: CardRow, rows: list[CardRow]) -> bool:
    """Whether another row has the thing, always or under another condition."""
    thing = (row.slot.kind, row.slot.thing)
    for other in rows:
        here = other.beneath or (other.want if any(line.change is Change.ADD for line in other.own) else None)
        if other is not row and here and here.core[:2] == thing:
            return True
    return False
