"""How an office's sheet looks: every colour is doubled by a border, a typeface or a word."""

from __future__ import annotations

from collections.abc import Iterable

from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side

from picklist.tables.forms_schema import CARD_SHEET
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, line_above
from picklist.tables.sheet_flags import letters_of

NAME = "Arial"  # its widths are the same in the free fonts that stand in for it
INK, GREY, LINK_INK = "FF1A1A1A", "FF595959", "FF0B4F8A"
THIN, HAIR, THICK = Side("thin", color="FF808080"), Side("hair", color="FFB0B0B0"), Side("thick", color="FFB00020")
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
RULE = Border(bottom=HAIR)
TITLE = Font(name=NAME, size=16, bold=True, color=INK)
SUBTITLE = Font(name=NAME, size=11, color=GREY)
TEXT = Font(name=NAME, size=11, color=INK)
OWN = Font(name=NAME, size=11, bold=True, color=INK)
FIXED = Font(name=NAME, size=11, italic=True, color=GREY)
HEAD = Font(name=NAME, size=11, bold=True, color=INK)
LINK = Font(name=NAME, size=11, underline="single", color=LINK_INK)
HEAD_FILL = PatternFill("solid", fgColor="FFD9D9D9")
INPUT_FILL = PatternFill("solid", fgColor="FFFFF8DC")
NO_FILL = PatternFill()
WRONG_FILL = PatternFill("solid", fgColor="FFFFE3E3")
HEAD_BORDER = Border(top=THIN, bottom=Side("medium", color=INK))
WRONG_BORDER = Border(left=THICK, right=THICK, top=THICK, bottom=THICK)
LEFT = Alignment(horizontal="left", vertical="top", wrap_text=True)
CENTRE = Alignment(horizontal="center", vertical="top")
OPEN_CELL, SHUT_CELL = Protection(locked=False), Protection(locked=True)


COLUMNS = CARD_SHEET.columns
HIDDEN = frozenset({"Line", "As sent"})
CENTRED = frozenset({"Open", "Hold"})
LETTERS = {column.name: letters_of(place) for place, column in enumerate(COLUMNS)}

LINE_HEIGHT = 14.5  # points, of a line of text
CHARACTERS, BOLD_CHARACTERS = 1.1, 0.97  # that fit in a unit of width, on the safe side


def lines_needed(text: object, width: float, *, bold: bool = False) -> int:
    """How many lines a text takes in a cell that wraps at words."""
    lines, left = 1, int(width * (BOLD_CHARACTERS if bold else CHARACTERS))
    room = left
    for word in str(text or "").split():
        if len(word) > room and room < left:
            lines, room = lines + 1, left
        room -= len(word) + 1
        while room < -1:
            lines, room = lines + 1, room + left
    return lines


HEADING, LESS, PLAIN, STRONG = CellLook(font=TITLE), CellLook(font=SUBTITLE), CellLook(font=TEXT), CellLook(font=HEAD)
LINE = CellLook(font=TEXT, border=RULE, alignment=LEFT)
LINKED = CellLook(font=LINK, border=RULE, alignment=LEFT)
COLUMN_HEAD = CellLook(font=HEAD, fill=HEAD_FILL, border=HEAD_BORDER)


def head_row(text: str, look: CellLook, widths: Iterable[float]) -> LaidRow:
    """A line above a table."""
    taller = (look.font.size if look.font else TEXT.size) / TEXT.size
    lines = lines_needed(text, sum(widths) / taller, bold=True)
    return line_above(text, look, lines, taller * LINE_HEIGHT * lines + 2)


def wrapped_row(cells: tuple[LaidCell, ...], widths: tuple[float, ...]) -> LaidRow:
    """A row as high as its longest text needs."""
    needed = max(lines_needed(cell.value, width) for cell, width in zip(cells, widths, strict=True))
    return LaidRow(cells=cells, height=LINE_HEIGHT * needed + 2)
