"""Cells written into a sheet of a workbook file; every other byte of every other part stays as it is.

A spreadsheet library would load the workbook and save what it understood of it. Here only the text
of the cells concerned is replaced, so that charts, pictures, notes, formats and whatever a newer
program has put into the file are still there afterwards.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta
from html import escape
from types import MappingProxyType

from picklist.tables.cells import plain_text
from picklist.tables.csv_files import edit_csv
from picklist.tables.sheet_flags import letters_of
from picklist.tables.sheet_styles import SheetStyles, Value
from picklist.tables.sheet_text import SheetRow, SheetText, locate_cells
from picklist.tables.xlsx_parts import related_parts, sheet_parts

# Characters that no XML may hold, such as the separator in a scanned label, and what reads like one written by its
# number: each goes by its number (ECMA-376 part 1, 22.9.2.19).
NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")


def edit_cells(
    data: bytes,
    sheet: str,
    cells: Mapping[tuple[int, int], Value],
    *,
    like_row: int,
    gone: Mapping[int, Iterable[int]] = MappingProxyType({}),
) -> bytes:
    """A site's file with cells of one table written anew, all else as it was; ``sheet`` is empty for a CSV file.

    ``gone`` are rows that go, each with the columns that it fills: a sheet keeps them, emptied.
    """
    if not sheet:
        return edit_csv(data, cells, gone=frozenset(gone))
    emptied = {(row, column): None for row, columns in gone.items() for column in columns}
    return edit_sheet(data, sheet, {**cells, **emptied}, like_row=like_row)


def edit_sheet(data: bytes, sheet: str, cells: Mapping[tuple[int, int], Value], *, like_row: int) -> bytes:
    """A workbook file with cells of one sheet written anew.

    ``cells`` are (row, column), both from 0, to a text, a whole number, a day, a wall time, or None to
    empty the cell. New cells look like those of ``like_row`` (0-based) in the same column.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        part = sheet_parts(archive)[sheet]
        parts = {name: archive.read(name) for name in archive.namelist()}
        tables = [target for kind, target in related_parts(archive, part).values() if kind == "table"]
        infos = archive.infolist()
    found = locate_cells(parts[part])
    style = SheetStyles(parts, found, like_row)
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


def _write_cells(sheet: SheetText, cells: Mapping[tuple[int, int], Value], style: SheetStyles) -> tuple[bytes, bool]:
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


def _cell_text(
    sheet: SheetText, style: SheetStyles, row: SheetRow | None, place: tuple[int, int], value: Value
) -> bytes:
    number, column = place
    if isinstance(value, datetime) and value.time() == time():
        value = plain_text(value)  # as a number it would be a day without a time
    old = row.cells.get(column) if row else None
    named = style.of(old, column, value)
    head = f'r="{letters_of(column)}{number}"' + (f' s="{named}"' if named else "")
    if value is None or value == "":
        return _element(sheet, "c", head, b"") if named else b""
    if isinstance(value, str):
        text = escape(NOT_IN_XML.sub(_by_number, value), quote=False).encode("utf-8")
        inner = b'<%st xml:space="preserve">%s</%st>' % (sheet.prefix.encode(), text, sheet.prefix.encode())
        return _element(sheet, "c", f'{head} t="inlineStr"', _element(sheet, "is", "", inner))
    return _element(sheet, "c", head, _element(sheet, "v", "", _count(value, style.first_day).encode()))


def _by_number(match: re.Match[str]) -> str:
    return f"_x{ord(match[0]):04X}_"


def _count(value: int | date, first_day: date) -> str:
    """A number as a sheet holds it: days since the calendar's first, with their fraction for a wall time."""
    if isinstance(value, datetime):
        return repr((value.replace(tzinfo=None) - datetime.combine(first_day, time())) / timedelta(days=1))
    return str((value - first_day).days if isinstance(value, date) else value)


def _element(sheet: SheetText, name: str, head: str, inner: bytes) -> bytes:
    tag = f"{sheet.prefix}{name}".encode()
    opening = tag + (b" " + head.encode() if head else b"")
    return b"<%s>%s</%s>" % (opening, inner, tag) if inner else b"<%s/>" % opening


def _into_row(sheet: SheetText, row: SheetRow, texts: dict[int, bytes]) -> list[tuple[int, int, bytes]]:
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


def _new_rows(sheet: SheetText, fresh: dict[int, bytes]) -> list[tuple[int, int, bytes]]:
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
