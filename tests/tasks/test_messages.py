"""Messages come in from files and over the network, and become the schedule that everything else reads."""

from __future__ import annotations

import os
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from picklist.problems import Severity
from picklist.store.state import open_state, state_path
from picklist.store.state_errors import StateFullError
from picklist.tables.files import kept_folder
from picklist.tasks.listen import Listener
from picklist.tasks.message_files import FILE, REFUSED, WatchedFiles, open_door
from picklist.tasks.read_folder import load_folder
from picklist.tasks.take_file import try_file
from picklist.tasks.take_form import FileKind, FormSaid, take_form
from tests.cli.run import run
from tests.inputs.folders import Rows, write_site
from tests.messages.sender import Sender
from tests.messages.words import siu

NOW = "2026-11-25 18:00"
LISTEN = (sys.executable, "-m", "picklist", "listen")


def with_codes(rows: Rows) -> None:
    """The sound site, its schedule to come from messages."""
    rows.pop("Schedule")
    rows["Codes"] = [
        {"code": "OR1", "field": "AIL-3", "means": "room", "value": "OR 1"},
        {"code": "Q77", "field": "AIP-3", "means": "surgeon", "value": "S01"},
        {"code": "29881", "field": "AIS-3", "means": "procedure", "value": "KNEE"},
    ]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return write_site(tmp_path / "site", with_codes)


def received(site: Path, text: str, *more: str) -> tuple[int, str, str]:
    file = site.parent / "messages.hl7"
    file.write_text(text, encoding="utf-8", newline="")
    return run("receive", str(site), str(file), "--now", NOW, *more)


def rows(site: Path) -> list[str]:
    return (site / FILE).read_text(encoding="utf-8-sig").splitlines()[1:]


def add_code(site: Path, **row: Any) -> None:
    book = load_workbook(site / "site.xlsx")
    sheet = book["Codes"]
    sheet.append([row.get(str(cell.value)) for cell in sheet[1]])
    book.save(site / "site.xlsx")


def test_that_a_site_without_a_schedule_is_built_from_messages_alone(site: Path, tmp_path: Path) -> None:
    code, said, problems = received(site, siu())
    assert (code, said) == (0, "1 new message, 0 that came before, 0 refused.\n"), problems
    assert rows(site) == ["77001,2026-11-26,OR 1,07:30,90,S01,KNEE,right,,,planned"]
    code, said, _ = run("build", str(site), "--now", NOW, "--out", str(tmp_path / "out"), "--no-chance")
    assert (code, (tmp_path / "out" / "pick-lists.pdf").is_file()) == (0, True)


def test_that_the_same_file_again_changes_nothing(site: Path) -> None:
    received(site, siu())
    before = (site / FILE).read_bytes()
    assert received(site, siu())[1] == "0 new messages, 1 that came before, 0 refused.\n"
    assert (site / FILE).read_bytes() == before


def test_that_a_case_waits_for_its_code_and_is_applied_by_itself_once_it_is_there(site: Path) -> None:
    code, _, problems = received(site, siu(places="AIL|1||^OR2"))
    assert code == 1
    assert "message MSG1, AIL 1, field AIL-3" in problems
    assert rows(site)[0].startswith("77001,2026-11-26,,07:30")
    add_code(site, code="OR2", field="AIL-3", means="room", value="OR 2")
    assert run("check", str(site), "--now", NOW)[0] == 0
    assert rows(site)[0].startswith("77001,2026-11-26,OR 2,07:30")


def test_that_a_mistake_in_codes_names_its_cell(site: Path) -> None:
    add_code(site, code="OR2", field="AIL-3", means="room", value="OR 22")
    add_code(site, code="RT", field="AIS-11", means="side", value="rigth")
    add_code(site, code="OR1", field="AIL-3", means="nothing")
    received(site, siu())
    said = run("check", str(site), "--now", NOW)[1]
    assert "E5 (value): [to fix] this id is not in Rooms" in said
    assert "did you mean right?" in said
    assert "A7 (code): [to fix] this code is in two rows" in said


def test_that_a_refused_message_names_file_message_and_field(site: Path) -> None:
    code, said, problems = received(site, siu() + "\r" + siu(control="MSG2", filler=""))
    assert (code, said) == (1, "2 new messages, 0 that came before, 1 refused.\n")
    assert "messages.hl7, message MSG2, field SCH-1 or SCH-2: the appointment has no number" in problems


def test_that_the_last_message_of_a_batch_that_was_cut_off_is_not_applied(site: Path) -> None:
    """It could be half a case, and counts once the batch comes whole."""
    batch = "BHS|^~\\&|A\r" + siu() + "\r" + siu(control="MSG2", filler="77002")
    code, said, problems = received(site, batch)
    assert (code, said) == (1, "2 new messages, 0 that came before, 1 refused.\n")
    assert "messages.hl7, message MSG2: the batch has no end, so this message may be cut off" in problems
    assert [one[0] for one in refused(site)] == ["message MSG2"]
    assert [one[:5] for one in rows(site)] == ["77001"]
    assert received(site, f"{batch}\rBTS|2\r")[1] == "1 new message, 1 that came before, 0 refused.\n"
    assert (refused(site), [one[:5] for one in rows(site)]) == ([], ["77001", "77002"])


def refused(site: Path, now: str = NOW) -> list[tuple[str, str, Severity]]:
    """Where check lists what was refused, what it says, and how grave it is."""
    problems = load_folder(site, datetime.fromisoformat(now)).problems
    return [(one.where.file, one.message, one.severity) for one in problems if one.kind == REFUSED]


def test_that_check_lists_what_was_refused_until_it_comes_corrected(site: Path) -> None:
    """Three without a number are one line; a message for training is a notice; a corrected one ends its line."""
    received(site, siu())
    numberless = [siu(control=f"BAD{n}", filler="") for n in range(3)]
    received(site, "\r".join([*numberless, siu(control="TRAIN1", processing="T")]))
    assert refused(site) == [
        (
            "message BAD0, field SCH-1 or SCH-2",
            "the appointment has no number; it was not applied (so in 3 messages)",
            Severity.TO_FIX,
        ),
        (
            "message TRAIN1, field MSH-11",
            "messages for training or debugging are not taken; it was not applied",
            Severity.NOTICE,
        ),
    ]
    code, said, _ = run("check", str(site), "--now", NOW)
    assert (code, "message BAD0, field SCH-1 or SCH-2" in said) == (1, True)
    for n in range(3):
        received(site, siu(control=f"BAD{n}", filler=f"8800{n}^ORSYS"))
    assert [where for where, _, _ in refused(site)] == ["message TRAIN1, field MSH-11"]
    assert refused(site, "2026-12-30 18:00") == []


def test_that_check_lists_what_was_refused_where_nothing_was_accepted_yet(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site")
    received(site, siu(filler=""))
    assert [where for where, _, _ in refused(site)] == ["message MSG1, field SCH-1 or SCH-2"]


def test_that_a_message_that_was_refused_counts_when_it_comes_again_and_can_be_used(site: Path) -> None:
    """Its number is the patient's: it is refused until the site hides such numbers."""
    text = siu(filler="4829130^ORSYS")
    assert "hide message numbers" in received(site, text)[2]
    book = load_workbook(site / "site.xlsx")
    book["Settings"].append(["hide message numbers", "yes"])
    book.save(site / "site.xlsx")
    assert received(site, text)[1] == "1 new message, 0 that came before, 0 refused.\n"
    assert "2026-11-26,OR 1,07:30,90,S01,KNEE" in rows(site)[0]
    assert "4829130" not in rows(site)[0]
    assert refused(site) == []


def test_that_messages_are_removed_some_days_after_their_case(site: Path) -> None:
    """90 days unless the site says otherwise: that of 26 Nov on 25 Feb, and what was refused when it is as old."""
    received(site, siu() + "\r" + siu(control="LATER1", filler="77002^ORSYS", start="20261210073000"))
    received(site, siu(control="BAD1", filler=""))
    refused(site, "2027-02-24 12:00")
    assert kept(site) >= {"MSG1", "LATER1"}
    refused(site, "2027-02-25 12:00")
    assert kept(site) & {"MSG1", "LATER1"} == {"LATER1"}
    refused(site, "2099-01-01 12:00")
    assert kept(site) == set()


def test_that_what_a_hand_changed_is_kept_and_said(site: Path) -> None:
    received(site, siu())
    (site / FILE).write_text("case\nmine\n", encoding="utf-8")
    said = received(site, siu(control="MSG2", msh7="20261125130000", minutes="100"))[2]
    assert "changed by hand" in said
    assert [path.read_text(encoding="utf-8") for path in kept_folder(site).iterdir()] == ["case\nmine\n"]
    assert ",100," in rows(site)[0]


def test_that_another_schedule_beside_the_messages_is_a_problem(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site", lambda rows: rows.update(Codes=[]))
    said = received(site, siu())[2]
    assert "cases come from messages and from schedule.xlsx" in said


def test_that_the_page_does_not_refuse_messages_that_it_has_recorded(site: Path, tmp_path: Path) -> None:
    """The case is a year ahead: whether that is meant is asked before a build, not once messages are stored."""
    file = tmp_path / "messages.hl7"
    file.write_text(siu(), encoding="utf-8", newline="")
    looked = FormSaid(kind=FileKind.MESSAGES, lines=(), problems=())
    recorded = take_form(site, file, looked, datetime.fromisoformat(NOW).replace(year=2025))
    assert recorded.lines == ("1 new message, 0 that came before, 0 refused",)


def test_that_a_file_is_tried_with_the_messages_that_make_the_schedule(site: Path, tmp_path: Path) -> None:
    """The workbook once more without the code of the room: it solves nothing, and stops the case of the message."""
    received(site, siu() + "\r" + siu(control="MSG2", filler=""))
    before, came_in, now = rows(site), tmp_path / "in", datetime.fromisoformat(NOW)
    came_in.write_bytes((site / "site.xlsx").read_bytes())
    same = try_file(site, came_in, "site.xlsx", now)
    assert (same.fresh, same.gone) == ((), ())
    book = load_workbook(site / "site.xlsx")
    book["Codes"].delete_rows(2)
    book.save(came_in)
    trial = try_file(site, came_in, "site.xlsx", now)
    assert any("AIL-3" in one.where.file for one in trial.fresh)
    assert (trial.brings_faults, trial.gone, rows(site)) == (True, (), before)


def test_that_watched_files_are_taken_once_they_are_whole(tmp_path: Path) -> None:
    watched = WatchedFiles(tmp_path)
    assert watched.new_files() == []
    file = tmp_path / "a.hl7"
    file.write_text("half", encoding="utf-8")
    assert watched.new_files(settled=True) == []
    file.write_text("whole now", encoding="utf-8")
    assert watched.new_files(settled=True) == []
    assert watched.new_files(settled=True) == [file]
    assert watched.new_files(settled=True) == [file], "nobody said yet that it was taken in"
    watched.took([file])
    assert watched.new_files(settled=True) == []


def test_that_a_watch_goes_on_when_folder_or_table_cannot_be_read_for_a_moment(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inbox, aside, table = tmp_path / "in", tmp_path / "aside", site / "site.xlsx"
    inbox.mkdir()
    sound = table.read_bytes()

    def spoil() -> None:
        (inbox / "a.hl7").write_text(siu(), encoding="utf-8", newline="")
        table.write_bytes(b"half saved")

    def stop() -> None:
        raise KeyboardInterrupt

    steps: list[Callable[[], object]] = [
        lambda: inbox.rename(aside),
        lambda: aside.rename(inbox),
        spoil,
        lambda: None,
        lambda: table.write_bytes(sound),
        stop,
    ]
    monkeypatch.setattr("picklist.cli.message_commands.time.sleep", lambda _seconds: steps.pop(0)())
    _, said, problems = run("receive", str(site), str(inbox), "--watch", "--now", NOW)
    assert said.count("1 new message") == 1
    assert (str(inbox) in problems, "Settings" in problems) == (True, True), problems
    assert rows(site) == ["77001,2026-11-26,OR 1,07:30,90,S01,KNEE,right,,,planned"]


@contextmanager
def listening(site: Path) -> Iterator[tuple[int, int]]:
    """(port, process id) of a listener of its own."""
    with subprocess.Popen([*LISTEN, str(site), "--port", "0"], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        first = process.stdout.readline()
        assert first.startswith("listening on 127.0.0.1, port ")
        try:
            yield int(first.split()[-1]), process.pid
        finally:
            process.kill()


def kept(site: Path) -> set[str]:
    with closing(sqlite3.connect(state_path(site))) as db:
        return {row[0] for row in db.execute("SELECT control FROM message")}


def test_that_a_listener_answers_each_message_once_it_is_kept_and_a_repeated_one_again(site: Path) -> None:
    with listening(site) as (port, _), Sender(port) as sender:
        two = sender.send(siu(), siu(control="MSG2", filler=""))
        assert ["MSA|AA|MSG1" in two[0], "MSA|AE|MSG2" in two[1]] == [True, True]
        assert "MSA|AA|MSG1" in sender.send(siu())[0]
        assert kept(site) == {"MSG1", "MSG2"}


@pytest.mark.parametrize("after", [1, 20])
def test_that_no_acknowledged_message_is_lost_when_the_listener_is_killed(site: Path, after: int) -> None:
    """It is killed in the midst of 60 messages that came in one go, once so many of them are acknowledged."""
    controls = [f"N{number}" for number in range(60)]
    texts = [siu(control=control, filler=f"{control}^ORSYS") for control in controls]
    acknowledged: list[str] = []
    with listening(site) as (port, pid), Sender(port) as sender:
        for answer in sender.answers(*texts):
            acknowledged += [control for control in controls if f"MSA|AA|{control}\r" in answer]
            if len(acknowledged) == after:
                os.kill(pid, signal.SIGKILL)
    assert after <= len(acknowledged) < len(texts)
    assert set(acknowledged) <= kept(site)
    with open_state(state_path(site)) as state:  # the sender repeats what was not acknowledged, and more
        listener = Listener(state=state, door=open_door(site, state), now=lambda: datetime.now(UTC), say=lambda _: None)
        assert all(b"MSA|AA|" in listener.answer(text.encode())[0] for text in texts)
    assert kept(site) == set(controls)


def test_that_a_message_that_cannot_be_stored_is_never_accepted(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from picklist.tasks import listen
    from tests.messages.words import DOOR

    def full(*_: object) -> None:
        raise StateFullError(state_path(site), "the disk is full")

    monkeypatch.setattr(listen, "keep_messages", full)
    said: list[str] = []
    with open_state(state_path(site)) as state:
        listener = listen.Listener(state=state, door=DOOR, now=lambda: datetime.now(UTC), say=said.append)
        assert b"MSA|AR|MSG1" in listener.answer(siu().encode())[0]
        assert b"MSA|CR|MSG1" in listener.answer(siu(accept="AL", application="NE").encode())[0]
    assert said[0].startswith("AR MSG1 S12: it could not be stored")


def test_that_a_port_in_use_is_said_in_a_sentence(site: Path) -> None:
    """In a process of its own: a browser that another test left open keeps the event loop of this one."""
    with socket.create_server(("127.0.0.1", 0)) as busy:
        done = subprocess.run(
            [*LISTEN, str(site), "--port", str(busy.getsockname()[1])], capture_output=True, text=True, timeout=120
        )
    assert (done.returncode, "cannot listen on 127.0.0.1" in done.stderr) == (2, True), done.stderr


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE message SET arrived = 'yesterday'",
        "UPDATE message SET event = replace(event, '2026-11-26T07:30', '2026-13-26T07:30') WHERE event IS NOT NULL",
        "UPDATE message SET event = '{' WHERE event IS NOT NULL",
    ],
    ids=["when it arrived", "when the case starts", "all of it"],
)
@pytest.mark.parametrize("command", ["check", "receive"])
def test_that_a_damaged_record_of_a_message_is_named_and_is_no_crash(site: Path, damage: str, command: str) -> None:
    received(site, siu() + "\r" + siu(control="MSG2", filler=""))
    with closing(sqlite3.connect(state_path(site))) as db:
        assert db.execute(damage).rowcount
        db.commit()
    more = () if command == "check" else (str(site.parent / "messages.hl7"),)
    code, said, problems = run(command, str(site), *more, "--now", NOW)
    assert code != 0
    assert f"{state_path(site).name}: a record in it cannot be read" in said + problems
