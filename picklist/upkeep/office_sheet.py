"""One card as a sheet that an office can fill in: what is boxed is theirs, the rest is protected."""

from __future__ import annotations

from functools import cache

from openpyxl.styles import Alignment
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.tables.columns import Column
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, LaidSheet, Page, row_of
from picklist.upkeep import office_style as style
from picklist.upkeep.office_plan import MINE_COUNTS, NO_LONGER, BookPlan, RowPlan, RowUse, SheetPlan

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
    RowUse.LINE: frozenset({"Name (number)", "Open", "Hold", "Note", "Keep or drop"}),
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
KINDS = ("tray", "pack", "item")
DROPPED = 'AND($B{row}<>"",OR($F{row}="' + NO_LONGER + '",AND($C{row}<>"",$D{row}<>"",N($C{row})=0,N($D{row})=0)))'
ASK_HEAD = CellLook(font=style.HEAD, alignment=Alignment(vertical="bottom"))
HEADS = {
    centred: CellLook(
        font=style.HEAD, fill=style.HEAD_FILL, border=style.HEAD_BORDER, alignment=(style.LEFT, style.CENTRE)[centred]
    )
    for centred in (False, True)
}
WHEN_CHOICES = '"side left,side right,alert latex,not alert latex,size child"'


SHOWN = tuple(column.width for column in style.COLUMNS if column.name not in style.HIDDEN)


def card_sheet(plan: SheetPlan, book: BookPlan, title: str) -> LaidSheet:
    """A card's sheet with its drop-downs, protection and print set-up."""
    rows: list[LaidRow] = []
    for row in plan.rows:
        if row.use is RowUse.ASK and len(rows) == _lines(plan):
            rows.append(row_of([ASK_TOLD], ASK_HEAD, 2 * style.LINE_HEIGHT))
        rows.append(_laid(row))
    last = HEADER_ROW + len(rows)
    margins = {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.6, "header": 0.25, "footer": 0.3}
    foot = f"{book.owner_name}, version {book.stamp.version}".replace("&", "&&")
    return LaidSheet(
        name=title,
        widths=tuple(column.width for column in style.COLUMNS),
        rows=(*_head(plan, book), *rows),
        hidden=frozenset(place for place, column in enumerate(style.COLUMNS, start=1) if column.name in style.HIDDEN),
        freeze=f"C{HEADER_ROW + 1}",
        allowed=("formatRows",),
        choices=_choices(plan),
        strikes=((f"A{HEADER_ROW + 1}:E{last}", DROPPED.format(row=HEADER_ROW + 1)),),
        page=Page(
            titles=f"{HEADER_ROW}:{HEADER_ROW}",
            area=f"A1:H{last}",
            paper=book.site.settings.paper,
            margins=margins,
            foot=(foot, "&A", "page &P of &N"),
        ),
    )


def _lines(plan: SheetPlan) -> int:
    """How many rows stand before those in which something is asked for."""
    return next((n for n, row in enumerate(plan.rows) if row.use is RowUse.ASK), len(plan.rows))


def row_numbers(plan: SheetPlan) -> tuple[int, ...]:
    """The sheet's row number of each planned row."""
    first_ask = _lines(plan)
    return tuple(HEADER_ROW + 1 + n + (1 if n >= first_ask else 0) for n in range(len(plan.rows)))


def _head(plan: SheetPlan, book: BookPlan) -> tuple[LaidRow, ...]:
    clock = book.site.settings.site_clock
    heading = f"{book.owner_name}, as of {clock.day_text(book.stamp.day)}, version {book.stamp.version}"
    first, second = TOLD
    heads = (LaidCell(value=one.name, look=HEADS[one.name in style.CENTRED]) for one in style.COLUMNS)
    return (
        style.head_row(plan.heading, style.HEADING, SHOWN),
        style.head_row(heading, style.LESS, SHOWN),
        *(row_of([text], style.LESS) for text in (f"{first} {WHOSE[bool(book.owner.surgeon)]}", second)),
        LaidRow(cells=tuple(heads)),
    )


def _laid(row: RowPlan) -> LaidRow:
    laid = tuple((column, row.cells.get(column.name)) for column in style.COLUMNS)
    lines = max(
        style.lines_needed(value, column.width, bold=row.own and column.name != "Comes from")
        for column, value in laid
        if column.name not in style.HIDDEN
    )
    cells = tuple(LaidCell(value=value, look=_look(row.use, row.own, column)) for column, value in laid)
    return LaidRow(cells=cells, height=style.LINE_HEIGHT * lines + 2)


@cache
def _look(use: RowUse, own: bool, column: Column) -> CellLook:
    theirs = column.name in THEIRS[use]
    bold = own and column.name != "Comes from"
    return CellLook(
        font=style.FIXED if use is RowUse.FIXED else style.OWN if bold else style.TEXT,
        alignment=style.CENTRE if column.name in style.CENTRED else style.LEFT,
        border=style.BOX if theirs else style.RULE,
        fill=style.INPUT_FILL if theirs else None,
        format="@" if column.name in ("Name (number)", "Note", "As sent", "Line") else "General",
        open=theirs,
    )


def _choices(plan: SheetPlan) -> tuple[DataValidation, ...]:
    rows = dict(zip(row_numbers(plan), plan.rows, strict=True))
    sent = {number: row.cells.get("What") for number, row in rows.items() if row.use is RowUse.LINE}
    lines = {kind: [number for number, what in sent.items() if what == kind] for kind in KINDS}
    new = [number for number, row in rows.items() if row.use is RowUse.NEW]
    theirs = [number for number, row in rows.items() if row.use is not RowUse.FIXED]
    made = (
        _choose("B", lines["tray"], "TrayNames"),
        _choose("B", lines["pack"], "PackNames"),
        _choose("B", lines["item"], ITEM_LIST, typing=True),
        _choose("B", new, NEW_LIST.replace("{items}", ITEM_LIST), typing=True),
        _choose("A", new, '"tray,pack,item"'),
        _choose("F", [*sent], f'"{NO_LONGER},{MINE_COUNTS}"'),
        _choose("G", new, WHEN_CHOICES, typing=True),
        _count(theirs),
    )
    return tuple(one for one in made if one is not None)


def _choose(letter: str, numbers: list[int], formula: str, *, typing: bool = False) -> DataValidation | None:
    """A drop-down. ``typing``: the cell may hold the beginning of an entry, by which the list is cut short."""
    if not numbers:
        return None
    choice = DataValidation(type="list", formula1=formula.replace("{row}", str(numbers[0])), allow_blank=True)
    if typing:
        choice.promptTitle, choice.prompt = "Choose from the list", "Type the first letters, then open the list."
        choice.showErrorMessage, choice.showInputMessage = False, letter == "B" and "TrayNames" in formula
    else:
        choice.errorStyle, choice.showErrorMessage = "warning", True
        choice.errorTitle, choice.error = "Not in the list", "This is not in the list. Please choose from the list."
    for number in numbers:
        choice.add(f"{letter}{number}")
    return choice


def _count(numbers: list[int]) -> DataValidation:
    rule = DataValidation(type="whole", operator="between", formula1="0", formula2="999", allow_blank=True)
    rule.errorTitle, rule.error, rule.showErrorMessage = "How many", "A whole number from 0 to 999, please.", True
    for number in numbers:
        rule.add(f"C{number}:D{number}")
    return rule
