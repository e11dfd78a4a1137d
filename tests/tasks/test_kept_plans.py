"""A kept plan that is damaged or of an earlier version is a sentence with what to do, and the next build works."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import zlib
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import pytest

from picklist.evening.keep_plans import open_put_backs
from picklist.store.state import open_state, state_path
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.errors import WrongUse
from picklist.tasks.papers import read_plan_of
from picklist.tasks.take_form import FileKind, try_form
from picklist.tasks.why import why_set
from tests.cli.run import FINE, PROBLEMS, WRONG_USE, run
from tests.tasks.small_folder import tell_by_scans, write_folder

THURSDAY, FRIDAY = date(2026, 11, 26), date(2026, 11, 27)
ROWS = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:30,60,S2,P1,none,planned",
    "F1,2026-11-27,OR 1,07:30,60,S1,P1,none,planned",
)
Harm = Callable[[bytes], tuple[bytes, bytes]]  # a plan as it is kept, and the text whose digest stands beside it


def at(wall: str) -> datetime:
    return datetime.strptime(f"2026-11-25 {wall}", "%Y-%m-%d %H:%M")  # noqa: DTZ007 (site wall time)


def build(where: Path, wall: str, day: date = THURSDAY) -> Built:
    wanted = Wanted(folder=where / "site", out=where / "out", now=at(wall), day=day, with_chance=False)
    stages: list[str] = []
    return build_day(wanted, stages.append)


def of_another_version(json: bytes) -> tuple[bytes, bytes]:
    text = json.replace(b'"carts"', b'"wagons"')
    return zlib.compress(text), text


def of_a_later_number(json: bytes) -> tuple[bytes, bytes]:
    text = json.replace(b'"version":1', b'"version":99', 1)
    assert text != json
    return zlib.compress(text), text


def half(json: bytes) -> tuple[bytes, bytes]:
    return zlib.compress(json)[:100], json


def one_letter(json: bytes) -> tuple[bytes, bytes]:
    return zlib.compress(json.replace(b"WR-01", b"WR-77")), json


HARMS: dict[str, Harm] = {
    "another version": of_another_version,
    "a later number": of_a_later_number,
    "half of it": half,
    "one letter": one_letter,
}


def harm(where: Path, how: Harm, day: date = THURSDAY) -> None:
    with closing(sqlite3.connect(state_path(where / "site"))) as db, db:
        json = zlib.decompress(db.execute("SELECT json FROM plan WHERE day = ?", (day.isoformat(),)).fetchone()[0])
        blob, text = how(json)
        digest = hashlib.sha256(text).hexdigest()
        db.execute("UPDATE plan SET json = ?, digest = ? WHERE day = ?", (blob, digest, day.isoformat()))


@pytest.fixture(scope="module")
def built_evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Thursday's lists are built, and one cart is reported; tests work on copies.

    Friday's were built before: the papers bear a mark of the very first plan.
    """
    home = tmp_path_factory.mktemp("kept plans")
    write_folder(home / "site", *ROWS)
    build(home, "17:30", FRIDAY)
    build(home, "18:00")
    tell_by_scans(home / "site", ["CART M2", "BY ab", "DONE"], at("19:00"), THURSDAY)
    return home


@pytest.fixture(params=HARMS.values(), ids=list(HARMS))
def where(built_evening: Path, tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """The evening of which the kept plan cannot be read any more."""
    shutil.copytree(built_evening, tmp_path / "evening")
    harm(tmp_path / "evening", request.param)
    return tmp_path / "evening"


def test_the_next_build_says_so_prints_every_list_and_counts_again(where: Path) -> None:
    printed = read_plan_of(where / "out")
    assert printed is not None
    before = {cart.case.number: [line.set_id for line in cart.trays] for cart in printed.carts}
    built = build(where, "21:00")
    assert built.plan is not None
    assert built.change is not None
    assert built.plan.revision == 2
    (said,) = [one for one in built.problems if one.kind == "kept plan not read"]
    assert "all lists are printed anew" in said.message
    assert "M2" in said.message
    assert built.change.to_print() == ("M1", "M2")
    assert {cart.case.number: [line.set_id for line in cart.trays] for cart in built.plan.carts} == before
    again = build(where, "21:30")
    assert [one for one in again.problems if one.kind == "kept plan not read"] == []
    assert again.plan is not None
    assert again.plan.revision == 3


def test_a_built_cart_whose_case_is_cancelled_meanwhile_is_put_back(where: Path) -> None:
    write_folder(where / "site", ROWS[0], ROWS[1].replace("planned", "cancelled"), ROWS[2])
    built = build(where, "21:00")
    assert built.change is not None
    assert [(one.case, one.kind.value) for one in built.change.carts] == [("M1", "new"), ("M2", "cancelled")]
    with open_state(state_path(where / "site")) as state:
        assert {one.case for one in open_put_backs(state, THURSDAY)} == {"M2"}


def test_another_day_is_built_and_a_set_explained_as_if_nothing_was_wrong(where: Path) -> None:
    built = build(where, "21:00", FRIDAY)
    assert built.plan is not None
    assert why_set(where / "site", "WR-01", at("21:00")).exit_code == 0


COMMANDS = (
    ("scan", "{site}", "{home}/scans.txt"),
    ("carts", "{site}", "{home}/out/carts.xlsx"),
    ("morning", "{site}", "--out", "{home}/morning.pdf"),
    ("calendar", "{site}", "--out", "{home}/calendars"),
    ("used", "{site}", "{home}/out/used.xlsx", "--day", "2026-11-26"),
    ("settle", "{site}", "--day", "2026-11-26"),
)


@pytest.mark.parametrize("where", [of_another_version], indirect=True)
def test_what_needs_the_plan_says_to_build_the_day_again(where: Path) -> None:
    (where / "scans.txt").write_text("CART M1\nDONE\n", encoding="utf-8")
    commands = [[word.format(site=where / "site", home=where) for word in words] for words in COMMANDS]
    for words in commands:
        code, _, told = run(*words, "--now", "2026-11-25 21:00")
        assert code == WRONG_USE, told
        assert "the plan kept of 2026-11-26 cannot be read" in told
        assert "picklist build" in told
    build(where, "21:05")
    for words in commands:
        code, _, told = run(*words, "--now", "2026-11-25 21:10")
        assert code in (FINE, PROBLEMS), told


def test_a_form_of_a_day_that_can_be_read_is_taken_beside_one_that_cannot(built_evening: Path, tmp_path: Path) -> None:
    """After an update of the program, the days that were built before it cannot be read."""
    where, form = tmp_path / "evening", tmp_path / "used.csv"
    shutil.copytree(built_evening, where)
    form.write_text("case,kind,thing,used\nF1,tray,T-WR,1\n", encoding="utf-8")
    harm(where, of_a_later_number)
    assert try_form(where / "site", form, FileKind.USED, at("20:00")).day == FRIDAY
    harm(where, of_a_later_number, FRIDAY)
    with pytest.raises(WrongUse, match="the plan kept of 2026-11-27 cannot be read"):
        try_form(where / "site", form, FileKind.USED, at("20:00"))
