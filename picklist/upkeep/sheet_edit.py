"""Cells written into a sheet of a workbook file; every other byte of every other part stays as it is.

A spreadsheet library would load the workbook and save what it understood of it. Here only the text
of the cells concerned is replaced, so that charts, pictures, notes, formats and whatever a newer
program has put into the file are still there afterwards.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from xml.parsers import expat
from xml.sax.saxutils import escape

from picklist.tables.marks import letters_of
from picklist.upkeep.sheet_parts import date_styles, related_parts, sheet_part

Value = str | int | date | None
FIRST_DAY = date(1899, 12, 30)  # day 0 of the spreadsheet calendar
FIRST_DAY_1904 = date(1904, 1, 1)


@dataclass(slots=True, kw_only=True)
class _Cell:
    start: int
    end: int = 0
    style: str = ""
    formula: bool = False


@dataclass(slots=True, kw_only=True)
class _Row:
    start: int
    head_end: int = 0
    end: int = 0
    empty_tag: bool = False
    cells: dict[int, _Cell] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class _Sheet:
    """Where the rows and cells of a sheet stand in its text, in bytes."""

    xml: bytes
    prefix: str = ""
    rows: dict[int, _Row] = field(default_factory=dict)
    data_start: int = 0
    data_end: int = 0
    data_empty: bool = False


def edit_sheet(data: bytes, sheet: str, cells: Mapping[tuple[int, int], Value], *, like_row: int) -> bytes:
    """A workbook file with cells of one sheet written anew.

    ``cells`` are (row, column), both from 0, to a text, a whole number, a day, or None to empty
    the cell. New cells look like those of ``like_row`` (0-based) in the same column.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        part = sheet_part(archive, sheet)
        parts = {name: archive.read(name) for name in archive.namelist()}
        tables = [target for kind, target in related_parts(archive, part).values() if kind == "table"]
        infos = archive.infolist()
    found = _locate(parts[part])
    style = _Styles(parts, found, like_row)
    first_new = max(found.rows, default=0)
    changed, formula_lost = _write_cells(found, cells, style)
    last = max((row + 1 for row, _ in cells), default=0)
    changed = _widen_ranges(changed, like_row + 1, last)
    parts[part] = changed if last <= first_new else _widen_dimension(changed, last)
    for name in tables:
        parts[name] = _widen_table(parts[name], like_row + 1, last)
    if formula_lost:
        _drop_calc_chain(parts)
    return _packed(infos, parts)


def _locate(xml: bytes) -> _Sheet:
    found = _Sheet(xml=xml)
    parser = expat.ParserCreate()
    state: dict[str, Any] = {"row": 0, "column": 0, "open": None}

    def start(name: str, attributes: dict[str, str]) -> None:
        prefix, _, plain = name.rpartition(":")
        at = parser.CurrentByteIndex
        if plain == "sheetData":
            found.prefix = f"{prefix}:" if prefix else ""
            found.data_start, found.data_empty = _tag_end(xml, at)
        elif plain == "row" and found.data_start and not found.data_end:
            number = int(attributes.get("r", state["row"] + 1))
            end, empty = _tag_end(xml, at)
            state.update(row=number, column=-1)
            found.rows[number] = _Row(start=at, head_end=end, empty_tag=empty)
        elif plain == "c" and state["row"] in found.rows and not found.data_end:
            column = _column(attributes["r"]) if "r" in attributes else state["column"] + 1
            state.update(column=column, open=_Cell(start=at, style=attributes.get("s", "")))
            found.rows[state["row"]].cells[column] = state["open"]
        elif plain == "f" and state["open"]:
            state["open"].formula = True

    def end(name: str) -> None:
        plain = name.rpartition(":")[2]
        at = parser.CurrentByteIndex
        if plain == "c" and state["open"]:
            state["open"].end = _close_end(xml, state["open"].start, at)
            state["open"] = None
        elif plain == "row" and state["row"] in found.rows:
            row = found.rows[state["row"]]
            row.end = _close_end(xml, row.start, at)
        elif plain == "sheetData":
            found.data_end = at

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.Parse(xml, True)
    return found


TAG = re.compile(rb"<(?:[^\"'>]|\"[^\"]*\"|'[^']*')*>")


def _tag_end(xml: bytes, at: int) -> tuple[int, bool]:
    """Where the tag that begins here ends, and whether it closes itself."""
    match = TAG.match(xml, at)
    end = match.end() if match else len(xml)
    return end, xml[end - 2 : end - 1] == b"/"


def _close_end(xml: bytes, start: int, at: int) -> int:
    """The end of an element that began at ``start`` and whose end was told of at ``at``.

    Of an element that closes itself the parser tells either its beginning or its end.
    """
    if xml[at : at + 2] == b"</":
        return xml.index(b">", at) + 1
    return at if at > start else _tag_end(xml, start)[0]


def _column(place: str) -> int:
    number = 0
    for letter in place:
        if not letter.isalpha():
            break
        number = number * 26 + ord(letter.upper()) - 64
    return number - 1


class _Styles:
    """Which style a written cell gets, so that it looks like its neighbours and a day shows as a day."""

    def __init__(self, parts: dict[str, bytes], sheet: _Sheet, like_row: int) -> None:
        self._parts = parts
        self._sheet = sheet
        self._like = sheet.rows.get(like_row + 1)
        self._dated = date_styles(parts["xl/styles.xml"]) if "xl/styles.xml" in parts else frozenset()
        self._made: dict[str, str] = {}
        self._by_column: dict[int, str] = {}
        start = parts["xl/workbook.xml"]
        self.first_day = FIRST_DAY_1904 if re.search(rb'date1904="(1|true)"', start) else FIRST_DAY

    def of(self, cell: _Cell | None, column: int, value: Value) -> str:
        """The number of a style, or nothing for none."""
        like = self._like.cells.get(column) if self._like else None
        style = cell.style if cell and cell.style else like.style if like else ""
        if not isinstance(value, date) or (style.isdigit() and int(style) in self._dated):
            return style
        return self._dated_in(column) or self._make_dated(style)

    def _dated_in(self, column: int) -> str:
        if column not in self._by_column:
            styles = (row.cells[column].style for row in self._sheet.rows.values() if column in row.cells)
            found = (style for style in styles if style.isdigit() and int(style) in self._dated)
            self._by_column[column] = next(found, "")
        return self._by_column[column]

    def _make_dated(self, style: str) -> str:
        """A style like another but for showing a day, put at the end of the list of styles."""
        if style in self._made or "xl/styles.xml" not in self._parts:
            return self._made.get(style, style)
        xml = self._parts["xl/styles.xml"]
        match = re.search(rb"<((?:\w+:)?)cellXfs\b[^>]*>(.*?)</(?:\w+:)?cellXfs>", xml, re.DOTALL)
        if match is None:
            return style
        entries = re.findall(rb"<(?:\w+:)?xf\b(?:[^>]*/>|.*?</(?:\w+:)?xf>)", match[2], re.DOTALL)
        model = entries[int(style)] if style.isdigit() and int(style) < len(entries) else entries[0]
        new = re.sub(rb'\snumFmtId="\d+"|\sapplyNumberFormat="\w+"', b"", model, count=0)
        new = re.sub(rb"<((?:\w+:)?)xf\b", rb'<\1xf numFmtId="14" applyNumberFormat="1"', new, count=1)
        whole = match[0].replace(match[2], match[2] + new) if match[2] else match[0]
        whole = re.sub(rb'count="\d+"', b'count="%d"' % (len(entries) + 1), whole, count=1)
        self._parts["xl/styles.xml"] = xml[: match.start()] + whole + xml[match.end() :]
        self._made[style] = str(len(entries))
        return self._made[style]


def _write_cells(sheet: _Sheet, cells: Mapping[tuple[int, int], Value], style: _Styles) -> tuple[bytes, bool]:
    by_row: dict[int, dict[int, Value]] = {}
    for (above, column), value in cells.items():
        by_row.setdefault(above + 1, {})[column] = value
    pieces: list[tuple[int, int, bytes]] = []
    lost = False
    fresh: dict[int, bytes] = {}
    for number, values in sorted(by_row.items()):
        row = sheet.rows.get(number)
        texts = {column: _cell_text(sheet, style, row, (number, column), value) for column, value in values.items()}
        if row is None:
            inner = b"".join(texts[column] for column in sorted(texts))
            fresh[number] = _element(sheet, "row", f'r="{number}"', inner)
        else:
            pieces += _into_row(sheet, row, texts)
            lost = lost or any(row.cells[column].formula for column in texts if column in row.cells)
    pieces += _new_rows(sheet, fresh)
    return _spliced(sheet.xml, pieces), lost


def _cell_text(sheet: _Sheet, style: _Styles, row: _Row | None, place: tuple[int, int], value: Value) -> bytes:
    number, column = place
    old = row.cells.get(column) if row else None
    named = style.of(old, column, value)
    head = f'r="{letters_of(column)}{number}"' + (f' s="{named}"' if named else "")
    if value is None or value == "":
        return _element(sheet, "c", head, b"") if named else b""
    if isinstance(value, str):
        text = escape(value).encode("utf-8")
        inner = b'<%st xml:space="preserve">%s</%st>' % (sheet.prefix.encode(), text, sheet.prefix.encode())
        return _element(sheet, "c", f'{head} t="inlineStr"', _element(sheet, "is", "", inner))
    count = (value - style.first_day).days if isinstance(value, date) else value
    return _element(sheet, "c", head, _element(sheet, "v", "", str(count).encode()))


def _element(sheet: _Sheet, name: str, head: str, inner: bytes) -> bytes:
    tag = f"{sheet.prefix}{name}".encode()
    opening = tag + (b" " + head.encode() if head else b"")
    return b"<%s>%s</%s>" % (opening, inner, tag) if inner else b"<%s/>" % opening


def _into_row(sheet: _Sheet, row: _Row, texts: dict[int, bytes]) -> list[tuple[int, int, bytes]]:
    pieces = []
    added: dict[int, list[bytes]] = {}
    for column in sorted(texts):
        cell = row.cells.get(column)
        if cell:
            pieces.append((cell.start, cell.end, texts[column]))
            continue
        after = [one.start for place, one in row.cells.items() if place > column]
        at = min(after) if after else row.end - len(f"</{sheet.prefix}row>") if not row.empty_tag else -1
        added.setdefault(at, []).append(texts[column])
    if -1 in added:
        head = sheet.xml[row.start : row.head_end].rstrip(b"/> ") + b">"
        pieces.append((row.start, row.end, head + b"".join(added.pop(-1)) + f"</{sheet.prefix}row>".encode()))
    return pieces + [(at, at, b"".join(new)) for at, new in added.items()]


def _new_rows(sheet: _Sheet, fresh: dict[int, bytes]) -> list[tuple[int, int, bytes]]:
    if not fresh:
        return []
    if sheet.data_empty:
        inner = b"".join(fresh[number] for number in sorted(fresh))
        head = sheet.xml.rfind(b"<", 0, sheet.data_start)
        return [(head, sheet.data_start, _element(sheet, "sheetData", "", inner))]
    pieces: dict[int, list[bytes]] = {}
    for number in sorted(fresh):
        later = [row.start for other, row in sheet.rows.items() if other > number]
        pieces.setdefault(min(later, default=sheet.data_end), []).append(fresh[number])
    return [(at, at, b"".join(rows)) for at, rows in pieces.items()]


def _spliced(xml: bytes, pieces: list[tuple[int, int, bytes]]) -> bytes:
    out, at = [], 0
    for start, end, text in sorted(pieces, key=lambda piece: (piece[0], piece[1])):
        out += [xml[at:start], text]
        at = end
    return b"".join([*out, xml[at:]])


RANGE = re.compile(rb"(\$?[A-Z]+\$?)(\d+):(\$?[A-Z]+\$?)(\d+)")


def _widened(text: bytes, last_row: int, new_last: int) -> bytes:
    """Ranges that reach to the last row of the table reach to the new last row."""

    def widen(match: re.Match[bytes]) -> bytes:
        low, high = int(match[2]), int(match[4])
        if not low <= last_row <= high < new_last or high > last_row:
            return match[0]
        return b"%s%s:%s%d" % (match[1], match[2], match[3], new_last)

    return RANGE.sub(widen, text)


def _widen_ranges(xml: bytes, last_row: int, new_last: int) -> bytes:
    """Drop-downs and coloured ranges that covered the table to its end cover the new rows."""
    return re.sub(rb'(?<=\ssqref=")[^"]*(?=")', lambda match: _widened(match[0], last_row, new_last), xml)


def _widen_dimension(xml: bytes, new_last: int) -> bytes:
    def widen(match: re.Match[bytes]) -> bytes:
        return RANGE.sub(lambda one: b"%s%s:%s%d" % (one[1], one[2], one[3], max(int(one[4]), new_last)), match[0])

    return re.sub(rb"<(?:\w+:)?dimension\b[^>]*>", widen, xml, count=1)


def _widen_table(xml: bytes, last_row: int, new_last: int) -> bytes:
    return re.sub(rb'(?<=\sref=")[^"]*(?=")', lambda match: _widened(match[0], last_row, new_last), xml)


def _drop_calc_chain(parts: dict[str, bytes]) -> None:
    """A formula is gone, so the list of formulas is stale; programs make it anew when it is missing."""
    chain = parts.pop("xl/calcChain.xml", None)
    if chain is None:
        return
    parts["[Content_Types].xml"] = re.sub(
        rb'<Override\b[^>]*PartName="/xl/calcChain\.xml"[^>]*/>', b"", parts["[Content_Types].xml"]
    )
    relations = "xl/_rels/workbook.xml.rels"
    parts[relations] = re.sub(rb'<Relationship\b[^>]*calcChain\.xml"[^>]*/>', b"", parts[relations])


def _packed(infos: list[zipfile.ZipInfo], parts: dict[str, bytes]) -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as target:
        for info in infos:
            if info.filename in parts:
                entry = zipfile.ZipInfo(info.filename, info.date_time)
                entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, info.external_attr
                target.writestr(entry, parts[info.filename])
    return raw.getvalue()
