"""A crew scans carts: what the lines mean, and what is wrong with which line."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.schedule import Side
from picklist.problems import Problem, Severity
from tests.builders import DAY
from tests.evening.scanning import NOW, InMemory, a_book, sitting, take_all
from tests.evening.site_builder import GTIN, a_plan


def scan(text: str) -> tuple[dict[str, BuiltCart], list[Problem]]:
    reports = InMemory()
    session = sitting(reports)
    take_all(session, text.strip().splitlines())
    return dict(reports.kept), session.problems


def kinds(problems: list[Problem]) -> list[tuple[str, int | None]]:
    return [(p.kind, p.where.row) for p in problems]


def test_that_a_whole_cart_is_told_by_scanning_it() -> None:
    facts, problems = scan(
        f"""
        # evening of 25 Nov
        C-1.R1
        BY mk
        KNEE-02
        SAW-01
        ]C101{GTIN}17270630{"10L1"}
        TIMES 4
        COUNT 100245 36
        MISSING 0077 1
        NOTE bag torn
        AT 21:20
        DONE
        """
    )
    assert problems == []
    assert facts["C-1"] == BuiltCart(
        day=DAY,
        case="C-1",
        revision=1,
        at=NOW - timedelta(minutes=20),
        done=True,
        by="mk",
        sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"), TakenSet(tray="saw", copy=1, set_id="SAW-01")),
        missing=(MissingThing(thing="0077", quantity=1),),
        counts=(CountFound(item="100245", quantity=36),),
        scanned=(TakenItem(item="100245", quantity=4, lot="L1", expiry=date(2027, 6, 30)),),
        remark="bag torn",
    )


def test_that_words_scanned_from_a_card_take_what_comes_on_the_next_lines() -> None:
    facts, problems = scan("C-1.R1\nMISSING\n0077\nINSTEAD\n100245\n100246\nCOUNT\n100245\n12\nKNEE-01\nSAW-01\nDONE")
    assert problems == []
    assert facts["C-1"].missing == (MissingThing(thing="0077", quantity=2),)
    assert facts["C-1"].stood_in == (StoodIn(thing="100245", stood_in="100246", quantity=5),)
    assert facts["C-1"].counts == (CountFound(item="100245", quantity=12),)


def test_that_missing_without_a_number_means_all_that_the_list_asks_for() -> None:
    facts, _ = scan("C-1.R1\nMISSING 100245")
    assert facts["C-1"].missing == (MissingThing(thing="100245", quantity=5),)


def test_that_an_items_own_digits_are_not_taken_for_a_number() -> None:
    facts, problems = scan("C-1.R1\nMISSING 0077")
    assert facts["C-1"].missing == (MissingThing(thing="0077", quantity=2),)
    assert [p.kind for p in problems] == ["left open"]


def test_that_a_missing_set_is_told_by_its_tray_or_by_itself() -> None:
    facts, _ = scan("C-1.R1\nMISSING knee\nMISSING SAW-01\nDONE")
    assert facts["C-1"].missing == (
        MissingThing(thing="knee", copy=1, quantity=1),
        MissingThing(thing="saw", copy=1, quantity=1),
    )


def test_that_a_set_of_a_tray_that_stands_in_is_taken_for_the_tray_it_stands_for() -> None:
    facts, problems = scan("C-1.R1\nOLD-01\nSAW-01\nDONE")
    assert facts["C-1"].sets[0] == TakenSet(tray="knee", copy=1, set_id="OLD-01")
    assert problems == []


def test_that_instead_names_a_set_for_a_tray() -> None:
    facts, _ = scan("C-1.R1\nINSTEAD KNEE-01 OLD-01")
    assert facts["C-1"].sets == (TakenSet(tray="knee", copy=1, set_id="OLD-01"),)


def test_that_trays_without_a_scan_count_as_planned_and_are_named() -> None:
    facts, problems = scan("C-1.R1\nKNEE-01\nDONE")
    assert facts["C-1"].done
    assert kinds(problems) == [("not scanned", 3)]
    assert "SAW-01" in problems[0].message
    assert problems[0].severity is Severity.NOTICE


def test_that_undo_takes_back_one_line_at_a_time() -> None:
    facts, _ = scan("C-1.R1\nKNEE-02\nUNDO\nKNEE-01\nSAW-01\nDONE\nUNDO\nUNDO\nMISSING SAW-01\nDONE")
    assert facts["C-1"].sets == (TakenSet(tray="knee", copy=1, set_id="KNEE-01"),)
    assert facts["C-1"].missing == (MissingThing(thing="saw", copy=1, quantity=1),)
    assert facts["C-1"].done


def test_that_undo_takes_back_a_word_that_still_waits() -> None:
    facts, problems = scan("C-1.R1\nKNEE-01\nMISSING\nUNDO\nSAW-01\nDONE")
    assert problems == []
    assert len(facts["C-1"].sets) == 2


def test_that_undo_takes_back_the_opening_of_the_wrong_cart() -> None:
    facts, problems = scan("C-2.R1\nUNDO\nC-1.R1\nKNEE-01\nSAW-01\nDONE")
    assert list(facts) == ["C-1"]
    assert problems == []


def test_that_undo_with_nothing_before_it_is_told() -> None:
    assert kinds(scan("UNDO")[1]) == [("nothing to undo", 1)]


def test_that_a_cart_left_without_done_counts_as_begun() -> None:
    facts, problems = scan("C-1.R1\nKNEE-01\nC-2.R1\nANKLE-L\nDONE")
    assert (facts["C-1"].done, facts["C-2"].done) == (False, True)
    assert kinds(problems) == [("left open", 3)]


def test_that_a_cart_scanned_again_goes_on_where_it_stood() -> None:
    facts, _ = scan("C-1.R1\nKNEE-01\nC-2.R1\nANKLE-L\nDONE\nC-1.R1\nSAW-01\nDONE")
    assert [t.set_id for t in facts["C-1"].sets] == ["KNEE-01", "SAW-01"]
    assert facts["C-1"].done


def test_that_what_the_list_does_not_ask_for_is_noted_as_added() -> None:
    facts, problems = scan("C-1.R1\n100246\n0077\n0077\n0077")
    assert facts["C-1"].added == (TakenItem(item="100246", quantity=1), TakenItem(item="0077", quantity=1))
    assert kinds(problems)[:2] == [("not on the list", 2), ("more than listed", 5)]


@pytest.mark.parametrize(
    ("lines", "kind", "row"),
    [
        ("KNEE-01", "no cart open", 1),
        ("C-9.R1", "unknown case", 1),
        ("CART C-9", "unknown case", 1),
        ("C-1.R1\nKNEE-1", "unknown scan", 2),
        ("C-1.R1\nANKLE-L", "set not wanted", 2),
        ("C-1.R1\nKNEE-01\nKNEE-01", "scanned twice", 3),
        ("C-1.R1\nKNEE-01\nKNEE-02", "set not wanted", 3),
        ("C-1.R1\nMISSING 100246", "not on the list", 2),
        ("C-1.R1\nMISSING 0077 3", "more than listed", 2),
        ("C-1.R1\nMISSING 0077 0", "more than listed", 2),
        ("C-1.R1\nCOUNT 0077 many", "not a number", 2),
        ("C-1.R1\nTIMES 3", "not a number", 2),
        ("C-1.R1\nINSTEAD 0077 nothing", "unknown scan", 2),
        ("C-1.R1\nAT 25:70", "not a time", 2),
        ("C-1.R1\n(01)12345678901234", "unreadable label", 2),
        ("C-1.R1\n4006381333931", "unknown gtin", 2),
        ("C-1.R1\nMISSING\nDONE", "broken off", 3),
        ("C-1.R7", "older list", 1),
    ],
)
def test_that_a_wrong_line_is_told_by_its_number(lines: str, kind: str, row: int) -> None:
    _, problems = scan(lines)
    assert (kind, row) in kinds(problems)


def test_that_a_mistyped_set_names_the_nearest() -> None:
    _, problems = scan("C-1.R1\nKNEE-1")
    assert "KNEE-01" in problems[0].message or "KNEE-01" in problems[0].nearest


def test_that_a_wrong_line_changes_nothing() -> None:
    good, _ = scan("C-1.R1\nKNEE-01\nSAW-01\nDONE")
    mixed, _ = scan("C-1.R1\nKNEE-01\nrubbish\nSAW-01\nMISSING what\nDONE")
    assert good == mixed


LINES = st.sampled_from(
    ["C-1.R1", "C-2.R1", "KNEE-01", "KNEE-02", "SAW-01", "100245", "0077", "TIMES 3", "MISSING 0077 1", "MISSING",
     "INSTEAD 100245 100246", "INSTEAD", "COUNT 0077 4", "BY mk", "DONE", "UNDO", "NOTE x", "rubbish", ""]
)  # fmt: skip


@given(st.lists(LINES, max_size=25))
def test_that_no_cart_gets_more_sets_than_trays_or_more_items_than_its_list(lines: list[str]) -> None:
    facts, _ = scan("\n".join(lines))
    for one in facts.values():
        assert len({(t.tray, t.copy) for t in one.sets}) == len(one.sets)
        assert sum(i.quantity for i in one.scanned if i.item == "100245") <= 5
        assert sum(i.quantity for i in one.scanned if i.item == "0077") <= 2


@given(st.lists(LINES.filter(lambda line: line not in ("UNDO", "", "C-1.R1", "C-2.R1")), max_size=12))
def test_that_as_many_undos_as_changes_on_a_cart_lead_back_to_nothing(lines: list[str]) -> None:
    facts, _ = scan("\n".join(["C-1.R1", *lines, *["UNDO"] * (len(lines) + 2)]))
    for one in facts.values():  # DONE was undone: the cart is only opened
        lines_left = (*one.sets, *one.missing, *one.stood_in, *one.counts, *one.scanned, *one.added)
        assert (one.done, lines_left) == (False, ())
    assert facts == {} or "DONE" in lines


@given(st.text(max_size=30))
def test_that_any_line_at_all_is_told_and_never_crashes(line: str) -> None:
    scan(f"C-1.R1\n{line}\nDONE")


def test_that_a_set_of_either_side_goes_to_the_line_of_its_side() -> None:
    plan = a_plan()
    left = plan.carts[1].trays[0]
    right = replace(left, need=replace(left.need, side=Side.RIGHT), copy=2, set_id="")
    plan = replace(plan, carts=(plan.carts[0], replace(plan.carts[1], trays=(replace(left, set_id=""), right))))
    reports = InMemory(the_book=replace(a_book(), plan=plan))
    session = sitting(reports)
    take_all(session, ["C-2.R1", "BY mk", "ANKLE-R", "ANKLE-L", "DONE"])
    assert session.problems == []
    assert {(one.copy, one.set_id) for one in reports.kept["C-2"].sets} == {(1, "ANKLE-L"), (2, "ANKLE-R")}
