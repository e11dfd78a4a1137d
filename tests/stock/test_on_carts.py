"""What stands on a built cart is on no shelf any more, and is not picked a second time."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from picklist.model.supply import Pick
from picklist.stock import StockResult, give_stock
from tests.stock.shelves import lot, needs_of, on, site_with, want


def pick(case: str, lot_name: str, opened: int, held: int = 0) -> Pick:
    return Pick(case=case, item="suture", lot=lot_name, place="A-1", expiry=None, open=opened, hold=held)


def given(result: StockResult, case: str) -> list[tuple[str, int, int]]:
    return [(p.lot, p.open, p.hold) for p in result.picks if p.case == case]


def test_a_built_cart_keeps_its_lot_and_the_rest_of_the_shelf_serves_the_others() -> None:
    site = site_with([lot("OLD", 2), lot("NEW", 5)])
    cases = [on("C1", "07:00"), on("C2", "09:00")]
    needs = needs_of([want("C1", "2/0"), want("C2", "2/0")])
    # By the shelves alone the earlier case would take OLD.
    alone = give_stock(site, needs, cases)
    kept = give_stock(site, needs, cases, [pick("C2", "OLD", 2)])
    assert given(alone, "C1") != given(kept, "C1")
    assert given(kept, "C2") == [("OLD", 2, 0)]
    assert given(kept, "C1") == [("NEW", 2, 0)]
    assert not kept.shortages


def test_a_cart_that_wants_more_now_gets_only_the_difference() -> None:
    site = site_with([lot("L", 10)])
    needs = needs_of([want("C1", "3/1")])
    result = give_stock(site, needs, [on("C1")], [pick("C1", "L", 2)])
    assert sum(p.open for p in result.picks) == 3
    assert sum(p.hold for p in result.picks) == 1


def test_what_stands_on_a_cart_is_not_promised_to_another() -> None:
    site = site_with([lot("L", 3)])
    needs = needs_of([want("C1", "1/0"), want("C2", "1/0")])
    # C1 wanted three when its cart was built, and one now: two lie there until they are put back.
    result = give_stock(site, needs, [on("C1"), on("C2", "09:00")], [pick("C1", "L", 3)])
    assert given(result, "C1") == [("L", 1, 0)]
    assert [(short.lacking[0].case, short.lacking[0].open) for short in result.shortages] == [("C2", 1)]


def test_a_lot_that_was_counted_since_is_not_counted_twice() -> None:
    site = site_with([replace(lot("L", 1), quantity=1)])
    needs = needs_of([want("C1", "2/0")])
    result = give_stock(site, needs, [on("C1")], [pick("C1", "L", 2)])
    assert given(result, "C1") == [("L", 2, 0)]
    assert not result.shortages


def test_what_stands_on_a_cart_serves_one_line_after_the_other_and_each_piece_once() -> None:
    """The case wants two and two more of one suture; three stand on its cart, so that one more is fetched."""
    site = site_with([lot("L", 10)])
    needs = needs_of([want("C1", "2/0"), want("C1", "2/0"), want("C2", "6/0")])
    result = give_stock(site, needs, [on("C1"), on("C2", "09:00")], [pick("C1", "L", 3)])
    assert given(result, "C1") == [("L", 2, 0), ("L", 1, 0), ("L", 1, 0)]
    assert given(result, "C2") == [("L", 6, 0)]


def test_a_cart_that_took_more_than_its_place_holds_took_the_rest_from_the_lots_other_place() -> None:
    """Three of the lot are on the cart; two are left at A-1 and five at B-1, of which four can still be given."""
    site = site_with([lot("L", 5, place="B-1"), lot("L", 2, place="A-1")])
    needs = needs_of([want("C1", "3/0"), want("C2", "4/0")])
    result = give_stock(site, needs, [on("C1"), on("C2", "09:00")], [pick("C1", "L", 3)])
    assert given(result, "C2") == [("L", 4, 0)]
    assert not result.shortages
    one_more = needs_of([want("C1", "3/0"), want("C2", "5/0")])
    (short,) = give_stock(site, one_more, [on("C1"), on("C2", "09:00")], [pick("C1", "L", 3)]).shortages
    assert [(one.case, one.open) for one in short.lacking] == [("C2", 1)]


def test_a_lot_that_got_another_name_since_its_cart_was_built_holds_only_what_is_not_on_the_cart() -> None:
    """Two of LX are on the cart of C1; its row says LX-7 now, and still counts them. Another expiry is another lot."""
    needs = needs_of([want("C1", "2/0"), want("C2", "4/0")])
    cases, on_cart = [on("C1"), on("C2", "09:00")], replace(pick("C1", "LX", 2), expiry=date(2027, 3, 31))
    for expires, lacks in (("2027-03-31", 1), ("2028-03-31", 0)):
        shortages = give_stock(site_with([lot("LX-7", 5, expires)]), needs, cases, [on_cart]).shortages
        assert sum(one.open for short in shortages for one in short.lacking) == lacks


def test_a_lot_on_a_cart_is_known_again_when_its_letters_are_typed_large_or_small() -> None:
    site = site_with([lot("l24a", 3)])
    needs = needs_of([want("C1", "3/0"), want("C2", "1/0")])
    result = give_stock(site, needs, [on("C1"), on("C2", "09:00")], [pick("C1", "L24A", 3)])
    assert given(result, "C1") == [("L24A", 3, 0)]
    assert given(result, "C2") == []
    assert [short.lacking[0].case for short in result.shortages] == ["C2"]


def test_a_lot_on_a_cart_that_expires_before_the_case_by_its_row_now_serves_nobody() -> None:
    """OLD was on the shelf until 2030 when the cart was built; then its row is corrected: it ended in the spring."""
    site = site_with([lot("old", 5, date(2026, 4, 30)), lot("NEW", 5)])
    needs = needs_of([want("C1", "2/0")])
    on_cart = replace(pick("C1", "OLD", 2), expiry=date(2030, 1, 31))
    result = give_stock(site, needs, [on("C1")], [on_cart])
    assert given(result, "C1") == [("NEW", 2, 0)]
    (short,) = give_stock(replace(site, lots=site.lots[:1]), needs, [on("C1")], [on_cart]).shortages
    assert [(one.case, one.open) for one in short.lacking] == [("C1", 2)]


def test_lots_on_a_cart_stay_open_or_on_hold_as_its_list_has_them() -> None:
    """A1 is on hold and B2 to be opened; when both are to be opened, A1 is opened too."""
    site = site_with([lot("A1", 1), lot("B2", 1), lot("C3", 5)])
    on_cart = [pick("C1", "A1", 0, 1), pick("C1", "B2", 1)]
    result = give_stock(site, needs_of([want("C1", "1/1")]), [on("C1")], on_cart)
    assert sorted(given(result, "C1")) == [("A1", 0, 1), ("B2", 1, 0)]
    result = give_stock(site, needs_of([want("C1", "2/0")]), [on("C1")], on_cart)
    assert sorted(given(result, "C1")) == [("A1", 1, 0), ("B2", 1, 0)]
