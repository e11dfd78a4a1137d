"""A folder whose files did not change is not read again; one byte more, and it is."""

from __future__ import annotations

import csv
import zlib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from picklist.checks import check_site
from picklist.inputs import read_site, read_standing
from picklist.model.needs import CaseNeeds
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make import resolve_horizon
from picklist.resolve import case as resolve_case
from picklist.resolve.card_index import CardIndex
from picklist.store import kept_readings
from picklist.store.kept_readings import FOLDER
from picklist.tasks import build, read_folder
from picklist.tasks.build import Wanted, build_day
from picklist.tasks.read_folder import KnownFolders, Loaded, list_files, load_folder, load_site
from tests.patience import tries
from tests.tasks.small_folder import SCHEDULE, TABLES, write_folder

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
CASE = "C-1,2026-11-26,OR 1,07:30,60,S1,P1,none,"
FILES = sorted(f"{name}.csv" for name in (*TABLES, "Schedule"))


@settings(max_examples=tries(200, 25))
@given(st.data())
def test_that_whatever_is_done_to_a_file_the_folder_is_read_as_it_is(data: st.DataObject) -> None:
    with TemporaryDirectory() as place, pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER, str(Path(place) / "kept"))
        folder, known = write_folder(Path(place) / "north", CASE), KnownFolders()
        known.read(folder, NOW)
        for _ in range(data.draw(st.integers(1, 3))):
            path = data.draw(st.sampled_from(sorted(folder.iterdir())))
            content = path.read_bytes()
            match data.draw(st.sampled_from(("a byte", "rename", "remove", "another day", "add", "put back"))):
                case "a byte" if content:
                    at = data.draw(st.integers(0, len(content) - 1))
                    path.write_bytes(content[:at] + data.draw(st.binary(min_size=1, max_size=1)) + content[at + 1 :])
                case "rename":
                    path.rename(
                        folder
                        / data.draw(
                            st.sampled_from(
                                ["old.csv", "Lots 2.csv", ".Lots.csv", "note.txt", "schedule from export.csv"]
                            )
                        )
                    )
                case "remove" if len(list(folder.iterdir())) > 1:
                    path.unlink()
                case "another day":
                    write_folder(folder, CASE.replace("C-1", data.draw(st.sampled_from(("C-1", "C-2", "")))))
                case "add":
                    (
                        folder
                        / data.draw(
                            st.sampled_from([*FILES, "Holidays.csv", "photo.jpg", "Schedule from messages.csv"])
                        )
                    ).write_bytes(content)
                case _:
                    write_folder(folder, CASE)
            later = NOW + timedelta(hours=data.draw(st.sampled_from((0, 1, 24))))
            site, problems = read_site(folder, now=later)
            for one in (known, KnownFolders(), KnownFolders()):  # this run, a later one, and one after that
                found = one.read(folder, later)
                assert (found.site, found.problems) == (site, problems)
                assert site is None or found.check(site, later) == check_site(site, later)


def counted(patch: pytest.MonkeyPatch, *names: str) -> list[str]:
    """The names of these functions, each time that one is called."""
    done: list[str] = []

    def watch(name: str) -> None:
        usual = getattr(read_folder, name)

        def one(*of: Any, **how: Any) -> Any:
            done.append(name)
            return usual(*of, **how)

        patch.setattr(read_folder, name, one)

    for name in names:
        watch(name)
    return done


def test_that_a_folder_is_read_and_checked_once_however_often_it_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = (
        write_folder(tmp_path / "north", CASE),
        counted(monkeypatch, "read_schedule", "check_site", "check_cards"),
    )
    first = load_folder(folder, NOW)
    assert load_folder(folder, NOW) == first
    assert done == ["read_schedule", "check_cards", "check_site"]
    load_folder(folder, NOW + timedelta(hours=1))
    assert done == ["read_schedule", "check_cards", "check_site", "check_site"], "what is wrong depends on the time"
    (folder / "Holidays.csv").write_text(f"day,name\n{date(2026, 11, 26)},Thanksgiving\n")
    load_folder(folder, NOW)
    assert done[4:] == ["read_schedule", "check_cards", "check_site"]


STEPS = ("read_standing", "read_schedule", "check_cards")


def later_run(patch: pytest.MonkeyPatch, folder: Path, now: datetime = NOW) -> Loaded:
    """What another run of the program finds in a folder; it must be what reading it whole finds."""
    patch.setattr(read_folder, "KNOWN", KnownFolders())
    loaded = load_folder(folder, now)
    site, problems = read_site(folder, now=now)
    assert loaded.site == site
    assert loaded.problems == (problems if site is None else (*problems, *check_site(site, now)))
    return loaded


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read is kept for later runs, in a folder of this test's own."""
    monkeypatch.setenv(FOLDER, str(tmp_path / "kept"))


@pytest.mark.usefixtures("kept")
def test_that_a_later_run_reads_no_unchanged_folder_and_checks_its_cards_once_a_day(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = write_folder(tmp_path / "north", CASE), counted(monkeypatch, *STEPS)
    later_run(monkeypatch, folder)
    assert done == [*STEPS]
    later_run(monkeypatch, folder)
    later_run(monkeypatch, folder, NOW + timedelta(minutes=1))
    assert done == [*STEPS]
    (folder / "Rooms.csv").write_text("room,building\nOR 1,\n")
    later_run(monkeypatch, folder)
    assert done == [*STEPS, *STEPS]


@pytest.mark.usefixtures("kept")
def test_that_only_the_schedule_is_read_again_where_only_cases_changed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = write_folder(tmp_path / "north", CASE), counted(monkeypatch, *STEPS)
    later_run(monkeypatch, folder)
    for cases in (
        (CASE.replace("07:30", "08:15"),),
        (CASE, CASE.replace("C-1", "C-2")),
        ("C-1,2026-11-26,OR 1,late,60",),
    ):
        del done[:]
        write_folder(folder, *cases)
        later_run(monkeypatch, folder)
        assert done == [*STEPS[1:]]
    assert b"08:15" not in b"".join(path.read_bytes() for path in (tmp_path / "kept").iterdir())


def write_workbook(folder: Path, starts: str, **sheets: str) -> Path:
    """A folder in which one workbook has the schedule, with a case at a time, its staff, and more sheets."""
    write_folder(folder, CASE)
    texts = {"Schedule": f"{SCHEDULE}\n{CASE.replace('07:30', starts)}", "Staff": TABLES["Staff"], **sheets}
    workbook = Workbook()
    for name, text in texts.items():
        (folder / f"{name}.csv").unlink(missing_ok=True)
        for row in csv.reader(text.splitlines()):
            (workbook[name] if name in workbook.sheetnames else workbook.create_sheet(name)).append(row)
    del workbook["Sheet"]
    workbook.save(folder / "schedule.xlsx")
    return folder


@pytest.mark.usefixtures("kept")
def test_that_whatever_else_is_in_the_workbook_of_the_schedule_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = write_workbook(tmp_path / "north", "07:30"), counted(monkeypatch, *STEPS)
    later_run(monkeypatch, folder)
    write_workbook(folder, "09:00")
    later_run(monkeypatch, folder)
    assert done == [*STEPS, *STEPS[1:]]
    for sheets in (
        {"Staff": "person,name\nS2,Dr. Sample\n"},
        {"Rooms": "room,building\nOR 9,\n"},
        {"Coffee": "a\nb\n"},
    ):
        del done[:]
        write_workbook(folder, "09:00", **sheets)
        later_run(monkeypatch, folder)
        assert done == [*STEPS], sheets


@pytest.mark.usefixtures("kept")
def test_that_a_schedule_in_a_workbook_of_another_name_is_read_with_all_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = write_workbook(tmp_path / "north", "07:30"), counted(monkeypatch, *STEPS)
    for starts in ("07:30", "09:00"):
        write_workbook(folder, starts)
        (folder / "schedule.xlsx").rename(folder / "cases and people.xlsx")
        later_run(monkeypatch, folder)
        later_run(monkeypatch, folder)
    assert done == [*STEPS, *STEPS]
    (folder / "Schedule.csv").write_text(f"{SCHEDULE}\n{CASE.replace('C-1', 'C-0')}\n")
    assert [case.number for case in later_run(monkeypatch, folder).site.cases] == ["C-1", "C-0"]  # type: ignore[union-attr]


@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize("name", ["schedule.xlsx", "cases.xlsx"])
def test_that_no_column_that_is_not_read_and_no_text_that_may_be_a_name_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    packed: list[bytes] = []
    seal = kept_readings._sealed

    def seen(root: bytes, plain: bytes) -> bytes:
        packed.append(zlib.decompress(plain))
        return seal(root, plain)

    monkeypatch.setattr(kept_readings, "_sealed", seen)
    staff, sets = (TABLES[one].replace("\n", ",seen by\n", 1) for one in ("Staff", "Sets"))
    staff, sets = staff.replace("Example", "Example,Quillfeather", 1), sets.replace("A-1-1", "A-1-1,Quillfeather", 1)
    folder = write_workbook(tmp_path / "north", "07:30", Staff=staff, Sets=sets)
    header, *cases = f"{SCHEDULE}\n{CASE}".splitlines()
    schedule = f"{header},patient,patient size\n{cases[0]},Quillfeather,Quillfeather\n"
    write_workbook(folder, "07:30", Staff=staff, Sets=sets, Schedule=schedule)
    (folder / "schedule.xlsx").rename(folder / name)
    later_run(monkeypatch, folder)
    kept = b"".join(packed)
    assert b"Dr. Example" in kept
    assert b"WR-01" in kept
    assert b"Quillfeather" not in kept


@pytest.mark.usefixtures("kept")
def test_that_what_was_wrong_with_the_cards_stops_the_cases_of_another_schedule(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line that cannot be read, one whose word is near another, and items that nobody knows, each with its case."""
    cards = TABLES["Cards"].splitlines()[0] + ",only if"
    bad = ("P1,,add,tray,T-WR,1,0,yes,alert spica", "P1,,add,tray,T-WR,1,0,yes,alert spica", "P1,,add,item,77,1,0,yes,")
    lines = (*bad, "P1,,add,item,100001,1,0,yes,alert spicca", "P1,,add,item,100001,many,0,yes,")
    folder = write_folder(tmp_path / "north", CASE, Cards="\n".join((cards, *lines)) + "\n")
    done = counted(monkeypatch, *STEPS)
    for number, day in (("C-1", "2026-11-26"), ("C-2", "2026-11-26"), ("C-3", "2028-11-26"), ("C-4", "no day")):
        schedule = (SCHEDULE, CASE, CASE.replace("C-1", number).replace("2026-11-26", day))
        (folder / "Schedule.csv").write_text("\n".join(schedule) + "\n")
        loaded = later_run(monkeypatch, folder)
        assert len([one for one in loaded.problems if "C-1" in one.cases]) >= 3
    assert done.count("read_standing") == 1
    assert done.count("read_schedule") == 4


def test_that_a_folder_that_is_written_to_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, known = write_folder(tmp_path / "north", CASE), KnownFolders()

    def written(folder: Path, **how: Any) -> object:
        found = read_standing(folder, **how)
        write_folder(folder, CASE, Rooms="room,building\nOR 1,\nOR 9,\n")
        return found

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(read_folder, "read_standing", written)
        known.read(folder, NOW)
    site = known.read(folder, NOW).site
    assert site is not None
    assert "OR 9" in site.rooms


def test_that_a_file_saved_while_a_build_reads_counts_as_changed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_folder(tmp_path / "north", CASE, Rooms="room,building\nOR 1,\nOR 8,\n")

    def saved(folder: Path, **how: Any) -> object:
        found = read_standing(folder, **how)
        (folder / "Rooms.csv").write_text("room,building\nOR 1,\nOR 9,\n")
        return found

    monkeypatch.setattr(read_folder, "read_standing", saved)
    built = build_day(Wanted(folder=folder, out=tmp_path / "out", now=NOW), lambda _: None)
    assert [name for name, _, _ in {*list_files(folder)} - {*built.files}] == ["Rooms.csv"]


def test_that_a_build_resolves_each_case_once_for_its_checks_and_its_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = write_folder(tmp_path / "north", CASE, CASE.replace("C-1", "C-2")), list[str]()
    usual = resolve_case._resolve

    def watched(site: Site, index: CardIndex, case: Case) -> CaseNeeds:
        done.append(case.number)
        return usual(site, index, case)

    monkeypatch.setattr(resolve_case, "_resolve", watched)
    loaded, site = load_site(folder, NOW)
    site = build._as_printed(site, Wanted(folder=folder, out=tmp_path / "out", now=NOW))
    resolve_horizon(site, loaded.problems, loaded.now)
    assert done == ["C-1", "C-2"]
