"""Three builds of one evening on one state: built carts stand, documents and state agree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from picklist.clock import SiteClock
from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.evening.add_reports import add_to_report
from picklist.evening.changes import CartChangeKind, ListInHand, PlanChange
from picklist.evening.content import cart_content
from picklist.evening.held_sets import printed_assignments, printed_picks
from picklist.evening.keep_decisions import decisions, record_decision
from picklist.evening.keep_facts import mark_put_back, record_built, told_so_far
from picklist.evening.keep_plans import latest_revision, open_put_backs
from picklist.evening.match import match_cases
from picklist.evening.revise import (
    Revision,
    Schedule,
    begin_revision,
    finish_revision,
    standing_on_other_days,
    what_changes,
)
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.catalogue import Lot
from picklist.model.known import Decision
from picklist.model.plan import Cart, Plan
from picklist.model.schedule import Case, CaseStatus
from picklist.model.supply import Pick
from picklist.model.uses import Assignment, Use
from picklist.store.state import StateFile, open_state
from tests.builders import DAY
from tests.evening.builders import EVENING, a_case, cart, pick, plan, sundry, tray_line


@pytest.fixture
def state(tmp_path: Path) -> Iterator[StateFile]:
    with open_state(tmp_path / "north.picklist.sqlite") as opened:
        yield opened


def knee(number: str = "C-1", set_id: str = "KNEE-01", start: str = "07:30", laps: int = 3) -> Cart:
    case = a_case(number, start, surgeon="S04", procedures=("KNEE",))
    line = tray_line("knee", set_id)
    return cart(case, (line, tray_line("saw", "SAW-01")), (sundry("laps", pick("laps", "L1", laps, 1)),))


def begin(state: StateFile, *carts: Cart) -> Revision:
    return begin_revision(state, DAY, Schedule(cases=tuple(c.case for c in carts)), plan_from_json)


def build(state: StateFile, *carts: Cart) -> PlanChange:
    start = begin(state, *carts)
    new = plan(*carts, revision=start.number, now=EVENING + timedelta(minutes=start.number))
    change = what_changes(start, new)
    finish_revision(state, new, plan_to_json(new), change)
    return change


def tell(state: StateFile, case: str = "C-1", revision: int = 1, **facts: object) -> None:
    told: dict[str, object] = {"done": True} | facts
    assert record_built(state, [BuiltCart(day=DAY, case=case, revision=revision, at=EVENING, **told)], EVENING) == ()  # type: ignore[arg-type]


def test_that_the_first_build_starts_from_nothing(state: StateFile) -> None:
    start = begin(state, knee())
    assert (start.number, start.replaces, start.old, dict(start.standing.fixed), start.standing.picks) == (
        1,
        None,
        None,
        {},
        (),
    )


def test_that_a_built_cart_fixes_the_sets_told_and_those_on_its_list(state: StateFile) -> None:
    build(state, knee())
    tell(state, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),))
    assert begin(state, knee()).standing.fixed == {"C-1/knee/1": "KNEE-02", "C-1/saw/1": "SAW-01"}


def test_that_a_begun_cart_fixes_only_the_sets_told(state: StateFile) -> None:
    build(state, knee())
    tell(state, done=False, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),))
    start = begin(state, knee())
    assert start.standing.fixed == {"C-1/knee/1": "KNEE-02"}
    assert start.standing.picks == ()


def test_that_a_printed_list_that_is_not_built_names_what_might_be_kept() -> None:
    in_hand = {"C-1": ListInHand(revision=1, content=cart_content(knee(), {}))}
    match = match_cases([knee().case], [knee("K-77").case])
    assert printed_assignments(in_hand, match) == {"K-77/knee/1": "KNEE-01", "K-77/saw/1": "SAW-01"}
    assert printed_picks(in_hand, match) == (pick("laps", "L1", 3, 1, case="K-77"),)
    assert printed_picks(in_hand, match_cases([knee().case], [])) == ()


def test_that_cases_of_the_next_day_keep_the_sets_of_the_former_plan() -> None:
    use = Use(
        case="C-9", tray="knee", copy=1, needed=EVENING, starts=EVENING, ends=EVENING, leaves_room=EVENING,
        received=EVENING,
    )  # fmt: skip
    given = Assignment(use=use, set_id="KNEE-07", tray_given="knee", stand_in=False, expected=None, slack=None)
    tomorrow = replace(a_case("C-9"), day=DAY + timedelta(days=1))
    old = replace(plan(knee(), cases=(tomorrow,)), assignments=(given, replace(given, use=replace(use, case="C-1"))))
    match = match_cases([knee().case], [knee().case])
    assert printed_assignments({}, match, old) == {"C-9/knee/1": "KNEE-07"}


def test_that_the_sets_on_a_cancelled_cart_are_to_be_put_back_until_somebody_says_that_they_are(
    state: StateFile,
) -> None:
    """From the revision that loses the case on: the later ones know it from what is to be put back."""
    build(state, knee(), knee("C-2", "KNEE-02"))
    tell(state)
    assert begin(state, knee(), knee("C-2", "KNEE-02")).standing.coming_off == {}
    on_cart = {"KNEE-01": "C-1", "SAW-01": "C-1"}
    assert begin(state, knee("C-2", "KNEE-02")).standing.coming_off == on_cart
    build(state, knee("C-2", "KNEE-02"))
    assert begin(state, knee("C-2", "KNEE-02")).standing.coming_off == on_cart
    saw = [one.id for one in open_put_backs(state, DAY) if one.set_id == "SAW-01"]
    mark_put_back(state, saw, EVENING, "M. Example")
    assert begin(state, knee("C-2", "KNEE-02")).standing.coming_off == {"KNEE-01": "C-1"}


def test_that_a_cancelled_cart_that_nobody_started_holds_nothing_and_a_started_one_what_was_told(
    state: StateFile,
) -> None:
    build(state, knee(), knee("C-2", "KNEE-02"))
    assert begin(state, knee("C-2", "KNEE-02")).standing.coming_off == {}
    tell(state, done=False, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-03"),))
    assert begin(state, knee("C-2", "KNEE-02")).standing.coming_off == {"KNEE-03": "C-1"}


def test_that_a_case_that_is_done_puts_nothing_back(state: StateFile) -> None:
    build(state, knee(), knee("C-2", "KNEE-02"))
    tell(state)
    done = replace(knee().case, status=CaseStatus.DONE)
    schedule = Schedule(cases=(done, knee("C-2", "KNEE-02").case))
    assert begin_revision(state, DAY, schedule, plan_from_json).standing.coming_off == {}
    assert standing_on_other_days(state, schedule, SiteClock("UTC"), EVENING).coming_off == {}


def test_that_a_missing_tray_fixes_nothing(state: StateFile) -> None:
    build(state, knee())
    tell(state, missing=(MissingThing(thing="saw", copy=1, quantity=1),))
    assert begin(state, knee()).standing.fixed == {"C-1/knee/1": "KNEE-01"}


def test_that_what_is_on_a_built_cart_is_taken_off_the_shelf(state: StateFile) -> None:
    build(state, knee())
    tell(
        state,
        missing=(MissingThing(thing="laps", quantity=1),),
        stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=1),),
    )
    listed = pick("laps", "L1", 3, 0, case="C-1")
    stood_in = Pick(case="", item="laps-x", lot="", place="", expiry=None, open=0, hold=1)
    assert begin(state, knee()).standing.picks == (listed, stood_in)


def test_that_one_package_of_another_lot_is_known_where_the_rest_is_opened_and_on_hold(state: StateFile) -> None:
    """Three laps of L1 are to be opened and one is on hold; one of L2 and three of L1 were scanned."""
    build(state, knee())
    scanned = tuple(TakenItem(item="laps", quantity=many, lot=lot) for lot, many in (("L2", 1), ("L1", 3)))
    tell(state, scanned=scanned)
    laps = {one.lot: one.open + one.hold for one in begin(state, knee()).standing.picks}
    assert laps == {"L1": 3, "L2": 1}


def test_that_a_scanned_lot_stays_on_the_cart_until_it_is_built_from_a_newer_list(state: StateFile) -> None:
    """A lap of L2 was scanned; the next list names L1 for all of them and asks for nothing."""
    build(state, knee())
    scanned = tuple(TakenItem(item="laps", quantity=many, lot=lot) for lot, many in (("L2", 1), ("L1", 3)))
    tell(state, scanned=scanned)
    assert not build(state, knee(start="08:00")).carts[0].has_work
    assert {one.lot for one in begin(state, knee(start="08:00")).standing.picks} == {"L1", "L2"}
    tell(state, revision=2)
    assert {one.lot for one in begin(state, knee(start="08:00")).standing.picks} == {"L1"}


def test_that_what_is_fixed_follows_the_case_to_its_new_number(state: StateFile) -> None:
    build(state, knee("C-1"))
    tell(state)
    assert set(begin(state, knee("K-77")).standing.fixed) == {"K-77/knee/1", "K-77/saw/1"}


def test_that_cancelled_carts_hold_on_to_nothing(state: StateFile) -> None:
    build(state, knee())
    tell(state)
    start = begin(state)
    assert (dict(start.standing.fixed), start.standing.picks) == ({}, ())


def test_that_the_set_of_a_report_is_on_the_cart_until_it_is_reported_from_a_newer_list(state: StateFile) -> None:
    """Built with KNEE-02 from list 1; list 2 has it exchanged for KNEE-03, and the crew says that it is."""
    build(state, knee())
    tell(state, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),))
    change = build(state, knee(set_id="KNEE-03"))
    assert [p.piece.set_id for p in change.carts[0].take_off] == ["KNEE-02"]
    assert begin(state, knee(set_id="KNEE-03")).standing.fixed["C-1/knee/1"] == "KNEE-02"
    tell(state, revision=2)
    assert begin(state, knee(set_id="KNEE-03")).standing.fixed["C-1/knee/1"] == "KNEE-03"


def moves(change: PlanChange) -> tuple[list[tuple[str, int]], list[tuple[str, int]]]:
    """What the first cart's list asks to add and to take off."""
    one = change.carts[0]
    add, off = ([(p.piece.set_id or p.piece.thing, p.quantity) for p in lines] for lines in (one.add, one.take_off))
    return add, off


def test_that_what_a_list_asks_of_a_built_cart_is_asked_until_the_cart_is_reported_again(state: StateFile) -> None:
    """List 2 exchanges the knee set of a cart that is built; a later start prints list 3. Nobody reported list 2."""
    build(state, knee())
    tell(state)
    exchange = ([("KNEE-02", 1)], [("KNEE-01", 1)])
    assert moves(build(state, knee(set_id="KNEE-02"))) == exchange
    third = build(state, knee(set_id="KNEE-02", start="08:00"))
    assert (third.carts[0].kind, moves(third)) == (CartChangeKind.CHANGED, exchange)
    fourth = build(state, knee(set_id="KNEE-02", start="08:00"))
    assert (fourth.carts[0].kind, moves(fourth)) == (CartChangeKind.UNCHANGED, exchange)
    assert not fourth.reports()["C-1"].finished
    assert [one.set_id for one in open_put_backs(state, DAY)] == ["KNEE-01"]
    tell(state, revision=3)
    last = build(state, knee(set_id="KNEE-02", start="08:00"))
    assert (last.carts[0].kind, moves(last)) == (CartChangeKind.UNCHANGED, ([], []))
    assert last.reports()["C-1"].finished


def test_that_a_change_that_a_later_list_takes_back_asks_nothing_and_prints_again(state: StateFile) -> None:
    """List 2 wants two laps more on a built cart, list 3 as many as were there: who has list 2 must not add them."""
    build(state, knee())
    tell(state)
    assert moves(build(state, knee(laps=5))) == ([("laps", 2)], [])
    third = build(state, knee())
    assert (third.carts[0].kind, moves(third)) == (CartChangeKind.CHANGED, ([], []))
    assert moves(build(state, knee(laps=2))) == ([], [("laps", 1)])


def test_that_what_was_put_back_is_not_to_be_taken_off_again(state: StateFile) -> None:
    """List 2 takes the knee set off a built cart; it is back on its shelf, and the other set is still to be added."""
    build(state, knee())
    tell(state)
    build(state, knee(set_id="KNEE-02"))
    mark_put_back(state, [one.id for one in open_put_backs(state, DAY)], EVENING, "M. Example")
    third = build(state, knee(set_id="KNEE-02"))
    assert (third.carts[0].kind, moves(third)) == (CartChangeKind.UNCHANGED, ([("KNEE-02", 1)], []))


def test_that_a_part_of_a_newer_list_that_is_reported_leaves_the_rest_of_it_open(state: StateFile) -> None:
    """A lap was missing by list 1. List 2 exchanges the knee set; then the lap is found, and list 3 prints."""
    build(state, knee())
    tell(state, missing=(MissingThing(thing="laps", quantity=1),))
    build(state, knee(set_id="KNEE-02"))
    record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
    third = build(state, knee(set_id="KNEE-02", start="08:00"))
    assert (moves(third), third.carts[0].still_missing) == (([("KNEE-02", 1)], [("KNEE-01", 1)]), ())


def test_that_three_builds_of_an_evening_print_only_what_changes(state: StateFile) -> None:
    """18:40 two carts; 20:15 C-2 gets more laps; 22:00 an add-on, C-1 is gone."""
    first = build(state, knee("C-1"), knee("C-2", "KNEE-02", "11:00"))
    second = build(state, knee("C-1"), knee("C-2", "KNEE-02", "11:00", laps=5))
    third = build(state, knee("C-2", "KNEE-02", "11:00", laps=5), cart(a_case("A-1", "06:30", room="OR 4")))
    assert first.to_print() == ("C-1", "C-2")
    assert second.to_print() == ("C-2",)
    assert third.to_print() == ("A-1",)
    assert [(c.case, c.kind, c.revision, c.replaces) for c in third.carts] == [
        ("C-2", CartChangeKind.UNCHANGED, 2, None),
        ("A-1", CartChangeKind.NEW, 3, None),
        ("C-1", CartChangeKind.CANCELLED, 3, 1),
    ]


def test_that_documents_which_cannot_be_put_in_place_leave_the_state_as_it_was(state: StateFile) -> None:
    start = begin(state, knee())
    new = plan(knee())

    def fail() -> None:
        raise OSError("the folder is open in another program")

    with pytest.raises(OSError, match="another program"):
        finish_revision(state, new, plan_to_json(new), what_changes(start, new), fail)
    assert latest_revision(state, DAY) is None
    published: list[str] = []
    finish_revision(state, new, plan_to_json(new), what_changes(start, new), lambda: published.append("done"))
    assert (latest_revision(state, DAY), published) == (1, ["done"])


def test_that_cases_of_other_days_are_not_matched(state: StateFile) -> None:
    build(state, knee())
    tomorrow: Case = a_case("C-1", day=DAY + timedelta(days=1))
    start = begin_revision(state, DAY, Schedule(cases=(tomorrow,)), plan_from_json)
    assert start.match.cancelled == ("C-1",)


def test_that_a_whole_plan_goes_through_the_state_and_compares_as_itself(state: StateFile) -> None:
    new: Plan = plan(knee(), knee("C-2", "KNEE-02", "11:00"))
    finish_revision(state, new, plan_to_json(new), what_changes(begin(state, *new.carts), new))
    again = begin(state, *new.carts)
    assert again.old == new
    change = what_changes(again, plan(*new.carts, revision=2))
    assert {c.kind for c in change.carts} == {CartChangeKind.UNCHANGED}


def test_that_what_comes_off_a_built_cart_is_still_put_back_when_its_case_has_another_number(state: StateFile) -> None:
    """Built as C-1, K-77 from the second build on, gone with the third."""
    other = knee("C-2", "KNEE-02", "11:00")
    build(state, knee(), other)
    tell(state)
    build(state, knee("K-77"), other)
    build(state, other)
    assert {one.set_id for one in open_put_backs(state, DAY)} == {"", "KNEE-01", "SAW-01"}
    assert begin(state, other).standing.coming_off == {"KNEE-01": "K-77", "SAW-01": "K-77"}


def test_that_nothing_comes_off_a_cart_that_nobody_started_because_another_one_of_its_number_was_built(
    state: StateFile,
) -> None:
    """C-1 was built and cancelled, and all was put back; it comes again, and its second list asks for one lap less."""
    other = knee("C-2", "KNEE-02", "11:00")
    build(state, knee(), other)
    tell(state)
    build(state, other)
    mark_put_back(state, [one.id for one in open_put_backs(state, DAY)], EVENING, "M. Example")
    build(state, knee(), other)
    build(state, knee(laps=2), other)
    assert open_put_backs(state, DAY) == ()


def test_that_what_a_done_case_had_is_on_no_shelf_in_any_later_build(state: StateFile) -> None:
    other = knee("C-2", "KNEE-02", "11:00")
    build(state, knee(), other)
    tell(state)
    schedule = Schedule(cases=(replace(knee().case, status=CaseStatus.DONE), other.case))
    for _ in range(2):
        start = begin_revision(state, DAY, schedule, plan_from_json)
        assert (start.standing.coming_off, start.standing.picks) == ({}, (pick("laps", "L1", 3, 1),))
        new = plan(other, revision=start.number, now=EVENING + timedelta(minutes=start.number))
        finish_revision(state, new, plan_to_json(new), what_changes(start, new))


def test_that_a_set_taken_for_a_tray_without_one_is_on_the_cart(state: StateFile) -> None:
    """The plan had no knee for C-1 and the crew found one: it stays there, and comes off when the case is cancelled."""
    other = knee("C-2", "KNEE-02", "11:00")
    build(state, knee(set_id=""), other)
    tell(state, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-03"),))
    assert begin(state, knee(set_id=""), other).standing.fixed["C-1/knee/1"] == "KNEE-03"
    assert begin(state, other).standing.coming_off == {"KNEE-03": "C-1", "SAW-01": "C-1"}


def test_that_a_set_which_the_next_list_of_its_cart_has_again_is_not_to_be_put_back(state: StateFile) -> None:
    """KNEE-01 comes off by list 2 and on again by list 3: then KNEE-02 alone goes back, if list 2 was carried out."""
    build(state, knee())
    tell(state)
    build(state, knee(set_id="KNEE-02"))
    assert [one.set_id for one in open_put_backs(state, DAY)] == ["KNEE-01"]
    build(state, knee())
    assert open_put_backs(state, DAY) == ()
    build(state, knee(set_id="KNEE-02"))
    tell(state, revision=4)
    build(state, knee())
    assert [one.set_id for one in open_put_backs(state, DAY)] == ["KNEE-02"]
    assert begin(state, knee()).standing.coming_off == {"KNEE-02": "C-1"}
    build(state, knee(set_id="KNEE-02"))
    assert [one.set_id for one in open_put_backs(state, DAY)] == ["KNEE-01"]


def test_that_what_is_reported_missing_of_what_no_shelf_could_give_leaves_the_rest_on_the_cart(
    state: StateFile,
) -> None:
    """The list asks for four laps and has one; the crew says that three are missing."""
    short = cart(knee().case, (), (sundry("laps", pick("laps", "L1", 1), short=(3, 0)),))
    build(state, short)
    tell(state, missing=(MissingThing(thing="laps", quantity=3),))
    assert begin(state, short).standing.picks == (pick("laps", "L1", 1, case="C-1"),)


def test_that_a_set_is_not_to_be_put_back_once_a_cart_is_reported_to_have_it(state: StateFile) -> None:
    """C-1 was built and cancelled; C-2 gets its saw, and C-1 comes back before anybody took its cart apart."""
    build(state, knee())
    tell(state)
    with_saw = cart(a_case("C-2", "11:00"), (tray_line("saw", "SAW-01"),))
    build(state, with_saw)
    build(state, knee(), with_saw)
    asked = ["KNEE-01", "SAW-01"]
    assert sorted(one.set_id for one in open_put_backs(state, DAY) if one.set_id) == asked
    tell(state, "C-2", revision=2)
    assert [one.set_id for one in open_put_backs(state, DAY) if one.set_id] == ["KNEE-01"]
    tell(state, revision=3, done=False, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),))
    assert [(one.thing, one.quantity) for one in open_put_backs(state, DAY)] == [("laps", 1), ("laps", 3)]
    tell(state, revision=3)
    assert open_put_backs(state, DAY) == ()
    build(state, knee(laps=1), with_saw)
    assert [(one.thing, one.quantity) for one in open_put_backs(state, DAY)] == [("laps", 2)]


def test_that_what_a_case_that_came_back_does_not_want_again_is_still_to_be_put_back(state: StateFile) -> None:
    """C-1 was built with three laps to open and one on hold, and comes back with two and one."""
    build(state, knee(), knee("C-2", "KNEE-02"))
    tell(state)
    build(state, knee("C-2", "KNEE-02"))
    build(state, knee(laps=2), knee("C-2", "KNEE-02"))
    tell(state, revision=3)
    assert sorted(one.quantity for one in open_put_backs(state, DAY) if one.thing == "laps") == [1, 3]


def test_that_a_lot_whose_row_is_corrected_to_an_earlier_day_comes_off_its_built_cart(state: StateFile) -> None:
    """L1 was taken until 2027; by its row now it ended before the case, and the plan gives L2."""
    build(state, knee())
    tell(state)
    start = begin(state, knee())
    new = plan(replace(knee(), sundries=(sundry("laps", pick("laps", "L2", 3, 1)),)), revision=2)
    row = Lot(item="laps", lot="L1", quantity=9, expiry=DAY - timedelta(days=30), place="A-02-10")
    kept, corrected = (what_changes(start, new, lots=rows).carts[0] for rows in ((), (row,)))
    assert (kept.kind, kept.take_off) == (CartChangeKind.UNCHANGED, ())
    assert {(one.piece.thing, one.piece.lot) for one in corrected.take_off} == {("laps", "L1")}
    assert any("L1" in why for why in corrected.reasons)


def test_that_a_set_which_a_newer_list_has_from_an_earlier_case_is_not_on_the_cart_yet(state: StateFile) -> None:
    """C-2 was built with KNEE-02; by its next list it gets KNEE-01, which is to serve C-1 before."""
    build(state, knee(), knee("C-2", "KNEE-02", "12:00"))
    tell(state, "C-2")
    build(state, knee(), knee("C-2", "KNEE-01", "12:00"))
    assert begin(state, knee(), knee("C-2", "KNEE-01", "12:00")).standing.fixed["C-2/knee/1"] == "KNEE-02"
    tell(state, "C-2", revision=2)
    assert begin(state, knee(), knee("C-2", "KNEE-01", "12:00")).standing.fixed["C-2/knee/1"] == "KNEE-01"


def test_that_what_was_missing_by_a_longer_list_is_not_missing_again_by_a_shorter_one(state: StateFile) -> None:
    """Of four laps three were missing. The next list asks for two, of which one is there, and the cart is built from
    it; the third asks for four again.
    """
    build(state, knee())
    tell(state, missing=(MissingThing(thing="laps", quantity=3),))
    told = told_so_far(state)
    shorter = build(state, knee(start="07:45", laps=1)).carts[0]
    assert told_so_far(state) == told  # the build itself is no report, which would send it back to its start
    assert ([line.quantity for line in shorter.still_missing], shorter.add, shorter.take_off) == ([1], (), ())
    carried = begin(state, knee()).built["C-1"]
    tell(state, revision=2, missing=carried.missing)
    longer = build(state, knee()).carts[0]
    assert [sum(line.quantity for line in lines) for lines in (longer.still_missing, longer.add)] == [1, 2]
    assert begin(state, knee()).built["C-1"].missing_of("laps") == 1
    assert begin(state, knee()).standing.picks == (pick("laps", "L1", 1, case="C-1"),)


def test_that_what_stood_in_stays_where_no_shelf_gives_the_thing_any_more(state: StateFile) -> None:
    """For one of four laps another thing was taken; then the shelf has three only, and at last four again."""
    build(state, knee())
    tell(state, stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=1),))
    short = replace(knee(), sundries=(sundry("laps", pick("laps", "L1", 3), short=(0, 1)),))
    assert build(state, short).carts[0].take_off == ()
    again = build(state, knee()).carts[0]
    assert (again.add, again.take_off, again.still_missing) == ((), (), ())


def test_that_what_stood_in_for_a_thing_that_is_not_wanted_any_more_comes_off_once(state: StateFile) -> None:
    """Three of four laps are on no shelf, and another thing stands in for them; the next list asks for no laps."""
    build(state, replace(knee(), sundries=(sundry("laps", pick("laps", "L1", 1), short=(3, 0)),)))
    tell(state, stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=3),))
    without = build(state, replace(knee(), sundries=())).carts[0]
    assert {line.piece.thing: line.quantity for line in without.take_off} == {"laps": 1, "laps-x": 3}
    assert begin(state, knee()).built["C-1"].stood_in == ()


def test_that_what_was_added_by_hand_serves_one_list_only(state: StateFile) -> None:
    """A drain was put on by hand; the next list asks for one, the third for two."""
    build(state, knee())
    tell(state, added=(TakenItem(item="drain", quantity=1),))
    one, two = (replace(knee(), sundries=(sundry("drain", pick("drain", "", n, place="")),)) for n in (1, 2))
    assert build(state, one).carts[0].add == ()
    assert [line.quantity for line in build(state, two).carts[0].add] == [1]


def test_that_a_form_of_an_older_list_that_is_filled_in_further_says_only_what_is_new(state: StateFile) -> None:
    """Three laps of four were missing; the next list asks for two. The old form comes again with a set beside it."""
    build(state, knee())
    gone = (MissingThing(thing="laps", quantity=3),)
    tell(state, missing=gone)
    build(state, knee(start="07:45", laps=1))
    more = BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, remark="ready at nine", missing=gone)
    record_built(state, [more], EVENING, join=lambda before, said: add_to_report(before, said, EVENING))
    report = begin(state, knee(start="07:45", laps=1)).built["C-1"]
    assert (report.missing_of("laps"), report.remark) == (1, "ready at nine")


def test_that_a_tray_missing_by_a_list_that_numbers_its_copies_otherwise_is_counted_once(state: StateFile) -> None:
    """Of two knees the first, KNEE-01, was missing. The next list has KNEE-02 first, and KNEE-03 to be added."""

    def two(first: str, second: str, start: str = "07:30") -> Cart:
        case = a_case("C-1", start, surgeon="S04", procedures=("KNEE",))
        return cart(case, (tray_line("knee", first), tray_line("knee", second, copy=2)))

    build(state, two("KNEE-01", "KNEE-02"))
    tell(state, missing=(MissingThing(thing="knee", copy=1, quantity=1),))
    again = build(state, two("KNEE-02", "KNEE-01", "07:45")).carts[0]
    assert [[line.piece.set_id for line in lines] for lines in (again.still_missing, again.add)] == [["KNEE-01"], []]
    assert begin(state, knee()).built["C-1"].missing_trays.keys() == {("knee", 2)}
    other = build(state, two("KNEE-03", "KNEE-02")).carts[0]
    assert [[line.piece.set_id for line in lines] for lines in (other.still_missing, other.add)] == [["KNEE-03"], []]
    assert build(state, two("KNEE-03", "KNEE-02")).carts[0].kind is CartChangeKind.UNCHANGED


@pytest.mark.parametrize("built_again", [True, False])
def test_that_a_case_which_is_renumbered_before_its_day_has_lists_keeps_its_decision(
    state: StateFile, built_again: bool
) -> None:
    """Of N-1 of the day after something was decided tonight; it becomes N-9, whatever is built next."""
    after = DAY + timedelta(days=1)
    was = a_case("N-1", day=after, start="07:30", surgeon="S07", procedures=("HIP",))
    now = replace(was, number="N-9")

    def build_with(later: Case, day: date, *carts: Cart) -> None:
        cases = (*(one.case for one in carts), later)
        start = begin_revision(state, day, Schedule(cases=tuple(dict.fromkeys(cases))), plan_from_json)
        new = replace(plan(*carts, revision=start.number), day=day, cases=cases, replaces=start.replaces)
        finish_revision(state, new, plan_to_json(new), what_changes(start, new))

    build_with(was, DAY, knee())
    said = Decision(about="short/hip/N-1", decided="borrow one", told="", by="co", at=EVENING, case_day=after)
    record_decision(state, DAY, said)
    if built_again:
        build_with(now, DAY, knee())
        assert set(decisions(state, after)) == {"short/hip/N-9"}
    build_with(now, after, cart(now, (tray_line("hip", "H-1"),)))
    assert set(decisions(state, after)) == {"short/hip/N-9"}


def test_that_the_next_plan_knows_what_crews_missed_and_counted(state: StateFile) -> None:
    build(state, knee())
    count = CountFound(item="laps", lot="L1", quantity=3)
    tell(state, missing=(MissingThing(thing="knee", copy=1, quantity=1),), counts=(count,))
    standing = begin(state, knee()).standing
    assert (standing.missed, standing.counts) == ({"KNEE-01": "C-1"}, (count,))
    build(state, knee(set_id="KNEE-02", start="07:45"))
    assert begin(state, knee()).standing.missed == {}  # nobody missed KNEE-02
