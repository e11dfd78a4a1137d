"""What is on carts of other days, or with cases that run or are over, is promised to nobody else."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from picklist.model.plan import Cart
from picklist.tasks.build import plan_day
from picklist.tasks.day_after import settle_day, tell_used
from tests.tasks.small_folder import DAY, EVENING, tell_by_scans, write_folder
from tests.tasks.test_built_carts import lay_lists

FRIDAY = date(2026, 11, 27)
AFTER = datetime(2026, 11, 26, 19, 0)  # noqa: DTZ001 - site wall time
M1 = "M1,2026-11-26,OR 1,08:00,60,S1,P1,none,planned"
F1 = "F1,2026-11-27,OR 1,08:00,60,S2,P1,none,planned"
TABLES = {
    "Sets": "set,tray,side,state,in case,place\nWR-01,T-WR,,on shelf,,A-1-1\n",
    "Items": "item,name,unit,place\n100001,Drape,each,B-1-1\n100002,Towel,each,B-1-2\n",
    "Lots": "item,lot,quantity,expiry,place\n100001,L1,5,2030-01-31,B-1-1\n100002,L2,5,2030-01-31,B-1-2\n",
    "Cards": "procedure,surgeon,change,kind,thing,open,hold,approved\nP1,,add,tray,T-WR,1,0,yes\n"
    "P1,,add,item,100001,3,0,yes\nP1,S2,add,item,100002,3,0,yes\n",
}


def thursday(tmp_path: Path, *scans: str) -> Path:
    """On Wednesday evening the list of M1 is printed: three of the five drapes, and the only wrist set."""
    folder = write_folder(tmp_path / "site", M1, F1, **TABLES)
    lay_lists(folder, EVENING, DAY)
    if scans:
        told = tell_by_scans(folder, ["CART M1", "BY ab", *scans], EVENING + timedelta(minutes=30), DAY)
        assert told.kept
    return folder


def friday(folder: Path, *cases: str, now: datetime = AFTER, **tables: str) -> Cart:
    """F1's cart as it is planned on Thursday evening, when this is the schedule."""
    write_folder(folder, *cases, **(TABLES | tables))
    cart = plan_day(folder, now, FRIDAY, with_chance=False).cart("F1")
    assert cart is not None
    return cart


def short(cart: Cart) -> int:
    """Of the drapes that F1 wants, how many no shelf can give."""
    return next(line.short_open for line in cart.sundries if line.need.thing == "100001")


@pytest.mark.parametrize("schedule", [(M1.replace("planned", "done"), F1), (F1,)], ids=["done", "not on the schedule"])
def test_that_what_a_day_took_whose_cases_are_all_over_is_on_no_shelf(
    tmp_path: Path, schedule: tuple[str, ...]
) -> None:
    folder = thursday(tmp_path, "DONE")
    assert short(friday(folder, M1, F1)) == 1
    assert short(friday(folder, *schedule)) == 1


@pytest.mark.parametrize("status", ["running", "done"])
def test_that_what_a_case_has_in_its_room_is_on_no_shelf_though_nobody_reported_its_cart(
    tmp_path: Path, status: str
) -> None:
    folder = thursday(tmp_path)
    assert short(friday(folder, M1.replace("planned", status), F1)) == 1


def test_that_the_set_of_a_day_on_which_all_is_cancelled_is_still_on_its_cart(tmp_path: Path) -> None:
    """It is not said to be on its shelf before anybody put it back; nor are the drapes lost."""
    cart = friday(thursday(tmp_path, "DONE"), M1.replace("planned", "cancelled"), F1)
    assert (cart.trays[0].set_id, cart.trays[0].place_now) == ("WR-01", "on the cart of case M1")
    assert short(cart) == 0


def test_that_a_cart_of_a_later_day_which_the_schedule_has_not_yet_keeps_its_set(tmp_path: Path) -> None:
    """F1's cart is built already; the file of Thursday alone does not mean that it is to be taken apart."""
    folder = write_folder(tmp_path / "site", F1, **TABLES)
    lay_lists(folder, EVENING, FRIDAY)
    assert tell_by_scans(folder, ["CART F1", "BY ab", "DONE"], EVENING, FRIDAY).kept
    write_folder(folder, M1, **TABLES)
    cart = plan_day(folder, EVENING + timedelta(hours=1), DAY, with_chance=False).cart("M1")
    assert cart is not None
    assert (cart.trays[0].set_id, short(cart)) == ("", 1)


@pytest.mark.parametrize("scans", [["100002"] * 3, ["INSTEAD 100001 100002 3"]], ids=["added", "stood in"])
def test_that_what_is_on_a_started_cart_beyond_its_list_is_promised_to_nobody(tmp_path: Path, scans: list[str]) -> None:
    """Three of the five towels are on M1's cart, which is not built yet; F1 wants three."""
    cart = friday(thursday(tmp_path, *scans), M1, F1, now=EVENING + timedelta(hours=1))
    assert [line.short_open for line in cart.sundries if line.need.thing == "100002"] == [1]


def test_that_a_day_which_is_not_settled_yet_counts_until_it_is_and_no_longer(tmp_path: Path) -> None:
    """A site that settles: after midnight Thursday's drapes are still in the table of lots, from the morning on not."""
    wednesday = "W1,2026-11-25,OR 1,08:00,60,S1,P1,none,planned"
    lots = TABLES["Lots"].replace("L1,5", "L1,8")
    folder = write_folder(tmp_path / "site", wednesday, M1, F1, **(TABLES | {"Lots": lots}))
    for case, day in (("W1", date(2026, 11, 25)), ("M1", DAY)):
        lay_lists(folder, datetime(2026, 11, 24, 18, 0), day)  # noqa: DTZ001 - site wall time
        assert tell_by_scans(folder, [f"CART {case}", "BY ab", "DONE"], datetime(2026, 11, 24, 19, 0), day).kept  # noqa: DTZ001

    def settle(case: str, day: date, now: datetime) -> None:
        form = tmp_path / f"{case}.csv"
        head = "case,kind,thing,set,open,hold,added,used,unopened,person\n"
        form.write_text(f"{head}{case},item,100001,,3,0,0,3,0,\n", encoding="utf-8")
        assert tell_used(folder, form, day, now).problems == ()
        assert settle_day(folder, day, now, write=True).done

    settle("W1", date(2026, 11, 25), datetime(2026, 11, 26, 7, 0))  # noqa: DTZ001 - site wall time
    lots = (folder / "Lots.csv").read_text(encoding="utf-8")
    assert "L1,5" in lots
    night = datetime(2026, 11, 27, 0, 30)  # noqa: DTZ001 - site wall time
    assert short(friday(folder, M1, F1, now=night, Lots=lots)) == 1
    settle("M1", DAY, night)
    lots = (folder / "Lots.csv").read_text(encoding="utf-8")
    assert "L1,2" in lots
    assert short(friday(folder, M1, F1, now=night, Lots=lots)) == 1


@pytest.mark.parametrize("row", ["cancelled", "unreadable", "no longer there"])
def test_that_a_tray_which_a_built_cart_still_waits_for_is_where_its_row_says(tmp_path: Path, row: str) -> None:
    """M2's cart is built but for the set that M1 has before it; then M2 is not to be planned, and M1 is as before."""
    later = "M2,2026-11-26,OR 2,15:00,60,S3,P1,none,planned"
    now = {
        "cancelled": later.replace("planned", "cancelled"),
        "unreadable": later.replace("15:00", "quarter"),
        "no longer there": "",
    }
    folder = write_folder(tmp_path / "site", M1, later, **TABLES)
    lay_lists(folder, EVENING, DAY)
    told = tell_by_scans(folder, ["CART M2", "BY ab", "DONE"], EVENING + timedelta(minutes=30), DAY)
    assert [one.set_id for one in told.kept[0].to_come] == ["WR-01"]
    write_folder(folder, M1, now[row], **TABLES)
    cart = plan_day(folder, EVENING + timedelta(hours=1), DAY, with_chance=False).cart("M1")
    assert cart is not None
    assert (cart.trays[0].set_id, cart.trays[0].place_now) == ("WR-01", "A-1-1")


HEAD = "set,tray,state,place,recorded sterile at\n"


@pytest.mark.parametrize(
    ("row", "now", "place", "ready"),
    [
        ("WR-01,T-WR,on shelf,A-1-1,", "09:30", "dirty, A-1-1", "12:30"),
        ("WR-01,T-WR,on shelf,A-1-1,2026-11-25 15:00", "14:00", "dirty, A-1-1", "17:00"),
        ("WR-01,T-WR,on shelf,A-1-1,2026-11-26 13:00", "14:00", "A-1-1", ""),
        ("WR-01,T-WR,on shelf,A-1-1,", "14:00", "A-1-1", ""),
        ("WR-01,T-WR,dirty,A-1-1,", "14:00", "dirty, A-1-1", "17:00"),
    ],
    ids=["no time yet to be washed", "recorded before", "recorded since", "may be washed since", "said to be dirty"],
)
def test_that_a_set_which_a_done_case_had_is_not_on_its_shelf_as_before(
    tmp_path: Path, row: str, now: str, place: str, ready: str
) -> None:
    """M1 opened the only wrist set at 08:00 and was done at 09:00; whoever wrote that forgot the row of the set."""
    later = "M2,2026-11-26,OR 2,18:00,60,S3,P1,none,planned"
    folder = write_folder(tmp_path / "site", M1, later, **TABLES)
    lay_lists(folder, EVENING, DAY)
    write_folder(folder, M1.replace("planned", "done"), later, **(TABLES | {"Sets": f"{HEAD}{row}\n"}))
    plan = plan_day(folder, datetime.combine(DAY, time.fromisoformat(now)), DAY, with_chance=False)
    [line] = plan.carts[0].trays
    assert (line.set_id, line.place_now) == ("WR-01", place)
    assert (f"{line.expected:%H:%M}" if line.expected else "") == ready
    used = [one.message for one in plan.problems if one.kind == "set used since"]
    assert bool(used) == (place.startswith("dirty") and ",dirty," not in row)


def test_that_a_set_which_a_done_case_had_on_hold_is_where_its_row_says(tmp_path: Path) -> None:
    """It may have stayed unopened: nobody is told that it is dirty."""
    held = {"Cards": TABLES["Cards"].replace("T-WR,1,0", "T-WR,0,1")}
    later = "M2,2026-11-26,OR 2,18:00,60,S3,P1,none,planned"
    folder = write_folder(tmp_path / "site", M1, later, **(TABLES | held))
    lay_lists(folder, EVENING, DAY)
    write_folder(folder, M1.replace("planned", "done"), later, **(TABLES | held))
    plan = plan_day(folder, datetime(2026, 11, 26, 9, 30), DAY, with_chance=False)  # noqa: DTZ001 - site wall time
    assert [line.place_now for line in plan.carts[0].trays] == ["A-1-1"]


def test_that_a_set_which_the_crew_put_on_another_cart_since_is_not_dirty(tmp_path: Path) -> None:
    """M1 opened it in the morning; at 13:00 it is on M2's cart, and its row still has its record of the day before."""
    row = {"Sets": f"{HEAD}WR-01,T-WR,on shelf,A-1-1,2026-11-25 15:00\n"}
    later = "M2,2026-11-26,OR 2,18:00,60,S3,P1,none,planned"
    folder = write_folder(tmp_path / "site", M1, later, **(TABLES | row))
    lay_lists(folder, EVENING, DAY)
    write_folder(folder, M1.replace("planned", "done"), later, **(TABLES | row))
    noon, half_past_one = (datetime.combine(DAY, time(*hour)) for hour in ((13, 0), (13, 30)))
    assert plan_day(folder, noon, DAY, with_chance=False).carts[0].trays[0].place_now == "dirty, A-1-1"
    assert tell_by_scans(folder, ["CART M2", "BY ab", "WR-01", "DONE"], noon, DAY).kept
    [line] = plan_day(folder, half_past_one, DAY, with_chance=False).carts[0].trays
    assert (line.set_id, line.place_now, line.expected) == ("WR-01", "A-1-1", None)
