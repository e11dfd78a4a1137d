"""Which style a written cell gets, so that it looks like its neighbours and a day shows as a day."""

from __future__ import annotations

import re
from datetime import date, datetime

from picklist.letters import whole_number
from picklist.tables.sheet_text import SheetCell, SheetText
from picklist.tables.xlsx_parts import DAY_AND_HOURS, date_styles

Value = str | int | date | None
FIRST_DAY = date(1899, 12, 30)  # day 0 of the spreadsheet calendar
FIRST_DAY_1904 = date(1904, 1, 1)


class SheetStyles:
    """The styles of one workbook while a sheet of it is edited; a style that is missing is put into its parts."""

    def __init__(self, parts: dict[str, bytes], sheet: SheetText, like_row: int) -> None:
        """Take the workbook's parts, and the row (from 0) that new cells should look like."""
        self._parts = parts
        self._sheet = sheet
        self._like = sheet.rows.get(like_row + 1)
        none: tuple[frozenset[int], frozenset[int]] = (frozenset(), frozenset())
        self._dated, self._timed = date_styles(parts["xl/styles.xml"]) if "xl/styles.xml" in parts else none
        self._made: dict[tuple[str, str], str] = {}
        self._by_column: dict[tuple[int, bool], str] = {}
        start = parts["xl/workbook.xml"]
        self.first_day = FIRST_DAY_1904 if re.search(rb'date1904="(1|true)"', start) else FIRST_DAY

    def of(self, cell: SheetCell | None, column: int, value: Value) -> str:
        """The number of a style, or nothing for none."""
        like = self._like.cells.get(column) if self._like else None
        style = cell.style if cell and cell.style else like.style if like else ""
        dated = whole_number(style) in self._dated
        if isinstance(value, int) and dated:
            return ""  # a number that would show as a day
        hours = isinstance(value, datetime)
        fits = self._timed if hours else self._dated
        if not isinstance(value, date) or whole_number(style) in fits:
            return style
        return self._dated_in(column, hours) or self._make_dated(style, DAY_AND_HOURS if hours else "14")

    def _dated_in(self, column: int, hours: bool) -> str:
        if (column, hours) not in self._by_column:
            styles = (row.cells[column].style for row in self._sheet.rows.values() if column in row.cells)
            fits = self._timed if hours else self._dated
            found = (style for style in styles if whole_number(style) in fits)
            self._by_column[column, hours] = next(found, "")
        return self._by_column[column, hours]

    def _make_dated(self, style: str, number: str) -> str:
        """A style like another but for showing a day (format ``number``), put at the end of the list of styles."""
        if (style, number) in self._made or "xl/styles.xml" not in self._parts:
            return self._made.get((style, number), style)
        xml = self._parts["xl/styles.xml"]
        match = re.search(rb"<((?:\w+:)?)cellXfs\b[^>]*>(.*?)</(?:\w+:)?cellXfs>", xml, re.DOTALL)
        if match is None:
            return style
        entries = re.findall(rb"<(?:\w+:)?xf\b(?:[^>]*/>|.*?</(?:\w+:)?xf>)", match[2], re.DOTALL)
        like = whole_number(style)
        model = entries[like] if like is not None and like < len(entries) else entries[0]
        new = re.sub(rb'\snumFmtId="\d+"|\sapplyNumberFormat="\w+"', b"", model, count=0)
        shown = rb'<\1xf numFmtId="%s" applyNumberFormat="1"' % number.encode()
        new = re.sub(rb"<((?:\w+:)?)xf\b", shown, new, count=1)
        whole = match[0].replace(match[2], match[2] + new) if match[2] else match[0]
        whole = re.sub(rb'count="\d+"', b'count="%d"' % (len(entries) + 1), whole, count=1)
        self._parts["xl/styles.xml"] = xml[: match.start()] + whole + xml[match.end() :]
        self._made[style, number] = str(len(entries))
        return self._made[style, number]
