"""Sets on carts that the crew told built stay there for every task that plans: build, why, an effect on cards."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.documents.views.bulk import BulkView
from picklist.documents.views.lookup import Lookup
from picklist.evening.revise import Schedule, begin_revision, finish_revision, what_changes
from picklist.model.plan import Plan
from picklist.plan import OnCarts, PlanRequest, horizon_cases, make_plan
from picklist.store.state import open_state, state_path
from picklist.tasks.beside_site import what_stands
from picklist.tasks.build import Wanted, build_day, plan_day
from picklist.tasks.cart_form import report_mark
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.crew import tell_by_form
from picklist.tasks.read_folder import load_site
from picklist.tasks.why import why_alone, why_set
from picklist.wording.say_why import cart_lines
from tests.tasks.small_folder import DAY, EVENING, TABLES, THREE_FOR_TWO_SETS, tell_by_scans, write_folder

MORNING = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:00,60,S2,P1,none,planned",
    "M3,2026-11-26,OR 3,15:00,60,S3,P1,none,planned",
)


def lay_lists(folder: Path, now: datetime, day: date) -> Plan:
    """A plan of a day kept as the one in force, as a build does, without printing."""
    loaded, site = load_site(folder, now)
    with open_state(state_path(folder)) as state:
        start = begin_revision(state, day, Schedule.of(site, horizon_cases(site, loaded.now)), plan_from_json)
        order = PlanRequest(
            day=day,
            now=loaded.now,
            revision=start.number,
            replaces=start.replaces,
            on_carts=start.standing,
            with_chance=False,
        )
        plan = make_plan(site, loaded.problems, order)
        finish_revision(state, plan, plan_to_json(plan), what_changes(start, plan))
    return plan


def tell_built(folder: Path, case: str, set_id: str, now: datetime, day: date) -> None:
    told = tell_by_scans(folder, [f"CART {case}", "BY ab", set_id, "DONE"], now, day)
    assert told.problems == ()


@pytest.mark.parametrize(("on_cart", "other"), [("WR-01", "WR-02"), ("WR-02", "WR-01")])
def test_why_of_a_set_sends_it_the_way_of_its_built_cart(tmp_path: Path, on_cart: str, other: str) -> None:
    """M2 takes the set that its cart has; M1 the other one, which comes back sooner and so goes on to M3."""
    folder = write_folder(tmp_path / "site", *MORNING)
    lay_lists(folder, EVENING, DAY)
    tell_built(folder, "M2", on_cart, EVENING + timedelta(minutes=30), DAY)
    answer = why_set(folder, other, EVENING + timedelta(hours=1))
    assert any(line.startswith(f"{other} from case M1") and "for case M3" in line for line in answer.lines)
    assert not any("M1" in line for line in why_set(folder, on_cart, EVENING + timedelta(hours=1)).lines)


@pytest.mark.parametrize(("on_cart", "other"), [("WR-01", "WR-02"), ("WR-02", "WR-01")])
def test_a_cart_built_for_tonight_keeps_its_set_when_tomorrow_is_built(
    tmp_path: Path, on_cart: str, other: str
) -> None:
    """At 18:00 the cart of a case at 22:00 stands built: its set is back at 05:40 at the soonest, not on the shelf."""
    tonight = "N1,2026-11-25,OR 1,22:00,270,S1,P1,none,planned"
    folder = write_folder(tmp_path / "site", tonight, MORNING[0])
    yesterday = EVENING - timedelta(days=1)
    lay_lists(folder, yesterday, DAY - timedelta(days=1))
    tell_built(folder, "N1", on_cart, yesterday + timedelta(minutes=30), DAY - timedelta(days=1))
    stages: list[str] = []
    built = build_day(Wanted(folder=folder, out=tmp_path / "out", now=EVENING, with_chance=False), stages.append)
    assert built.plan is not None
    assert {one.use.case: one.set_id for one in built.plan.assignments} == {"N1": on_cart, "M1": other}
    (line,) = built.plan.carts[0].trays
    assert (line.set_id, line.expected) == (other, None)


def test_that_a_list_says_on_which_cart_a_set_stands_that_it_takes_from_there(tmp_path: Path) -> None:
    """Friday's cart is built with WR-01; then Thursday needs both sets at once, and each is back for Friday."""
    friday = "N1,2026-11-27,OR 1,07:30,60,S1,P1,none,planned"
    folder = write_folder(tmp_path / "site", friday)
    lay_lists(folder, EVENING, DAY + timedelta(days=1))
    tell_built(folder, "N1", "WR-01", EVENING + timedelta(minutes=30), DAY + timedelta(days=1))
    write_folder(folder, *MORNING[:2], friday)
    wanted = Wanted(folder=folder, out=tmp_path / "out", now=EVENING + timedelta(hours=1), day=DAY, with_chance=False)
    stages: list[str] = []
    plan = build_day(wanted, stages.append).plan
    assert plan is not None
    assert {line.set_id: line.place_now for cart in plan.carts for line in cart.trays} == {
        "WR-01": "on the cart of case N1",
        "WR-02": "A-1-2",
    }
    found = BulkView(Lookup(plan))
    assert {row.set_id: row.place for group in found.sets for row in group.rows}["WR-01"] == "on the cart of case N1"


def test_all_days_of_the_schedule_are_looked_at(tmp_path: Path) -> None:
    tonight = "N1,2026-11-25,OR 1,22:00,60,S1,P1,none,planned"
    folder = write_folder(tmp_path / "site", tonight, *MORNING)
    for day, case, set_id in ((DAY - timedelta(days=1), "N1", "WR-01"), (DAY, "M1", "WR-02")):
        lay_lists(folder, EVENING, day)
        tell_built(folder, case, set_id, EVENING + timedelta(minutes=30), day)
    loaded, site = load_site(folder, datetime.combine(DAY - timedelta(days=1), time(19)))
    standing = what_stands(folder, site, loaded.now).fixed
    assert standing == {"N1/T-WR/1": "WR-01", "M1/T-WR/1": "WR-02"}


def test_a_folder_that_was_never_built_has_no_carts(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "site", *MORNING)
    loaded, site = load_site(folder, EVENING)
    assert what_stands(folder, site, loaded.now) == OnCarts()


def test_why_leaves_a_printed_set_on_its_list(tmp_path: Path) -> None:
    """Alone on the schedule M2 was printed with one set; an earlier case that comes later takes the other one."""
    folder = write_folder(tmp_path / "site", MORNING[1])
    (assignment,) = lay_lists(folder, EVENING, DAY).assignments
    write_folder(folder, *MORNING[:2])
    lines = why_set(folder, assignment.set_id, EVENING).lines
    assert "taken as it is for case M2, by Thu 26 Nov 07:30" in lines


def test_why_of_a_case_leaves_the_last_package_on_the_cart_that_has_it(tmp_path: Path) -> None:
    """The only drape is on M2's built cart; M1 comes later, is earlier in the day, and is short of one."""
    tables = {
        "Cards": "procedure,surgeon,change,kind,thing,open,hold,approved\nP1,,add,item,100001,1,0,yes\n",
        "Lots": "item,lot,quantity,expiry,place\n100001,L1,1,2030-01-31,B-1-1\n",
    }
    folder = write_folder(tmp_path / "site", MORNING[1], **tables)
    lay_lists(folder, EVENING, DAY)
    assert not tell_by_scans(folder, ["CART M2", "BY ab", "DONE"], EVENING + timedelta(minutes=30), DAY).problems
    write_folder(folder, *MORNING[:2], **tables)
    short = [
        "Drape: short, 1 open" in why_alone(folder, case, EVENING + timedelta(hours=1)).lines for case in ("M1", "M2")
    ]
    assert short == [True, False]


@pytest.mark.parametrize(
    ("reported", "left"),
    [
        ((), 3),
        (("100002", "100002"), 1),
        (("INSTEAD 100001 100002",), 2),
    ],
    ids=["nothing", "two added by hand", "one stood in"],
)
def test_that_what_is_on_a_built_cart_without_a_lot_is_given_to_no_other_case(
    tmp_path: Path, reported: tuple[str, ...], left: int
) -> None:
    """Three towels lie on the shelf; M1, which comes later, wants three."""
    cards = "procedure,surgeon,change,kind,thing,open,hold,approved\n"
    tables = {
        "Items": f"{TABLES['Items']}100002,Towel,each,B-1-2\n",
        "Lots": f"{TABLES['Lots']}100002,L2,3,2030-01-31,B-1-2\n",
        "Cards": f"{cards}P1,,add,item,100001,1,0,yes\nP1,S1,add,item,100002,3,0,yes\n",
    }
    folder = write_folder(tmp_path / "site", MORNING[1], **tables)
    lay_lists(folder, EVENING, DAY)
    tell_by_scans(folder, ["CART M2", "BY ab", *reported, "DONE"], EVENING + timedelta(minutes=30), DAY)
    write_folder(folder, *MORNING[:2], **tables)
    plan = lay_lists(folder, EVENING + timedelta(hours=1), DAY)
    cart = plan.cart("M1")
    assert cart is not None
    assert sum(pick.open for line in cart.goods for pick in line.picks if pick.item == "100002") == left


def test_that_what_stood_in_for_what_no_shelf_had_is_given_to_no_other_case(tmp_path: Path) -> None:
    """No drape is there; in their place two of the three towels are on M2's cart, and M1 wants three."""
    cards = "procedure,surgeon,change,kind,thing,open,hold,approved\n"
    tables = {
        "Items": f"{TABLES['Items']}100002,Towel,each,B-1-2\n",
        "Lots": "item,lot,quantity,expiry,place\n100002,L2,3,2030-01-31,B-1-2\n",
        "Cards": f"{cards}P1,S2,add,item,100001,2,0,yes\nP1,S1,add,item,100002,3,0,yes\n",
    }
    folder = write_folder(tmp_path / "site", MORNING[1], **tables)
    lay_lists(folder, EVENING, DAY)
    scans = ["CART M2", "BY ab", "INSTEAD 100001 100002 2", "DONE"]
    assert tell_by_scans(folder, scans, EVENING + timedelta(minutes=30), DAY).kept
    write_folder(folder, *MORNING[:2], **tables)
    cart = lay_lists(folder, EVENING + timedelta(hours=1), DAY).cart("M1")
    assert cart is not None
    (towels,) = cart.sundries
    assert (sum(pick.open for pick in towels.picks), towels.short_open) == (1, 2)


def test_that_what_stands_in_for_one_thing_is_none_of_the_others_that_the_list_asks_for(tmp_path: Path) -> None:
    """M2's cart has its two towels and a third in place of the drape: of five, M1, which wants three, gets two."""
    cards = "procedure,surgeon,change,kind,thing,open,hold,approved\n"
    tables = {
        "Items": f"{TABLES['Items']}100002,Towel,each,B-1-2\n",
        "Lots": f"{TABLES['Lots']}100002,L2,5,2030-01-31,B-1-2\n",
        "Cards": f"{cards}P1,S2,add,item,100001,1,0,yes\nP1,S2,add,item,100002,2,0,yes\n"
        "P1,S1,add,item,100002,3,0,yes\n",
    }
    folder = write_folder(tmp_path / "site", MORNING[1], **tables)
    lay_lists(folder, EVENING, DAY)
    scans = ["CART M2", "BY ab", "INSTEAD 100001 100002 1", "DONE"]
    assert tell_by_scans(folder, scans, EVENING + timedelta(minutes=30), DAY).kept
    write_folder(folder, *MORNING[:2], **tables)
    for hours in (1, 2):
        plan = lay_lists(folder, EVENING + timedelta(hours=hours), DAY)
        towels = {
            cart.case.number: [(pick.lot, pick.open) for line in cart.goods for pick in line.picks if pick.lot != "L1"]
            for cart in plan.carts
        }
        assert towels == {"M1": [("L2", 2)], "M2": [("L2", 2)]}


def test_why_of_a_case_says_what_the_plan_of_the_whole_day_says_of_it(tmp_path: Path) -> None:
    """One case goes without a set, the others have theirs; of conflicts only its own are described for it."""
    cards = f"{TABLES['Cards']}P1,,add,item,100001,8,3,yes\n"
    folder = write_folder(tmp_path / "site", *THREE_FOR_TWO_SETS, MORNING[2].replace("M3", "M4"), Cards=cards)
    plan = plan_day(folder, EVENING, DAY, with_chance=False)
    said = {cart.case.number: cart_lines(plan, cart) for cart in plan.carts}
    assert {len(lines) for lines in said.values()} == {2, 3, 4}, "a line for a conflict, for 40 drapes of 44, and none"
    assert {number: why_alone(folder, number, EVENING).lines[1:] for number in said} == said


def test_why_of_a_set_says_where_it_is_and_what_it_is_taken_for(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "site", MORNING[0])
    taken, idle = (why_set(folder, set_id, EVENING).lines for set_id in ("WR-01", "WR-02"))
    assert taken[:2] == ("WR-01: on the shelf, A-1-1", "taken as it is for case M1, by Thu 26 Nov 07:00")
    assert idle == ("WR-02: on the shelf, A-1-2", "no case on the schedule gets it")


def test_the_form_corrects_a_cart_that_was_reported_under_its_case_s_former_number(tmp_path: Path) -> None:
    """M1 is built; then its case is M9. The report still stands under M1's list until the changes are made."""
    folder = write_folder(tmp_path / "site", MORNING[0])
    lay_lists(folder, EVENING, DAY)
    tell_built(folder, "M1", "WR-01", EVENING + timedelta(minutes=30), DAY)
    write_folder(folder, MORNING[0].replace("M1", "M9"))
    later = EVENING + timedelta(hours=1)
    lay_lists(folder, later, DAY)
    before = carts_told(folder, DAY).built["M9"]
    assert (before.case, before.revision) == ("M1", 1)
    for revision, number in ((1, "M1"), (2, "M9")):
        said = replace(before, revision=revision, remark=f"list {revision}")
        told = tell_by_form(folder, "M9", said, report_mark(before), later)
        assert told.problems == () or [one.kind for one in told.problems] == ["older list"]
        before = carts_told(folder, DAY).built["M9"]
        assert (before.case, before.revision, before.remark) == (number, revision, f"list {revision}")
        assert [one.set_id for one in before.sets] == ["WR-01"]


def test_that_a_set_a_change_named_is_not_on_a_built_cart_before_it_has_come(tmp_path: Path) -> None:
    """M3 waits for the set of M1; the change names that of M2 instead, and the next one that of M1 again.

    None of them was ever on its cart, so that nothing is to be taken off or put back.
    """
    folder = write_folder(tmp_path / "site", *MORNING)
    assert set_of(lay_lists(folder, EVENING, DAY), "M3") == "WR-01"
    for case in ("M1", "M2", "M3"):
        tell_by_scans(folder, [f"CART {case}", "BY ab", "DONE"], EVENING + timedelta(minutes=10), DAY)
    write_folder(folder, MORNING[0].replace("07:30", "12:00"), *MORNING[1:])
    assert set_of(lay_lists(folder, EVENING + timedelta(minutes=20), DAY), "M3") == "WR-02"
    write_folder(folder, MORNING[0], MORNING[1].replace("08:00", "12:00"), MORNING[2])
    assert set_of(lay_lists(folder, EVENING + timedelta(minutes=30), DAY), "M3") == "WR-01"
    assert carts_told(folder, DAY).put_backs == ()


def test_that_a_dirty_set_a_change_named_is_not_on_a_built_cart(tmp_path: Path) -> None:
    """M2 is to get the set of M1, then a dirty one, which has not come when the case is cancelled."""
    cases = (MORNING[0], MORNING[2].replace("M3", "M2"))

    def sets(state: str) -> str:
        return TABLES["Sets"].replace("WR-02,T-WR,,on shelf", f"WR-02,T-WR,,{state}")

    folder = write_folder(tmp_path / "site", *cases, Sets=sets("incomplete"))
    assert set_of(lay_lists(folder, EVENING, DAY), "M2") == "WR-01"
    for case in ("M1", "M2"):
        tell_by_scans(folder, [f"CART {case}", "BY ab", "DONE"], EVENING + timedelta(minutes=10), DAY)
    late = (cases[0].replace("07:30", "13:00"), cases[1])
    write_folder(folder, *late, Sets=sets("dirty"))
    assert set_of(lay_lists(folder, EVENING + timedelta(minutes=20), DAY), "M2") == "WR-02"
    assert "WR-02" not in what_stands(folder, load_site(folder, EVENING)[1], EVENING.replace(tzinfo=UTC)).fixed.values()
    write_folder(folder, late[0], late[1].replace("planned", "cancelled"), Sets=sets("dirty"))
    lay_lists(folder, EVENING + timedelta(minutes=30), DAY)
    assert not [one.set_id for one in carts_told(folder, DAY).put_backs if one.set_id]


def test_that_a_set_left_over_by_the_cart_whose_list_names_it_is_put_back_from_the_other(tmp_path: Path) -> None:
    """M1 was built with the set of M2, so that M2 got that of M1; its list changed once more, and it was cancelled."""
    folder = write_folder(tmp_path / "site", *MORNING[:2])
    lay_lists(folder, EVENING, DAY)
    tell_by_scans(folder, ["CART M1", "BY ab", "INSTEAD WR-01 WR-02", "DONE"], EVENING + timedelta(minutes=10), DAY)
    assert set_of(lay_lists(folder, EVENING + timedelta(minutes=20), DAY), "M2") == "WR-01"
    tell_by_scans(folder, ["CART M2", "BY ab", "DONE"], EVENING + timedelta(minutes=30), DAY)
    later = MORNING[1].replace("08:00", "08:30")
    write_folder(folder, MORNING[0], later)
    lay_lists(folder, EVENING + timedelta(minutes=40), DAY)
    write_folder(folder, MORNING[0], later.replace("planned", "cancelled"))
    lay_lists(folder, EVENING + timedelta(minutes=50), DAY)
    assert [one.set_id for one in carts_told(folder, DAY).put_backs if one.set_id] == ["WR-01"]


def set_of(plan: Plan, case: str) -> str:
    return next(one.set_id for one in plan.assignments if one.use.case == case)
