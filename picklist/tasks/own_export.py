"""The hospital's own schedule export: looked at, what its headers and codes mean learned once, then taken in.

Only the columns that are given a meaning are kept; the others, which may be about patients, stay out.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from picklist.inputs.read_export import read_names
from picklist.problems import did_you_mean
from picklist.store.lock import hold_tables
from picklist.tables.cells import CellFlaw, Grid, Raw, hours_text, is_empty, number_text, plain_text
from picklist.tables.csv_files import csv_text, read_csv_file
from picklist.tables.drafts import Ledger
from picklist.tables.export_guess import CodeGuess, cells_beneath, codes_beneath, guess_code, guess_means
from picklist.tables.export_layout import ExportHeader, guess_header
from picklist.tables.file_safety import workbook_fault
from picklist.tables.files import check_not_open, keep_former, replace_file
from picklist.tables.folder import BY_PLAIN, FROM_EXPORT, TEXTS, FolderTables
from picklist.tables.foreign_schedule import ExportMap, is_own, mapped_table, plain_code
from picklist.tables.headers import find_header
from picklist.tables.nearest import Candidates, plain
from picklist.tables.private import Kind, looks_private, may_be_quoted
from picklist.tables.schema import CASE_END, CASE_HOURS, EXPORT, NOT_READ, SCHEDULE
from picklist.tables.workbooks import read_sheets, sheet_names
from picklist.tables.write import write_tables
from picklist.tasks.errors import WrongUse
from picklist.tasks.fix_cell import write_cells
from picklist.wording import counted

TAKEN_AS = f"{FROM_EXPORT}.csv"
CHOICES: tuple[str, ...] = EXPORT.column("means").choices
FEWEST_COLUMNS = 6  # of a schedule whose headers are in no words that are known
LENGTHS = frozenset({"minutes", CASE_END, CASE_HOURS})


class SeveralSheetsError(WrongUse):
    """The cases of an export are on several sheets, of which only one would be taken."""


def nearest_choice(written: str) -> str:
    """The column that may be meant; empty when none is near."""
    return next(iter(Candidates(CHOICES).nearest(written, 1)), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportColumn:
    """A header of an export and the columns of Schedule that it fills; ``learned``: Export says so already."""

    name: str
    means: tuple[str, ...]
    learned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportLook:
    """An export as it was looked at.

    ``lacking`` are columns that Schedule needs and that no header fills; ``guesses`` are codes that Export does
    not name yet, with what they may stand for; ``unknown`` counts, by header, those that are like nothing.
    """

    grid: Grid
    header: ExportHeader
    columns: tuple[ExportColumn, ...]
    lacking: tuple[str, ...]
    guesses: tuple[CodeGuess, ...]
    unknown: tuple[tuple[str, int], ...]
    dialect: tuple[str, ...]

    def means_of(self, header: str) -> tuple[str, ...]:
        """What a header means as it was looked at."""
        return next((one.means for one in self.columns if one.name == header), ())


def look_at_export(folder: Path, file: Path, means: Mapping[str, tuple[str, ...]] | None = None) -> ExportLook:
    """What the headers and codes of an export mean, by Export, by ``means``, else as guessed; nothing is written.

    Raises WrongUse for a file that cannot be read, or that has no header.
    """
    tables, names = read_names(folder)
    grid, header = _read(file, tables.export)
    fits = tables.export is not None and tables.export.header(grid) is not None
    guessed = {} if fits else guess_means(grid, header)
    given = {plain(name): what for name, what in (means or {}).items()}
    columns = []
    for name in dict.fromkeys(header.names.values()):
        learned = tables.export.means_of(name) if tables.export else ()
        what = given.get(plain(name), learned or guessed.get(name, ()))
        columns.append(ExportColumn(name=name, means=tuple(what), learned=bool(learned) and tuple(what) == learned))
    unmatched = [name for name in given if name not in {plain(one) for one in header.names.values()}]
    if unmatched:
        raise WrongUse(f"this export has no such header; it has {', '.join(map(_shown, header.names.values()))}")
    guesses, unknown = _codes(grid, header, columns, names, tables.export)
    return ExportLook(
        grid=grid,
        header=header,
        columns=tuple(columns),
        lacking=_lacking(columns),
        guesses=guesses,
        unknown=unknown,
        dialect=(*grid.dialect, *_hidden(grid, header)),
    )


def is_export(folder: Path, file: Path) -> bool:
    """Whether a file may be a schedule of another system: no table of ours, and headers as a schedule has them.

    A file that has the name of a table must have three that are known by their words.
    """
    if file.suffix.lower() not in TEXTS and any(plain(name) in BY_PLAIN for name in sheet_names(file)[0]):
        return False
    try:
        look = look_at_export(folder, file)
    except SeveralSheetsError:
        return True  # whoever looks at it is told
    except WrongUse:
        return False
    if is_own(look.header):
        return False
    filled = {what for one in look.columns for what in one.means}
    known = len(filled & {"day", "start", "room", "surgeon", "procedures"}) >= 3
    return known or (plain(file.stem) not in BY_PLAIN and len(look.columns) >= FEWEST_COLUMNS)


def _shown(name: str) -> str:
    return "(not shown)" if looks_private(name, kind=Kind.FILE_NAME) else name


def _read(file: Path, known: ExportMap | None) -> tuple[Grid, ExportHeader]:
    looked = [(grid, (known.header(grid) if known else None) or guess_header(grid)) for grid in _grids(file)]
    found = [(grid, header) for grid, header in looked if header is not None]
    if not found:
        raise WrongUse(
            f"{file.name} has no header that can be found in its first rows; expected one above the first case"
        )
    alike = [header for _, header in found if {*header.names.values()} == {*found[0][1].names.values()}]
    if len(alike) > 1:
        raise SeveralSheetsError(
            f"{len(alike)} sheets of {file.name} have the same headers; expected all cases on one sheet"
        )
    return found[0]


def _grids(file: Path) -> list[Grid]:
    if file.suffix.lower() in TEXTS:
        grid, fault = read_csv_file(file)
        if fault:
            raise WrongUse(f"{file.name}: {fault.message}; expected {fault.expected}")
        return [grid] if grid else []
    fault = workbook_fault(file)
    if fault:
        raise WrongUse(f"{file.name}: {fault.message}; expected {fault.expected}")
    grids, faults = read_sheets(file, lambda _name: True)
    for _, one in faults if not grids else ():
        raise WrongUse(f"{file.name}: {one.message}; expected {one.expected}")
    return grids


def _hidden(grid: Grid, header: ExportHeader) -> Iterator[str]:
    """What must be known of rows that are hidden or struck through: the file that is kept does not show it."""
    for numbers, what in ((grid.hidden_rows, "hidden"), ({row + 1 for row, _ in grid.struck}, "struck through")):
        below = sum(header.bottom + 1 < number <= len(grid.rows) for number in numbers)
        if below:
            yield f"{counted(below, 'row')} {what}, read as any other"


def _lacking(columns: Iterable[ExportColumn]) -> tuple[str, ...]:
    filled = {what for one in columns for what in one.means}
    if filled & LENGTHS:
        filled |= {"minutes"}
    return tuple(one.name for one in SCHEDULE.columns if one.required and one.name not in filled)


def _codes(
    grid: Grid,
    header: ExportHeader,
    columns: Iterable[ExportColumn],
    names: Mapping[str, Mapping[str, str]],
    known: ExportMap | None,
) -> tuple[tuple[CodeGuess, ...], tuple[tuple[str, int], ...]]:
    means_of = {one.name: one.means for one in columns}
    guesses: list[CodeGuess] = []
    unknown: list[tuple[str, int]] = []
    for place, name in sorted(header.names.items()):
        for means in means_of.get(name, ()):
            cells = cells_beneath(grid, header, place)
            there = known.codes.get((plain(name), means), {}) if known else {}
            new = [code for code in codes_beneath(cells, means) if plain_code(code) not in there]
            ids = names.get(means)
            found = [_quotable(guess_code(name, means, code, ids)) for code in new] if ids != {} else []
            guesses += [one for one in found if one]
            if ids:
                strange = sum(
                    one is None and plain_code(code) not in _folded(ids) for one, code in zip(found, new, strict=True)
                )
                unknown += [(name, strange)] if strange else []
    return tuple(guesses), tuple(unknown)


def _quotable(guess: CodeGuess | None) -> CodeGuess | None:
    """A guess whose code may be shown to whoever owns the file."""
    return guess if guess and may_be_quoted(guess.code, (guess.value,)) else None


def _folded(ids: Iterable[str]) -> frozenset[str]:
    return frozenset(one.casefold() for one in ids)


def learn_export(folder: Path, look: ExportLook, codes: Iterable[CodeGuess], now: datetime) -> int:
    """Write what headers and codes mean into the table Export of the site; how many rows are new.

    Raises WrongUse where Schedule needs a column that no header fills; OSError and BusyError.
    """
    if look.lacking:
        raise WrongUse(f"no header means {', '.join(look.lacking)}; nothing was written")
    with hold_tables(folder):
        tables, _ = read_names(folder)
        there = {(plain(row.values["header"]), row.values["means"], plain_code(row.values["code"] or ""))
                 for row in tables.export_rows if not row.bad}  # fmt: skip
        headers = [
            {"header": one.name, "means": what} for one in look.columns for what in one.means if what != NOT_READ
        ]
        rows = [
            *headers,
            *({"header": one.header, "code": one.code, "means": one.means, "value": one.value} for one in codes),
        ]
        new = [
            row for row in rows if (plain(row["header"]), row["means"], plain_code(row.get("code", ""))) not in there
        ]
        if new:
            _add_rows(folder, tables, new, now)
        return len(new)


def _add_rows(folder: Path, tables: FolderTables, rows: list[dict[str, str]], now: datetime) -> None:
    grids = tables.grids.get(EXPORT.name)
    if not grids:
        taken = (folder / f"{EXPORT.book}.xlsx").exists()
        write_tables(folder, {EXPORT.name: rows}, as_csv=frozenset({EXPORT.name} if taken else ()))
        return
    header = find_header(grids[-1], EXPORT, Ledger())
    if header is None or not {"header", "code", "means", "value"} <= header.positions.keys():
        raise WrongUse(f"the header of {EXPORT.name} in {grids[-1].file} cannot be used; correct it first")
    first = len(grids[-1].rows)
    cells = {
        (first + number, header.positions[name]): value
        for number, row in enumerate(rows)
        for name, value in row.items()
    }
    write_cells(folder, grids[-1].file, grids[-1].sheet, cells, now, first - 1)


def kept_of_export(folder: Path, look: ExportLook) -> bytes:
    """The export as it is kept: the columns that Export names, its rows of cases, as a CSV file."""
    tables, _ = read_names(folder)
    rows = mapped_table(look.grid, tables.export) if tables.export else None
    if rows is None:
        raise WrongUse("Export does not know the headers of this file; say first what they mean")
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([csv_text(_as_text(raw)) for raw in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def take_export(folder: Path, look: ExportLook, now: datetime) -> Path:
    """Put the kept part of an export in its place; the former one is kept beside the folder. Raises WrongUse."""
    data, path = kept_of_export(folder, look), folder / TAKEN_AS
    with hold_tables(folder):
        check_not_open(path)
        if path.exists():
            keep_former(folder, path.name, path.read_bytes(), now)
        replace_file(path, data)
    return path


def _as_text(raw: Raw) -> str:
    if isinstance(raw, CellFlaw):
        return raw.text or "?"  # whoever reads it then says that it cannot be meant
    if is_empty(raw):
        return ""
    if isinstance(raw, datetime):
        return plain_text(raw.date()) if raw.time() == datetime.min.time() else plain_text(raw)
    if isinstance(raw, float):
        return number_text(raw)
    return hours_text(raw) if isinstance(raw, timedelta) else plain_text(raw)


def with_codes(look: ExportLook, given: Mapping[tuple[str, str], str], *, sure: bool = True) -> tuple[CodeGuess, ...]:
    """The codes that are sure (without ``sure`` none), and those that somebody said; by header and code.

    Raises WrongUse for a code of a header that means nothing.
    """
    found = {(one.header, plain_code(one.code)): one for one in look.guesses if sure and one.sure}
    for (header, code), value in given.items():
        name = next((one.name for one in look.columns if plain(one.name) == plain(header)), "")
        means = look.means_of(name)
        if not means:
            near = Candidates([one.name for one in look.columns if one.means]).nearest(header, 1)
            hint = did_you_mean(near[:1])
            raise WrongUse(f"a code of '{_shown(header)}' was given, but no header of that name means anything{hint}")
        known = next(
            (one for one in look.guesses if one.header == name and plain_code(one.code) == plain_code(code)), None
        )
        guess = known or CodeGuess(header=name, means=means[0], code=code, value=value, sure=True)
        found[name, plain_code(code)] = replace(guess, value=value)
    return tuple(found.values())
