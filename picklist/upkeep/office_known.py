"""What stood in the protected cells of an office's workbook, kept in it, so that what was typed later is told apart."""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook

from picklist.tables.book import put_value
from picklist.tables.cells import tidy
from picklist.upkeep.office_style import AUTHOR

STAMP_SHEET = "Stamp"
KNOWN = "text "


def load_office_book(path: Path, *, rich: bool = False) -> Workbook:
    """An office's workbook; ``rich``: with the looks of parts of a text."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what the library does not keep of other programs' extras
        with path.open("rb") as file:  # a file object: the library would look at the name's ending
            return load_workbook(file, keep_vba=path.suffix.lower() == ".xlsm", rich_text=rich)


def written_cells(sheet: Any) -> list[Any]:
    """The cells that a sheet holds, row by row; going by its outermost cell could mean millions."""
    return [sheet._cells[place] for place in sorted(sheet._cells)]


def is_filled(cell: Any) -> bool:
    """Whether a cell holds anything to see."""
    return cell.value is not None and tidy(str(cell.value)) != ""


def keep_known_texts(workbook: Workbook, titles: Iterable[str]) -> None:
    """Note what stands in the protected cells of some sheets and in our own notes, beside what was noted before."""
    known = known_texts(workbook) or set()
    for title in titles:
        cells = written_cells(workbook[title])
        known |= {text_mark(cell.value) for cell in cells if is_filled(cell) and cell.protection.locked}
    for sheet in workbook.worksheets:
        known |= {text_mark(cell.comment.text) for cell in written_cells(sheet) if is_ours(cell.comment, known)}
    stamp: Any = workbook[STAMP_SHEET]
    for number, text in enumerate(sorted(known), start=1):
        put_value(stamp.cell(number, 2), KNOWN + text)


def known_texts(workbook: Workbook) -> set[str] | None:
    """Marks of the texts that stood in protected cells; None in a workbook that does not say."""
    if STAMP_SHEET not in workbook.sheetnames:
        return None
    cells = (cell.value for cell in written_cells(workbook[STAMP_SHEET]) if cell.column == 2)
    found = {text.removeprefix(KNOWN) for text in cells if isinstance(text, str) and text.startswith(KNOWN)}
    return found or None


def is_ours(comment: Any, known: set[str] | None) -> bool:
    """Whether a note on a cell is one of the program's; other programs drop its author."""
    return comment is not None and (comment.author == AUTHOR or text_mark(comment.text) in (known or ()))


def text_mark(value: object) -> str:
    """A short mark of what a cell holds."""
    return hashlib.sha256(tidy(str(value)).encode()).hexdigest()[:10]
