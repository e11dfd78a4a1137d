"""The change sheet says what to put on and take off, for revisions that the comparison made."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pypdfium2

from picklist.documents.views.change_sheet import ChangesView, change_sheet
from picklist.documents.views.lookup import look_up
from picklist.documents.write_plan import PrintOrder, write_plan
from picklist.evening.changes import PlanChange
from picklist.evening.compare import compare_plans
from picklist.model.plan import Plan
from tests.documents.findings import rich_plan


def next_revision() -> tuple[Plan, PlanChange]:
    """One cart loses an item and gains a set, one is cancelled, one is new, the rest stays."""
    old = rich_plan()
    long, stopped, short, _, waiting = old.carts
    tray = replace(short.trays[0], set_id="BASIC-07", place_now="shelf T-9-01")
    changed = replace(short, trays=(tray,), sundries=short.sundries[1:])
    added = replace(waiting, case=replace(waiting.case, number="C-1099", room="OR 7", surgeon="S-NEW"))
    carts = (long, stopped, changed, waiting, added)
    new = replace(old, carts=carts, revision=3, replaces=2)
    return new, compare_plans(old, new)


def view() -> ChangesView:
    new, change = next_revision()
    return change_sheet(look_up(new), change)


def test_that_only_carts_that_change_have_a_block() -> None:
    assert [(one.case, one.kind) for one in view().carts] == [
        ("C-1060", "CHANGED"), ("C-1099", "NEW"), ("C-1070", "CANCELLED"),
    ]  # fmt: skip
    assert view().counts == "1 changed · 1 new · 1 cancelled · 3 keep their list"


def test_that_a_changed_cart_says_what_goes_on_and_where_things_go_back() -> None:
    changed = view().carts[0]
    assert [(row.quantity, row.which, row.place) for row in changed.add] == [("1", "BASIC-07", "from shelf T-9-01")]
    off = {row.which: row for row in changed.take_off}
    assert set(off) == {"BASIC-01", "I-101 L4100"}
    assert off["BASIC-01"].place == "to T-2-04"
    assert off["I-101 L4100"].place == "to the cart of C-1099"
    assert changed.revision == "revision 3, replaces revision 2"


def test_that_a_cancelled_cart_gives_a_put_back_list() -> None:
    cancelled = view().carts[2]
    assert "put everything back" in cancelled.say
    assert {row.which for row in cancelled.take_off} == {"X-#1", "+1 @L"}


def test_that_a_new_cart_does_not_repeat_its_list() -> None:
    assert view().carts[1].say.startswith("A new cart: its whole list is printed")
    assert all(" the cart of " in row.place for row in view().carts[1].add)


def test_that_the_sheet_is_printed_with_the_evening(tmp_path: Path) -> None:
    new, change = next_revision()
    written = write_plan(new, tmp_path / "out", PrintOrder(change=change))
    assert "changes.pdf" in written.files
    with pypdfium2.PdfDocument(tmp_path / "out" / "changes.pdf") as document:
        text = document[0].get_textpage().get_text_bounded()
    assert "Take off and put back" in text
    assert "BASIC-07" in text


def test_that_a_first_evening_has_no_change_sheet(tmp_path: Path) -> None:
    plan = rich_plan()
    written = write_plan(plan, tmp_path / "out", PrintOrder(change=compare_plans(None, plan)))
    assert "changes.pdf" not in written.files
