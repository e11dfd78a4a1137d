"""A problem is put right in its cell, all else of the file stays byte for byte, and it is undone again."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from picklist.problems import Problem, Severity
from picklist.store.state import state_path
from picklist.tables.files import kept_folder
from picklist.tables.write import write_tables
from picklist.tasks.errors import WrongUse
from picklist.tasks.exports import write_records
from picklist.tasks.fix_cell import fix_cell, fixes_made, undo_fix
from picklist.tasks.read_folder import load_folder
from tests.inputs.exports import SEMICOLONS
from tests.inputs.folders import Rows, sound_rows

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time


def site(folder: Path, change: Callable[[Rows], object], *, as_csv: bool = False) -> Path:
    rows = sound_rows()
    change(rows)
    write_tables(folder / "north", rows, as_csv=frozenset({"Schedule", "Cards"}) if as_csv else frozenset())
    return folder / "north"


def wrong(folder: Path) -> list[Problem]:
    return [one for one in load_folder(folder, NOW).problems if one.severity is not Severity.NOTICE]


def contents(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("as_csv", [False, True], ids=["workbook", "csv"])
def test_a_room_that_is_mistyped_takes_the_nearest_one_and_is_undone(tmp_path: Path, as_csv: bool) -> None:
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"room": "OR-1"}), as_csv=as_csv)
    [problem] = wrong(folder)
    file = folder / problem.where.file
    before, parts = file.read_bytes(), {} if as_csv else contents(file)
    fixed = fix_cell(folder, problem, problem.nearest[0], NOW)
    assert wrong(folder) == []
    assert (kept_folder(folder) / fixed.kept).read_bytes() == before
    if as_csv:
        assert file.read_bytes() == before.replace(b"OR-1", b"OR 1")
    else:
        assert [name for name, data in contents(file).items() if data != parts[name]] == ["xl/worksheets/sheet1.xml"]
    undo_fix(folder, fixed)
    assert file.read_bytes() == before


@pytest.mark.parametrize("fails", ["tasks.fix_cell.replace_file", "store.typed_records.Records.keep"])
def test_a_fix_is_in_the_file_and_can_be_undone_or_neither(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"room": "OR-1"}), as_csv=True)
    before, [problem] = (folder / "Schedule.csv").read_bytes(), wrong(folder)

    def refuse(*_: object) -> None:
        raise OSError("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(f"picklist.{fails}", refuse)
        with pytest.raises(OSError, match="full"):
            fix_cell(folder, problem, "OR 1", NOW)
    assert (folder / "Schedule.csv").read_bytes() == before
    assert fixes_made(folder) == ()
    fixed = fix_cell(folder, problem, "OR 1", NOW)
    assert fixes_made(folder) == (fixed,)


def test_a_fix_that_an_earlier_version_kept_in_a_file_is_exported_and_undone(tmp_path: Path) -> None:
    """It lay beside the former files; now it is in the state, and the file is gone."""
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"room": "OR-1"}), as_csv=True)
    before = (folder / "Schedule.csv").read_bytes()
    fixed = fix_cell(folder, wrong(folder)[0], "OR 1", NOW)
    state_path(folder).unlink()
    former = kept_folder(folder) / "fixes.json"
    row = {"file": fixed.file, "said": fixed.said, "digest": fixed.digest, "kept": fixed.kept}
    former.write_text(json.dumps([row]), encoding="utf-8")
    write_records(folder, tmp_path / "records")
    assert fixed.said in (tmp_path / "records" / "cell fix.csv").read_text(encoding="utf-8-sig")
    assert not former.exists()
    [known] = fixes_made(folder)
    undo_fix(folder, known)
    assert (folder / "Schedule.csv").read_bytes() == before
    assert fixes_made(folder) == ()


def test_one_of_several_procedures_is_put_right_and_the_others_stay(tmp_path: Path) -> None:
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"procedures": ("KNE", "HERNIA")}))
    [problem] = wrong(folder)
    assert problem.nearest == ("KNEE",)
    fix_cell(folder, problem, "KNEE", NOW)
    assert wrong(folder) == []
    loaded = load_folder(folder, NOW)
    assert loaded.site is not None
    assert loaded.site.cases[0].procedures == ("KNEE", "HERNIA")


def test_what_is_said_of_a_fix_holds_nothing_else_of_the_cell(tmp_path: Path) -> None:
    """The sentence is kept, shown and exported; beside the procedure somebody wrote a name."""
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"procedures": ("KNE", "Oda Wrenfield")}))
    problem = next(one for one in wrong(folder) if one.nearest == ("KNEE",))
    assert fix_cell(folder, problem, "KNEE", NOW).said.endswith("column procedures says KNEE now.")
    assert "Wrenfield" not in fixes_made(folder)[-1].said


def test_a_value_typed_by_hand_is_looked_at_before_it_is_written(tmp_path: Path) -> None:
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"minutes": "ninety"}))
    [problem] = wrong(folder)
    before = (folder / problem.where.file).read_bytes()
    for refused in ("nighty", "WRENFIELD, Oda F72", "-4"):
        with pytest.raises(WrongUse):
            fix_cell(folder, problem, refused, NOW)
    assert (folder / problem.where.file).read_bytes() == before
    fix_cell(folder, problem, "95", NOW)
    assert wrong(folder) == []


def test_a_header_that_is_misspelled_is_put_right(tmp_path: Path) -> None:
    folder = site(tmp_path, lambda rows: rows["Cards"][0].update({"note": "for closure"}), as_csv=True)
    cards = folder / "Cards.csv"
    cards.write_bytes(cards.read_bytes().replace(b"approved", b"aproved"))
    [problem] = wrong(folder)
    fix_cell(folder, problem, "approved", NOW)
    assert wrong(folder) == []


def test_nothing_is_undone_over_a_later_change(tmp_path: Path) -> None:
    folder = site(tmp_path, lambda rows: rows["Schedule"][0].update({"room": "OR-1"}), as_csv=True)
    fixed = fix_cell(folder, wrong(folder)[0], "OR 1", NOW)
    file = folder / fixed.file
    file.write_bytes(file.read_bytes() + b"\r\n")
    with pytest.raises(WrongUse, match="was changed since"):
        undo_fix(folder, fixed)


def test_a_cell_of_an_export_is_put_right_where_it_stands(tmp_path: Path) -> None:
    folder = site(tmp_path, lambda rows: rows.pop("Schedule"))
    file = folder / SEMICOLONS.name
    file.write_bytes(SEMICOLONS.data.replace(b"OR 02", b"OR22"))
    (folder / "Export.csv").write_text(SEMICOLONS.export, encoding="utf-8")
    [problem] = wrong(folder)
    assert problem.nearest == ("OR 2",)
    fix_cell(folder, problem, "OR 2", NOW)
    assert wrong(folder) == []
    assert file.read_bytes() == SEMICOLONS.data.replace(b"OR 02", b"OR 2")
