"""What comes back from offices: whose it is, what waits, what is asked for, answered, rejected, and cut short."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from picklist.problems import Severity
from picklist.tasks import offices
from picklist.tasks.errors import WrongUse
from picklist.tasks.office_desk import answer_office, card_history, list_waiting, look_at_offices, reject_waiting
from picklist.tasks.offices import ApprovedBy, TakenBack, approve_cards, send_all_cards, send_cards, take_cards, waiting
from picklist.tasks.read_folder import load_folder
from picklist.upkeep.approval import ApprovalResult, apply_approval
from picklist.upkeep.change_log import ChangeLog, read_history
from picklist.upkeep.office_book import TOLD_SHEET
from picklist.upkeep.proposals import Approval
from tests.inputs.folders import sound_rows
from tests.upkeep.clinic import DAY, NOW, QUILL, wanted, write_clinic
from tests.upkeep.office import ask_row, fill_in, forget_sent, row_of, write

VANE = ApprovedBy(name="R. Vane", reason="asked for", effective=DAY)


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    return write_clinic(tmp_path / "clinic")


@pytest.fixture
def book(clinic: Path, tmp_path: Path) -> Path:
    """Quill's workbook, as sent."""
    return sent(clinic, tmp_path / "quill.xlsx")


def sent(clinic: Path, path: Path, who: str = "S01") -> Path:
    send_cards(clinic, who, path, NOW)
    return path


def five_sutures(sheet: Worksheet) -> None:
    write(sheet, row_of(sheet, "100001"), open=5)


def ask(sheet: Worksheet) -> None:
    write(sheet, ask_row(sheet), name="Soft retractor, number 12", open=2, note="slips less")


def both(sheet: Worksheet) -> None:
    five_sutures(sheet)
    ask(sheet)


def kinds(taken: TakenBack) -> list[str]:
    return [one.kind for one in taken.problems]


def test_that_each_office_has_a_file_in_the_folder_whatever_it_is_called(tmp_path: Path) -> None:
    rows = sound_rows()
    procedures = [row | {"service": "Ear/nose: throat"} for row in rows["Procedures"]]
    staff = [row | {"name": "../Dr. Quill"} if row["person"] == "S01" else row for row in rows["Staff"]]
    clinic = write_clinic(tmp_path / "clinic", tables={"Procedures": procedures, "Staff": staff})
    out = tmp_path / "offices"
    out.mkdir()
    sent_to = send_all_cards(clinic, out, NOW)
    assert {one.name for one in sent_to} >= {"../Dr. Quill (S01)", "Base cards of Ear/nose: throat"}
    files = {path.name for path in out.iterdir()}
    assert files >= {"Dr. Quill (S01).xlsx", "Base cards of Earnose throat.xlsx"}
    assert len(files) == len(sent_to)


def test_that_the_workbook_of_another_site_is_refused(clinic: Path, tmp_path: Path) -> None:
    """Both sites have a surgeon S01 and a knee card; the workbook was made at the other."""
    name, *rest = sound_rows()["Settings"]
    other = write_clinic(tmp_path / "other", tables={"Settings": [name | {"value": "Another Hospital"}, *rest]})
    book = fill_in(sent(other, tmp_path / "theirs.xlsx"), five_sutures)
    for ours in (False, True):
        taken = take_cards(clinic, book, NOW, ours=ours)
        assert kinds(taken) == ["other-site"]
        assert not taken.compared
    assert not waiting(clinic)


def test_that_a_workbook_without_any_record_is_asked_about(clinic: Path, book: Path) -> None:
    fill_in(book, five_sutures)
    forget_sent(clinic)
    taken = take_cards(clinic, book, NOW)
    assert kinds(taken) == ["not-recorded"]
    assert taken.unknown == book
    assert not waiting(clinic)
    assert take_cards(clinic, book, NOW, ours=True).proposal


def test_that_the_workbook_of_a_surgeon_who_has_left_is_refused(clinic: Path, book: Path) -> None:
    write_clinic(clinic, tables={"Staff": sound_rows()["Staff"][1:]})
    assert "unknown-owner" in kinds(take_cards(clinic, fill_in(book, five_sutures), NOW))


def test_that_two_surgeons_of_one_name_are_asked_about(clinic: Path, tmp_path: Path) -> None:
    write_clinic(clinic, tables={"Staff": [*sound_rows()["Staff"], {"person": "S03", "name": "Dr. Quill"}]})
    with pytest.raises(WrongUse, match=r"Dr. Quill \(S01\) or Dr. Quill \(S03\)"):
        send_cards(clinic, "dr quill", tmp_path / "x.xlsx", NOW)
    assert send_cards(clinic, "S03", tmp_path / "x.xlsx", NOW).name == "Dr. Quill (S03)"
    with pytest.raises(WrongUse, match="S03"):
        card_history(clinic, None, "Dr. Quill", NOW)


def test_that_a_part_of_a_name_is_enough_where_nobody_else_has_it(clinic: Path, tmp_path: Path) -> None:
    assert send_cards(clinic, "quill", tmp_path / "x.xlsx", NOW).name == "Dr. Quill (S01)"
    with pytest.raises(WrongUse, match=r"Dr. Quill \(S01\) or Dr. Tarn"):
        send_cards(clinic, "dr", tmp_path / "x.xlsx", NOW)


def test_that_a_surgeon_called_like_a_service_is_asked_about(clinic: Path, tmp_path: Path) -> None:
    write_clinic(clinic, tables={"Staff": [*sound_rows()["Staff"], {"person": "S03", "name": "General"}]})
    with pytest.raises(WrongUse, match="Base cards of General"):
        send_cards(clinic, "General", tmp_path / "x.xlsx", NOW)


def test_that_no_proposal_is_named_that_does_not_wait(clinic: Path, book: Path) -> None:
    taken = take_cards(clinic, book, NOW)
    assert taken.compared
    assert (taken.proposal, taken.lines) == (None, ())
    assert list_waiting(clinic, NOW) == ()


def test_that_what_waits_is_listed_and_can_be_rejected_with_a_reason(clinic: Path, book: Path) -> None:
    taken = take_cards(clinic, fill_in(book, five_sutures), NOW)
    assert taken.proposal
    assert any("5 open and 1 hold" in line for line in list_waiting(clinic, NOW))
    with pytest.raises(WrongUse, match="reason"):
        reject_waiting(clinic, taken.proposal.id, "R. Vane", " ", NOW)
    reject_waiting(clinic, taken.proposal.id, "R. Vane", "two are enough", NOW)
    assert list_waiting(clinic, NOW) == ()
    assert wanted(clinic, QUILL)["100001"] == (2, 1)
    told = card_history(clinic, None, None, NOW)
    assert told[0].endswith("R. Vane: two are enough")
    assert "5 open and 1 hold" in told[2]
    with pytest.raises(WrongUse, match="none is waiting"):
        reject_waiting(clinic, taken.proposal.id, "R. Vane", "two are enough", NOW)


def test_that_the_office_reads_in_its_next_workbook_why_nothing_came_of_it(
    clinic: Path, book: Path, tmp_path: Path
) -> None:
    taken = take_cards(clinic, fill_in(book, five_sutures), NOW)
    assert taken.proposal
    reject_waiting(clinic, taken.proposal.id, "R. Vane", "two are enough", NOW)
    sheet = openpyxl.load_workbook(sent(clinic, tmp_path / "next.xlsx"))[TOLD_SHEET]
    assert sheet["D4"].value == "not approved: two are enough (R. Vane)"
    assert TOLD_SHEET not in openpyxl.load_workbook(sent(clinic, tmp_path / "tarn.xlsx", "S02")).sheetnames


def test_that_a_request_outlives_the_approval_and_is_answered(clinic: Path, book: Path, tmp_path: Path) -> None:
    taken = take_cards(clinic, fill_in(book, both), NOW)
    assert taken.proposal
    assert [(one.number, one.asked.text) for one in taken.requests] == [(1, "Soft retractor, number 12")]
    approve_cards(clinic, taken.proposal.id, VANE, NOW)
    assert not waiting(clinic)
    assert any("Soft retractor, number 12; 2 open; slips less" in line for line in list_waiting(clinic, NOW))
    assert [one.number for one in look_at_offices(clinic, NOW).requests] == [1]
    sheet = openpyxl.load_workbook(sent(clinic, tmp_path / "next.xlsx"))[TOLD_SHEET]
    assert [cell.value for cell in sheet[4]][1:] == [
        "Knee repair (KNEE)",
        "Soft retractor, number 12; 2 open; slips less",
        "not answered yet",
    ]
    with pytest.raises(WrongUse, match="open requests: 1"):
        answer_office(clinic, 7, "R. Vane", "ordered", NOW)
    answer_office(clinic, 1, "R. Vane", "ordered; here from January", NOW)
    assert list_waiting(clinic, NOW) == ()
    assert any(line.endswith("R. Vane: ordered; here from January") for line in card_history(clinic, None, None, NOW))
    sheet = openpyxl.load_workbook(sent(clinic, tmp_path / "last.xlsx"))[TOLD_SHEET]
    assert sheet["D4"].value == "Thu 26 Nov 2026, R. Vane: ordered; here from January"


def test_that_a_workbook_with_answers_comes_back_as_any_other(clinic: Path, book: Path, tmp_path: Path) -> None:
    take_cards(clinic, fill_in(book, ask), NOW)
    following = fill_in(sent(clinic, tmp_path / "next.xlsx"), five_sutures)
    taken = take_cards(clinic, following, NOW)
    assert taken.proposal
    assert len(taken.proposal.changes) == 1
    assert not taken.problems
    assert not taken.requests


def test_that_a_request_is_recorded_once_however_often_the_workbook_comes(clinic: Path, book: Path) -> None:
    fill_in(book, ask)
    assert [one.number for one in take_cards(clinic, book, NOW).requests] == [1]
    assert [one.number for one in take_cards(clinic, book, NOW).requests] == [1]
    answer_office(clinic, 1, "R. Vane", "no", NOW)
    assert [one.is_open for one in take_cards(clinic, book, NOW).requests] == [False]


def test_that_a_second_wish_for_a_line_names_the_proposal_that_waits_with_the_first(clinic: Path, book: Path) -> None:
    first = take_cards(clinic, fill_in(book, five_sutures), NOW).proposal
    assert first
    assert take_cards(clinic, book, NOW).problems == ()  # the same workbook twice is the same proposal
    three = fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open=3))
    (said,) = take_cards(clinic, three, NOW).problems
    assert (said.kind, said.severity) == ("also-waiting", Severity.NOTICE)
    assert (
        said.message
        == f"proposal {first.id} waits with a wish for this line too: Suture 2-0 (100001), 5 open and 1 hold"
    )
    assert len(waiting(clinic)) == 2


def test_that_a_corrected_copy_takes_the_place_of_the_proposal_of_its_first_return(
    clinic: Path, book: Path, tmp_path: Path
) -> None:
    """One wish is clear, the other says "two" for a number; the office corrects the marked copy and sends it back."""

    def one_wrong(sheet: Worksheet) -> None:
        five_sutures(sheet)
        write(sheet, row_of(sheet, "100007"), open="two")

    first = take_cards(clinic, fill_in(book, one_wrong), NOW, tmp_path / "marked.xlsx")
    assert first.proposal
    assert first.back
    corrected = fill_in(first.back, lambda sheet: write(sheet, row_of(sheet, "100007"), open=2))
    second = take_cards(clinic, corrected, NOW)
    assert second.proposal
    assert (list(waiting(clinic)), kinds(second)) == ([second.proposal.id], ["taken-over"])
    assert len(second.proposal.changes) == 2


def test_that_a_request_written_into_two_rows_of_a_card_is_recorded_once(clinic: Path, book: Path) -> None:
    def twice(sheet: Worksheet) -> None:
        for row in (ask_row(sheet), ask_row(sheet) + 1):
            write(sheet, row, name="Soft retractor, number 12", open=2)

    assert [one.number for one in take_cards(clinic, fill_in(book, twice), NOW).requests] == [1]
    assert [one.number for one in look_at_offices(clinic, NOW).requests] == [1]


def test_that_history_takes_names(clinic: Path, book: Path) -> None:
    taken = take_cards(clinic, fill_in(book, five_sutures), NOW)
    assert taken.proposal
    approve_cards(clinic, taken.proposal.id, VANE, NOW)
    by_id = card_history(clinic, "KNEE", "S01", NOW)
    assert by_id
    assert card_history(clinic, "knee repair", "dr. quill", NOW) == by_id
    assert card_history(clinic, "Hernia repair", None, NOW) == ()
    assert card_history(clinic, None, "Dr. Tarn", NOW) == ()
    with pytest.raises(WrongUse, match="KNEE"):
        card_history(clinic, "KNEEE", None, NOW)
    with pytest.raises(WrongUse, match="S01"):
        card_history(clinic, None, "Dr. Quil", NOW)


def test_that_any_command_finishes_what_a_kill_cut_short(
    clinic: Path, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The approval was killed after its files were in place and before its changes stood in the log."""

    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    taken = take_cards(clinic, fill_in(book, five_sutures), NOW)
    assert taken.proposal
    monkeypatch.setattr(ChangeLog, "finish_write", killed)
    with pytest.raises(KeyboardInterrupt):
        approve_cards(clinic, taken.proposal.id, VANE, NOW)
    monkeypatch.undo()
    assert wanted(clinic, QUILL)["100001"] == (5, 1)
    assert not read_history(clinic)
    load_folder(clinic, NOW)
    assert [one.by for one in read_history(clinic)] == ["R. Vane"]
    applied, _ = approve_cards(clinic, taken.proposal.id, VANE, NOW)
    assert [len(applied.done), len(applied.already), len(applied.refused)] == [0, 1, 0]
    assert not waiting(clinic)


def test_that_what_cannot_be_finished_now_is_said(clinic: Path, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    taken = take_cards(clinic, fill_in(book, five_sutures), NOW)
    assert taken.proposal
    monkeypatch.setattr(ChangeLog, "finish_write", refuse)
    with pytest.raises(PermissionError):
        approve_cards(clinic, taken.proposal.id, VANE, NOW)
    assert "unfinished-change" in [one.kind for one in load_folder(clinic, NOW).problems]


def test_that_two_who_approve_at_once_leave_nothing_waiting_that_is_done(
    clinic: Path, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While R. Vane approves the first of two changes, J. Moss approves the second."""

    def two(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100001"), open=5)
        write(sheet, row_of(sheet, "100007"), open=7)

    taken = take_cards(clinic, fill_in(book, two), NOW)
    assert taken.proposal
    proposal = taken.proposal.id
    first, second = (one.number for one in taken.proposal.changes)

    def meanwhile(folder: Path, wanted: Approval, now: datetime) -> ApprovalResult:
        monkeypatch.setattr(offices, "apply_approval", apply_approval)
        approve_cards(clinic, proposal, replace(VANE, name="J. Moss", numbers=(second,)), NOW)
        return apply_approval(folder, wanted, now=now)

    monkeypatch.setattr(offices, "apply_approval", meanwhile)
    approve_cards(clinic, proposal, replace(VANE, numbers=(first,)), NOW)
    assert not waiting(clinic)
    assert [entry.by for entry in read_history(clinic)] == ["J. Moss", "R. Vane"]


@pytest.mark.parametrize("later", [0, 6])
def test_that_half_an_approval_leaves_one_proposal_however_often_the_workbook_comes(
    clinic: Path, book: Path, later: int
) -> None:
    """Of three wishes one, which swaps a line of Quill's own, is approved, for today or for a day to come."""

    def three(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100001"), open=5)
        write(sheet, row_of(sheet, "100007"), name="Drain 10 Fr (100008)")
        write(sheet, row_of(sheet, "T-KNEE"), note="the long one")

    first = take_cards(clinic, fill_in(book, three), NOW).proposal
    assert first
    swap = next(one.number for one in first.changes if one.after and one.after.thing == "100008")
    since = replace(VANE, effective=DAY + timedelta(days=later))
    approve_cards(clinic, first.id, replace(since, numbers=(swap,)), NOW)
    again = take_cards(clinic, book, NOW)
    assert (again.proposal, set(kinds(again))) == (waiting(clinic)[first.id], {"already-so"})
    assert {one.number for one in waiting(clinic)[first.id].changes} == {1, 2, 3} - {swap}
    assert len(waiting(clinic)) == 1
    approve_cards(clinic, first.id, since, NOW)
    assert take_cards(clinic, book, NOW).proposal is None
    assert not waiting(clinic)


def test_that_a_swap_approved_twice_is_on_the_card_already(clinic: Path, book: Path) -> None:
    """J. Moss approves it while R. Vane does."""

    def swap(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100007"), name="Drain 10 Fr (100008)")

    proposal = take_cards(clinic, fill_in(book, swap), NOW).proposal
    assert proposal
    twice = Approval(owner=QUILL, changes=proposal.changes, approved=VANE)
    assert len(apply_approval(clinic, twice, now=NOW).done) == 1
    again = apply_approval(clinic, twice, now=NOW)
    assert (again.done, again.refused, again.already) == ((), (), proposal.changes)
