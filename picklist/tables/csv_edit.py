"""Records written into a CSV file; the text of every other record stays as it is."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from datetime import date

from picklist.tables.cells import plain_text
from picklist.tables.csv_files import csv_text, decode_csv, find_delimiter

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
