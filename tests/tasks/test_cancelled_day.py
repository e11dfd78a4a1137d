"""A day of which every case is cancelled: everything goes back, and no list of it is left to be built from."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from picklist.evening.changes import CartChangeKind
from picklist.evening.keep_plans import open_put_backs
from picklist.store.state import open_state, state_path
from picklist.tasks.beside_site import days_to_build
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.errors import WrongUse
from picklist.tasks.morning import print_morning
from picklist.tasks.read_folder import load_folder
from tests.tasks.small_folder import TABLES, tell_by_scans, write_folder

THURSDAY, FRIDAY = date(2026, 11, 26), date(2026, 11, 27)
CARDS = TABLES["Cards"] + "P1,,add,item,100001,2,1,yes\n"
FRIDAYS = "F1,2026-11-27,OR 1,07:30,60,S1,P1,none,planned"


def at(wall: str, day: int = 25) -> datetime:
    return datetime.strptime(f"2026-11-{day} {wall}", "%Y-%m-%d %H:%M")  # noqa: DTZ007 (site wall time)


def folder(where: Path, status: str, *more: str) -> Path:
    rows = [f"M{n},2026-11-26,OR {n},0{6 + n}:30,60,S{n},P1,none,{status}" for n in (1, 2)]
    return write_folder(where / "site", *(rows if status else ()), *more, Cards=CARDS)


def build(where: Path, wall: str = "18:00", day: date | None = None, on: int = 25) -> Built:
    wanted = Wanted(folder=where / "site", out=where / "out", now=at(wall, on), day=day, with_chance=False)
    stages: list[str] = []
    return build_day(wanted, stages.append)


def papers(where: Path) -> set[str]:
    return {one.relative_to(where / "out").as_posix() for one in (where / "out").rglob("*") if one.is_file()}


def thursday_is_built(where: Path, *more: str) -> None:
    """Two carts for Thursday; the first is built."""
    folder(where, "planned", *more)
    assert build(where).plan is not None
    assert any(name.startswith("pick-lists/") for name in papers(where))
    tell_by_scans(where / "site", ["CART M1", "BY ab", "DONE"], at("20:00"), THURSDAY)


def assert_all_goes_back(where: Path, built: Built) -> None:
    assert built.plan is not None
    assert built.change is not None
    assert (built.plan.day, built.plan.revision, built.plan.carts) == (THURSDAY, 2, ())
    assert {cart.case: cart.kind for cart in built.change.carts} == dict.fromkeys(
        ("M1", "M2"), CartChangeKind.CANCELLED
    )
    off = {
        (line.piece.set_id or line.piece.lot, line.quantity) for cart in built.change.carts for line in cart.take_off
    }
    assert off == {("WR-01", 1), ("WR-02", 1), ("L1", 2), ("L1", 1)}
    left = papers(where)
    assert "changes.pdf" in left
    assert not {name for name in left if "pick-list" in name or name.startswith("html/")}
    with open_state(state_path(where / "site")) as state:
        assert {one.case for one in open_put_backs(state, THURSDAY)} == {"M1"}


@pytest.mark.parametrize("more", [(), (FRIDAYS,)], ids=["nothing else", "cases on Friday"])
def test_a_day_wholly_cancelled_gives_its_put_backs_and_no_list(tmp_path: Path, more: tuple[str, ...]) -> None:
    thursday_is_built(tmp_path, *more)
    folder(tmp_path, "cancelled", *more)
    assert_all_goes_back(tmp_path, build(tmp_path, "21:00"))


def test_the_morning_of_a_cancelled_day_counts_no_cart(tmp_path: Path) -> None:
    thursday_is_built(tmp_path)
    folder(tmp_path, "cancelled")
    build(tmp_path, "21:00")
    morning = print_morning(tmp_path / "site", tmp_path / "morning.pdf", at("06:00", 26))
    assert (morning.points.carts, morning.points.stopped, morning.points.missing) == ((), (), ())
    assert {one.case for one in morning.points.put_backs} == {"M1"}


def test_building_it_again_changes_nothing_and_does_not_jump_to_the_day_after(tmp_path: Path) -> None:
    thursday_is_built(tmp_path, FRIDAYS)
    folder(tmp_path, "cancelled", FRIDAYS)
    build(tmp_path, "21:00")
    again = build(tmp_path, "21:30")
    assert again.plan is not None
    assert again.change is not None
    assert (again.plan.day, again.change.carts) == (THURSDAY, ())
    assert "changes/2026-11-26 revision 2.pdf" in papers(tmp_path)


def test_on_the_evening_of_the_cancelled_day_the_day_after_is_built(tmp_path: Path) -> None:
    thursday_is_built(tmp_path, FRIDAYS)
    folder(tmp_path, "cancelled", FRIDAYS)
    build(tmp_path, "21:00")
    built = build(tmp_path, "18:00", on=26)
    assert built.plan is not None
    assert built.plan.day == FRIDAY


@pytest.mark.parametrize("more", [(), (FRIDAYS,)], ids=["nothing else", "cases on Friday"])
def test_a_schedule_that_no_longer_has_the_day_is_asked_about(tmp_path: Path, more: tuple[str, ...]) -> None:
    """It may be the export of another day: whoever builds says whether the day is off."""
    thursday_is_built(tmp_path, *more)
    before = papers(tmp_path)
    folder(tmp_path, "", *more)
    with pytest.raises(WrongUse, match="--day 2026-11-26"):
        build(tmp_path, "21:00")
    assert papers(tmp_path) == before
    assert_all_goes_back(tmp_path, build(tmp_path, "21:00", THURSDAY))


def test_a_day_that_never_had_lists_and_has_no_case_is_still_refused(tmp_path: Path) -> None:
    folder(tmp_path, "cancelled")
    with pytest.raises(WrongUse, match="no case"):
        build(tmp_path, day=THURSDAY)
    with pytest.raises(WrongUse, match="no case"):
        build(tmp_path)


def test_the_page_offers_the_cancelled_day_to_build(tmp_path: Path) -> None:
    thursday_is_built(tmp_path, FRIDAYS)
    folder(tmp_path, "cancelled", FRIDAYS)
    assert days_to_build(load_folder(tmp_path / "site", at("21:00"))) == (THURSDAY, FRIDAY)


def test_a_cart_reported_late_on_a_cancelled_day_is_still_taken(tmp_path: Path) -> None:
    thursday_is_built(tmp_path)
    folder(tmp_path, "cancelled")
    told = tell_by_scans(tmp_path / "site", ["CART M2", "BY ab", "DONE"], at("21:00"), None)
    assert [one.case for one in told.kept] == ["M2"]
