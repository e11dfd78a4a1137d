"""What the fast reader does not see in a sheet: errors, formulas never computed, hidden and struck rows, merged cells.

A quick look at the bytes tells whether there is anything to find; only then is the XML read.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from picklist.tables.xlsx_parts import cell_formats, month_styles, sheet_parts, struck_styles, walk_xml

SIGNS = (b't="e"', b'hidden="', b"<f>", b"<f ", b"<f/", b":f>", b":f ", b":f/", b"mergeCell", b"<!DOCTYPE")
STYLED = b' s="'
STYLES, STRIKE = "xl/styles.xml", b"strike"
LAST_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*\br="(\d+)"')
# Any other reference than one up to column ZZ and row 999999; such a sheet is read cell by cell. Patterns and
# texts that begin with plain letters are found some ten times as fast as others.
ODD_REFERENCE = re.compile(rb' r(?!="[A-Z]{0,2}[0-9]{1,6}")\s*=')
AFTER_A_BREAK = re.compile(rb"[\t\r\n]r\s*=")
AFTER_A_QUOTE = (b'"r=', b"'r=")
BEGINNING = 256  # the declaration, after which many programs break the line
ZEROS = re.compile(r"0{2,}")
REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
LAST_CELL = (1_048_576, 16_384)  # rows and columns of a sheet (ECMA-376; its last cell is XFD1048576)


class NoSuchCellError(Exception):
    """A reference to a cell that no sheet can have."""


@dataclass(slots=True)
class SheetFlags:
    """Places are (row, column), 0-based; ``zeros`` are numbers shown with leading zeros and how many digits.

    ``struck`` are filled cells that are struck through, ``months`` numbers shown as a month and its year.

    ``no_such_cell``: a reference in the sheet to a cell that no sheet can have. The fast reader must not
    see such a sheet: it ends the whole program.
    """

    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    uncomputed: set[tuple[int, int]] = field(default_factory=set)
    zeros: dict[tuple[int, int], int] = field(default_factory=dict)
    struck: set[tuple[int, int]] = field(default_factory=set)
    months: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    cells: int = 0
    last: tuple[int, int] = (-1, -1)
    no_such_cell: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _ShownStyles:
    """Cell styles, by their numbers, that say more than the value of a cell; see ``SheetFlags``."""

    zeros: dict[int, int]
    struck: frozenset[int]
    months: frozenset[int]


def flags_of_workbook(path: Path, wanted: Callable[[str], bool]) -> dict[str, SheetFlags]:
    """SheetFlags of the wanted sheets whose part is there; raises expat.ExpatError or XmlTrapError for bad XML."""
    with zipfile.ZipFile(path) as archive:
        styles = archive.read(STYLES) if STYLES in archive.namelist() else b""
        shown = _ShownStyles(
            zeros=_zero_styles(styles),
            struck=struck_styles(styles) if STRIKE in styles else frozenset(),
            months=month_styles(styles) if styles else frozenset(),
        )
        found = {}
        parts = {part.casefold(): part for part in archive.namelist()}
        for name, target in sheet_parts(archive).items():
            part = parts.get(target.casefold())
            if wanted(name) and part:
                found[name] = _flags(archive.read(part), shown)
        return found


def _flags(xml: bytes, shown: _ShownStyles) -> SheetFlags:
    styled = bool(shown.zeros or shown.struck or shown.months) and STYLED in xml
    if not (any(sign in xml for sign in SIGNS) or styled or _looks_far(xml)):
        return SheetFlags()
    reader = _SheetReader(shown)
    try:
        reader.read(xml)
    except NoSuchCellError as error:
        return SheetFlags(no_such_cell=str(error))
    return reader.flags


def _looks_far(xml: bytes) -> bool:
    tail = LAST_ROW.findall(xml, max(0, len(xml) - (1 << 16)))
    last = int(tail[-1]) if tail else 1 << 20
    return _has_odd_references(xml) or last > 1000 + 10 * xml.count(b"</")


def _has_odd_references(xml: bytes) -> bool:
    """Whether a row or cell may be named in another way than spreadsheet programs do."""
    if ODD_REFERENCE.search(xml) or any(sign in xml for sign in AFTER_A_QUOTE):
        return True
    broken = any(xml.find(sign, BEGINNING) >= 0 for sign in (b"\n", b"\t", b"\r"))
    return AFTER_A_BREAK.search(xml, 0, len(xml) if broken else BEGINNING + 2) is not None


def _zero_styles(styles: bytes) -> dict[int, int]:
    """Style number -> digits, for number formats such as 00000."""
    formats = cell_formats(styles) if styles else []
    return {number: len(code) for number, (_, code) in enumerate(formats) if ZEROS.fullmatch(code)}


class _SheetReader:
    """Walks a sheet's XML; counts rows and cells where they carry no reference."""

    def __init__(self, shown: _ShownStyles) -> None:
        self.flags = SheetFlags()
        self._shown = shown
        self._row = self._column = -1
        self._cell: dict[str, str] = {}
        self._formula = False
        self._inside = ""
        self._value: list[str] = []

    def read(self, xml: bytes) -> None:
        walk_xml(xml, self._start, self._end, self._text)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "c":
            self._begin_cell(attributes)
        elif name == "row":
            self._begin_row(attributes)
        elif name == "f":
            self._formula = True
        elif name in ("v", "t"):
            self._inside = name
        elif name == "mergeCell":
            self._merge(attributes.get("ref", ""))
        elif name == "col" and _is_set(attributes.get("hidden")):
            self.flags.hidden_columns.update(range(int(attributes["min"]) - 1, min(int(attributes["max"]), 1000)))

    def _begin_row(self, attributes: dict[str, str]) -> None:
        self._row = place_of(f"A{attributes['r']}")[0] if "r" in attributes else self._row + 1
        self._column = -1
        if _is_set(attributes.get("hidden")):
            self.flags.hidden_rows.add(self._row + 1)

    def _begin_cell(self, attributes: dict[str, str]) -> None:
        self._cell = attributes
        self._column = place_of(attributes["r"])[1] if "r" in attributes else self._column + 1
        self._formula = False
        self._value = []

    def _text(self, text: str) -> None:
        if self._inside:
            self._value.append(text)

    def _end(self, name: str) -> None:
        if name in ("v", "t"):
            self._inside = ""
        elif name == "c":
            self._end_cell("".join(self._value))

    def _end_cell(self, value: str) -> None:
        place = (self._row, self._column)
        kind = self._cell.get("t", "n")
        style = int(self._cell.get("s", 0))
        if value and style in self._shown.struck:
            self.flags.struck.add(place)
        if value and kind == "n" and style in self._shown.months:
            self.flags.months.add(place)
        if value or self._formula:
            self.flags.cells += 1
            self.flags.last = (max(self.flags.last[0], place[0]), max(self.flags.last[1], place[1]))
        if kind == "e":
            self.flags.errors[place] = value or "an error"
        elif self._formula and not value and kind != "str":
            self.flags.uncomputed.add(place)
        elif value and kind == "n":
            digits = self._shown.zeros.get(style)
            if digits:
                self.flags.zeros[place] = digits

    def _merge(self, ref: str) -> None:
        first, _, last = ref.partition(":")
        self.flags.merged.append((*place_of(first), *place_of(last or first)))


def _is_set(flag: str | None) -> bool:
    return flag in ("1", "true")


def place_of(ref: str) -> tuple[int, int]:
    """(row, column), 0-based, of a cell reference such as ``C7``; raises NoSuchCellError."""
    match = REFERENCE.fullmatch(ref.strip().upper())
    if match is None:
        raise NoSuchCellError(ref[:20])
    column = 0
    for letter in match[1]:
        column = column * 26 + ord(letter) - 64
    row = int(match[2])
    if not 1 <= row <= LAST_CELL[0] or column > LAST_CELL[1]:
        raise NoSuchCellError(ref[:20])
    return row - 1, column - 1


def letters_of(column: int) -> str:
    """The letters of a 0-based column: 0 is A, 26 is AA."""
    from openpyxl.utils import get_column_letter  # it takes a while to load; a folder known from before needs none

    return get_column_letter(column + 1)
