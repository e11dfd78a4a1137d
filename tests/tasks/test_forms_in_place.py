"""A form filled in where it was printed is taken in by the next build, kept, and never lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from picklist.evening.crew_workbook import read_cart_workbook
from picklist.evening.keep_facts import built_carts, record_built
from picklist.evening.usage import usage_history
from picklist.store.keep_forms import was_taken
from picklist.store.state import open_state, state_path
from picklist.tables.files import kept_folder
from picklist.tasks import crew
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.crew import tell_by_workbook
from picklist.tasks.errors import WrongUse
from picklist.tasks.exports import write_records
from picklist.tasks.papers import list_papers
from tests.tasks.small_folder import DAY, EVENING, write_folder
from tests.tasks.test_built_carts import MORNING, tell_built

TOMORROW = "N1,2026-11-27,OR 1,08:00,60,S1,P1,none,planned"


def build(site: Path, out: Path, now: datetime = EVENING, day: date = DAY) -> Built:
    return build_day(Wanted(folder=site, out=out, now=now, day=day, with_chance=False), lambda _: None)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "site", *MORNING, TOMORROW)


@pytest.fixture
def out(site: Path, tmp_path: Path) -> Path:
    build(site, tmp_path / "out")
    return tmp_path / "out"


def fill(form: Path, sheet: str, case: str, **values: object) -> None:
    """Fill in the first row of a case."""
    book: Any = load_workbook(form)
    head = {cell.value: cell.column for cell in book[sheet][3]}
    row = next(r for r in range(4, 99) if book[sheet].cell(r, head["case"]).value == case)
    for column, value in values.items():
        book[sheet].cell(row, head[column]).value = value
    book.save(form)


def carts_built(site: Path) -> dict[str, str]:
    with open_state(state_path(site)) as state:
        return {case: one.by for case, one in built_carts(state, DAY).items() if one.done}


def said(built: Built) -> str:
    assert built.written is not None
    return "\n".join(built.written.notices)


def test_that_a_build_takes_in_the_carts_reported_in_its_folder_and_keeps_the_form(site: Path, out: Path) -> None:
    fill(out / "carts.xlsx", "Carts", "M1", done="yes", by="ab")
    filled = (out / "carts.xlsx").read_bytes()
    built = build(site, out, EVENING + timedelta(hours=1))
    assert carts_built(site) == {"M1": "ab"}
    assert "carts.xlsx was filled in: 1 cart recorded" in said(built)
    assert [path.read_bytes() for path in kept_folder(site).iterdir()] == [filled]
    assert said(build(site, out, EVENING + timedelta(hours=2))) == "", "an untouched form is replaced without a word"


def test_that_what_a_room_wrote_counts_for_its_day_when_the_next_day_is_built(site: Path, out: Path) -> None:
    fill(out / "used.xlsx", "Usage", "M1", used=1)
    built = build(site, out, EVENING + timedelta(days=1), date(2026, 11, 27))
    with open_state(state_path(site)) as state:
        assert [(line.day, line.case, line.used) for line in usage_history(state)] == [(DAY, "M1", 1)]
    assert "used.xlsx was filled in: 1 line of 1 case recorded for 2026-11-26" in said(built)


def test_that_a_mistake_in_the_form_is_named_and_the_form_is_kept(site: Path, out: Path) -> None:
    fill(out / "carts.xlsx", "Carts", "M1", done="perhaps", by="ab")
    built = build(site, out, EVENING + timedelta(hours=1))
    assert ("carts.xlsx", "Carts") in {(p.where.file, p.where.sheet) for p in built.problems}
    assert len([*kept_folder(site).iterdir()]) == 1


def test_that_a_form_taken_before_is_not_taken_again_over_what_was_reported_since(site: Path, out: Path) -> None:
    fill(out / "carts.xlsx", "Carts", "M1", done="yes", by="ab")
    tell_by_workbook(site, out / "carts.xlsx", EVENING + timedelta(minutes=10), DAY)
    with open_state(state_path(site)) as state:
        first = built_carts(state, DAY)["M1"]
        record_built(state, [replace(first, by="cd")], EVENING.astimezone(), "form")
    fill(out / "carts.xlsx", "Carts", "M2", done="yes", by="ab")
    build(site, out, EVENING + timedelta(hours=1))
    assert carts_built(site) == {"M1": "cd", "M2": "ab"}


def test_that_what_is_saved_while_a_form_is_taken_in_is_still_to_be_taken_in(
    site: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = out / "carts.xlsx"
    fill(form, "Carts", "M1", done="yes", by="ab")

    def read_and_saved(*about: Any) -> Any:
        read = read_cart_workbook(*about)
        fill(form, "Carts", "M2", done="yes", by="ab")
        return read

    monkeypatch.setattr(crew, "read_cart_workbook", read_and_saved)
    tell_by_workbook(site, form, EVENING + timedelta(minutes=10), DAY)
    assert carts_built(site) == {"M1": "ab"}
    with open_state(state_path(site)) as state:
        assert not was_taken(state, form)


def test_that_a_site_does_not_build_into_the_papers_of_another_and_no_form_is_lost(out: Path, tmp_path: Path) -> None:
    other = write_folder(tmp_path / "other", *MORNING)
    fill(out / "carts.xlsx", "Carts", "M1", done="yes", by="ab")
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    with pytest.raises(WrongUse, match="holds the papers of another site"):
        build(other, out, EVENING + timedelta(hours=1))
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_that_files_of_others_stay_and_are_no_papers(site: Path, out: Path) -> None:
    (out / "rota.pdf").write_bytes(b"%PDF of the ward")
    (out / "~$carts.xlsx").write_bytes(b"open in a spreadsheet program")
    build(site, out, EVENING + timedelta(hours=1))
    assert (out / "rota.pdf").read_bytes() == b"%PDF of the ward"
    assert "rota.pdf" not in list_papers(out)
    assert "pick-lists.pdf" in list_papers(out)


def test_that_a_list_somebody_wrote_on_is_kept_and_not_printed_as_ours(site: Path, out: Path) -> None:
    (page,) = (path for path in (out / "pick-lists").iterdir() if "M1" in path.name)
    page.write_bytes(page.read_bytes() + b"% a note")
    built = build(site, out, EVENING + timedelta(hours=1))
    assert "was changed since it was printed" in said(built)
    assert not page.read_bytes().endswith(b"% a note")


def test_that_records_do_not_replace_papers_and_leave_files_of_others(site: Path, out: Path, tmp_path: Path) -> None:
    tell_built(site, "M1", "WR-01", EVENING + timedelta(minutes=30), DAY)
    with pytest.raises(WrongUse, match="holds papers"):
        write_records(site, out)
    records = tmp_path / "records"
    write_records(site, records)
    (records / "mine.csv").write_text("a,b")
    (records / "cart.csv").write_text("our own marks")
    (aside,) = write_records(site, records).aside
    assert (aside.file, aside.to.read_text()) == ("cart.csv", "our own marks")
    assert (records / "mine.csv").read_text() == "a,b"
