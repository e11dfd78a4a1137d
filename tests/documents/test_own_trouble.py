"""A list and the evening sheet mark a cart only where that cart lacks or risks something: the sample's day, changed."""

from __future__ import annotations

import pytest

from picklist.documents.views.evening_sheet import evening
from picklist.documents.views.lookup import look_up
from picklist.documents.views.pick_list import pick_list
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.tray_rows import Strip, TrayRow
from picklist.model.conflicts import ConflictKind
from picklist.model.plan import Cart
from tests.documents.test_one_ready_time import SEEDS, seeded_day

KINDS = {kind.value.upper() for kind in ConflictKind}


def rows(seed: int, cart: Cart) -> tuple[TrayRow, ...]:
    plan = seeded_day(seed)
    return pick_list(look_up(plan), cart, printing_of(plan)).trays


def strips(row: TrayRow, word: str) -> list[Strip]:
    return [strip for strip in row.strips if strip.word == word]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_conflict_marks_the_cart_that_waits_and_no_other(seed: int) -> None:
    plan = seeded_day(seed)
    marks = {row.case: set(row.marks) for row in evening(look_up(plan), lambda _: printing_of(plan)).carts}
    seen = 0
    for cart in plan.carts:
        own = {one.kind.value for one in plan.conflicts if one.waiter == cart.case.number}
        on_list = {strip.word.lower() for row in rows(seed, cart) for strip in row.strips if strip.word in KINDS}
        assert on_list == own, cart.case.number
        assert marks[cart.case.number] & {kind.value for kind in ConflictKind} == own
        seen += len(own)
    assert seen


@pytest.mark.parametrize("seed", SEEDS)
def test_the_cart_whose_set_another_goes_without_says_to_send_it_out_at_once(seed: int) -> None:
    plan = seeded_day(seed)
    short = [one for one in plan.conflicts if one.kind is ConflictKind.SHORT and one.set_id and one.proof]
    carts = {cart.case.number: cart for cart in plan.carts}
    for one in short:
        holders = [bound.case for bound in one.proof.sets if bound.set_id == one.set_id] if one.proof else []
        for holder in set(holders) & carts.keys() - {one.waiter}:
            (row,) = (row for row in rows(seed, carts[holder]) if row.set_id == one.set_id)
            said = [strip.text for strip in strips(row, "NEEDED NEXT")]
            assert any(one.waiter in text and "Send it out at once" in text for text in said)
    assert short


def test_both_lists_of_a_tray_on_hold_say_what_to_do_unopened_and_opened() -> None:
    # C-4125 holds VASC-01, ready 14:55 if opened; C-4131 needs it by 12:00. Unopened it may leave as late as 11:45.
    plan = seeded_day(0)
    held = [one for one in plan.conflicts if one.kind is ConflictKind.CONDITIONAL]
    assert held
    carts = {cart.case.number: cart for cart in plan.carts}
    for one in held:
        (giver,) = one.givers
        for number, word in ((giver, "NEEDED NEXT"), (one.waiter, "COMING")):
            (row,) = (row for row in rows(0, carts[number]) if row.set_id == one.set_id)
            texts = [strip.text for strip in strips(row, word)]
            assert any("Unopened: send back by " in text and ", fine. Opened: too late" in text for text in texts)
