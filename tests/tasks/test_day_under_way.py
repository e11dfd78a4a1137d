"""Lists built anew while the day is under way: carts in rooms are left alone, and what was used is not put back."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.evening.changes import CartChangeKind
from picklist.evening.keep_facts import built_carts
from picklist.evening.keep_plans import lists_in_hand
from picklist.store.state import open_state, state_path
from picklist.tasks.build import Built, Wanted, build_day
from tests.tasks.small_folder import TABLES, tell_by_scans, write_folder

DAY = date(2026, 11, 26)
CARDS = TABLES["Cards"] + "P1,,add,item,100001,2,1,yes\n"
IN_USE = "set,tray,side,state,in case,place\nWR-01,T-WR,,in use,M1,\nWR-02,T-WR,,on shelf,,A-1-2\n"
DIRTY = "set,tray,side,state,in case,place\nWR-01,T-WR,,dirty,,\nWR-02,T-WR,,on shelf,,A-1-2\n"


def folder(where: Path, status: str = "planned", **tables: str) -> Path:
    rows = (f"M1,2026-11-26,OR 1,07:30,60,S1,P1,none,{status}", "M2,2026-11-26,OR 2,12:00,60,S2,P1,none,planned")
    return write_folder(where / "site", *rows, Cards=CARDS, **tables)


def build(where: Path, wall: str, day: int = 26) -> Built:
    now = datetime.strptime(f"2026-11-{day} {wall}", "%Y-%m-%d %H:%M")  # noqa: DTZ007 - site wall time
    wanted = Wanted(folder=where / "site", out=where / "out", now=now, day=DAY, with_chance=False)
    stages: list[str] = []
    built = build_day(wanted, stages.append)
    assert built.plan is not None
    assert built.change is not None
    return built


def tell_built(site: Path) -> None:
    tell_by_scans(site, ["CART M1", "BY ab", "DONE"], datetime(2026, 11, 25, 20, 0), DAY)  # noqa: DTZ001 - site wall time


def kinds(built: Built) -> dict[str, CartChangeKind]:
    assert built.change is not None
    return {cart.case: cart.kind for cart in built.change.carts}


@pytest.mark.parametrize("told", [True, False])
def test_the_cart_of_a_running_case_is_not_touched(tmp_path: Path, told: bool) -> None:
    folder(tmp_path)
    build(tmp_path, "18:00", 25)
    if told:
        tell_built(tmp_path / "site")
    folder(tmp_path, "running", Sets=IN_USE)
    built = build(tmp_path, "08:00")
    assert kinds(built) == {"M1": CartChangeKind.UNCHANGED, "M2": CartChangeKind.UNCHANGED}
    assert built.change is not None
    assert all(not cart.take_off and not cart.add for cart in built.change.carts)
    assert built.plan is not None
    (drape,) = built.plan.carts[0].sundries
    assert [(one.lot, one.open, one.hold) for one in drape.picks] == [("L1", 2, 1)]
    assert (drape.short_open, drape.short_hold) == (0, 0)


def test_a_running_case_that_never_had_a_list_lacks_nothing(tmp_path: Path) -> None:
    """Built for the first time at 08:00: what it has with it is asked for nowhere and called short nowhere."""
    folder(tmp_path, "running", Sets=IN_USE)
    built = build(tmp_path, "08:00")
    assert built.plan is not None
    found, (cart, _) = Lookup(built.plan), built.plan.carts
    view = PickListView(found, cart, printing_of(built.plan))
    assert view.about.startswith("RUNNING, ")
    assert view.shorts == ()
    (row,) = [row for group in view.sundries for row in group.rows]
    assert (row.lot, row.open, row.hold, row.short, row.note) == ("–", "2", "1", "", "in the room with the case")
    sheet = EveningView(found, lambda _case: printing_of(built.plan))  # type: ignore[arg-type]
    assert sheet.counts.startswith("1 cart to build · 1 running · 0 on hold · 1 tray")
    assert sheet.carts[0].marks == ("running",)


def test_a_case_that_is_done_is_not_cancelled_and_its_used_set_goes_on_no_shelf(tmp_path: Path) -> None:
    folder(tmp_path)
    build(tmp_path, "18:00", 25)
    tell_built(tmp_path / "site")
    folder(tmp_path, "done", Sets=DIRTY)
    built = build(tmp_path, "09:00")
    assert kinds(built) == {"M1": CartChangeKind.OVER, "M2": CartChangeKind.UNCHANGED}
    assert built.change is not None
    assert [cart.take_off for cart in built.change.carts] == [(), ()]
    with open_state(state_path(tmp_path / "site")) as state:  # the day after still knows its cart
        assert set(built_carts(state, DAY)) == {"M1"}
        assert set(lists_in_hand(state, DAY)) == {"M1", "M2"}
    assert kinds(build(tmp_path, "09:30")) == {"M2": CartChangeKind.UNCHANGED}


def test_a_case_that_left_the_schedule_is_still_put_back(tmp_path: Path) -> None:
    folder(tmp_path)
    build(tmp_path, "18:00", 25)
    tell_built(tmp_path / "site")
    folder(tmp_path, "cancelled")
    built = build(tmp_path, "21:00", 25)
    assert kinds(built)["M1"] is CartChangeKind.CANCELLED
    assert built.change is not None
    (gone,) = [cart for cart in built.change.carts if cart.case == "M1"]
    assert {line.piece.set_id or line.piece.thing for line in gone.take_off} == {"WR-01", "100001"}


def test_another_case_under_the_number_of_a_done_one_is_no_proof(tmp_path: Path) -> None:
    folder(tmp_path)
    build(tmp_path, "18:00", 25)
    write_folder(
        tmp_path / "site",
        "M1,2026-11-26,OR 3,05:00,20,S3,P1,left,done",
        "M2,2026-11-26,OR 2,12:00,60,S2,P1,none,planned",
        Cards=CARDS,
    )
    assert kinds(build(tmp_path, "09:00"))["M1"] is not CartChangeKind.OVER
