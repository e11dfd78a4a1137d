"""One card as a sheet that an office can fill in: what is boxed is theirs, the rest is protected."""

from __future__ import annotations

from typing import Any

from openpyxl.cell.cell import Cell
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from picklist.tables.book import lock_sheet, put_value, set_up_page
from picklist.upkeep.office_plan import MINE_COUNTS, NO_LONGER, BookPlan, RowPlan, RowUse, SheetPlan
from picklist.upkeep.office_style import (
    BOX,
    CENTRE,
    COLUMNS,
    FIXED,
    HEAD,
    HEAD_BORDER,
    HEAD_FILL,
    INPUT_FILL,
    LEFT,
    LETTERS,
    LINE_HEIGHT,
    OPEN_CELL,
    OWN,
    RULE,
    SHUT_CELL,
    SUBTITLE,
    TEXT,
    TITLE,
    lines_needed,
)

HEADER_ROW = 5
WHOSE = {
    True: "Bold lines are your own; a change counts for you alone.",
    False: "A change counts for every surgeon who has no line of their own.",
}
TOLD = (
    "Boxed cells are yours. Open: opened onto the field. Hold: in the room, unopened.",
    "To drop a line choose 'no longer', or write 0 under open and hold. New lines: the empty boxes below.",
)
ASK_TOLD = "Not in the list? Ask here: what, maker and number, how many, and why. It will be answered, not carted."
THEIRS = {
    RowUse.LINE: frozenset({"Name (number)", "Open", "Hold", "Note", "Your word"}),
    RowUse.NEW: frozenset({"What", "Name (number)", "Open", "Hold", "Note", "Only when"}),
    RowUse.ASK: frozenset({"Name (number)", "Open", "Hold", "Note"}),
    RowUse.FIXED: frozenset[str](),
}
# The whole list for an empty cell and for one that holds an entry; what begins as typed for anything else.
ITEM_LIST = (
    'IF(OR(ISNUMBER(MATCH($B{row},ItemNames,0)),COUNTIF(ItemNames,$B{row}&"*")=0),ItemNames,'
    'OFFSET(FirstItem,MATCH($B{row}&"*",ItemNames,0)-1,0,COUNTIF(ItemNames,$B{row}&"*"),1))'
)
NEW_LIST = 'IF($A{row}="tray",TrayNames,IF($A{row}="pack",PackNames,{items}))'
WHEN_CHOICES = '"side left,side right,alert latex,not alert latex,size child"'


def fill_card_sheet(sheet: Worksheet, plan: SheetPlan, book: BookPlan) -> None:
    """Fill an empty sheet with a card, its drop-downs, protection and print set-up."""
    _put_head(sheet, plan, book)
    number = HEADER_ROW
    told = False
    for row in plan.rows:
        number += 1
        if row.use is RowUse.ASK and not told:
            _put_ask_head(sheet, number)
            number, told = number + 1, True
        _put_row(sheet, number, row)
    _add_choices(sheet, plan)
    _strike_dropped(sheet, number)
    _protect(sheet)
    _set_up_print(sheet, book, number)


def row_numbers(plan: SheetPlan) -> tuple[int, ...]:
    """The sheet's row number of each planned row."""
    first_ask = next((n for n, row in enumerate(plan.rows) if row.use is RowUse.ASK), len(plan.rows))
    return tuple(HEADER_ROW + 1 + n + (1 if n >= first_ask else 0) for n in range(len(plan.rows)))


def _put_head(sheet: Worksheet, plan: SheetPlan, book: BookPlan) -> None:
    clock = book.site.settings.site_clock
    _text(sheet, "A1", plan.heading, TITLE)
    heading = f"{book.owner_name}, as of {clock.day_text(book.stamp.day)}, version {book.stamp.version}"
    _text(sheet, "A2", heading, SUBTITLE)
    first, second = TOLD
    whose = WHOSE[bool(book.owner.surgeon)]
    for number, text in enumerate((f"{first} {whose}", second), start=3):
        _text(sheet, f"A{number}", text, SUBTITLE)
    for column in COLUMNS:
        cell = _text(sheet, f"{LETTERS[column.name]}{HEADER_ROW}", column.name, HEAD)
        cell.fill, cell.border = HEAD_FILL, HEAD_BORDER
        cell.alignment = CENTRE if column.centred else LEFT
        dimension = sheet.column_dimensions[LETTERS[column.name]]
        dimension.width, dimension.hidden = column.width, column.hidden
    sheet.freeze_panes = f"C{HEADER_ROW + 1}"


def _put_ask_head(sheet: Worksheet, number: int) -> None:
    cell = _text(sheet, f"A{number}", ASK_TOLD, HEAD)
    cell.alignment = Alignment(vertical="bottom")
    sheet.row_dimensions[number].height = 2 * LINE_HEIGHT


def _put_row(sheet: Worksheet, number: int, row: RowPlan) -> None:
    values: dict[str, Any] = {
        "What": row.what,
        "Name (number)": row.name,
        "Open": row.open,
        "Hold": row.hold,
        "Note": row.note,
        "Your word": row.word,
        "Only when": row.only_when,
        "Comes from": row.comes_from,
        "Line": row.key,
        "As sent": row.mark,
    }
    shown = [column for column in COLUMNS if not column.hidden]
    bold = {column.name: row.own and column.name != "Comes from" for column in COLUMNS}
    lines = max(lines_needed(values[one.name], one.width, bold=bold[one.name]) for one in shown)
    sheet.row_dimensions[number].height = LINE_HEIGHT * lines + 2
    for column in COLUMNS:
        theirs = column.name in THEIRS[row.use]
        cell = sheet[f"{LETTERS[column.name]}{number}"]
        put_value(cell, values[column.name])
        cell.font = FIXED if row.use is RowUse.FIXED else OWN if bold[column.name] else TEXT
        cell.alignment = CENTRE if column.centred else LEFT
        cell.protection = OPEN_CELL if theirs else SHUT_CELL
        cell.border = BOX if theirs else RULE
        if theirs:
            cell.fill = INPUT_FILL
        if column.name in ("Name (number)", "Note", "As sent", "Line"):
            cell.number_format = "@"


def _text(sheet: Worksheet, place: str, text: str, font: Font) -> Cell:
    cell: Cell = sheet[place]
    put_value(cell, text)
    cell.font = font
    return cell


def _add_choices(sheet: Worksheet, plan: SheetPlan) -> None:
    rows = dict(zip(row_numbers(plan), plan.rows, strict=True))
    lines = {kind: [n for n, r in rows.items() if r.use is RowUse.LINE and r.what == kind] for kind in KINDS}
    new = [number for number, row in rows.items() if row.use is RowUse.NEW]
    theirs = [number for number, row in rows.items() if row.use is not RowUse.FIXED]
    _choose(sheet, "B", lines["tray"], "TrayNames")
    _choose(sheet, "B", lines["pack"], "PackNames")
    _choose(sheet, "B", lines["item"], ITEM_LIST, typing=True)
    _choose(sheet, "B", new, NEW_LIST.replace("{items}", ITEM_LIST), typing=True)
    _choose(sheet, "A", new, '"tray,pack,item"')
    _choose(sheet, "F", [n for n, r in rows.items() if r.use is RowUse.LINE], f'"{NO_LONGER},{MINE_COUNTS}"')
    _choose(sheet, "G", new, WHEN_CHOICES, typing=True)
    _count(sheet, theirs)


KINDS = ("tray", "pack", "item")


def _choose(sheet: Worksheet, letter: str, numbers: list[int], formula: str, *, typing: bool = False) -> None:
    """A drop-down. ``typing``: the cell may hold the beginning of an entry, by which the list is cut short."""
    if not numbers:
        return
    choice = DataValidation(type="list", formula1=formula.replace("{row}", str(numbers[0])), allow_blank=True)
    if typing:
        choice.promptTitle, choice.prompt = "Choose from the list", "Type the first letters, then open the list."
        choice.showErrorMessage, choice.showInputMessage = False, letter == "B" and "TrayNames" in formula
    else:
        choice.errorStyle, choice.showErrorMessage = "warning", True
        choice.errorTitle, choice.error = "Not in the list", "This is not in the list. Please choose from the list."
    for number in numbers:
        choice.add(f"{letter}{number}")
    sheet.add_data_validation(choice)


def _count(sheet: Worksheet, numbers: list[int]) -> None:
    rule = DataValidation(type="whole", operator="between", formula1="0", formula2="999", allow_blank=True)
    rule.errorTitle, rule.error, rule.showErrorMessage = "How many", "A whole number from 0 to 999, please.", True
    for number in numbers:
        rule.add(f"C{number}:D{number}")
    sheet.add_data_validation(rule)


def _strike_dropped(sheet: Worksheet, last: int) -> None:
    first = HEADER_ROW + 1
    dropped = (
        f'AND($B{first}<>"",OR($F{first}="{NO_LONGER}",AND($C{first}<>"",$D{first}<>"",N($C{first})=0,N($D{first})=0)))'
    )
    rule: Any = FormulaRule
    sheet.conditional_formatting.add(f"A{first}:E{last}", rule(formula=[dropped], font=Font(strike=True)))


def _protect(sheet: Worksheet) -> None:
    lock_sheet(sheet, "formatRows")


def _set_up_print(sheet: Any, book: BookPlan, last: int) -> None:
    margins = {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.6, "header": 0.25, "footer": 0.3}
    set_up_page(sheet, titles=f"{HEADER_ROW}:{HEADER_ROW}", paper=book.site.settings.paper, margins=margins)
    sheet.print_area = f"A1:H{last}"
    sheet.oddFooter.left.text = f"{book.owner_name}, version {book.stamp.version}".replace("&", "&&")
    sheet.oddFooter.center.text = "&A"
    sheet.oddFooter.right.text = "page &P of &N"
