"""Writing changed cells into the site's own tables: each file whole or not at all, the former one kept."""

from __future__ import annotations

import codecs
import csv
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from picklist.evening.find_rows import CellEdit, Finder
from picklist.evening.table_changes import TableChange
from picklist.problems import Problem, Severity, Where
from picklist.tables.csv_files import DELIMITERS
from picklist.tables.drafts import Ledger
from picklist.tables.files import keep_former
from picklist.tables.folder import TEXTS, read_folder
from picklist.tables.write import plain_text

ENCODINGS = ("utf-16", "utf-8-sig", "cp1252")
STAMP_FORMAT = "yyyy-mm-dd hh:mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """Which changes were written, and what kept the others from it."""

    done: tuple[TableChange, ...]
    problems: tuple[Problem, ...]
    kept: tuple[Path, ...]  # the former files


def apply_changes(site_folder: Path, changes: Sequence[TableChange], now: datetime) -> Applied:
    """Write changed cells into the workbooks and CSV files that hold their rows.

    Rows are found by their key. A row that was changed meanwhile, or is not there any more, is a
    problem and stays as it is; one that already says what it shall say counts as done. All files
    are made ready before the first takes its place. The former files go to ``kept_folder``.
    """
    finder = Finder(read_folder(site_folder, Ledger()))
    edits = finder.find(changes)
    ready: list[tuple[Path, Path]] = []
    kept: list[Path] = []
    try:
        for name in sorted({edit.file for edit in edits}):
            path = site_folder / name
            ready.append((_edited(path, [edit for edit in edits if edit.file == name]), path))
        for fresh, path in ready:
            kept.append(keep_former(site_folder, path.name, path.read_bytes(), now))
            fresh.replace(path)
    except OSError as error:
        finder.problems.append(_cannot_write(error, site_folder))
        return Applied(done=(), problems=tuple(finder.problems), kept=tuple(kept))
    finally:
        for fresh, _ in ready:
            fresh.unlink(missing_ok=True)
    done = (*finder.standing, *(edit.change for edit in edits))
    return Applied(done=done, problems=tuple(finder.problems), kept=tuple(kept))


def _edited(path: Path, edits: Sequence[CellEdit]) -> Path:
    """A finished copy of a file with changed cells, under a name that no reader looks at."""
    fresh = path.with_name(f"~{path.name}.new")
    if path.suffix.lower() in TEXTS:
        fresh.write_bytes(_edited_csv(path.read_bytes(), edits))
    else:
        _edit_workbook(path, fresh, edits)
    with fresh.open("rb+") as file:
        os.fsync(file.fileno())
    return fresh


def _edit_workbook(path: Path, fresh: Path, edits: Sequence[CellEdit]) -> None:
    book = load_workbook(path, keep_vba=path.suffix.lower() == ".xlsm")
    for edit in edits:
        cell: Any = book[edit.sheet].cell(edit.row, edit.position + 1)
        cell.value = edit.change.becomes or (0 if edit.change.becomes == 0 else None)
        if isinstance(cell.value, datetime) and not cell.is_date:
            cell.number_format = STAMP_FORMAT
        elif isinstance(cell.value, str):
            cell.data_type = "s"
    book.save(fresh)


def _edited_csv(data: bytes, edits: Sequence[CellEdit]) -> bytes:
    """The same CSV file, in its own encoding, separator and line ends, with changed cells."""
    encoding = next(e for e in ENCODINGS if _decodes(data, e))
    text = data.decode(encoding)
    delimiter = next(d for d in DELIMITERS if _parses_to(text, d, edits))
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    for edit in edits:
        row = rows[edit.row - 1]
        row.extend([""] * (edit.position + 1 - len(row)))
        row[edit.position] = plain_text(edit.change.becomes)
    out = io.StringIO()
    ends = "\r\n" if "\r\n" in text else "\n"
    csv.writer(out, delimiter=delimiter, lineterminator=ends).writerows(rows)
    marked = encoding != "utf-8-sig" or data.startswith(codecs.BOM_UTF8)
    return out.getvalue().encode(encoding if marked else "utf-8")


def _decodes(data: bytes, encoding: str) -> bool:
    if encoding == "utf-16" and not data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return False
    try:
        data.decode(encoding)
    except UnicodeDecodeError:
        return False
    return True


def _parses_to(text: str, delimiter: str, edits: Sequence[CellEdit]) -> bool:
    """Whether a separator gives the cells that the reader saw: those of the rows to edit."""
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    return all(edit.row <= len(rows) and list(edit.seen) == rows[edit.row - 1] for edit in edits)


def _cannot_write(error: OSError, site_folder: Path) -> Problem:
    return Problem(
        kind="cannot write",
        severity=Severity.STOPS_ALL,
        where=Where(file=Path(error.filename or site_folder).name),
        message=f"the file cannot be written ({error.strerror or error}); it is as it was",
        expected="a file that no other program has open, in a folder in which you may write",
    )
