"""The one writer of laid-out sheets: what a sheet is to look like is declared, and put into a workbook here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink

from picklist.settings import Paper
from picklist.tables.book import WRAPPED, put_value
from picklist.wording.lists import AID

AUTHOR = "picklist"  # of notes on cells
SIZES = {Paper.A4: "9", Paper.LETTER: "1"}  # ECMA-376 part 1, 18.3.1.63
CAUTION = f"{AID} · Page &P of &N"  # one line: not every program reads an encoded line break


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellLook:
    """How cells look, and whether they are ``open`` in a sheet that is locked. Declare one for many cells."""

    font: Font | None = None
    fill: PatternFill | None = None
    border: Border | None = None
    alignment: Alignment | None = None
    format: str = "General"
    open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidCell:
    """A cell: its value (a text stays a text), its look, a note on it, and the place in this workbook it leads to."""

    value: Any = None
    look: CellLook | None = None
    note: str = ""
    note_size: tuple[int, int] = (320, 150)  # width and height, points
    link: tuple[str, str] | None = None  # sheet, cell


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidRow:
    """A row of cells; ``height`` in points; ``joined``: its first cell is as wide as the sheet."""

    cells: tuple[LaidCell | None, ...] = ()
    height: float | None = None
    joined: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """How a sheet prints: rows on top of each page, the part that prints, margins in inches, and the foot.

    ``foot`` are the texts on the left, in the middle and on the right; None prints the cautions.
    """

    titles: str = ""
    area: str = ""
    paper: Paper | None = None
    portrait: bool = False
    margins: Mapping[str, float] = field(default_factory=dict)
    foot: tuple[str, str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidSheet:
    """A declared sheet. ``widths`` in characters, from the first column on; ``hidden`` are numbers of columns.

    ``formats`` are the number formats of whole columns, for what is still to be written there.

    ``allowed`` is what whoever fills it in may do though it is locked (names of openpyxl); None leaves it open.
    ``strikes`` are (range, formula) of cells that are struck through while the formula holds.
    """

    name: str
    widths: tuple[float, ...]
    rows: Iterable[LaidRow]
    formats: tuple[str, ...] = ()
    hidden: frozenset[int] = frozenset()
    freeze: str = ""
    filters: str = ""
    row_height: float | None = None
    allowed: tuple[str, ...] | None = None
    choices: tuple[DataValidation, ...] = ()
    strikes: tuple[tuple[str, str], ...] = ()
    page: Page | None = None


def row_of(values: Iterable[Any], look: CellLook | None = None, height: float | None = None) -> LaidRow:
    """A row in which all cells look alike."""
    return LaidRow(cells=tuple(LaidCell(value=one, look=look) for one in values), height=height)


def line_above(text: str, look: CellLook, lines: int, height: float) -> LaidRow:
    """What is above a table; one that takes several lines goes on below, so that print is not made small to fit it.

    ``height`` in points is that of all its lines.
    """
    if lines == 1:
        return row_of([text], look)
    return replace(row_of([text], replace(look, alignment=WRAPPED), height), joined=True)


def lay_out(book: Workbook, declared: LaidSheet, at: int | None = None) -> Any:
    """Put a declared sheet into a workbook, behind its other sheets or at a place (0 is the first), and give it."""
    sheet: Any = book.create_sheet(declared.name, at)
    _columns(sheet, declared)
    if declared.freeze:
        sheet.freeze_panes = declared.freeze
    if declared.filters:
        sheet.auto_filter.ref = declared.filters
    if declared.row_height:
        sheet.sheet_format.defaultRowHeight, sheet.sheet_format.customHeight = declared.row_height, True
    if declared.allowed is not None:  # locked against slips, without a password; columns may be made wider
        sheet.protection.sheet = True
        for one in ("formatColumns", *declared.allowed):
            setattr(sheet.protection, one, False)
    if declared.page:
        _print_set_up(sheet, declared.page)
    styles: dict[CellLook, Any] = {}
    for number, row in enumerate(declared.rows, start=1):
        if row.height:
            sheet.row_dimensions[number].height = row.height
        if row.joined:
            sheet.merged_cells.add(f"A{number}:{get_column_letter(len(declared.widths))}{number}")
        sheet.append([cell and _cell(sheet, (number, place), cell, styles) for place, cell in enumerate(row.cells, 1)])
    for choice in declared.choices:
        sheet.data_validations.append(choice)
    for cells, formula in declared.strikes:
        rule: Any = FormulaRule
        sheet.conditional_formatting.add(cells, rule(formula=[formula], font=Font(strike=True)))
    return sheet


def _columns(sheet: Any, declared: LaidSheet) -> None:
    for number, width in enumerate(declared.widths, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    for number, form in enumerate(declared.formats, start=1):
        sheet.column_dimensions[get_column_letter(number)].number_format = form
    for number in declared.hidden:
        sheet.column_dimensions[get_column_letter(number)].hidden = True


def _print_set_up(sheet: Any, page: Page) -> None:
    """Print a sheet as wide as the page."""
    sheet.page_setup.orientation = "portrait" if page.portrait else "landscape"
    if page.paper:
        sheet.page_setup.paperSize = SIZES[page.paper]
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    if page.titles:
        sheet.print_title_rows = page.titles
    for side, inches in page.margins.items():
        setattr(sheet.page_margins, side, inches)
    if page.area:
        sheet.print_area = page.area
    foot = sheet.oddFooter
    if page.foot is None:
        foot.center.text, foot.center.size = CAUTION, 8
        return
    for part, text in zip((foot.left, foot.center, foot.right), page.foot, strict=True):
        part.text = text or None


def _cell(sheet: Any, place: tuple[int, int], laid: LaidCell, styles: dict[CellLook, Any]) -> Any:
    """A cell; what a look comes to in the workbook is looked up once and not for each cell."""
    row, column = place
    if laid.look is not None and laid.look not in styles:
        styles[laid.look] = _dressed(Cell(sheet, 1, 1), laid.look)._style
    cell: Any = Cell(sheet, row, column, style_array=styles[laid.look] if laid.look else None)
    put_value(cell, laid.value)
    if laid.note:
        width, height = laid.note_size
        cell.comment = Comment(laid.note, AUTHOR, width=width, height=height)
    if laid.link:
        title = laid.link[0].replace("'", "''")
        cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{title}'!{laid.link[1]}")
    return cell


def _dressed(cell: Any, look: CellLook) -> Any:
    for name in ("font", "fill", "border", "alignment"):
        part = getattr(look, name)
        if part is not None:
            setattr(cell, name, part)
    cell.number_format = look.format
    if look.open:
        cell.protection = Protection(locked=False)
    return cell
