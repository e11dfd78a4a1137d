"""The workbook of one surgeon's office (or of a service): a card a sheet, and a first sheet that explains."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.workbook.protection import WorkbookProtection
from openpyxl.worksheet.worksheet import Worksheet

from picklist.model.cards import ThingKind
from picklist.model.site import Site
from picklist.tables.book import WRAPPED, put_value, settled_bytes
from picklist.tables.files import write_file
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, LaidSheet, Page, lay_out, row_of
from picklist.upkeep import office_style as style
from picklist.upkeep.change_log import AnsweredRequest
from picklist.upkeep.office_plan import BookPlan, SheetPlan, plan_office_book
from picklist.upkeep.office_sheet import card_sheet
from picklist.upkeep.owners import Owner
from picklist.upkeep.stamps import STAMP_SHEET, WorkbookStamp, keep_known_texts, row_mark
from picklist.wording.lists import AID

FIRST_SHEET, LIST_SHEET, TOLD_SHEET, ANSWERS_SHEET = "Start here", "Lists", "Your requests", "Answers"
FIRST_WIDTHS = (20.0, 52.0, 12.0, 12.0, 20.0)  # characters
BAD_IN_TITLE = str.maketrans(dict.fromkeys("[]:*?/\\", "-"))
LIST_COLUMNS = {
    ThingKind.TRAY: ("A", "TrayNames"),
    ThingKind.PACK: ("B", "PackNames"),
    ThingKind.ITEM: ("C", "ItemNames"),
}
HOW_TO = (
    ("Boxed cells", "are yours to change. Everything else is protected."),
    ("Open, hold", "open: opened onto the field; hold: in the room, unopened."),
    ("Drop a line", "choose 'no longer' under 'Keep or drop', or write 0 under open and hold."),
    ("Bring a line back", "empty 'Keep or drop' and write how many under open or hold."),
    ("Another thing", "choose it over the old one under Name (number)."),
    ("A new line", "use the empty boxes under the lines; type the first letters, then open the list."),
    ("Not in the list", "ask in the area at the foot of the sheet."),
    ("No patients", "never write a patient's name, number or date of birth anywhere in this workbook."),
)
WHOSE_SURGEON = (
    "Bold lines are your own. Lines of the base card count for every surgeon; a change here is for you alone."
)
WHOSE_SERVICE = "These are the base cards: a change here counts for every surgeon who has no line of their own."
TOLD_TITLE = "What you asked for, and the answers"
BOXED = CellLook(font=style.HEAD, fill=style.INPUT_FILL, border=style.BOX)
SIDES = [Alignment(horizontal=side) for side in ("left", "left", "center", "center", "center")]
INDEX_HEADS = [
    CellLook(font=style.HEAD, fill=style.HEAD_FILL, border=style.HEAD_BORDER, alignment=one) for one in SIDES
]
INDEX = (
    CellLook(font=style.LINK, border=style.RULE, alignment=SIDES[0]),
    CellLook(font=style.TEXT, border=style.RULE, alignment=Alignment(horizontal="left", wrap_text=True)),
    *(CellLook(font=style.TEXT, border=style.RULE, alignment=one) for one in SIDES[2:]),
)
CAUTION = f"Nothing counts before it is approved. {AID}"


def write_office_workbook(
    site: Site,
    owner: Owner,
    path: Path,
    *,
    day: date,
    told: tuple[AnsweredRequest, ...] = (),
) -> WorkbookStamp:
    """Write the workbook of an owner as the cards are on ``day``, completely or not at all, and give its stamp.

    ``told`` are answers to what the office asked for before. The same site, owner, day and answers give the same
    bytes. Raises OSError, BusyError.
    """
    plan = replace(plan_office_book(site, owner, day), told=told)
    write_file(path, office_bytes(plan))
    return plan.stamp


def office_bytes(plan: BookPlan) -> bytes:
    """The workbook of a plan as a file; the same plan gives the same bytes."""
    return settled_bytes(make_book(plan))


def make_book(plan: BookPlan) -> Workbook:
    """The workbook of a plan, not yet saved."""
    workbook = Workbook()
    styles: Any = workbook
    styles._named_styles["Normal"].font = Font(name=style.NAME, size=10)  # column widths are counted in its digits
    titles = sheet_titles(plan)
    workbook.remove(workbook.worksheets[0])
    lay_out(workbook, _first_sheet(plan, titles))
    if plan.told:
        lay_out(workbook, _told_sheet(plan))
    for sheet_plan, title in zip(plan.sheets, titles, strict=True):
        lay_out(workbook, card_sheet(sheet_plan, plan, title))
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


def _first_sheet(plan: BookPlan, titles: tuple[str, ...]) -> LaidSheet:
    clock = plan.site.settings.site_clock
    made = f"the cards as of {clock.day_text(plan.stamp.day)}; version {plan.stamp.version}"
    (boxed, told), *others = HOW_TO
    rows = (
        row_of(["Preference cards"], style.HEADING),
        style.head_row(f"{plan.site.settings.site}: {plan.owner_name}", style.STRONG, FIRST_WIDTHS),
        row_of([made], style.LESS),
        LaidRow(),
        LaidRow(cells=(LaidCell(value=boxed, look=BOXED), LaidCell(value=told, look=style.PLAIN))),
        *(
            LaidRow(cells=(LaidCell(value=one, look=style.STRONG), LaidCell(value=text, look=style.PLAIN)))
            for one, text in others
        ),
        *_wide(WHOSE_SERVICE if plan.owner.service else WHOSE_SURGEON),
        *_wide(CAUTION),
        LaidRow(),
        *_index(plan, titles),
    )
    return LaidSheet(name=FIRST_SHEET, widths=FIRST_WIDTHS, rows=rows, allowed=(), page=_page(plan, portrait=True))


def _wide(text: str) -> tuple[LaidRow, ...]:
    look = CellLook(font=style.TEXT, alignment=WRAPPED)
    return LaidRow(), LaidRow(cells=(LaidCell(value=text, look=look),), height=32, joined=True)


def _told_sheet(plan: BookPlan) -> LaidSheet:
    """What the office asked for before, and what came of it."""
    clock = plan.site.settings.site_clock
    widths = (18.0, 30.0, 48.0, 48.0)
    told = (
        tuple(
            LaidCell(value=value, look=style.LINE) for value in (clock.day_text(one.on), one.card, one.text, one.answer)
        )
        for one in plan.told
    )
    rows = (
        row_of([TOLD_TITLE], style.HEADING),
        LaidRow(),
        row_of(("On", "Card", "You asked for", "Answer"), style.COLUMN_HEAD),
        *(style.wrapped_row(cells, widths) for cells in told),
    )
    return LaidSheet(name=TOLD_SHEET, widths=widths, rows=rows, allowed=(), page=_page(plan, portrait=False))


def _index(plan: BookPlan, titles: tuple[str, ...]) -> Iterator[LaidRow]:
    heads = zip(INDEX_HEADS, ("Sheet", "Card", "Lines", "Own lines", "Last own date"), strict=True)
    yield LaidRow(cells=tuple(LaidCell(value=head, look=look) for look, head in heads))
    for one, title in zip(plan.sheets, titles, strict=True):
        values = (one.heading, one.count(own=False), one.count(own=True), _reviewed(plan, one))
        cells = (LaidCell(value=value, look=look) for value, look in zip(values, INDEX[1:], strict=True))
        yield style.wrapped_row((LaidCell(value=title, look=INDEX[0], link=(title, "A1")), *cells), FIRST_WIDTHS)
    if plan.told:
        link = LaidCell(value=TOLD_SHEET, look=CellLook(font=style.LINK), link=(TOLD_SHEET, "A1"))
        yield LaidRow(cells=(link, LaidCell(value=TOLD_TITLE, look=style.PLAIN)))


def _reviewed(plan: BookPlan, sheet: SheetPlan) -> str:
    return plan.site.settings.site_clock.day_text(sheet.reviewed) if sheet.reviewed else "no date"


def _page(plan: BookPlan, *, portrait: bool) -> Page:
    margins = {"top": 0.6, "bottom": 0.8, "left": 0.5, "right": 0.5}
    paper = plan.site.settings.paper
    return Page(paper=paper, portrait=portrait, margins=margins, foot=("", "", "page &P of &N"))


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
    """The stamp once more, apart from the rows, so that deleted and mangled rows are noticed."""
    sheet.sheet_state = "hidden"
    for number, row in enumerate(plan.stamp.rows, start=1):
        put_value(sheet.cell(number, 1), row_mark(plan.stamp, row))
    sheet.protection.sheet = True
