"""Edits to card lines turned into the new contents of the files that hold the table Cards."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any

from picklist.model.cards import CardLine
from picklist.model.site import Site
from picklist.problems import Where
from picklist.tables.cells import plain_text
from picklist.tables.drafts import Ledger
from picklist.tables.folder import read_folder
from picklist.tables.row_edits import RowEdits
from picklist.tables.schema import BY_NAME
from picklist.tables.sheet_styles import Value
from picklist.upkeep.line_edits import LineEdits
from picklist.wording.card_words import condition_words

CARDS = BY_NAME["Cards"]


def edit_master(folder: Path, site: Site, edits: LineEdits, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """New contents of the master's files: file name -> bytes, for those that change.

    ``files`` are the contents that ``site`` was read from. Raises ChangedMeanwhileError when one is not as it was.
    """
    rows = RowEdits(folder, files)
    for line, last in edits.ended:
        rows.sheet(CARDS, line.where).write(line.where, {"until": last})
    free = list(edits.taken_out)
    for line in edits.added:
        home = _home(folder, site, line)
        reused = next((one for one in free if _is_beside(one.where, home)), None)
        if reused is not None:
            free.remove(reused)
            rows.sheet(CARDS, home).write(reused.where, _values(line))
        else:
            rows.sheet(CARDS, home).add(_values(line))
    for line in free:
        rows.sheet(CARDS, line.where).take_out(line.where)
    return rows.contents()


def _is_beside(one: Where, other: Where) -> bool:
    """Whether two places are in one sheet or CSV file."""
    return (one.file, one.sheet) == (other.file, other.sheet)


def _home(folder: Path, site: Site, line: CardLine) -> Where:
    """Where a new line belongs: with the lines of its card, or of its surgeon, or at the end of all."""
    same_card = [o for o in site.card_lines if (o.procedure, o.surgeon) == (line.procedure, line.surgeon)]
    same_surgeon = [o for o in site.card_lines if o.surgeon == line.surgeon] if not same_card else []
    for found in (same_card, same_surgeon, list(site.card_lines)):
        if found:
            return found[-1].where
    grid = read_folder(folder, Ledger()).grids[CARDS.name][0]  # the table has no line yet
    return Where(file=grid.file, sheet=grid.sheet)


def _values(line: CardLine) -> dict[str, Value]:
    """A line as the cells of a row, by what the columns declare."""
    return {one.name: _cell(one.name, getattr(line, one.field)) for one in CARDS.columns}


def _cell(column: str, value: Any) -> Value:
    if value is None and CARDS.column(column).every:
        return "every"
    if isinstance(value, tuple):
        return "; ".join(condition_words(one) for one in value) or None
    if isinstance(value, bool):
        return plain_text(value)
    return value.value if isinstance(value, StrEnum) else None if value == "" else value
