"""A site that an earlier version kept: its folder ``card changes`` is brought into the state file, once.

``tests/upkeep/former_cards`` holds what that version wrote for the clinic, the log as SQL: a change
approved and undone, a request answered and one open, a proposal rejected, two that wait, one workbook sent.
"""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from picklist.store.state import state_path
from picklist.tables.files import digest_of, kept_folder, prepare_file
from picklist.tasks.errors import WrongUse
from picklist.tasks.exports import write_records
from picklist.tasks.office_desk import answer_office, card_history, look_at_offices
from picklist.tasks.offices import ApprovedBy, approve_cards, take_cards, undo_cards, waiting
from picklist.tasks.read_folder import load_folder
from picklist.upkeep.approval import catch_up
from picklist.upkeep.change_log import known_cards, read_history
from picklist.upkeep.stamps import find_stamp
from tests.upkeep.clinic import DAY, NOW, QUILL, read_clinic, write_clinic
from tests.upkeep.office import fill_in, row_of, send, write

FORMER = Path(__file__).parents[1] / "upkeep" / "former_cards"
VANE = ApprovedBy(name="R. Vane", reason="as asked", effective=DAY)


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """The clinic as the earlier version left it."""
    folder = write_clinic(tmp_path / "clinic")
    leave(folder)
    return folder


def leave(folder: Path) -> Path:
    """Lay what the earlier version kept into a folder."""
    place = folder / "card changes"
    for one in ("proposals", "sent"):
        (place / one).mkdir(parents=True)
    with closing(sqlite3.connect(place / "changes.sqlite")) as db:
        db.executescript((FORMER / "changes.sql").read_text(encoding="utf-8"))
    (place / "lock.sqlite").touch()
    for path in FORMER.glob("*.json"):
        shutil.copy(path, place / "proposals")
    for path in FORMER.glob("*.txt"):
        shutil.copy(path, place / "sent")
    return place


def test_that_nothing_of_it_is_lost(clinic: Path) -> None:
    assert not catch_up(clinic)
    history = card_history(clinic, None, None, NOW)
    assert [line.split(".")[0] for line in history if not line.startswith(" ")] == [
        "Request 1",
        "Change 1",
        "Change 2",
        "Request 2",
        "Rejected: proposal S01-bd81a3",
    ]
    assert "  answered Thu 26 Nov 2026 09:04, R. Vane: ordered; here from January" in history
    assert history[-3].endswith("two are enough")
    assert [(one.number, one.undoes) for one in read_history(clinic)] == [(1, None), (2, 1)]
    desk = look_at_offices(clinic, NOW)
    assert [one.proposal.id for one in desk.waiting] == ["S01-290bcc", "S01-368888"]
    assert [(one.number, one.text) for one in desk.requests] == [(2, "Green drape; 2 open; slips less")]
    with known_cards(clinic) as db:
        stamp = find_stamp(db, "EAE3-98A9")
    assert stamp
    assert (stamp.owner, stamp.day, len(stamp.rows)) == (QUILL, DAY, 5)


def test_that_it_is_brought_in_once_and_kept_as_it_was(clinic: Path) -> None:
    former = {path.name: path.read_bytes() for path in (clinic / "card changes").rglob("*.*")}
    load_folder(clinic, NOW)
    load_folder(clinic, NOW)
    assert not (clinic / "card changes").exists()
    (kept,) = kept_folder(clinic).iterdir()
    with zipfile.ZipFile(kept) as packed:
        there = {Path(name).name: packed.read(name) for name in packed.namelist()}
    assert there == {name: data for name, data in former.items() if name != "lock.sqlite"}
    assert len(read_history(clinic)) == 2


def test_that_work_goes_on_from_it(clinic: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The proposal is approved, its change is number 3 and undone; the office's old workbook is known."""
    with monkeypatch.context() as earlier:  # which made another mark of the same cards
        earlier.setattr("picklist.upkeep.office_plan.card_version", lambda *_: "EAE3-98A9")
        sent = send(clinic, tmp_path / "old.xlsx")
    book = fill_in(sent, lambda sheet: write(sheet, row_of(sheet, "100001"), open=4))
    assert take_cards(clinic, book, NOW).proposal
    applied, _ = approve_cards(clinic, "S01-290bcc", VANE, NOW)
    assert [one.number for one in applied.done] == [3]
    assert "S01-290bcc" not in waiting(clinic)
    undone, _ = undo_cards(clinic, 3, VANE, NOW)
    assert [one.undoes for one in undone.done] == [3]
    answer_office(clinic, 2, "R. Vane", "no", NOW)
    assert not look_at_offices(clinic, NOW).requests


def test_that_the_records_hold_all_of_it(clinic: Path, tmp_path: Path) -> None:
    """Also where ``records`` is the first command after the update."""
    write_records(clinic, tmp_path / "out")

    def rows(name: str) -> list[dict[str, str]]:
        with (tmp_path / "out" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
            return list(csv.DictReader(file))

    changes = rows("card change")
    assert [(one["by"], one["change after open"], one["undoes"]) for one in changes] == [
        ("R. Vane", "5", ""),
        ("R. Vane", "2", "1"),
    ]
    assert [one["asked text"] for one in rows("card request")] == ["Soft retractor, number 12", "Green drape"]
    assert [one["answer text"] for one in rows("card answer")] == ["ordered; here from January"]
    assert [one["reason"] for one in rows("card rejection")] == ["two are enough"]
    assert [one["id"] for one in rows("card proposal")] == ["S01-290bcc", "S01-368888"]
    assert [one["version"] for one in rows("card sent")] == ["EAE3-98A9"]


def test_that_a_run_killed_before_the_folder_was_gone_brings_nothing_in_twice(
    clinic: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("picklist.upkeep.card_folder._remove", killed)
    with pytest.raises(KeyboardInterrupt):
        load_folder(clinic, NOW)
    monkeypatch.undo()
    assert (clinic / "card changes" / "changes.sqlite").exists()
    load_folder(clinic, NOW)
    assert not (clinic / "card changes").exists()
    assert len(read_history(clinic)) == 2
    assert len(list(kept_folder(clinic).iterdir())) == 1


def test_that_a_second_computer_with_the_earlier_version_loses_nothing(clinic: Path) -> None:
    """It starts a log of its own, whose numbers are taken: they get new ones, and an undo goes with its change."""
    load_folder(clinic, NOW)
    place = leave(clinic)
    with closing(sqlite3.connect(place / "changes.sqlite")) as db, db:
        for table in ("changes", "answers", "requests"):
            db.execute(f"DROP TRIGGER {table}_update")
            db.execute(f"UPDATE {table} SET at = '2026-11-26T20:00:00+00:00'")
    load_folder(clinic, NOW)
    assert [(one.number, one.undoes) for one in read_history(clinic)] == [(1, None), (2, 1), (3, None), (4, 3)]
    assert [one.number for one in look_at_offices(clinic, NOW).requests] == [2, 4]
    assert sum(line.startswith("  answered") for line in card_history(clinic, None, None, NOW)) == 2


def test_that_a_write_that_the_earlier_version_did_not_finish_is_finished(clinic: Path, tmp_path: Path) -> None:
    """It was killed after the new cards lay ready and before they were in place."""
    other = write_clinic(tmp_path / "other")
    shutil.copytree(clinic / "card changes", other / "card changes")
    load_folder(other, NOW)
    approve_cards(other, "S01-290bcc", VANE, NOW)
    new = (other / "cards.xlsx").read_bytes()
    part = prepare_file(clinic / "cards.xlsx", new).name
    files = [["cards.xlsx", digest_of((clinic / "cards.xlsx").read_bytes()), digest_of(new), part]]
    with closing(sqlite3.connect(clinic / "card changes" / "changes.sqlite")) as db, db:
        (entries,) = db.execute("SELECT entries FROM writes WHERE number = 1").fetchone()
        db.execute("INSERT INTO writes (files, entries) VALUES (?, ?)", (json.dumps(files), entries))
    assert not catch_up(clinic)
    assert (clinic / "cards.xlsx").read_bytes() == new
    assert not list(clinic.glob(".*.part"))
    assert [one.number for one in read_history(clinic)] == [1, 2, 3]


def test_that_the_oldest_log_is_read_and_undone(clinic: Path) -> None:
    """It says neither what a change found in its place nor until when it counts, and knows no rejections."""
    with closing(sqlite3.connect(clinic / "card changes" / "changes.sqlite")) as db, db:
        for verb in ("update", "delete"):
            db.execute(f"DROP TRIGGER changes_{verb}")
        db.execute("DELETE FROM changes WHERE number = 2")
        for column in ("until", "stood"):
            db.execute(f"ALTER TABLE changes DROP COLUMN {column}")
        db.execute("DROP TABLE rejected")
    load_folder(clinic, NOW)
    (entry,) = read_history(clinic)
    assert (entry.until, entry.stood.own, entry.change.after and entry.change.after.open) == (None, False, 5)


def test_that_requests_kept_in_the_oldest_proposals_are_not_lost(clinic: Path) -> None:
    path = clinic / "card changes" / "proposals" / "S01-290bcc.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    asked = {"procedure": "KNEE", "text": "Soft retractor", "open": "", "hold": "", "why": ""}
    path.write_text(json.dumps(data | {"id": "S01-abc123", "changes": [], "requests": [asked]}), encoding="utf-8")
    load_folder(clinic, NOW)
    assert tuple(waiting(clinic)) == ("S01-368888",)
    assert [one.text for one in look_at_offices(clinic, NOW).requests] == [
        "Green drape; 2 open; slips less",
        "Soft retractor",
    ]


def test_that_what_cannot_be_read_is_said_and_kept(clinic: Path) -> None:
    (clinic / "card changes" / "proposals" / "S01-290bcc.json").write_text("[]")
    (problem,) = catch_up(clinic)
    assert (problem.kind, problem.where.file) == ("former-cards", "card changes/proposals/S01-290bcc.json")
    assert tuple(waiting(clinic)) == ("S01-368888",)
    (kept,) = kept_folder(clinic).iterdir()
    with zipfile.ZipFile(kept) as packed:
        assert packed.read("proposals/S01-290bcc.json") == b"[]"
    assert not catch_up(clinic)


def test_that_a_damaged_log_stays_where_it_is_and_is_said(clinic: Path, tmp_path: Path) -> None:
    log = clinic / "card changes" / "changes.sqlite"
    log.write_bytes(b"this is no log at all" * 100)
    for _ in range(2):
        (problem,) = catch_up(clinic)
        assert (problem.kind, problem.where.file) == ("former-cards", "card changes")
    with pytest.raises(WrongUse, match="cannot be brought in"):
        write_records(clinic, tmp_path / "out")
    assert log.exists()
    assert len(list((clinic / "card changes" / "proposals").iterdir())) == 2
    log.unlink()
    assert not catch_up(clinic)
    assert len(waiting(clinic)) == 2


def test_that_a_site_without_cards_of_before_gets_no_state_file(tmp_path: Path) -> None:
    folder = write_clinic(tmp_path / "new")
    load_folder(folder, NOW)
    assert read_history(folder) == ()
    assert read_clinic(folder)
    assert not state_path(folder).exists()
