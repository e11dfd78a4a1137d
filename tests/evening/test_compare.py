"""A schedule changes at 18:40, 20:15 and 22:00: what the crew must do on each cart."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.evening.changes import CartChange, CartChangeKind, ListInHand, PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.content import (
    CartThing,
    Content,
    ContentChange,
    Handling,
    PieceLine,
    as_built,
    cart_content,
    compare_content,
    keep_what_is_there,
)
from picklist.evening.match import NoteKind, match_cases
from picklist.evening.reported_cart import ReportedCart
from picklist.model.built import BuiltCart, MissingThing, StoodIn, TakenItem, TakenSet, TrayToCome
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.plan import Cart, Plan
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.problems import NOWHERE, Problem, Severity
from picklist.wording.set_states import LATEX_NOT_STATED
from tests.builders import DAY, at
from tests.evening.builders import EVENING, a_case, apply_change, cart, comes, give_back, pick, plan, sundry, tray_line
from tests.patience import tries

LATER = EVENING + timedelta(minutes=95)
KNEE_1 = InstrumentSet(id="KNEE-01", tray="knee", place="S-01-03")
KNEE_2 = InstrumentSet(id="KNEE-02", tray="knee", place="S-01-04")


def the(change: PlanChange, case: str, kind: CartChangeKind | None = None) -> CartChange:
    (found,) = [c for c in change.carts if c.case == case and kind in (None, c.kind)]
    return found


def lines(found: tuple[PieceLine, ...]) -> list[tuple[str, str, int, str]]:
    return [(p.piece.set_id or p.piece.thing, p.piece.lot, p.quantity, p.cart) for p in found]


def knee_cart(set_id: str = "KNEE-01", laps: int = 2, lot: str = "L1", **case: Any) -> Cart:
    return cart(a_case("C-1", **case), (tray_line("knee", set_id),), (sundry("laps", pick("laps", lot, laps, 1)),))


def built(case: str = "C-1", **facts: Any) -> BuiltCart:
    told: dict[str, Any] = {"done": True, "by": "mk"} | facts
    return BuiltCart(day=DAY, case=case, revision=1, at=EVENING, **told)


def test_that_without_an_earlier_plan_every_cart_is_new_and_replaces_nothing() -> None:
    change = compare_plans(None, plan(knee_cart()))
    assert the(change, "C-1").kind is CartChangeKind.NEW
    assert the(change, "C-1").replaces is None
    assert change.to_print() == ("C-1",)


def test_that_an_equal_cart_keeps_its_paper_and_revision() -> None:
    change = compare_plans(plan(knee_cart()), plan(knee_cart(), revision=2, now=LATER))
    one = the(change, "C-1")
    assert (one.kind, one.revision, one.prints) == (CartChangeKind.UNCHANGED, 1, False)
    assert (change.old_revision, change.revision, change.made) == (1, 2, LATER)


def test_that_a_built_cart_counts_as_finished_until_its_list_changes() -> None:
    """Reported built at 18:40: finished by the list that counts, and no more once two laps are to be added."""
    old, told = plan(knee_cart()), {"C-1": built()}
    same = compare_plans(old, plan(knee_cart(), revision=2, now=LATER), built=told).reports()["C-1"]
    changed = compare_plans(old, plan(knee_cart(laps=4), revision=2, now=LATER), built=told).reports()["C-1"]
    begun = compare_plans(old, plan(knee_cart(), revision=2, now=LATER), built={"C-1": built(done=False)})
    assert (same.finished, changed.finished, begun.reports()["C-1"].finished) == (True, False, False)
    assert (same.state, changed.state) == ("built", "built; list 2 is new, its changes are not reported as made")
    assert compare_plans(old, plan(knee_cart(), revision=2, now=LATER)).reports() == {}


def test_that_a_card_change_says_what_to_add_and_take_off_and_where() -> None:
    old = plan(knee_cart(laps=4))
    new = plan(
        cart(
            a_case("C-1"),
            (tray_line("knee", "KNEE-01"), tray_line("saw", "SAW-01", place_now="sterilizer 2")),
            (sundry("laps", pick("laps", "L1", 3, 1)),),
        ),
        revision=2,
        now=LATER,
    )
    one = the(compare_plans(old, new), "C-1")
    assert (one.kind, one.revision, one.replaces, one.made) == (CartChangeKind.CHANGED, 2, 1, LATER)
    assert lines(one.add) == [("SAW-01", "", 1, "")]
    assert one.add[0].piece.fetch == "sterilizer 2"
    assert lines(one.take_off) == [("laps", "L1", 1, "")]
    assert one.take_off[0].piece.home == "A-02-10"


def test_that_a_set_put_back_goes_to_its_shelf() -> None:
    old = plan(knee_cart("KNEE-01"), sets=(KNEE_1, KNEE_2))
    new = plan(knee_cart("KNEE-02"), revision=2, sets=(KNEE_1, KNEE_2))
    one = the(compare_plans(old, new), "C-1")
    assert [(p.piece.set_id, p.piece.home) for p in one.take_off] == [("KNEE-01", "S-01-03")]


def test_that_laps_held_which_are_now_to_be_opened_are_marked_and_not_carried() -> None:
    old = plan(cart(a_case("C-1"), (), (sundry("laps", pick("laps", "L1", 1, 2)),)))
    new = plan(cart(a_case("C-1"), (), (sundry("laps", pick("laps", "L1", 3, 0)),)), revision=2)
    one = the(compare_plans(old, new), "C-1")
    assert (one.add, one.take_off) == ((), ())
    assert [(r.before.part, r.after.part, r.quantity) for r in one.remarks] == [(Handling.HOLD, Handling.OPEN, 2)]


def test_that_a_later_start_prints_the_list_again_with_nothing_to_carry() -> None:
    change = compare_plans(plan(knee_cart()), plan(knee_cart(start="09:00"), revision=2))
    one = the(change, "C-1")
    assert (one.kind, one.add, one.take_off) == (CartChangeKind.CHANGED, (), ())
    assert [(d.what, d.was, d.now) for d in one.details] == [
        ("start", at("07:30"), at("09:00")),
        ("cart complete by", at("07:00"), at("08:30")),
    ]


def test_that_an_earlier_deadline_to_give_a_set_back_prints_the_list_again() -> None:
    def with_deadline(leave: str, reach: str) -> Cart:
        return cart(a_case("C-1"), (tray_line("knee", "KNEE-01", give_back=give_back(leave, reach, "C-5")),))

    change = compare_plans(plan(with_deadline("09:20", "09:30")), plan(with_deadline("09:00", "09:10"), revision=2))
    assert [d.what for d in the(change, "C-1").details] == ["must leave the room by", "must reach decontamination by"]


def test_that_a_set_which_only_came_nearer_prints_nothing_but_is_told() -> None:
    def standing(place: str) -> Cart:
        return cart(a_case("C-1"), (tray_line("knee", "KNEE-01", place_now=place),))

    one = the(compare_plans(plan(standing("washer")), plan(standing("S-01-03"), revision=2)), "C-1")
    assert one.kind is CartChangeKind.UNCHANGED
    assert [(d.what, d.of, d.was, d.now) for d in one.whereabouts] == [("is now", "KNEE-01", "washer", "S-01-03")]


def test_that_the_waiting_case_gets_new_paper_when_the_giving_case_ends_later() -> None:
    def waiting(expected: str, giver: str) -> Plan:
        line = tray_line("knee", "KNEE-01", expected=at(expected))
        given_by = comes(expected, giver, slack=5, needed="13:00", released="09:00")
        others = (cart(a_case("C-5", "07:00", room="OR 5")), cart(a_case("C-6", "07:00", room="OR 6")))
        return plan(*others, cart(a_case("C-1", "13:30"), (line,)), reuses=(given_by,))

    def changed(old: Plan, new: Plan) -> list[str]:
        return [d.what for d in the(compare_plans(old, new), "C-1").details]

    assert changed(waiting("12:10", "C-5"), waiting("12:40", "C-5")) == ["expected from there"]
    assert changed(waiting("12:10", "C-5"), waiting("12:10", "C-6")) == ["comes from"]
    assert changed(waiting("12:10", ""), waiting("12:40", "")) == []
    assert changed(waiting("12:10", "Z-today"), waiting("12:40", "Z-today")) == []


def test_that_a_conflict_renumbered_in_the_next_plan_changes_no_cart() -> None:
    def short(name: str, minutes: int) -> Conflict:
        return Conflict(
            id=name,
            kind=ConflictKind.SHORT,
            tray="knee",
            waiter="C-1",
            givers=(),
            set_id="",
            minutes=minutes,
            statement="short",
        )

    def with_conflict(name: str) -> Cart:
        return cart(a_case("C-1"), (tray_line("knee", "KNEE-01", conflicts=(name,)),))

    old = plan(with_conflict("K1"), conflicts=(short("K1", 125),))
    same = plan(with_conflict("K9"), revision=2, conflicts=(short("K9", 125),))
    worse = plan(with_conflict("K9"), revision=2, conflicts=(short("K9", 140),))
    assert the(compare_plans(old, same), "C-1").kind is CartChangeKind.UNCHANGED
    assert the(compare_plans(old, worse), "C-1").kind is CartChangeKind.UNCHANGED
    tight = plan(with_conflict("K1"), revision=2, conflicts=(replace(short("K1", 12), kind=ConflictKind.TIGHT),))
    assert [d.what for d in the(compare_plans(old, tight), "C-1").details] == ["conflict"]


def test_that_a_cancelled_case_gives_a_put_back_list() -> None:
    old = plan(knee_cart(), cart(a_case("C-2", "10:00", room="OR 2")), sets=(KNEE_1,))
    change = compare_plans(old, plan(cart(a_case("C-2", "10:00", room="OR 2")), revision=2))
    one = the(change, "C-1")
    assert one.kind is CartChangeKind.CANCELLED
    assert [(p.piece.set_id or p.piece.thing, p.quantity, p.piece.home) for p in one.take_off] == [
        ("KNEE-01", 1, "S-01-03"),
        ("laps", 1, "A-02-10"),
        ("laps", 2, "A-02-10"),
    ]
    assert "C-1" not in change.to_print()


def test_that_a_case_put_off_to_the_next_day_says_so_on_its_put_back_list() -> None:
    moved = a_case("C-1", day=DAY + timedelta(days=1), start=at("07:30", 1).strftime("%H:%M"))
    change = compare_plans(plan(knee_cart()), plan(revision=2, cases=(moved,)))
    assert the(change, "C-1").moved_to == date(2026, 11, 27)


def test_that_an_addon_names_the_carts_from_which_it_takes_things() -> None:
    """An emergency at 06:30 gets the only knee set and two of the four laps of C-1."""
    old = plan(knee_cart("KNEE-01", laps=4))
    addon = cart(
        a_case("A-1", "06:30", room="OR 4"),
        (tray_line("knee", "KNEE-01"),),
        (sundry("laps", pick("laps", "L1", 2)),),
    )
    robbed = cart(a_case("C-1"), (tray_line("knee", ""),), (sundry("laps", pick("laps", "L1", 2, 1), short=(2, 0)),))
    change = compare_plans(old, plan(addon, robbed, revision=2))
    assert the(change, "A-1").kind is CartChangeKind.NEW
    assert lines(the(change, "A-1").add) == [("KNEE-01", "", 1, "C-1"), ("laps", "L1", 2, "C-1")]
    assert lines(the(change, "C-1").take_off) == [("KNEE-01", "", 1, "A-1"), ("laps", "L1", 2, "A-1")]
    assert [(d.what, d.of) for d in the(change, "C-1").details] == [("no set for", "knee 1"), ("short", "laps")]


def test_that_a_set_comes_from_the_built_cart_on_which_it_stands_and_not_from_a_list_that_waits_for_it() -> None:
    """KNEE-01 stood on C-9 and was to go on to C-1 later; C-9 is cancelled, and C-2 gets it first."""
    waits, now_first = (
        cart(a_case("C-1", "13:00"), (tray_line("knee", "KNEE-01"),)),
        a_case("C-2", "09:00", room="OR 2"),
    )
    old = plan(cart(a_case("C-9"), (tray_line("knee", "KNEE-01"),)), waits, cart(now_first))
    moved = cart(a_case("C-1", "13:00"), (tray_line("knee", "KNEE-02"),))
    new = plan(cart(now_first, (tray_line("knee", "KNEE-01"),)), moved, revision=2)
    change = compare_plans(old, new, built={"C-9": built("C-9")})
    assert lines(the(change, "C-2").add) == [("KNEE-01", "", 1, "C-9")]
    assert lines(the(change, "C-9").take_off) == [("KNEE-01", "", 1, "C-2")]


def test_that_only_as_many_as_are_wanted_pass_from_cart_to_cart() -> None:
    old = plan(
        knee_cart(laps=5), cart(a_case("C-2", "11:00", room="OR 2"), (), (sundry("laps", pick("laps", "L1", 1)),))
    )
    new = plan(cart(a_case("C-2", "11:00", room="OR 2"), (), (sundry("laps", pick("laps", "L1", 3)),)), revision=2)
    change = compare_plans(old, new)
    assert lines(the(change, "C-2").add) == [("laps", "L1", 2, "C-1")]
    taken_off = [x for x in lines(the(change, "C-1").take_off) if x[0] == "laps"]
    assert [x for x in taken_off if x[3]] == [("laps", "L1", 1, "C-2"), ("laps", "L1", 1, "C-2")]
    assert sum(p.quantity for p in the(change, "C-1").take_off if p.piece.lot and not p.cart) == 4


def test_that_a_reused_number_gives_a_put_back_list_and_a_new_cart() -> None:
    other = cart(
        a_case("C-1", "14:00", room="OR 5", surgeon="S-new", procedures=("P-new",)),
        (tray_line("hip", "HIP-01"),),
    )
    change = compare_plans(plan(knee_cart()), plan(other, revision=2))
    assert {c.kind for c in change.carts} == {CartChangeKind.NEW, CartChangeKind.CANCELLED}
    assert lines(the(change, "C-1", CartChangeKind.NEW).add) == [("HIP-01", "", 1, "")]
    assert [n.kind for n in change.notes] == [NoteKind.NUMBER_REUSED]


def test_that_a_doubtful_cart_is_neither_put_back_nor_taken_over_until_it_is_answered() -> None:
    later = cart(
        a_case("C-8", "13:00", surgeon="S-C-1", procedures=("P-C-1",)),
        (tray_line("knee", "KNEE-01"),),
    )
    old, new = plan(knee_cart()), plan(later, revision=2)
    change = compare_plans(old, new)
    assert [c.kind for c in change.carts] == [CartChangeKind.ASKED, CartChangeKind.ASKED]
    assert the(change, "C-1").take_off == ()
    assert [q.new_case for q in change.questions] == ["C-8"]
    match = match_cases([c.case for c in old.carts], [c.case for c in new.carts], {"C-8": "C-1"})
    told = the(compare_plans(old, new, match=match), "C-8")
    assert (told.kind, told.old_case) == (CartChangeKind.CHANGED, "C-1")
    assert told.details[0].what == "case"


def test_that_a_list_which_is_stopped_leaves_the_cart_alone_and_prints_why() -> None:
    blank_side = Problem(
        kind="side not stated", severity=Severity.STOPS_CASE, where=NOWHERE, message="the side is not stated"
    )
    change = compare_plans(plan(knee_cart()), plan(cart(a_case("C-1"), stopped=(blank_side,)), revision=2))
    one = the(change, "C-1")
    assert (one.kind, one.take_off, one.prints) == (CartChangeKind.STOPPED, (), True)
    again = compare_plans(
        plan(cart(a_case("C-1"), stopped=(blank_side,)), revision=2),
        plan(knee_cart(laps=3), revision=3),
        in_hand={"C-1": ListInHand(revision=1, content=cart_content(knee_cart(), {}))},
    )
    mended = the(again, "C-1")
    assert lines(mended.add) == [("laps", "L1", 1, "")]
    assert (mended.replaces, mended.revision) == (1, 3)


def test_that_the_set_really_taken_counts_and_not_the_one_on_the_list() -> None:
    """KNEE-02 was taken by mistake; the next plan gives KNEE-02 to this case: nothing is to be done."""
    facts = built(sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),))
    old, new = plan(knee_cart("KNEE-01")), plan(knee_cart("KNEE-02"), revision=2)
    assert the(compare_plans(old, new, built={"C-1": facts}), "C-1").kind is CartChangeKind.UNCHANGED


def test_that_a_built_cart_which_must_give_up_its_set_says_why() -> None:
    incomplete = InstrumentSet(id="KNEE-01", tray="knee", state=SetState.INCOMPLETE, place="S-01-03")
    old = plan(knee_cart("KNEE-01"), sets=(KNEE_1, KNEE_2))
    new = plan(knee_cart("KNEE-02"), revision=2, sets=(incomplete, KNEE_2))
    one = the(compare_plans(old, new, built={"C-1": built()}), "C-1")
    assert one.built
    assert one.reasons == ("KNEE-01 is now recorded as incomplete",)
    conflict = Conflict(
        id="K1",
        kind=ConflictKind.SHORT,
        tray="knee",
        waiter="A-1",
        givers=("C-1",),
        set_id="KNEE-01",
        minutes=40,
        statement="A-1 has priority 9 and no other knee set in time",
    )
    taken = plan(knee_cart("KNEE-02"), revision=2, sets=(KNEE_1, KNEE_2), conflicts=(conflict,))
    assert the(compare_plans(old, taken, built={"C-1": built()}), "C-1").reasons == (
        "KNEE-01: A-1 has priority 9 and no other knee set in time",
    )


def test_that_a_built_cart_keeps_its_lots_when_the_next_plan_would_pick_from_another() -> None:
    old, new = plan(knee_cart(lot="L1")), plan(knee_cart(lot="L2"), revision=2)
    assert the(compare_plans(old, new, built={"C-1": built()}), "C-1").kind is CartChangeKind.UNCHANGED
    assert the(compare_plans(old, new), "C-1").kind is CartChangeKind.CHANGED


def test_that_what_was_missing_stays_named_and_prints_no_list_again() -> None:
    facts = built(missing=(MissingThing(thing="laps", quantity=1),))
    one = the(compare_plans(plan(knee_cart()), plan(knee_cart(), revision=2), built={"C-1": facts}), "C-1")
    assert one.kind is CartChangeKind.UNCHANGED
    assert lines(one.still_missing) == [("laps", "L1", 1, "")]


def test_that_a_missing_thing_for_which_the_list_names_another_lot_is_missing_until_it_is_reported_found() -> None:
    """All three laps of L1 were missing, L9 is there: the new list prints, and the build after it says the same."""
    facts = built(missing=(MissingThing(thing="laps", quantity=3),))
    old, new = plan(knee_cart()), plan(knee_cart(lot="L9"), revision=2)
    first = the(compare_plans(old, new, built={"C-1": facts}), "C-1")
    then = the(compare_plans(new, replace(new, revision=3), built={"C-1": facts}), "C-1")
    assert [one.kind for one in (first, then)] == [CartChangeKind.CHANGED, CartChangeKind.UNCHANGED]
    for one in (first, then):
        assert not one.has_work
        assert [(p.piece.lot, p.quantity) for p in one.still_missing] == [("L9", 1), ("L9", 2)]


def test_that_a_missing_tray_for_which_the_list_names_another_set_is_missing_until_it_is_reported_found() -> None:
    facts = built(missing=(MissingThing(thing="knee", quantity=1, copy=1),))
    old, new = plan(knee_cart("KNEE-01")), plan(knee_cart("KNEE-02"), revision=2)
    first = the(compare_plans(old, new, built={"C-1": facts}), "C-1")
    then = the(compare_plans(new, replace(new, revision=3), built={"C-1": facts}), "C-1")
    assert [one.kind for one in (first, then)] == [CartChangeKind.CHANGED, CartChangeKind.UNCHANGED]
    for one in (first, then):
        assert (one.has_work, [p.piece.set_id for p in one.still_missing]) == (False, ["KNEE-02"])


def test_that_a_missing_tray_is_missing_too_where_a_list_between_had_no_set_for_it() -> None:
    """KNEE-01 was missing, then another case had the last set, and now the list names it again."""
    facts = built(missing=(MissingThing(thing="knee", quantity=1, copy=1),))
    old, new = plan(knee_cart("")), plan(knee_cart("KNEE-01"), revision=2)
    first = the(compare_plans(old, new, built={"C-1": facts}), "C-1")
    then = the(compare_plans(new, replace(new, revision=3), built={"C-1": facts}), "C-1")
    assert [one.kind for one in (first, then)] == [CartChangeKind.CHANGED, CartChangeKind.UNCHANGED]
    for one in (first, then):
        assert (one.has_work, [p.piece.set_id for p in one.still_missing]) == (False, ["KNEE-01"])


def test_that_of_two_sets_of_a_tray_one_is_missing_where_both_are_other_ones_now() -> None:
    """The first was missing and the second is still to come; the new list has two others, one of them the missing."""

    def two(first: str, second: str) -> Plan:
        lines = tuple(tray_line("knee", one, copy=copy) for copy, one in enumerate((first, second), start=1))
        return plan(cart(a_case("C-1"), lines))

    comes = TrayToCome(tray="knee", copy=2, set_id="KNEE-01", expected=LATER)
    facts = built(missing=(MissingThing(thing="knee", quantity=1, copy=1),), to_come=(comes,))
    old, new = two("KNEE-03", "KNEE-01"), replace(two("KNEE-02", "KNEE-03"), revision=2)
    one = the(compare_plans(old, new, built={"C-1": facts}), "C-1")
    assert [line.piece.set_id for line in one.still_missing] == ["KNEE-02"]
    assert [line.piece.set_id for line in one.add] == ["KNEE-03"]


def test_that_a_tray_which_never_came_to_a_built_cart_is_not_to_be_taken_off() -> None:
    """The cart waits for KNEE-01, and the new list has KNEE-02 for it."""
    comes = TrayToCome(tray="knee", copy=1, set_id="KNEE-01", expected=LATER)
    new = plan(knee_cart("KNEE-02"), revision=2)
    one = the(compare_plans(plan(knee_cart("KNEE-01")), new, built={"C-1": built(to_come=(comes,))}), "C-1")
    assert ([line.piece.set_id for line in one.add], one.take_off) == (["KNEE-02"], ())


def test_that_a_shorter_list_wants_no_more_of_a_missing_thing_than_is_not_there() -> None:
    """One of four laps was missing; the new list asks for the three that are there."""
    facts = built(missing=(MissingThing(thing="laps", quantity=1),))
    new = plan(knee_cart(laps=2), revision=2)
    one = the(compare_plans(plan(knee_cart(laps=3)), new, built={"C-1": facts}), "C-1")
    assert (one.add, one.take_off, one.still_missing) == ((), (), ())


def test_that_what_stood_in_stays_while_it_is_wanted_and_goes_back_when_not() -> None:
    facts = built(stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=3),))
    still = plan(knee_cart(), revision=2)
    assert the(compare_plans(plan(knee_cart()), still, built={"C-1": facts}), "C-1").kind is CartChangeKind.UNCHANGED
    without = plan(
        cart(a_case("C-1"), (tray_line("knee", "KNEE-01"),)),
        revision=2,
        items=(Item(id="laps-x", name="Laps, other", place="A-09-01"),),
    )
    one = the(compare_plans(plan(knee_cart()), without, built={"C-1": facts}), "C-1")
    assert [(p.piece.thing, p.piece.home) for p in one.take_off] == [("laps-x", "A-09-01"), ("laps-x", "A-09-01")]
    assert sum(p.quantity for p in one.take_off) == 3


def test_that_what_stands_in_is_not_taken_off_twice_when_the_thing_is_told_missing_too() -> None:
    listed = cart_content(knee_cart(laps=4), {})
    facts = built(
        missing=(MissingThing(thing="laps", quantity=2),),
        stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=2),),
    )
    there = as_built(listed, facts, Counter())
    assert sum(n for p, n in there.items() if p.thing == "laps") == 3
    assert sum(n for p, n in there.items() if p.thing == "laps-x") == 2


PIECES = st.builds(
    CartThing,
    kind=st.just(ThingKind.ITEM),
    thing=st.sampled_from(["laps", "blade"]),
    wanted=st.sampled_from(["laps", "blade"]),
    part=st.sampled_from(Handling),
    lot=st.sampled_from(["L1", "L2"]),
    person=st.sampled_from(["", "S04"]),
    expiry=st.just(date(2027, 1, 1)),
)
SET_PIECES = st.builds(
    CartThing,
    kind=st.just(ThingKind.TRAY),
    thing=st.just(""),
    wanted=st.sampled_from(["knee", "hip"]),
    part=st.sampled_from(Handling),
    set_id=st.sampled_from(["KNEE-01", "KNEE-02", "HIP-01"]),
)
PLAIN = st.dictionaries(
    st.builds(
        lambda thing, part, lot: CartThing(kind=ThingKind.ITEM, thing=thing, wanted=thing, part=part, lot=lot),
        st.sampled_from(["laps", "blade"]),
        st.sampled_from(Handling),
        st.sampled_from(["L1", "L2", "L3"]),
    ),
    st.integers(1, 4),
    max_size=6,
).map(Counter)
CONTENTS = st.dictionaries(PIECES | SET_PIECES, st.integers(1, 4), max_size=8).map(Counter)


@given(CONTENTS, CONTENTS)
def test_that_adding_and_taking_off_turns_the_old_cart_into_the_new_one(old: Content, new: Content) -> None:
    change = compare_content(old, new)
    assert apply_change(old, change) == new
    assert apply_change(new, compare_content(new, old)) == old


@given(CONTENTS, CONTENTS)
def test_that_no_thing_is_both_carried_to_a_cart_and_away_from_it(old: Content, new: Content) -> None:
    change = compare_content(old, new)
    assert not {p.piece.body for p in change.add} & {p.piece.body for p in change.take_off}


@given(CONTENTS, CONTENTS)
def test_that_lots_kept_on_a_built_cart_leave_every_quantity_as_wanted(actual: Content, wanted: Content) -> None:
    kept = keep_what_is_there(actual, wanted, DAY)

    def without_lots(content: Content) -> Counter[tuple[object, ...]]:
        counted: Counter[tuple[object, ...]] = Counter()
        for p, n in content.items():
            counted[p.thing, p.wanted, p.person, p.part, p.set_id] += n
        return counted

    assert without_lots(kept) == without_lots(wanted)


@given(PLAIN, PLAIN)
def test_that_keeping_the_lots_on_a_built_cart_carries_only_what_is_short_in_number(
    actual: Content, wanted: Content
) -> None:
    change = compare_content(actual, keep_what_is_there(actual, wanted, DAY))
    for thing in ("laps", "blade"):
        there = sum(n for p, n in actual.items() if p.thing == thing)
        asked = sum(n for p, n in wanted.items() if p.thing == thing)
        assert sum(p.quantity for p in change.add if p.piece.thing == thing) == max(0, asked - there)
        assert sum(p.quantity for p in change.take_off if p.piece.thing == thing) == max(0, there - asked)


DAYS = st.lists(
    st.dictionaries(st.sampled_from(["laps", "blade", "drape"]), st.integers(1, 5), max_size=3), min_size=4, max_size=4
)


@settings(max_examples=tries(60))
@given(DAYS, DAYS, st.sets(st.integers(0, 3), max_size=3))
def test_that_over_a_whole_plan_each_cart_ends_as_the_new_plan_wants(
    before: list[dict[str, int]], after: list[dict[str, int]], cancelled: set[int]
) -> None:
    def carts(wants: list[dict[str, int]], gone: set[int]) -> list[Cart]:
        return [
            cart(a_case(f"C-{n}", room=f"OR {n}"), (), tuple(sundry(i, pick(i, "L1", q)) for i, q in want.items()))
            for n, want in enumerate(wants)
            if n not in gone
        ]

    old, new = plan(*carts(before, set())), plan(*carts(after, cancelled), revision=2)
    change = compare_plans(old, new)
    wanted = {c.case.number: cart_content(c, {}) for c in new.carts}
    for was in old.carts:
        one = the(change, was.case.number)
        work = ContentChange(add=one.add, take_off=one.take_off, remark=one.remarks)
        assert apply_change(cart_content(was, {}), work) == wanted.get(was.case.number, Counter())
    given_away = sum(p.quantity for c in change.carts for p in c.take_off if p.cart)
    assert given_away == sum(p.quantity for c in change.carts for p in c.add if p.cart)


def test_that_a_cancelled_cart_gives_back_what_was_added_by_hand_and_stand_ins_to_their_own_places() -> None:
    """On the cart: a lap of another brand in place of one, and a drain that no list asks for; 100 kept neither."""
    catalogue = {
        "laps": Item(id="laps", name="Laps", place="A-02-10"),
        "laps-x": Item(id="laps-x", name="Laps, other brand", place="A-02-11"),
        "drain": Item(id="drain", name="Drain", place="A-09-01"),
    }
    facts = built(
        stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=1),),
        added=(TakenItem(item="drain", quantity=2, lot="D7"),),
    )
    old = plan(knee_cart(), sets=(KNEE_1,), items=(catalogue["laps"],))
    change = compare_plans(old, plan(revision=2), built={"C-1": facts}, items=catalogue)
    off = {(p.piece.thing, p.piece.lot): (p.quantity, p.piece.home, p.piece.name) for p in the(change, "C-1").take_off}
    assert off["laps-x", ""] == (1, "A-02-11", "Laps, other brand")
    assert off["drain", "D7"] == (2, "A-09-01", "Drain")


@pytest.mark.parametrize(
    ("missing", "stood_in", "laps", "others"), [(0, 3, 1, 3), (3, 0, 1, 0), (3, 3, 1, 3), (4, 0, 0, 0), (4, 3, 0, 3)]
)
def test_that_what_no_shelf_could_give_is_not_taken_off_what_is_there(
    missing: int, stood_in: int, laps: int, others: int
) -> None:
    """Four laps were asked for and one was there; three are short, and reported missing or stood in for."""
    short = cart(a_case("C-1"), (), (sundry("laps", pick("laps", "L1", 1), short=(3, 0)),))
    facts = built(
        missing=(MissingThing(thing="laps", quantity=missing),) if missing else (),
        stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=stood_in),) if stood_in else (),
    )
    off = the(compare_plans(plan(short), plan(revision=2), built={"C-1": facts}), "C-1").take_off
    there = Counter[str]()
    for one in off:
        there[one.piece.thing] += one.quantity
    assert (there["laps"], there["laps-x"]) == (laps, others)
    again = the(compare_plans(plan(short), plan(short, revision=2), built={"C-1": facts}), "C-1")
    assert again.kind is CartChangeKind.UNCHANGED


def test_that_what_was_added_by_hand_is_not_to_be_added_again_once_the_card_asks_for_it() -> None:
    """Without a lot of its own: the plan takes it to be the one on the cart."""
    laps, drain = sundry("laps", pick("laps", "L1", 2, 1)), sundry("drain", pick("drain", "", 1, place=""))
    new = plan(cart(a_case("C-1"), (tray_line("knee", "KNEE-01"),), (laps, drain)), revision=2)
    facts = built(added=(TakenItem(item="drain", quantity=1),))
    one = the(compare_plans(plan(knee_cart()), new, built={"C-1": facts}), "C-1")
    assert (one.kind, one.add, one.take_off) == (CartChangeKind.UNCHANGED, (), ())


def test_that_a_tray_still_to_come_is_not_taken_off_a_cancelled_cart() -> None:
    waits = TrayToCome(tray="knee", copy=1, set_id="KNEE-01", expected=at("06:00"))
    change = compare_plans(plan(knee_cart(), sets=(KNEE_1,)), plan(revision=2), built={"C-1": built(to_come=(waits,))})
    assert all(not line.piece.set_id for line in the(change, "C-1").take_off)


def test_that_a_built_cart_that_waits_is_not_finished() -> None:
    waits = TrayToCome(tray="knee", copy=1, set_id="KNEE-01", expected=at("06:00"))
    old, new = plan(knee_cart()), plan(knee_cart(), revision=2)
    whole = the(compare_plans(old, new, built={"C-1": built()}), "C-1")
    waiting = the(compare_plans(old, new, built={"C-1": built(to_come=(waits,))}), "C-1")
    assert (whole.finished, whole.state) == (True, "built")
    assert (waiting.built, waiting.finished) == (True, False)
    assert waiting.state == "built, waits for KNEE-01 (Thu 26 Nov 06:00)"


def test_a_list_is_printed_again_when_what_it_counts_is_counted_otherwise() -> None:
    """Two of each on the paper in hand would be fetched where two boxes are meant."""
    one = knee_cart()
    boxes = replace(one, sundries=tuple(replace(line, unit="box") for line in one.sundries))
    change = the(compare_plans(plan(one), plan(boxes)), "C-1")
    assert change.kind is CartChangeKind.CHANGED
    assert [(d.what, d.was, d.now) for d in change.details] == [("unit", "each", "box")]
    more = replace(one, sundries=(*one.sundries, sundry("suture", pick("suture", "L9", 2))))
    assert the(compare_plans(plan(one), plan(more)), "C-1").details == ()


def test_a_list_is_printed_again_when_a_tray_is_to_be_checked_for_latex_and_not_when_it_need_not_any_more() -> None:
    one = knee_cart()
    checked = replace(one, trays=tuple(replace(line, not_stated=(LATEX_NOT_STATED,)) for line in one.trays))
    assert the(compare_plans(plan(one), plan(checked)), "C-1").kind is CartChangeKind.CHANGED
    assert the(compare_plans(plan(checked), plan(one)), "C-1").kind is CartChangeKind.UNCHANGED


def test_that_a_set_which_an_earlier_case_gets_first_leaves_the_built_cart_that_has_it_and_comes_back() -> None:
    """C-5 is added and is earlier: it takes KNEE-01 off C-1's cart. No list is printed again for it, but it stays open
    until somebody reports C-1's cart again.
    """
    first = cart(a_case("C-5", "06:30", room="OR 5"), (tray_line("knee", "KNEE-01"),))
    new = plan(first, knee_cart(), revision=2, sets=(KNEE_1,), reuses=(comes(giver="C-5"),))
    hand = {"C-1": ListInHand(revision=1, content=cart_content(knee_cart(), {}), case=knee_cart().case)}
    change = compare_plans(plan(knee_cart(), sets=(KNEE_1,)), new, built={"C-1": built()}, in_hand=hand)
    assert lines(the(change, "C-1").take_off) == [("KNEE-01", "", 1, "C-5")]
    assert lines(the(change, "C-1").add) == [("KNEE-01", "", 1, "")]
    assert lines(the(change, "C-5").add) == [("KNEE-01", "", 1, "C-1")]
    hand["C-5"] = ListInHand(revision=2, content=cart_content(first, {}), case=first.case)
    hand["C-1"] = replace(hand["C-1"], revision=2)
    known = {"C-1": ReportedCart(facts=built(), content=hand["C-1"].content, leaving=frozenset({"KNEE-01"}))}
    third = replace(new, revision=3, replaces=2)
    again = compare_plans(new, third, built={"C-1": built()}, reported=known, in_hand=hand)
    assert {one.kind for one in again.carts} == {CartChangeKind.UNCHANGED}
    assert lines(the(again, "C-1").take_off) == [("KNEE-01", "", 1, "C-5")]
    assert not the(again, "C-1").finished


def test_that_a_set_on_a_built_cart_that_becomes_dirty_is_asked_off_it_and_on_again() -> None:
    """KNEE-01 is on C-1's cart and its row says dirty now; the plan still gives it, ready at 06:00."""
    line = tray_line("knee", "KNEE-01", expected=at("06:00"))
    laps = (sundry("laps", pick("laps", "L1", 2, 1)),)
    new = plan(cart(a_case("C-1"), (line,), laps), revision=2, sets=(replace(KNEE_1, state=SetState.DIRTY),))
    one = the(compare_plans(plan(knee_cart(), sets=(KNEE_1,)), new, built={"C-1": built()}), "C-1")
    assert (lines(one.take_off), lines(one.add)) == ([("KNEE-01", "", 1, "")], [("KNEE-01", "", 1, "")])
    assert (one.kind, one.finished, one.reasons) == (
        CartChangeKind.CHANGED,
        False,
        ("KNEE-01 is now recorded as dirty",),
    )


def test_that_a_set_that_came_while_its_row_still_says_that_it_is_dirty_stays_on_its_cart() -> None:
    """Nobody writes each step into the table: what was dirty before the report too is where the crew says."""
    dirty = replace(KNEE_1, state=SetState.DIRTY)
    line = tray_line("knee", "KNEE-01", expected=at("06:00"))
    waiting = cart(a_case("C-1"), (line,), (sundry("laps", pick("laps", "L1", 2, 1)),))
    facts = built(sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),))
    new = plan(waiting, revision=2, sets=(dirty,))
    one = the(compare_plans(plan(waiting, sets=(dirty,)), new, built={"C-1": facts}), "C-1")
    assert (one.kind, one.take_off) == (CartChangeKind.UNCHANGED, ())


def test_that_no_set_is_asked_off_a_cart_on_which_it_cannot_be() -> None:
    """C-1's list in hand expects KNEE-01 tomorrow at six, or KNEE-01 was reported on C-2's cart."""
    line = tray_line("knee", "KNEE-01", expected=at("06:00"))
    old = plan(cart(a_case("C-1"), (line,)), cart(a_case("C-2", room="OR 2"), (tray_line("knee", "KNEE-02"),)))
    new = plan(
        cart(a_case("C-1"), (tray_line("knee", ""),)),
        cart(a_case("C-2", room="OR 2"), (tray_line("knee", "KNEE-02"),)),
        revision=2,
    )
    hand = {c.case.number: ListInHand(revision=1, content=cart_content(c, {}), number=c.case.number) for c in old.carts}
    assert the(compare_plans(old, new, in_hand=hand, plans={1: old}), "C-1").take_off == ()
    there = replace(old, carts=(cart(a_case("C-1"), (tray_line("knee", "KNEE-01"),)), old.carts[1]))
    assert lines(the(compare_plans(there, new, in_hand=hand, plans={1: there}), "C-1").take_off) == [
        ("KNEE-01", "", 1, "")
    ]
    taken = built("C-2", sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),))
    known = {"C-2": ReportedCart(facts=taken, content=hand["C-2"].content)}
    change = compare_plans(there, new, built={"C-2": taken}, reported=known, in_hand=hand, plans={1: there})
    assert the(change, "C-1").take_off == ()


def test_that_a_built_cart_says_that_another_side_is_wanted_now() -> None:
    right, left = (InstrumentSet(id=f"WR-{one.name[0]}1", tray="wrist", side=one) for one in (Side.RIGHT, Side.LEFT))

    def wrist(one: InstrumentSet) -> Cart:
        need = replace(tray_line("wrist", one.id).need, side=one.side)
        return cart(a_case("C-1"), (tray_line("wrist", one.id, need=need),))

    new = plan(wrist(left), revision=2, sets=(right, left))
    one = the(compare_plans(plan(wrist(right), sets=(right, left)), new, built={"C-1": built()}), "C-1")
    assert one.reasons == ("the list now wants left, and WR-R1 is right",)


def test_that_what_stood_in_and_is_not_needed_any_more_says_so() -> None:
    """Another thing was taken for two laps, and the list wants one now: it is not short, and no lot expires."""
    facts = built(stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=2),))
    items = (Item(id="laps-x", name="Laps, other", place="A-09-01"),)
    new = plan(knee_cart(laps=0), revision=2, items=items)
    one = the(compare_plans(plan(knee_cart()), new, built={"C-1": facts}), "C-1")
    assert "laps-x" in {line.piece.thing for line in one.take_off}
    assert any(why.endswith("is no longer needed in place of Item laps") for why in one.reasons)
