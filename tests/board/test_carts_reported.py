"""The board, the evening's first page and Tonight say of a cart in the same words how far it is."""

from __future__ import annotations

from picklist.documents.board.page import board_html
from picklist.documents.board.view import BoardView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import printing_of
from picklist.model.built import BuiltCart, TrayToCome
from picklist.model.known import CartReport, Known
from picklist.tasks.shown import cover
from picklist.wording.say_carts import reports_on
from tests.documents.carts import DAY, local
from tests.documents.findings import rich_plan

WAITS = "built, waits for HIPA-02 (Thu 26 Nov 06:00)"


def reports(counts: int = 1) -> dict[str, CartReport]:
    """C-1041 is built and waits for a tray, C-1047 is built and done, C-1060 is started."""
    to_come = TrayToCome(tray="T-HIPA", copy=1, set_id="HIPA-02", expected=local("06:00"))
    built = {
        "C-1041": told("C-1041", done=True, to_come=(to_come,)),
        "C-1047": told("C-1047", done=True),
        "C-1060": told("C-1060", done=False),
    }
    return reports_on(
        Known(built=built, revisions=dict.fromkeys(built, counts), decided={}), rich_plan().settings.site_clock
    )


def told(case: str, **more: object) -> BuiltCart:
    return BuiltCart(day=DAY, case=case, revision=1, at=local("19:30", -1), by="mk", **more)  # type: ignore[arg-type]


def test_the_three_say_the_same_of_every_cart() -> None:
    plan, said = rich_plan(), reports()
    sheet = EveningView(Lookup(plan), lambda _case: printing_of(plan), said)
    board = BoardView(plan, said)
    page = cover(plan, said)
    expected = {"C-1041": WAITS, "C-1047": "built", "C-1060": "started"}
    assert {one.case: one.state for one in sheet.carts if one.state} == expected
    assert {one.number: one.state for one in board.cases if one.state} == expected
    assert {one.case: one.state for one in page.carts if one.state} == expected
    labels = {bar.number: bar.label for room in board.rooms for bar in room.bars}
    assert all(labels[case].endswith(f"; cart {state}") for case, state in expected.items())


def test_only_a_cart_that_waits_for_nothing_counts_as_built() -> None:
    plan, said = rich_plan(), reports()
    bars = {bar.number: bar.cart for room in BoardView(plan, said).rooms for bar in room.bars}
    assert (bars["C-1041"], bars["C-1047"], bars["C-1060"], bars["C-1050"]) == ("started", "built", "started", "")
    for counts in (BoardView(plan, said).counts, cover(plan, said).counts):
        assert "1 built" in counts
        assert "to finish" in counts


def test_a_cart_built_from_a_list_that_was_replaced_is_not_finished_and_says_so() -> None:
    said = reports(counts=2)["C-1047"]
    assert said.state == "built; list 2 is new, its changes are not reported as made"
    assert not said.finished


def test_a_board_of_which_nothing_was_reported_has_no_mark_and_no_words_for_it() -> None:
    html = board_html(rich_plan())
    assert 'class="how' not in html
    assert "to build" not in BoardView(rich_plan()).counts
    assert html.count('<i class="how') < board_html(rich_plan(), reports()).count('<i class="how')
