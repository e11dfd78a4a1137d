"""CSV files as grids: the encodings, delimiters and quoting that spreadsheet programs write; texts that stay text."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from picklist.tables.cells import CUT_OFF, Fault, Grid, is_empty, plain_text, tidy
from picklist.tables.columns import Column
from picklist.tables.headers import SEARCHED_ROWS
from picklist.tables.nearest import plain
from picklist.tables.schema import TABLES

DELIMITERS = ",;\t|"
LIVE = re.compile(r"'*[=+\-@\t\r]")
GUARDED = re.compile(r"'+[=+\-@\t\r]")
PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+([.,:][0-9]+)*")
LARGEST = 800 << 20
MOST_LINES = 30  # more in one cell are hardly meant
HEADERS = frozenset(plain(name) for table in TABLES for column in table.columns for name in column.names)


def read_csv_file(path: Path) -> tuple[Grid | None, Fault | None]:
    """The file's grid; notes tell what was guessed."""
    try:
        if path.stat().st_size > LARGEST:
            return None, Fault(kind="swells", message="the file is too large", expected="a file of ordinary size")
        data = path.read_bytes()
    except OSError as error:
        return None, Fault(kind="cannot open", message=f"the file cannot be opened ({error.strerror})")
    if data.startswith((b"PK\x03\x04", bytes.fromhex("d0cf11e0a1b11ae1"))):
        return None, Fault(
            kind="not a csv", message="this is a workbook with the ending .csv", expected="the ending .xlsx"
        )
    if not data.strip():
        return None, Fault(kind="empty file", message="the file is empty", expected="a header and rows")
    text, encoding = decode_csv(data)
    if text is None:
        return None, Fault(kind="not a csv", message="this is not a text file", expected="a CSV file in UTF-8")
    delimiter = find_delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=False)
    try:
        rows = list(reader)
    except csv.Error:
        return None, Fault(
            kind="not a csv", message="the quotation marks of this file do not match up", expected="a CSV file"
        )
    if "'" in text:
        rows = [[text_from_csv(cell) if cell[:1] == "'" else cell for cell in row] for row in rows]
    grid = Grid(
        file=path.name, sheet="", rows=_without_half_a_row(text, rows), dialect=_dialect(data, encoding, delimiter)
    )
    if encoding == "cp1252":
        grid.notes.append("the file is not in UTF-8; it was read as Windows Western European text")
    return grid, _runaway_quote(rows) if reader.line_num > len(rows) + MOST_LINES else None


def _dialect(data: bytes, encoding: str, delimiter: str) -> tuple[str, ...]:
    """How a file is written, in words; nothing for commas in UTF-8."""
    marks = {";": "semicolons between cells", "\t": "tabs between cells", "|": "bars between cells"}
    codes = {"cp1252": "Windows Western European text (code page 1252)", "utf-16": "UTF-16 text"}
    marked = ("a byte order mark",) if data.startswith(b"\xef\xbb\xbf") else ()
    return (*(words[one] for words, one in ((marks, delimiter), (codes, encoding)) if one in words), *marked)


def decode_csv(data: bytes) -> tuple[str | None, str]:
    """The text of a CSV file and its encoding; no text when it is none."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ("utf-16",)
    elif b"\x00" in data[:4096]:
        return None, ""
    else:
        encodings = ("utf-8-sig", "cp1252")  # type: ignore[assignment]
    for encoding in encodings:
        try:
            return data.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    return data.decode("cp1252", errors="replace"), "cp1252"


def find_delimiter(text: str) -> str:
    """The delimiter that makes a header match, or the one that a first line ``sep=`` names.

    Where no header is known, the one that parts most lines into the same number of cells.
    """
    if text[:4].lower() == "sep=" and text[4:5] in DELIMITERS:
        return text[4:5] or ","
    begins = text[:20_000]
    there = [one for one in DELIMITERS if one in begins] or DELIMITERS[:1]
    return max(there, key=lambda one: (*_fit(begins, one), -DELIMITERS.index(one)))


def _fit(begins: str, delimiter: str) -> tuple[int, int, int]:
    """How well a delimiter parts the first lines: known headers in one line, lines of the usual width, that width."""
    reader = csv.reader(io.StringIO(begins, newline=""), delimiter=delimiter)
    try:
        lines = [line for _, line in zip(range(SEARCHED_ROWS), reader, strict=False) if line]
    except csv.Error:
        return 0, 0, 0
    if not lines:
        return 0, 0, 0
    matched = max(len({plain(tidy(cell)) for cell in line} & HEADERS) for line in lines)
    widths = Counter(len(line) for line in lines if len(line) > 1)
    width, usual = max(widths.items(), key=lambda pair: (pair[1], pair[0]), default=(1, 0))
    return matched, usual, width


def _without_half_a_row(text: str, rows: list[list[str]]) -> list[Any]:
    """The rows, the last one as cells that say nothing certain where the file ends within it.

    So it does without an end of line and with fewer cells than all others have: no program writes such a row.
    """
    if not rows or text[-1] in "\r\n" or all(map(is_empty, rows[-1])):
        return rows
    widths = {len(row) for row in rows[:-1] if row}
    half = len(widths) == 1 and len(rows[-1]) < max(widths)
    return [*rows[:-1], [CUT_OFF] * max(widths)] if half else rows


def _runaway_quote(rows: list[list[str]]) -> Fault | None:
    """A quote that never closes swallows the rest of the file into one cell."""
    for number, row in enumerate(rows, start=1):
        for cell in row:
            if cell.count("\n") > MOST_LINES:
                return Fault(
                    kind="open quote",
                    message=f"a quotation mark in row {number} is never closed, so the rows after it are lost",
                    expected="quotation marks in pairs",
                )
    return None


def csv_text(text: str) -> str:
    """A text for a CSV file that no spreadsheet program takes for a formula; numbers stay as they are.

    A CSV file cannot say that a cell holds text, so a text that would run as a formula starts with an apostrophe.
    """
    if not LIVE.match(text) or PLAIN_NUMBER.fullmatch(text):
        return text
    return f"'{text}"


def text_from_csv(text: str) -> str:
    """The text that ``csv_text`` was given."""
    return text[1:] if GUARDED.match(text) else text


Value = str | int | date | None


def edit_csv(data: bytes, cells: Mapping[tuple[int, int], Value], *, gone: frozenset[int] = frozenset()) -> bytes:
    """A CSV file with cells written anew, records put at its end, and records taken out.

    ``cells`` are (record, column) from 0; ``gone`` are records to take out. Encoding, delimiter and
    line ends stay; a text that the encoding cannot hold turns the file into UTF-8.
    """
    text, encoding = decode_csv(data)
    assert text is not None, "a file that could not be read has no records to edit"
    delimiter, ending = find_delimiter(text), "\r\n" if "\r\n" in text else "\n"
    records = _records(text, delimiter)
    by_record: dict[int, dict[int, Value]] = {}
    for (record, column), value in cells.items():
        by_record.setdefault(record, {})[column] = value
    for number in sorted(by_record):
        while len(records) <= number:
            _close(records, ending)
            records.append(ending)
        records[number] = _written(records[number], by_record[number], delimiter, ending)
    kept = "".join(record for number, record in enumerate(records) if number not in gone)
    return _encoded(kept, encoding, data)


def _records(text: str, delimiter: str) -> list[str]:
    """The text of each record, line end and all."""
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines, delimiter=delimiter, strict=False)
    records, before = [], 0
    for _ in reader:
        records.append("".join(lines[before : reader.line_num]))
        before = reader.line_num
    return records


def _close(records: list[str], ending: str) -> None:
    if records and not records[-1].endswith(("\n", "\r")):
        records[-1] += ending


def _written(record: str, values: Mapping[int, Value], delimiter: str, ending: str) -> str:
    row = next(csv.reader(io.StringIO(record, newline=""), delimiter=delimiter), [])
    row += [""] * (max(values) + 1 - len(row))
    for column, value in values.items():
        row[column] = csv_text(plain_text(value))
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=ending).writerow(row)
    return out.getvalue()


def _encoded(text: str, encoding: str, before: bytes) -> bytes:
    if encoding == "utf-8-sig":
        return text.encode("utf-8-sig" if before.startswith(b"\xef\xbb\xbf") else "utf-8")
    try:
        return text.encode(encoding)
    except UnicodeEncodeError:
        return text.encode("utf-8-sig")


def csv_bytes(columns: Iterable[Column], rows: Iterable[Mapping[str, object]]) -> bytes:
    """A CSV file with these columns, as a spreadsheet program reads it."""
    listed = tuple(columns)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.name for column in listed])
    for row in rows:
        writer.writerow([csv_text(plain_text(row.get(column.name))) for column in listed])
    return text.getvalue().encode("utf-8-sig")
