"""A card that says something else from a later day on: both values are shown, and both can be changed."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from picklist.upkeep.approval import apply_approval
from picklist.upkeep.change_log import cards_state
from picklist.upkeep.effect import describe_effect, find_effect
from picklist.upkeep.office_compare import Comparison
from picklist.upkeep.proposals import approve_proposal, describe_proposal, keep_proposal, waiting_proposals
from tests.upkeep.clinic import DAY, NOW, QUILL, approval, change, item, read_clinic, vane, wanted
from tests.upkeep.office import (
    fill_in,
    kinds_of,
    returned,
    save_as_csv,
    send,
    take_back,
    write,
)

JANUARY, SPRING = date(2027, 1, 4), date(2027, 3, 1)


@pytest.fixture
def coming_book(clinic: Path, tmp_path: Path) -> Path:
    """Quill has 1 of 100007; 3 are approved from January on. A workbook is made today."""
    approved = approval(QUILL, change(clinic, QUILL, "100007", item("100007", 3)), effective=JANUARY)
    assert apply_approval(clinic, approved, now=NOW).done
    return send(clinic, tmp_path / "coming.xlsx")


def rows_of(sheet: Any, thing: str) -> list[int]:
    """The rows in which a thing stands, today's first."""
    return [n for n in range(6, sheet.max_row + 1) if f"({thing})" in str(sheet.cell(n, 2).value)]


def change_one(book: Path, nth: int, **cells: Any) -> Path:
    return fill_in(book, lambda sheet: write(sheet, rows_of(sheet, "100007")[nth], **cells))


def approve(clinic: Path, comparison: Comparison, effective: date) -> list[str]:
    """Approve all that is proposed; the kinds of what was refused."""
    made = approve_proposal(comparison.proposal, vane(effective, reason="agreed"))
    return [problem.kind for problem in apply_approval(clinic, made, now=NOW).problems]


def amounts(clinic: Path, *days: date) -> list[int]:
    return [wanted(clinic, QUILL, day=day)["100007"][0] for day in days]


def test_that_the_workbook_shows_todays_and_the_coming_value(coming_book: Path) -> None:
    sheet = openpyxl.load_workbook(coming_book)["KNEE"]
    found = [[sheet.cell(n, column).value for column in (3, 4, 7)] for n in rows_of(sheet, "100007")]
    assert found == [[1, 0, None], [3, 0, "from Mon 4 Jan 2027"]]
    for row in rows_of(sheet, "100007"):
        assert not sheet.cell(row, 3).protection.locked


def test_that_a_workbook_left_alone_changes_nothing(clinic: Path, coming_book: Path, tmp_path: Path) -> None:
    for path in (coming_book, save_as_csv(coming_book, tmp_path / "one.csv")):
        comparison = take_back(clinic, path)
        assert not comparison.proposal.changes
        assert not comparison.problems


@pytest.mark.parametrize(
    ("nth", "effective", "today", "december", "january"),
    [
        (0, DAY, 5, 5, 3),  # today's value: until January
        (0, date(2026, 12, 1), 1, 5, 3),
        (1, DAY, 1, 1, 5),  # the coming value, approved today: from January on, and not before
        (1, JANUARY, 1, 1, 5),
        (1, SPRING, 1, 1, 3),  # approved from the spring on: January's value counts until then
    ],
)
def test_that_each_value_is_changed_apart_from_the_other(
    clinic: Path, coming_book: Path, nth: int, effective: date, today: int, december: int, january: int
) -> None:
    comparison = take_back(clinic, change_one(coming_book, nth, open=5))
    assert not comparison.problems
    assert not approve(clinic, comparison, effective)
    assert amounts(clinic, DAY, date(2026, 12, 15), date(2027, 1, 20)) == [today, december, january]
    if effective == SPRING:
        assert amounts(clinic, SPRING) == [5]


def test_that_both_are_changed_at_once(clinic: Path, coming_book: Path) -> None:
    change_one(coming_book, 0, open=2)
    comparison = take_back(clinic, change_one(coming_book, 1, open=4))
    assert [(one.begins, one.after.open) for one in comparison.proposal.changes if one.after] == [
        (None, 2),
        (JANUARY, 4),
    ]
    assert not approve(clinic, comparison, DAY)
    assert amounts(clinic, DAY, date(2027, 1, 3), JANUARY) == [2, 2, 4]


def test_that_a_coming_value_can_be_dropped(clinic: Path, coming_book: Path) -> None:
    comparison = take_back(clinic, change_one(coming_book, 1, word="no longer"))
    assert not approve(clinic, comparison, DAY)
    assert amounts(clinic, DAY) == [1]
    assert "100007" not in wanted(clinic, QUILL, day=JANUARY)


def test_that_a_thing_that_only_comes_can_be_changed(clinic: Path, tmp_path: Path) -> None:
    approved = approval(QUILL, change(clinic, QUILL, "100008", item("100008", 1)), effective=JANUARY)
    apply_approval(clinic, approved, now=NOW)
    book = send(clinic, tmp_path / "coming.xlsx")
    fill_in(book, lambda sheet: write(sheet, rows_of(sheet, "100008")[0], open=2))
    comparison = take_back(clinic, book)
    assert not comparison.problems
    assert not approve(clinic, comparison, DAY)
    assert "100008" not in wanted(clinic, QUILL)
    assert wanted(clinic, QUILL, day=JANUARY)["100008"] == (2, 0)


def test_that_todays_value_approved_too_late_names_the_way_out(clinic: Path, coming_book: Path) -> None:
    """The change was meant for the time until January; from January on there is nothing of it to change."""
    comparison = take_back(clinic, change_one(coming_book, 0, open=5))
    made = approve_proposal(comparison.proposal, vane(SPRING, reason="agreed"))
    (problem,) = apply_approval(clinic, made, now=NOW).problems
    assert problem.kind == "clash"
    assert "a day before Mon 4 Jan 2027" in problem.expected
    assert amounts(clinic, DAY, JANUARY) == [1, 3]


def test_that_a_coming_value_changed_here_and_there_is_a_clash(clinic: Path, coming_book: Path) -> None:
    other = take_back(clinic, change_one(send(clinic, coming_book.with_name("other.xlsx")), 1, open=9))
    approve(clinic, other, DAY)
    assert kinds_of(take_back(clinic, change_one(coming_book, 1, open=5))) == ["clash"]


def test_that_a_proposal_keeps_and_tells_its_days(clinic: Path, coming_book: Path) -> None:
    proposal = take_back(clinic, change_one(coming_book, 1, open=5)).proposal
    with cards_state(clinic) as state, state.writing() as db:
        keep_proposal(db, proposal)
        assert waiting_proposals(db) == {proposal.id: proposal}
    assert "[from Mon 4 Jan 2027 on]" in "\n".join(describe_proposal(read_clinic(clinic), proposal))
    assert returned(coming_book).stamp.rows


def test_that_the_effect_of_a_coming_value_counts_from_its_day(clinic: Path, coming_book: Path) -> None:
    """The clinic's case is today: what counts from January on changes no cart of it."""
    site = read_clinic(clinic)
    proposal = take_back(clinic, change_one(coming_book, 1, open=5)).proposal
    effect = find_effect(site, proposal.owner, proposal.changes, DAY)
    assert not effect.carts
    assert not effect.void


def test_that_a_changed_note_is_told_with_the_cart(clinic: Path, coming_book: Path) -> None:
    site = read_clinic(clinic)
    proposal = take_back(clinic, change_one(coming_book, 0, note="the blue ones")).proposal
    effect = find_effect(site, proposal.owner, proposal.changes, DAY)
    (cart,) = effect.carts
    assert [one.notes for one in cart.changes] == [("", "the blue ones")]
    assert 'no note -> "the blue ones"' in describe_effect(site, effect)[0]
