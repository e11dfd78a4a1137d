"""Each scan is answered: what it did, to which cart, and what is still open there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from picklist.evening.scan_answers import say
from picklist.model.built import BuiltCart, MissingThing, TakenItem, TakenSet
from picklist.model.catalogue import Lot
from picklist.model.plan import Cart
from picklist.model.scan_answer import ScanKind, Weight
from tests.builders import DAY, at
from tests.evening.scanning import CLOCK, NOW, InMemory, a_book, answers, kinds_of, sitting, words_of
from tests.evening.site_builder import GTIN, a_site

EARLIER = NOW - timedelta(hours=1)


def reported(case: str = "C-1", **facts: object) -> InMemory:
    """A cart that mk reported an hour ago."""
    one = BuiltCart(**({"day": DAY, "case": case, "revision": 1, "at": EARLIER, "done": True, "by": "mk"} | facts))  # type: ignore[arg-type]
    return InMemory(kept={case: one}, before={case: one})


def gone(thing: str, quantity: int = 1, copy: int = 0) -> MissingThing:
    return MissingThing(thing=thing, quantity=quantity, copy=copy, by="mk", reported_at=EARLIER)


def test_that_each_scan_is_kept_before_the_next_is_read() -> None:
    reports = InMemory()
    session = sitting(reports)
    session.take("C-1.R1")
    session.take("KNEE-02")
    assert [one.set_id for one in reports.kept["C-1"].sets] == ["KNEE-02"]
    session.take("MISSING 0077")
    assert reports.kept["C-1"].missing == (MissingThing(thing="0077", quantity=2),)


def test_that_undo_names_what_it_takes_back() -> None:
    session = sitting()
    answers(session, "C-1.R1", "KNEE-02", "MISSING 0077 1")
    assert words_of(session, "UNDO") == "Undone on cart C-1: Missing on cart C-1: 1 of 0077, Blade."
    assert words_of(session, "UNDO") == "Undone on cart C-1: KNEE-02, Knee is on cart C-1. The list names KNEE-01."
    assert words_of(session, "UNDO") == "Undone: opening cart C-1. No cart is open; scan a cart label."
    assert kinds_of(session, "UNDO") == [ScanKind.NOTHING_TO_UNDO]


def test_that_undo_never_reaches_into_the_cart_before() -> None:
    """C-1 holds a knee; C-2 is opened by mistake and undone: three more UNDO leave C-1 as it was."""
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "KNEE-01", "C-2.R1")
    assert kinds_of(session, "UNDO", "UNDO", "UNDO") == [
        ScanKind.UNDONE,
        ScanKind.NOTHING_TO_UNDO,
        ScanKind.NOTHING_TO_UNDO,
    ]
    assert kinds_of(session, "SAW-01") == [ScanKind.NO_CART]
    assert [one.set_id for one in reports.kept["C-1"].sets] == ["KNEE-01"]
    assert "C-2" not in reports.kept


@pytest.mark.parametrize("label", ["C-9.R1", "CART C-9", "c-9.r1"])
def test_that_nothing_goes_onto_the_former_cart_after_a_refused_label(label: str) -> None:
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "KNEE-01")
    assert kinds_of(session, label, "SAW-01", "DONE") == [
        ScanKind.LEFT_OPEN,
        ScanKind.UNKNOWN_CASE,
        ScanKind.NO_CART,
        ScanKind.NO_CART,
    ]
    assert [one.set_id for one in reports.kept["C-1"].sets] == ["KNEE-01"]
    assert not reports.kept["C-1"].done


def test_that_a_cart_opened_again_says_what_is_missing_and_by_whom_and_keeps_it() -> None:
    reports = reported(
        missing=(gone("0077", 2), gone("saw", copy=1)), sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),)
    )
    session = sitting(reports)
    said = words_of(session, "C-1.R1")
    assert "it is reported built (mk, Wed 25 Nov 20:40)" in said
    assert "Still missing on C-1: 2 of 0077, Blade (mk, Wed 25 Nov 20:40)." in said
    assert "1 of saw, Saw (mk" in said
    answers(session, "BY rt", "100246")
    kept = reports.kept["C-1"]
    assert {(m.thing, m.quantity, m.by) for m in kept.missing} == {("0077", 2, "mk"), ("saw", 1, "mk")}
    assert (kept.done, kept.by, [i.by for i in kept.added]) == (True, "mk, rt", ["rt"])


def test_that_what_was_missing_is_found_by_its_word_or_its_set() -> None:
    reports = reported(missing=(gone("0077", 2), gone("saw", copy=1)))
    session = sitting(reports)
    session.take("C-1.R1")
    assert "no longer missing on" not in words_of(session, "FOUND 0077 1")
    assert [(m.thing, m.quantity, m.by) for m in reports.kept["C-1"].missing if not m.copy] == [("0077", 1, "mk")]
    assert kinds_of(session, "saw-01") == [ScanKind.SET_FOUND]
    assert words_of(session, "FOUND 0077") == "0077, Blade: no longer missing on cart C-1 (mk, Wed 25 Nov 20:40)."
    assert reports.kept["C-1"].missing == ()
    assert kinds_of(session, "FOUND 0077") == [ScanKind.UNKNOWN_SCAN]


def test_that_a_scanned_item_is_found_only_when_the_list_leaves_no_other_way() -> None:
    """Two blades are listed and one is missing: the first scan may be the other one, the second cannot."""
    reports = reported(missing=(gone("0077", 1),))
    session = sitting(reports)
    session.take("C-1.R1")
    assert kinds_of(session, "0077") == [ScanKind.ITEM_ON, ScanKind.STILL_MISSING]
    assert kinds_of(session, "0077") == [ScanKind.ITEM_ON, ScanKind.FOUND]
    assert reports.kept["C-1"].missing == ()


def test_that_missing_twice_is_one_number_and_not_a_sum() -> None:
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "MISSING 100245 3", "MISSING 100245 3")
    assert sum(m.quantity for m in reports.kept["C-1"].missing) == 3
    session.take("MISSING 100245 2")
    assert sum(m.quantity for m in reports.kept["C-1"].missing) == 2


def test_that_items_scanned_again_on_a_built_cart_are_not_counted_twice() -> None:
    laps = TakenItem(item="100245", quantity=5)
    reports = reported(scanned=(laps,), added=(TakenItem(item="100246", quantity=1),))
    session = sitting(reports)
    session.take("C-1.R1")
    assert kinds_of(session, "100245", "100246", "TIMES 1") == [ScanKind.COUNTED_BEFORE] * 3
    assert reports.kept["C-1"] == reports.before["C-1"]
    assert kinds_of(session, "TIMES 2") == [ScanKind.NOT_LISTED]
    assert reports.kept["C-1"].added == (TakenItem(item="100246", quantity=2),)


def test_that_times_said_twice_is_the_same_number() -> None:
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "100245", "TIMES 4", "TIMES 3", "TIMES 3")
    assert reports.kept["C-1"].scanned == (TakenItem(item="100245", quantity=3),)


@pytest.mark.parametrize(
    "lines",
    [("c-1.r1", "knee-02", "missing SAW-01", "by mk", "done"), ("cart c-1", "Knee-02", "Missing saw", "By mk", "Done")],
)
def test_that_small_letters_are_read(lines: tuple[str, ...]) -> None:
    reports = InMemory()
    answers(sitting(reports), *lines)
    kept = reports.kept["C-1"]
    assert (kept.sets, kept.done, kept.by) == ((TakenSet(tray="knee", copy=1, set_id="KNEE-02"),), True, "mk")
    assert kept.missing == (MissingThing(thing="saw", copy=1, quantity=1),)


def test_that_a_lot_keeps_its_letters_unless_the_whole_label_came_in_the_wrong_ones() -> None:
    """GS1 General Specifications: AI (10) tells capital and small letters apart; ]C1 is the mark of GS1-128."""
    lots = (Lot(item="100245", lot="L1", quantity=9, expiry=date(2027, 6, 30), place="A-02-10"),)
    reports = InMemory(the_book=replace(a_book(), site=replace(a_site(), lots=lots)))
    session = sitting(reports)
    answers(session, "C-1.R1", f"]C101{GTIN}10l1", f"]c101{GTIN}10l1")
    assert [(i.lot, i.expiry) for i in reports.kept["C-1"].scanned] == [("l1", None), ("L1", date(2027, 6, 30))]


def test_that_a_set_of_another_cart_names_the_cart_where_it_belongs() -> None:
    session = sitting()
    session.take("C-1.R1")
    [answer] = session.take("ANKLE-L")
    assert (answer.kind, answer.recorded, answer.cases) == (ScanKind.NOT_WANTED, False, ("C-2",))
    assert say(answer, CLOCK).endswith("It belongs to C-2.")
    [drain] = session.take("100301")
    assert (drain.kind, drain.weight, drain.cases) == (ScanKind.NOT_LISTED, Weight.LOOK, ("C-2",))


def test_that_a_set_of_the_wrong_side_does_not_go_onto_the_cart() -> None:
    reports = InMemory()
    session = sitting(reports)
    session.take("C-2.R1")
    [answer] = session.take("ANKLE-R")
    assert (answer.kind, answer.weight) == (ScanKind.CHECKED, Weight.REFUSED)
    assert "needs ankle left" in say(answer, CLOCK)
    assert "C-2" not in reports.kept


def test_that_an_expired_lot_and_latex_are_told_at_once() -> None:
    session = sitting()
    session.take("C-1.R1")
    on, late = session.take(f"(01){GTIN}(17)261101(10)L1")
    assert (on.kind, late.weight) == (ScanKind.ITEM_ON, Weight.FIX)
    assert "expires Sun 1 Nov 2026, before the case; do not use it" in say(late, CLOCK)
    session.take("C-2.R1")
    assert any("holds latex" in say(one, CLOCK) for one in session.take("100300"))


def test_that_a_set_reported_on_another_cart_is_told_at_once() -> None:
    reports = InMemory()
    other = BuiltCart(
        day=DAY, case="C-7", revision=1, at=EARLIER, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),)
    )
    reports.kept["C-7"] = other
    session = sitting(reports)
    session.take("C-1.R1")
    _, doubt = session.take("KNEE-02")
    assert doubt.weight is Weight.FIX
    assert "C-7" in say(doubt, CLOCK)


def test_that_a_sitting_goes_on_from_what_somebody_else_reported_meanwhile() -> None:
    """While the scanner is at C-1 the page says that a blade is missing: nothing of it is lost, nor undone here."""
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "KNEE-01")
    reports.kept["C-1"] = reports.before["C-1"] = replace(reports.kept["C-1"], missing=(gone("0077"),))
    assert kinds_of(session, "SAW-01", "UNDO", "UNDO") == [ScanKind.SET_ON, ScanKind.UNDONE, ScanKind.NOTHING_TO_UNDO]
    kept = reports.kept["C-1"]
    assert ([t.set_id for t in kept.sets], kept.missing) == (["KNEE-01"], (gone("0077"),))


def test_that_a_remark_that_seems_to_tell_who_the_patient_is_is_not_kept() -> None:
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "NOTE bag torn")
    [answer] = session.take("NOTE Example, Ann 03/04/1951")
    assert (answer.kind, answer.recorded) == (ScanKind.CHECKED, False)
    assert "1951" not in say(answer, CLOCK)
    assert reports.kept["C-1"].remark == "bag torn"


def expected_book(wall: str, case: str = "C-1") -> InMemory:
    """The book of the evening, in which the first set of a cart is expected at a time."""
    book = a_book()

    def waiting(cart: Cart) -> Cart:
        first, *others = cart.trays
        return replace(cart, trays=(replace(first, expected=at(wall, -1)), *others))

    carts = tuple(waiting(one) if one.case.number == case else one for one in book.plan.carts)
    return InMemory(the_book=replace(book, plan=replace(book.plan, carts=carts)))


def test_that_a_set_scanned_before_it_is_expected_is_recorded_with_a_warning() -> None:
    """At 21:40 somebody scans KNEE-01, which by the plan leaves the sterilizer later and is here at 22:05."""
    reports = expected_book("22:05")
    session = sitting(reports)
    session.take("C-1.R1")
    said = session.take("KNEE-01")
    assert [(one.kind, one.weight) for one in said] == [
        (ScanKind.SET_ON, Weight.DONE),
        (ScanKind.BEFORE_ITS_TIME, Weight.LOOK),
    ]
    words = say(said[1], CLOCK)
    assert "KNEE-01 is expected at Wed 25 Nov 22:05" in words
    assert "check package and indicator" in words
    assert [one.set_id for one in reports.kept["C-1"].sets] == ["KNEE-01"]
    assert [one.kind for one in session.problems] == ["before its time"]


def test_that_a_set_of_another_cart_is_warned_of_as_well() -> None:
    """KNEE-02 is planned for C-2 and expected at 22:05; at 21:40 it is scanned onto C-1."""
    reports = expected_book("22:05", "C-2")
    plan = reports.the_book.plan
    first, second = plan.carts
    knee = replace(second.trays[0], set_id="KNEE-02")
    reports.the_book = replace(reports.the_book, plan=replace(plan, carts=(first, replace(second, trays=(knee,)))))
    kinds = kinds_of(sitting(reports), "C-1.R1", "KNEE-02")
    assert kinds == [ScanKind.OPENED, ScanKind.OTHER_CARTS_SET, ScanKind.BEFORE_ITS_TIME]


@pytest.mark.parametrize("wall", ["21:40", "20:05"])
def test_that_a_set_scanned_from_its_time_on_is_taken_without_a_word(wall: str) -> None:
    assert kinds_of(sitting(expected_book(wall)), "C-1.R1", "KNEE-01") == [ScanKind.OPENED, ScanKind.SET_ON]


def test_that_a_tray_for_which_no_set_was_planned_is_not_taken_as_planned() -> None:
    book = a_book()
    knee, saw = book.plan.carts[0].trays
    cart = replace(book.plan.carts[0], trays=(replace(knee, set_id=""), saw))
    plan = replace(book.plan, carts=(cart, *book.plan.carts[1:]))
    session = sitting(InMemory(the_book=replace(book, plan=plan)))
    answers(session, "C-1.R1")
    said = words_of(session, "DONE")
    assert "No set was scanned for 1 tray (taken as planned): SAW-01." in said
    assert "The list has no set for 1 tray, and none was scanned; the cart is without: knee." in said


def test_that_a_cart_that_nobody_signed_can_be_signed_after_done_and_no_other() -> None:
    reports = InMemory()
    session = sitting(reports)
    answers(session, "C-1.R1", "DONE")
    assert kinds_of(session, "BY mk") == [ScanKind.BY]
    assert (reports.kept["C-1"].by, reports.kept["C-1"].done) == ("mk", True)
    assert kinds_of(session, "BY rt", "KNEE-01") == [ScanKind.NO_CART, ScanKind.NO_CART]
    assert reports.kept["C-1"].by == "mk"
