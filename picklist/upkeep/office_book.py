"""The workbook of one surgeon's office (or of a service): a card a sheet, and a first sheet that explains."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.workbook.protection import WorkbookProtection
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.worksheet import Worksheet

from picklist.cautions import AID
from picklist.model.cards import ThingKind
from picklist.model.site import Site
from picklist.tables.book import lock_sheet, put_value, save_settled, set_up_page
from picklist.upkeep.change_log import AnsweredRequest
from picklist.upkeep.office_plan import BookPlan, SheetPlan, plan_office_book
from picklist.upkeep.office_sheet import fill_card_sheet
from picklist.upkeep.office_style import (
    BOX,
    HEAD,
    HEAD_BORDER,
    HEAD_FILL,
    INPUT_FILL,
    LINE_HEIGHT,
    LINK,
    NAME,
    RULE,
    SUBTITLE,
    TEXT,
    TITLE,
    lines_needed,
)
from picklist.upkeep.owners import Owner
from picklist.upkeep.stamps import STAMP_SHEET, WorkbookStamp, keep_known_texts, row_mark

FIRST_SHEET, LIST_SHEET, TOLD_SHEET, ANSWERS_SHEET = "Start here", "Lists", "Your requests", "Answers"
BAD_IN_TITLE = str.maketrans(dict.fromkeys("[]:*?/\\", "-"))
LIST_COLUMNS = {
    ThingKind.TRAY: ("A", "TrayNames"),
    ThingKind.PACK: ("B", "PackNames"),
    ThingKind.ITEM: ("C", "ItemNames"),
}
HOW_TO = (
    ("Boxed cells", "are yours to change. Everything else is protected."),
    ("Open, hold", "open: opened onto the field; hold: in the room, unopened."),
    ("Drop a line", "choose 'no longer' under Your word, or write 0 under open and hold."),
    ("Bring a line back", "empty Your word and write how many under open or hold."),
    ("Another thing", "choose it over the old one under Name (number)."),
    ("A new line", "use the empty boxes under the lines; type the first letters, then open the list."),
    ("Not in the list", "ask in the area at the foot of the sheet."),
    ("No patients", "never write a patient's name, number or date of birth anywhere in this workbook."),
)
WHOSE_SURGEON = (
    "Bold lines are your own. Lines of the base card count for every surgeon; a change here is for you alone."
)
WHOSE_SERVICE = "These are the base cards: a change here counts for every surgeon who has no line of their own."
CAUTION = f"Nothing counts before it is approved. {AID}"


def write_office_workbook(
    site: Site,
    owner: Owner,
    path: Path,
    *,
    day: date,
    procedures: tuple[str, ...] = (),
    told: tuple[AnsweredRequest, ...] = (),
) -> WorkbookStamp:
    """Write the workbook of an owner as the cards stand on ``day``, and give its stamp.

    ``procedures`` are taken in even if the owner has neither lines nor cases of them; ``told`` are
    answers to what the office asked for before. The same site, owner, day and answers give the same bytes.
    """
    plan = replace(plan_office_book(site, owner, day, procedures), told=told)
    write_book(plan, path)
    return plan.stamp


def write_book(plan: BookPlan, path: Path) -> None:
    """Write a planned workbook."""
    save_settled(make_book(plan), path)


def make_book(plan: BookPlan) -> Workbook:
    """The workbook of a plan, not yet saved."""
    workbook = Workbook()
    styles: Any = workbook
    styles._named_styles["Normal"].font = Font(name=NAME, size=10)  # column widths are counted in its digits
    first = workbook.active
    assert isinstance(first, Worksheet)
    first.title = FIRST_SHEET
    titles = sheet_titles(plan)
    _fill_first(first, plan, titles)
    if plan.told:
        _fill_told(workbook.create_sheet(TOLD_SHEET), plan)
    for sheet_plan, title in zip(plan.sheets, titles, strict=True):
        fill_card_sheet(workbook.create_sheet(title), sheet_plan, plan)
    _fill_lists(workbook, plan)
    _fill_stamp(workbook.create_sheet(STAMP_SHEET), plan)
    keep_known_texts(workbook, (one for one in workbook.sheetnames if one not in (LIST_SHEET, STAMP_SHEET)))
    workbook.security = WorkbookProtection(lockStructure=True)
    return workbook


def sheet_titles(plan: BookPlan) -> tuple[str, ...]:
    """A title for each card's sheet: its procedure's id, as far as a spreadsheet program allows it."""
    taken = {one.casefold() for one in (FIRST_SHEET, LIST_SHEET, STAMP_SHEET, TOLD_SHEET, ANSWERS_SHEET)}
    titles = []
    for sheet in plan.sheets:
        title = base = sheet.title.translate(BAD_IN_TITLE).strip("' ")[:31] or "Card"
        number = 1
        while title.casefold() in taken:
            number += 1
            title = f"{base[: 30 - len(str(number))]} {number}"
        taken.add(title.casefold())
        titles.append(title)
    return tuple(titles)


def _fill_first(sheet: Worksheet, plan: BookPlan, titles: tuple[str, ...]) -> None:
    clock = plan.site.settings.site_clock
    for letter, width in {"A": 20, "B": 52, "C": 12, "D": 12, "E": 20}.items():
        sheet.column_dimensions[letter].width = width
    sheet["A1"], sheet["A1"].font = "Preference cards", TITLE
    put_value(sheet["A2"], f"{plan.site.settings.site}: {plan.owner_name}")
    sheet["A2"].font = HEAD
    made = f"as the cards stand on {clock.day_text(plan.stamp.day)}; version {plan.stamp.version}"
    sheet["A3"], sheet["A3"].font = made, SUBTITLE
    row = 5
    for head, text in HOW_TO:
        sheet[f"A{row}"], sheet[f"B{row}"] = head, text
        sheet[f"A{row}"].font, sheet[f"B{row}"].font = HEAD, TEXT
        row += 1
    sheet["A5"].fill, sheet["A5"].border = INPUT_FILL, BOX
    row -= 1
    for text in (WHOSE_SERVICE if plan.owner.service else WHOSE_SURGEON, CAUTION):
        row = _put_wide(sheet, row + 2, text)
    _fill_index(sheet, plan, titles, row + 2)
    lock_sheet(sheet)
    _portrait(sheet, plan)


def _fill_told(sheet: Worksheet, plan: BookPlan) -> None:
    """What the office asked for before, and what came of it."""
    clock = plan.site.settings.site_clock
    heads = {"A": ("On", 18), "B": ("Card", 30), "C": ("You asked for", 48), "D": ("Answer", 48)}
    sheet["A1"], sheet["A1"].font = "What you asked for, and the answers", TITLE
    for letter, (head, width) in heads.items():
        sheet.column_dimensions[letter].width = width
        cell = sheet[f"{letter}3"]
        cell.value, cell.font, cell.fill, cell.border = head, HEAD, HEAD_FILL, HEAD_BORDER
    for row, one in enumerate(plan.told, start=4):
        values = (clock.day_text(one.on), one.card, one.text, one.answer)
        for (letter, _), value in zip(heads.items(), values, strict=True):
            cell = sheet[f"{letter}{row}"]
            put_value(cell, value)
            cell.font, cell.border = TEXT, RULE
            cell.alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
        needed = max(lines_needed(value, width) for value, (_, width) in zip(values, heads.values(), strict=True))
        sheet.row_dimensions[row].height = LINE_HEIGHT * needed + 2
    lock_sheet(sheet)
    _portrait(sheet, plan)
    sheet.page_setup.orientation = "landscape"


def _put_wide(sheet: Worksheet, row: int, text: str) -> int:
    sheet.merge_cells(f"A{row}:E{row}")
    sheet[f"A{row}"], sheet[f"A{row}"].font = text, TEXT
    sheet[f"A{row}"].alignment = Alignment(wrap_text=True, vertical="top")
    sheet.row_dimensions[row].height = 32
    return row


def _fill_index(sheet: Worksheet, plan: BookPlan, titles: tuple[str, ...], row: int) -> None:
    for letter, head in zip("ABCDE", ("Sheet", "Card", "Lines", "Own lines", "Last own date"), strict=True):
        cell = sheet[f"{letter}{row}"]
        cell.value, cell.font, cell.fill, cell.border = head, HEAD, HEAD_FILL, HEAD_BORDER
        cell.alignment = Alignment(horizontal="left" if letter in "AB" else "center")
    for one, title in zip(plan.sheets, titles, strict=True):
        row += 1
        values = (title, one.heading, one.count(own=False), one.count(own=True), _reviewed(plan, one))
        for letter, value in zip("ABCDE", values, strict=True):
            cell = sheet[f"{letter}{row}"]
            put_value(cell, value)
            cell.font, cell.border = TEXT, RULE
            cell.alignment = Alignment(horizontal="left" if letter in "AB" else "center", wrap_text=letter == "B")
        quoted = title.replace("'", "''")
        sheet[f"A{row}"].hyperlink = Hyperlink(ref=f"A{row}", location=f"'{quoted}'!A1")
        sheet[f"A{row}"].font = LINK
    if plan.told:
        row += 1
        sheet[f"A{row}"], sheet[f"A{row}"].font = TOLD_SHEET, LINK
        sheet[f"A{row}"].hyperlink = Hyperlink(ref=f"A{row}", location=f"'{TOLD_SHEET}'!A1")
        sheet[f"B{row}"], sheet[f"B{row}"].font = "What you asked for, and the answers", TEXT


def _reviewed(plan: BookPlan, sheet: SheetPlan) -> str:
    return plan.site.settings.site_clock.day_text(sheet.reviewed) if sheet.reviewed else "no date"


def _portrait(sheet: Any, plan: BookPlan) -> None:
    margins = {"top": 0.6, "bottom": 0.8, "left": 0.5, "right": 0.5}
    set_up_page(sheet, paper=plan.site.settings.paper, portrait=True, margins=margins)
    sheet.oddFooter.right.text = "page &P of &N"


def _fill_lists(workbook: Workbook, plan: BookPlan) -> None:
    sheet = workbook.create_sheet(LIST_SHEET)
    sheet.sheet_state = "hidden"
    for kind, (letter, name) in LIST_COLUMNS.items():
        texts = plan.entries.listed[kind] or ("(none)",)
        for number, text in enumerate(texts, start=1):
            put_value(sheet[f"{letter}{number}"], text)
        place = f"{LIST_SHEET}!${letter}$1:${letter}${len(texts)}"
        workbook.defined_names[name] = DefinedName(name, attr_text=place)
    workbook.defined_names["FirstItem"] = DefinedName("FirstItem", attr_text=f"{LIST_SHEET}!$C$1")
    sheet.protection.sheet = True


def _fill_stamp(sheet: Worksheet, plan: BookPlan) -> None:
    """The stamp once more, apart from the rows, so that deleted and mangled rows can be told."""
    sheet.sheet_state = "hidden"
    for number, row in enumerate(plan.stamp.rows, start=1):
        put_value(sheet.cell(number, 1), row_mark(plan.stamp, row))
    sheet.protection.sheet = True
