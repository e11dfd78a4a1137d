"""A patient in all that an office or a user of the page can write: nothing that is said, printed or kept has it."""

from __future__ import annotations

import io
import re
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.comments import Comment

from picklist.server.desk import TRAY, Desk
from tests.cli.run import FINE, WRONG_USE, run
from tests.inputs.folders import write_site
from tests.privacy.seeded_site import NOW, PERSON, text_of, traces
from tests.privacy.seeds import SAID, SURNAME
from tests.server.site import DOOR, at, client_of, work_of
from tests.upkeep.office import ask_row, new_row, row_of, write

AS_AT = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 (a wall time)
DAYS = ("--from", "2026-11-26", "--now", NOW)


def everywhere(book: Any) -> None:
    """A patient in every box and beside it, in notes, in a sheet of its own and in its name."""
    for sheet in book.worksheets:
        if sheet.sheet_state == "visible":
            for row in sheet.iter_rows(min_row=5, max_col=12):
                for cell in row:
                    if cell.value is None and type(cell).__name__ == "Cell":
                        cell.value = PERSON
            sheet["B6"].comment = Comment(PERSON, SURNAME)
    book.create_sheet("WRENFIELD, Oda F72")["A1"] = PERSON


def two_trays(book: Any) -> None:
    """A clean change of a quantity."""
    write(book["KNEE"], row_of(book["KNEE"], "T-KNEE"), open=2)


def two_trays_and_a_wish(book: Any) -> None:
    two_trays(book)
    write(book["KNEE"], ask_row(book["KNEE"]), name="Soft retractor", note="the old one slips")


def renamed(book: Any) -> None:
    """A card whose sheet was named for a patient."""
    two_trays(book)
    book["KNEE"].title = "WRENFIELD, Oda"


def one_clean(book: Any) -> None:
    """A clean change of a quantity, a request, and a new line with a note; a patient in the notes of both."""
    two_trays(book)
    sheet = book["KNEE"]
    write(sheet, ask_row(sheet), name="Soft retractor", note=PERSON)
    write(sheet, new_row(sheet), name="Suture 2-0 (100001)", open=1, note=PERSON)


FILLED = (("all.xlsx", everywhere), ("clean.xlsx", one_clean), ("r.xlsx", renamed))


def filled(content: bytes, fill: Any) -> bytes:
    book = load_workbook(io.BytesIO(content))
    fill(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def kept_of(site: Path) -> dict[str, list[str]]:
    """What is found of a patient in all that is remembered of a site, but for its own files and former versions."""
    beside = [path for path in site.parent.glob(f"{site.name}.picklist*") if path.is_file()]
    assert beside
    return {path.name: found for path in beside if (found := traces(text_of(path)))}


def test_that_an_office_can_write_no_patient_into_anything_that_is_kept_or_said(tmp_path: Path) -> None:
    site, book, records = write_site(tmp_path / "site"), tmp_path / "quill.xlsx", tmp_path / "records"
    told = [run("cards", "send", str(site), "S01", "--out", str(book), "--now", NOW)]
    sent = book.read_bytes()
    by = ("--by", "R. Vale", "--reason", "asked by the office")
    for name, fill in (
        ("all.xlsx", everywhere),
        ("clean.xlsx", one_clean),
        ("r.xlsx", renamed),
        (f"{SAID[1]}.xlsx", one_clean),
    ):
        (tmp_path / name).write_bytes(filled(sent, fill))
        told.append(run("cards", "take", str(site), str(tmp_path / name), "--now", NOW))
    (tmp_path / "clean.xlsx").write_bytes(filled(sent, two_trays_and_a_wish))
    told.append(run("cards", "take", str(site), str(tmp_path / "clean.xlsx"), "--now", NOW))
    proposal = re.search(r"cards show \S+ (\S+)", told[-1][1])
    assert proposal, told[-1]
    commands = (
        ("show", proposal[1], *DAYS),
        ("approve", proposal[1], "--by", PERSON, "--reason", "asked", *DAYS),
        ("approve", proposal[1], "--by", "R. Vale", "--reason", PERSON, *DAYS),
        ("reject", proposal[1], "--by", "R. Vale", "--reason", PERSON, "--now", NOW),
        ("answer", "1", "--by", "R. Vale", "--answer", PERSON, "--now", NOW),
        ("approve", proposal[1], *by, *DAYS),
        ("undo", "1", "--by", "R. Vale", "--reason", PERSON, *DAYS),
        ("undo", "1", *by, *DAYS),
        ("list", "--now", NOW),
        ("history", "--now", NOW),
        ("tidy", "--now", NOW),
    )
    told += [run("cards", words[0], str(site), *words[1:]) for words in commands]
    assert [code for code, _, _ in told[-10:-6]] == [WRONG_USE] * 4
    assert [code for code, _, _ in told[-6:]] == [FINE, WRONG_USE, FINE, FINE, FINE, FINE]
    told.append(run("cards", "send", str(site), "S01", "--out", str(tmp_path / "next.xlsx"), "--now", NOW))
    told.append(run("records", str(site), "--out", str(records)))
    assert traces("\n".join(f"{said}{problems}" for _, said, problems in told)) == []
    assert kept_of(site) == {}
    written = [tmp_path / "next.xlsx", *records.rglob("*"), *(path for path in site.rglob("*") if path.is_file())]
    assert {path.name: found for path in written if path.is_file() and (found := traces(text_of(path)))} == {}


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """The page of the sound site, with a scratch place that can be looked at."""
    (tmp_path / "scratch").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "scratch"))
    return Desk(write_site(tmp_path / "site"), tmp_path / "papers", lambda: AS_AT)


def hand_in(desk: Desk, client: Any, page: str, name: str, content: bytes) -> str:
    """Drop a file on the page; the text of what it says."""
    answer = client.post(at(page), data={"token": DOOR.token}, files={"file": (name, content)})
    if answer.status_code != 303:
        return str(answer.text)
    work = work_of(desk, answer.headers["location"])
    shown = client.get(at(work.next)).text if work.next else ""
    return f"{answer.headers['location']} {work.refused} {work.title} {shown}"


def test_that_what_is_handed_in_at_the_page_leaves_no_patient_behind(desk: Desk, tmp_path: Path) -> None:
    client = client_of(desk)
    rows = [["case", "day", "room", "start", "minutes", "surgeon", "procedures", "side", "alerts", "notes", SAID[2]]]
    rows += [["C-9", "2026-11-26", "OR 1", "11:00", "60", "S01", "KNEE", "left", said, said, PERSON] for said in SAID]
    table = "\n".join(";".join(row) for row in rows).encode()
    pages = [
        hand_in(desk, client, "input", name, table) for name in ("Schedule.csv", f"{SAID[0]}.csv", "MRN 4829130.csv")
    ]
    office = client.post(at("offices/workbook"), data={"token": DOOR.token, "office": "S01"}).content
    for name, fill in (
        ("quill.xlsx", everywhere),
        ("clean.xlsx", one_clean),
        ("r.xlsx", renamed),
        (f"{SAID[0]}.xlsx", one_clean),
    ):
        pages += [hand_in(desk, client, page, name, filled(office, fill)) for page in ("input", "offices")]
    token = {"token": DOOR.token}
    for page, form in (
        ("decisions/of", {"about": PERSON, "decided": PERSON, "told": PERSON, "by": PERSON}),
        ("try", {"change": f"cancel {PERSON}"}),
        ("carts/case", {"case": PERSON, "note": PERSON, "by": PERSON, "state": "done"}),
        ("offices/request/1/answer", {"answer": PERSON, "by": PERSON}),
    ):
        pages.append(client.post(at(page), data=token | form).text)
    pages += [client.get(at(page)).text for page in ("", "input", "offices", "decisions", "carts", "work/1", "try")]
    assert sum("seems to contain" in page for page in pages) >= 4
    found = {number: leaked for number, page in enumerate(pages) if (leaked := traces(page))}
    assert found == {}
    assert kept_of(desk.folder) == {}
    scratch = tmp_path / "scratch"
    assert list(scratch.glob(f"{TRAY}*"))
    desk.clear()
    assert list(scratch.iterdir()) == []
