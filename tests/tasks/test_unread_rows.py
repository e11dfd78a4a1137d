"""A row of the schedule that cannot be read is no cancelled case: its cart is left as it is."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from picklist.evening.changes import CartChange, CartChangeKind
from picklist.evening.keep_plans import open_put_backs
from picklist.problems import Severity
from picklist.store.state import open_state, state_path
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.why import why_set
from tests.tasks.small_folder import TABLES, tell_by_scans, write_folder

THURSDAY = date(2026, 11, 26)
CARDS = TABLES["Cards"] + "P1,,add,item,100001,20,0,yes\n"
M1 = "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned"
M2 = "M2,2026-11-26,OR 2,08:30,60,S2,P1,none,planned"
M3 = "M3,2026-11-26,OR 3,09:30,60,S3,P1,none,planned"


def at(wall: str) -> datetime:
    return datetime.strptime(f"2026-11-25 {wall}", "%Y-%m-%d %H:%M")  # noqa: DTZ007 (site wall time)


def build(where: Path, wall: str, *rows: str, same: dict[str, str] | None = None) -> Built:
    write_folder(where / "site", *rows, Cards=CARDS)
    wanted = Wanted(folder=where / "site", out=where / "out", now=at(wall), with_chance=False, answers=same or {})
    stages: list[str] = []
    return build_day(wanted, stages.append)


def first_cart_is_built(where: Path) -> None:
    assert build(where, "18:00", M1, M2).plan is not None
    tell_by_scans(where / "site", ["CART M1", "BY ab", "DONE"], at("20:00"), THURSDAY)


def becomes(built: Built, case: str) -> CartChange:
    assert built.change is not None
    (found,) = [one for one in built.change.carts if one.case == case]
    return found


def put_backs(where: Path) -> set[str]:
    with open_state(state_path(where / "site")) as state:
        return {one.case for one in open_put_backs(state, THURSDAY)}


@pytest.mark.parametrize(
    "row",
    [
        "M1,2026-11-26,OR 1,half seven,60,S1,P1,none,planned",
        "M1,2026-11-31,OR 1,07:30,60,S1,P1,none,planned",
        "M1,,OR 1,07:30,60,S1,P1,none,planned",
        "M1,2062-11-26,OR 1,07:30,60,S1,P1,none,planned",
        "M1,2026-11-26,,07:30,60,S1,P1,none,planned",
        ",2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    ],
)
def test_a_built_cart_whose_row_cannot_be_read_is_left_as_it_is(tmp_path: Path, row: str) -> None:
    first_cart_is_built(tmp_path)
    built = build(tmp_path, "21:00", row, M2, M3)
    one = becomes(built, "M1")
    assert (one.kind, one.built, one.take_off) == (CartChangeKind.UNREAD, True, ())
    assert put_backs(tmp_path) == set()
    assert built.plan is not None
    sets = {line.set_id for cart in built.plan.carts for line in cart.trays}
    assert "WR-01" not in sets, "it stands on the cart of M1"
    lots = sum(pick.open for cart in built.plan.carts for line in cart.goods for pick in line.picks)
    assert lots == 20, "20 of the 40 drapes stand on the cart of M1"


@pytest.mark.parametrize("column", [("S1,P1", "S1,P9"), ("S1,P1", "S9,P1"), (",60,", ",6x,")])
def test_a_built_cart_whose_list_is_stopped_keeps_its_set_from_all_others(
    tmp_path: Path, column: tuple[str, str]
) -> None:
    """Its day, room and start can be read; M3 goes without rather than take WR-01 from the cart of M1."""
    first_cart_is_built(tmp_path)
    built = build(tmp_path, "21:00", M1.replace(*column), M2, M3)
    assert (becomes(built, "M1").kind, becomes(built, "M1").built) == (CartChangeKind.STOPPED, True)
    assert built.plan is not None
    sets = [line.set_id for cart in built.plan.carts for line in cart.trays]
    assert sorted(sets) == ["", "WR-02"]
    assert explained(tmp_path / "site", "WR-01") == "no case on the schedule gets it"


def explained(site: Path, set_id: str) -> str:
    return why_set(site, set_id, at("21:00")).lines[1]


def test_carts_whose_rows_a_schedule_lost_that_was_cut_off_are_left_as_they_are(tmp_path: Path) -> None:
    first_cart_is_built(tmp_path)
    write_folder(tmp_path / "site", M2, "M3,2026-11-26,OR 3,09:30", Cards=CARDS)
    schedule = tmp_path / "site" / "Schedule.csv"
    schedule.write_bytes(schedule.read_bytes().rstrip())
    wanted = Wanted(folder=tmp_path / "site", out=tmp_path / "out", now=at("21:00"), with_chance=False)
    built = build_day(wanted, print)
    assert becomes(built, "M1").kind is CartChangeKind.UNREAD
    assert put_backs(tmp_path) == set()
    assert [(one.kind, one.where.row) for one in built.problems if one.severity is Severity.STOPS_CASE] == [
        ("cut off", 3)
    ]


def test_when_the_row_is_corrected_the_cart_is_known_again(tmp_path: Path) -> None:
    first_cart_is_built(tmp_path)
    build(tmp_path, "21:00", M1.replace("07:30", "half seven"), M2)
    build(tmp_path, "21:10", M1.replace("07:30", "half eight"), M2)
    one = becomes(build(tmp_path, "21:30", M1, M2), "M1")
    assert (one.old_case, one.built, one.add, one.take_off) == ("M1", True, (), ())


def test_when_the_row_then_goes_the_cart_is_put_back(tmp_path: Path) -> None:
    first_cart_is_built(tmp_path)
    build(tmp_path, "21:00", M1.replace("07:30", "half seven"), M2)
    one = becomes(build(tmp_path, "21:30", M2), "M1")
    assert (one.kind, one.built) == (CartChangeKind.CANCELLED, True)
    assert put_backs(tmp_path) == {"M1"}


def test_a_cart_whose_case_was_done_stays_over_when_its_row_goes(tmp_path: Path) -> None:
    """Its cart is kept in mind for the day after, and nothing of it is put back."""
    first_cart_is_built(tmp_path)
    assert becomes(build(tmp_path, "21:00", M1.replace("planned", "done"), M2), "M1").kind is CartChangeKind.OVER
    built = build(tmp_path, "21:30", M2)
    assert built.change is not None
    assert [one.case for one in built.change.carts] == ["M2"]
    assert put_backs(tmp_path) == set()


def test_a_case_may_stand_in_a_second_file_that_cannot_be_opened(tmp_path: Path) -> None:
    first_cart_is_built(tmp_path)
    (tmp_path / "site" / "late cases.xlsx").write_bytes(b"half a download")
    assert becomes(build(tmp_path, "21:00", M2), "M1").kind is CartChangeKind.UNREAD
    cancelled = M1.replace("planned", "cancelled")
    assert becomes(build(tmp_path, "21:30", cancelled, M2), "M1").kind is CartChangeKind.CANCELLED


def test_the_papers_say_on_hold_and_nothing_of_putting_back(tmp_path: Path) -> None:
    from picklist.cli.summary import build_lines
    from picklist.documents.views.change_sheet import ChangesView
    from picklist.documents.views.lookup import Lookup

    first_cart_is_built(tmp_path)
    built = build(tmp_path, "21:00", M1.replace("07:30", "half seven"), M2)
    assert built.plan is not None
    assert built.change is not None
    sheet = ChangesView(Lookup(built.plan), built.change)
    (block,) = sheet.carts
    assert (block.word, block.case, block.built, block.which_list) == ("ON HOLD", "M1", True, "list 1 stays")
    assert sheet.put_back == ()
    assert any(line.endswith("put nothing back: M1") for line in build_lines(built))


@pytest.mark.parametrize("slot", ["OR 1,07:30", "OR 3,12:30"])
def test_a_case_that_moved_to_another_day_is_not_taken_for_a_like_one_that_is_new(tmp_path: Path, slot: str) -> None:
    first_cart_is_built(tmp_path)
    like = f"A9,2026-11-26,{slot},60,S1,P1,none,planned"
    built = build(tmp_path, "21:00", M1.replace("11-26", "11-27"), M2, like)
    assert built.change is not None
    assert built.change.questions == ()
    moved, new = becomes(built, "M1"), becomes(built, "A9")
    assert (moved.kind, moved.built, moved.moved_to) == (CartChangeKind.CANCELLED, True, date(2026, 11, 27))
    assert (new.kind, new.old_case) == (CartChangeKind.NEW, "")


def test_the_cart_of_a_case_that_moved_may_be_given_to_a_like_one_by_an_answer(tmp_path: Path) -> None:
    first_cart_is_built(tmp_path)
    like = "A9,2026-11-26,OR 3,12:30,60,S1,P1,none,planned"
    built = build(tmp_path, "21:00", M1.replace("11-26", "11-27"), M2, like, same={"A9": "M1"})
    assert (becomes(built, "A9").old_case, becomes(built, "A9").built) == ("M1", True)


def test_a_case_that_moved_to_another_day_is_no_unread_one(tmp_path: Path) -> None:
    first_cart_is_built(tmp_path)
    (tmp_path / "site" / "late cases.xlsx").write_bytes(b"half a download")
    one = becomes(build(tmp_path, "21:00", M1.replace("11-26", "11-27"), M2), "M1")
    assert (one.kind, one.moved_to) == (CartChangeKind.CANCELLED, date(2026, 11, 27))
