"""A problem put right in the file that has it: one cell written anew, every other byte as it was, and undone again."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from picklist.problems import Problem
from picklist.store.lock import hold_tables
from picklist.store.state import StateFile, state_path
from picklist.store.typed_records import Records
from picklist.tables.drafts import Ledger
from picklist.tables.file_safety import DAMAGED
from picklist.tables.files import check_not_open, digest_now, digest_of, keep_former, kept_folder, replace_file
from picklist.tables.find_cell import find_cell, put_right, typed_value
from picklist.tables.folder import read_folder
from picklist.tables.sheet_edit import edit_cells
from picklist.tables.sheet_styles import Value
from picklist.tasks.errors import WrongUse, opened_state, refuse_private

FORMER_FIXES = "fixes.json"  # beside the former files, where an earlier version kept the fixes


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """A file that was written: what it says now, the mark of its contents, and the name of its former ones.

    ``number`` is 0 until it is among the fixes that can be undone.
    """

    number: int = 0
    file: str
    said: str
    digest: str
    kept: str


FIXES = Records("cell_fix", Fixed, {"number": True})


def fix_cell(folder: Path, problem: Problem, right: str, now: datetime) -> Fixed:
    """Write ``right`` in the place of what a problem finds wrong. Raises WrongUse where that cannot be."""
    if right not in problem.nearest:
        refuse_private({"the new value": right}, now)
    with hold_tables(folder), opened_state(folder) as state:
        cell = find_cell(read_folder(folder, Ledger()), problem.where)
        if cell is None:
            raise WrongUse(f"{problem.where} is gone, or is more than one cell; fix it in the file")
        whole = put_right(cell, problem.value, right) if right in problem.nearest else right
        if whole is None:
            raise WrongUse(f"{problem.where} holds several words; fix it in the file, or type the whole cell")
        value, wrong = typed_value(cell, whole)
        if wrong:
            raise WrongUse(f"{problem.where}: {wrong}; nothing was written")
        file, sheet = problem.where.file, problem.where.sheet
        after, kept = _edited(folder, file, sheet, {(cell.row, cell.place): value}, now, cell.row)
        said = f"{problem.where} says {right} now."  # of several words in a cell, no other one
        fixed = Fixed(file=file, said=said, digest=digest_of(after), kept=kept)
        with state.writing() as db:  # first, so that no fix is in the file that cannot be undone
            for row, one in FIXES.rows(db):
                if not _is_in_file(folder, one):
                    db.execute("DELETE FROM cell_fix WHERE number = ?", (row["number"],))
            number = FIXES.keep(db, fixed)
        replace_file(folder / file, after)
        return replace(fixed, number=number)


def fixes_made(folder: Path) -> tuple[Fixed, ...]:
    """The fixes that can still be undone, whoever made them and in whichever run; the last one at the end.

    Raises WrongUse.
    """
    kept = kept_folder(folder)
    if not (state_path(folder).exists() or (kept / FORMER_FIXES).exists()):
        return ()
    with opened_state(folder) as state:
        bring_in_fixes(state, folder)
        with state.reading() as db:
            made = [replace(one, number=row["number"]) for row, one in FIXES.rows(db)]
    return tuple(one for one in made if _is_in_file(folder, one))


def _is_in_file(folder: Path, fixed: Fixed) -> bool:
    """Whether a fix can be undone: not where the file is as it was before, as after a fix that was cut short."""
    former = digest_now(kept_folder(folder) / fixed.kept)
    return bool(former) and former != digest_now(folder / fixed.file)


def bring_in_fixes(state: StateFile, folder: Path) -> None:
    """Take over, once, what an earlier version kept in a file of its own; a damaged one is left where it is."""
    file = kept_folder(folder) / FORMER_FIXES
    with suppress(FileNotFoundError, ValidationError):
        former = TypeAdapter(tuple[Fixed, ...]).validate_json(file.read_bytes())
        with state.writing() as db:
            known = [one for _, one in FIXES.rows(db)]
            for one in former:
                if one not in known:
                    FIXES.keep(db, one)
        file.unlink(missing_ok=True)


def write_cells(
    folder: Path, file: str, sheet: str, cells: Mapping[tuple[int, int], Value], now: datetime, like_row: int
) -> None:
    """Write cells (0-based row and place) of one sheet; the former file is kept beside the folder.

    New cells look like those of ``like_row``.
    The caller holds the tables. Raises BusyError, OSError and WrongUse; the file is as it was then.
    """
    after, _ = _edited(folder, file, sheet, cells, now, like_row)
    replace_file(folder / file, after)


def _edited(
    folder: Path, file: str, sheet: str, cells: Mapping[tuple[int, int], Value], now: datetime, like_row: int
) -> tuple[bytes, str]:
    """The new contents of a file, and the name under which its former ones are kept from now on."""
    path = folder / file
    check_not_open(path)
    before = path.read_bytes()
    try:
        after = edit_cells(before, sheet, cells, like_row=like_row)
    except (KeyError, ValueError):
        raise WrongUse(f"{file}: {DAMAGED.message}; fix it in the file") from None
    return after, keep_former(folder, file, before, now).name


def undo_fix(folder: Path, fixed: Fixed) -> None:
    """Give a file its contents from before a fix again. Raises WrongUse when somebody changed it since."""
    path = folder / fixed.file
    with hold_tables(folder), opened_state(folder) as state:
        check_not_open(path)
        if not path.is_file() or digest_of(path.read_bytes()) != fixed.digest:
            raise WrongUse(f"{fixed.file} was changed since; undo the later change first, or fix it in the file")
        with state.writing() as db:
            replace_file(path, (kept_folder(folder) / fixed.kept).read_bytes())
            db.execute("DELETE FROM cell_fix WHERE number = ?", (fixed.number,))
