"""Files that come in: named safely, looked at in a scratch copy, kept only when told so."""

from __future__ import annotations

import io
import zipfile
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import openpyxl
import pytest

from picklist.server.desk import Desk
from picklist.store.lock import hold_tables
from picklist.tables.files import kept_folder
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import list_files
from picklist.tasks.take_file import likely_name, plain_name
from tests.patience import PATIENCE
from tests.server.site import DOOR, at, client_of, work_of

LOTS = "Lots.csv"


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("schedule.xlsx", "schedule.xlsx"),
        ("../../etc/schedule.xlsx", "schedule.xlsx"),
        ("C:\\Users\\me\\schedule.xlsx", "schedule.xlsx"),
        ("/tmp/a/b\\c/Past cases.csv", "Past cases.csv"),
        ("Größe 7½.XLSX", "Größe 7½.XLSX"),
        ("Gro\u0308ße.csv", "Größe.csv"),
    ],
)
def test_a_path_before_a_name_is_cut_off(given: str, kept: str) -> None:
    assert plain_name(given) == kept


@pytest.mark.parametrize(
    "given",
    [
        "",
        ".",
        "..",
        ".xlsx",
        ".hidden.csv",
        "~$schedule.xlsx",
        "schedule",
        "schedule.exe",
        "schedule.xlsx.html",
        "schedule.xlsx/",
        "CON.csv",
        "nul.xlsx",
        "Lpt1.tar.csv",
        "com¹.csv",
        "a:b.csv",
        "lots.csv:hidden",
        "what?.csv",
        "two\nlines.csv",
        "zero\x00.csv",
        "turned\u202ecsv.xlsx",
        "ends with a space .csv",
        "n" * 200 + ".csv",
        "ü" * 115 + ".csv",
    ],
)
def test_names_that_lead_elsewhere_or_that_some_computer_refuses_are_not_taken(given: str) -> None:
    with pytest.raises(WrongUse, match="is not accepted"):
        plain_name(given)


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("lots (1).csv", LOTS),
        ("Lots - Copy.csv", LOTS),
        ("LOTS.CSV", LOTS),
        ("Lots (3) (1).csv", LOTS),
        ("Stock (1).csv", "Stock (1).csv"),
    ],
)
def test_a_second_download_is_meant_for_the_file_that_is_there(tmp_path: Path, given: str, meant: str) -> None:
    (tmp_path / LOTS).touch()
    assert likely_name(tmp_path, given) == meant


def hand_in(desk: Desk, name: str, content: bytes) -> str:
    """Drop a file on the page; the page that says what it would do."""
    client = client_of(desk)
    answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": (name, content)})
    assert answer.status_code == 303, answer.text
    work = work_of(desk, answer.headers["location"])
    assert not work.refused, work.refused
    return work.next


def with_row(path: Path, sheet: str, row: int, column: str, value: object) -> bytes:
    """The workbook with one cell of a named column changed."""
    book = openpyxl.load_workbook(path)
    heads = {head.value: number for number, head in enumerate(book[sheet][1], start=1)}
    book[sheet].cell(row, heads[column]).value = value  # type: ignore[assignment]
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_schedule_with_a_mistake_is_shown_before_it_is_kept(fresh: Desk) -> None:
    before = list_files(fresh.folder)
    wrong = with_row(fresh.folder / "schedule.xlsx", "Schedule", 6, "procedures", "GEN-CHOLO")
    page = client_of(fresh).get(at(hand_in(fresh, "schedule (1).xlsx", wrong))).text
    assert "replace the current file" in page
    assert "GEN-CHOLO" not in page  # a page names the place; what was typed could be anything
    assert "GEN-CHOLE" in page  # the nearest valid value
    assert "G6" in page
    assert "Keep it anyway" in page
    assert list_files(fresh.folder) == before


def test_a_kept_file_takes_its_place_and_the_former_one_is_put_away(fresh: Desk) -> None:
    former = (fresh.folder / LOTS).read_bytes()
    shorter = b"\n".join(former.splitlines()[:-3]) + b"\n"
    trial = hand_in(fresh, LOTS, shorter)
    client = client_of(fresh)
    answer = client.post(at(f"{trial}/keep"), data={"token": DOOR.token})
    assert answer.status_code == 303
    assert (fresh.folder / LOTS).read_bytes() == shorter
    [kept] = kept_folder(fresh.folder).iterdir()
    assert kept.read_bytes() == former
    assert kept.name in client.get(answer.headers["location"]).text
    assert client.get(at(trial)).status_code == 404


def test_a_new_file_is_added_and_a_dropped_one_is_not(fresh: Desk) -> None:
    names = {name for name, _, _ in list_files(fresh.folder)}
    trial = hand_in(fresh, "remarks.csv", b"a,b\n1,2\n")
    client_of(fresh).post(at(f"{trial}/drop"), data={"token": DOOR.token})
    assert {name for name, _, _ in list_files(fresh.folder)} == names
    trial = hand_in(fresh, "remarks.csv", b"a,b\n1,2\n")
    client_of(fresh).post(at(f"{trial}/keep"), data={"token": DOOR.token})
    assert {name for name, _, _ in list_files(fresh.folder)} == names | {"remarks.csv"}
    assert not kept_folder(fresh.folder).exists()


def test_a_file_that_somebody_else_changed_meanwhile_is_not_overwritten(fresh: Desk) -> None:
    lots = fresh.folder / LOTS
    trial = hand_in(fresh, LOTS, lots.read_bytes() + b"\n")
    lots.write_bytes(b"changed by hand\n")
    answer = client_of(fresh).post(at(f"{trial}/keep"), data={"token": DOOR.token})
    assert answer.status_code == 422
    assert "changed in the meantime" in answer.text
    assert lots.read_bytes() == b"changed by hand\n"


def test_a_file_waits_for_a_day_that_is_being_settled(fresh: Desk) -> None:
    """What is written into the table meanwhile is not lost: the file is to be looked at again."""
    lots = fresh.folder / LOTS
    trial = hand_in(fresh, LOTS, lots.read_bytes() + b"\n")
    keep = partial(client_of(fresh).post, at(f"{trial}/keep"), data={"token": DOOR.token})
    with ThreadPoolExecutor() as pool:
        with hold_tables(fresh.folder):
            answer = pool.submit(keep)
            with pytest.raises(TimeoutError):
                answer.result(timeout=0.3)
            lots.write_bytes(b"settled\n")
        assert answer.result(PATIENCE).status_code == 422
    assert lots.read_bytes() == b"settled\n"


def swelling_workbook() -> bytes:
    """Sixty million equal signs in a few kilobytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 60_000_000)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("schedule.xlsx", b"", "empty"),
        ("schedule.xlsx", b"<html><table></table>", "web page"),
        ("schedule.xlsx", b"PK\x03\x04 cut short", "cut short"),
        ("schedule.xlsx", swelling_workbook(), "suspiciously large"),
    ],
)
def test_what_is_no_workbook_is_refused_in_a_sentence(fresh: Desk, name: str, content: bytes, says: str) -> None:
    client = client_of(fresh)
    answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": (name, content)})
    work = work_of(fresh, answer.headers["location"])
    page = client.get(at(f"work/{work.id}"))
    assert says in work.refused
    assert says in page.text


@pytest.mark.parametrize("name", [".csv", "run.exe", "NUL.csv", "..%2f..%2fx"])
def test_a_file_with_no_fit_name_is_not_even_looked_at(fresh: Desk, name: str) -> None:
    answer = client_of(fresh).post(at("input"), data={"token": DOOR.token}, files={"file": (name, b"x")})
    assert answer.status_code == 422
    assert "is not accepted" in answer.text


def test_nothing_outside_the_papers_is_sent(evening: Desk) -> None:
    client = client_of(evening)
    (evening.out / "secret.txt").write_text("not ours")
    (evening.out / "link.pdf").symlink_to(evening.folder / LOTS)
    for file in (
        "../north/Lots.csv",
        "..%2fnorth%2fLots.csv",
        "%2e%2e/north/Lots.csv",
        "/etc/passwd",
        "pick-lists/../../north/Lots.csv",
        "pick-lists",
        "pick-lists/",
        "",
        ".pages.json",
        ".picklist",
        "secret.txt",
        "link.pdf",
        "evening.pdf%00",
        "evening.pdf/",
    ):
        assert client.get(at(f"papers/{file}")).status_code == 404, file
    for file in ("../style.css", "%2e%2e%2fpyproject.toml", "", "tonight.html.j2"):
        assert client.get(at(f"static/{file}")).status_code == 404, file


def test_the_papers_of_somebody_else_are_not_listed(fresh: Desk) -> None:
    fresh.out.mkdir()
    (fresh.out / "letters.pdf").write_bytes(b"%PDF-1.7")
    page = client_of(fresh).get(at("papers"))
    assert "letters" not in page.text
    assert client_of(fresh).get(at("papers/letters.pdf")).status_code == 404


def test_a_file_that_a_spreadsheet_program_holds_open_is_not_replaced(fresh: Desk) -> None:
    trial = hand_in(fresh, "schedule.xlsx", (fresh.folder / "schedule.xlsx").read_bytes())
    (fresh.folder / "~$schedule.xlsx").write_bytes(b"me")
    answer = client_of(fresh).post(at(f"{trial}/keep"), data={"token": DOOR.token})
    assert answer.status_code == 422
    assert "close it first" in answer.text
    assert not kept_folder(fresh.folder).exists()
