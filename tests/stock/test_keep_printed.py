"""Printed lots stay with their lists, and the stock is none the worse for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.model.catalogue import Item, Lot
from picklist.model.expiry import Expiry
from picklist.model.needs import Need
from picklist.model.schedule import Case
from picklist.model.supply import Pick
from picklist.stock import StockResult, give_stock
from tests.patience import tries
from tests.stock.shelves import days_on, lot, needs_of, on, picked, site_with, want

THINGS = ("suture", "sponge")


def replan(lots: Iterable[Lot], cases: Iterable[Case], needs: Iterable[Need], printed: Iterable[Pick]) -> StockResult:
    site = site_with(lots, items=[Item(id="sponge", name="Sponge", keep_back=1)])
    return give_stock(site, needs_of(needs), tuple(cases), (), tuple(printed))


MORNING = [on("C1", "07:30"), on("C2", "09:00"), on("C3", "11:00"), on("C4", "13:00")]
TWO_LOTS = [lot("SOON", 4, "2027-01-31"), lot("LATE", 9, "2027-06-30")]


def test_that_one_cancelled_case_changes_one_other_cart_and_not_all_after_it() -> None:
    needs = [want(one.number, "2/0") for one in MORNING]
    before = replan(TWO_LOTS, MORNING, needs, ())
    assert picked(before) == {"C1 SOON": "2/0", "C2 SOON": "2/0", "C3 LATE": "2/0", "C4 LATE": "2/0"}
    after = replan(TWO_LOTS, MORNING[1:], needs[1:], before.picks)
    # The two that C1 leaves expire first and must be used today: by the cart that is built last.
    assert picked(after) == {"C2 SOON": "2/0", "C3 LATE": "2/0", "C4 SOON": "2/0"}
    assert picked(replan(TWO_LOTS, MORNING[1:], needs[1:], ())) == {
        "C2 SOON": "2/0",
        "C3 SOON": "2/0",
        "C4 LATE": "2/0",
    }


def test_that_a_case_that_moves_in_the_day_takes_its_lots_along() -> None:
    needs = [want(one.number, "2/0") for one in MORNING]
    before = replan(TWO_LOTS, MORNING, needs, ())
    moved = [on("C1", "17:00"), *MORNING[1:]]
    assert picked(replan(TWO_LOTS, moved, needs, before.picks)) == picked(before)


def test_that_a_list_that_changes_anyway_loses_its_lot_before_one_that_would_not() -> None:
    needs = [want(one.number, "2/0") for one in MORNING]
    before = replan(TWO_LOTS, MORNING, needs, ())
    with_sponge = [*needs[1:], want("C3", "1/0", "sponge")]
    lots = [*TWO_LOTS, lot("S", 5, "2027-01-31", item="sponge")]
    after = replan(lots, MORNING[1:], with_sponge, before.picks)
    assert picked(after) == {"C2 SOON": "2/0", "C3 SOON": "2/0", "C3 S": "1/0", "C4 LATE": "2/0"}


def test_that_a_printed_lot_goes_when_it_is_out_of_date_gone_or_another_expires_first() -> None:
    printed = [Pick(case="C1", item="suture", lot="L", place="A-1", expiry=None, open=1, hold=0)]
    need, case = [want("C1", "1/0")], [on("C1")]
    sooner = lot("SOONER", 1, "2027-01-31")
    assert picked(replan([lot("L", 5, "2026-11-20"), lot("M", 5, "2027-05-31")], case, need, printed)) == {
        "C1 M": "1/0"
    }
    assert picked(replan([lot("L", 0, "2027-05-31"), lot("M", 5, "2027-05-31")], case, need, printed)) == {
        "C1 M": "1/0"
    }
    assert picked(replan([lot("L", 5, "2027-05-31"), sooner], case, need, printed)) == {"C1 SOONER": "1/0"}
    equal = [lot("K", 1, "2027-05-31", "A-0"), lot("L", 5, "2027-05-31")]
    assert picked(replan(equal, case, need, ())) == {"C1 K": "1/0"}
    assert picked(replan(equal, case, need, printed)) == {"C1 L": "1/0"}


def test_that_two_lists_do_not_change_to_save_one_of_them_a_second_lot() -> None:
    """C2 has the new number C9 and would come after C3 now, whose line then needed one lot instead of two."""
    lots = [lot("SOON", 3, "2027-01-31"), lot("LATE", 9, "2027-06-30")]
    cases, needs = [on("C1", "07:30"), on("C2", "09:00"), on("C3", "09:00")], [1, 1, 2]
    before = replan(lots, cases, [want(c.number, f"{n}/0") for c, n in zip(cases, needs, strict=True)], ())
    assert picked(before) == {"C1 SOON": "1/0", "C2 SOON": "1/0", "C3 SOON": "1/0", "C3 LATE": "1/0"}
    renumbered = [cases[0], on("C9", "09:00"), cases[2]]
    now = [want(c.number, f"{n}/0") for c, n in zip(renumbered, needs, strict=True)]
    printed = [replace(p, case="C9") if p.case == "C2" else p for p in before.picks]
    assert picked(replan(lots, renumbered, now, ())) == {"C1 SOON": "1/0", "C3 SOON": "2/0", "C9 LATE": "1/0"}
    assert replan(lots, renumbered, now, printed).picks == tuple(sorted(printed, key=lambda p: p.case))


def test_that_no_list_stays_split_for_the_paper_s_sake() -> None:
    lots = [lot("SOON", 3, "2027-01-31"), lot("LATE", 9, "2027-06-30")]
    cases = [on("C1", "07:30"), on("C2", "09:00")]
    before = replan(lots, cases, [want("C1", "2/0"), want("C2", "2/0")], ())
    assert picked(before) == {"C1 SOON": "2/0", "C2 SOON": "1/0", "C2 LATE": "1/0"}
    after = replan(lots, cases, [want("C1", "1/0"), want("C2", "2/0")], before.picks)
    assert picked(after) == {"C1 SOON": "1/0", "C2 SOON": "2/0"}


@st.composite
def evenings(draw: st.DrawFn) -> tuple[list[Lot], list[Case], list[Need], list[Need]]:
    """Lots of two items, cases over two days, what they wanted when the lists were printed and what now."""
    ends: list[str | date] = ["never", "", *map(days_on, range(-1, 5))]
    expiries = st.sampled_from(ends)
    lots = [
        lot(
            f"L{n}",
            draw(st.integers(0, 6)),
            draw(expiries),
            f"A-{draw(st.integers(1, 3))}",
            draw(st.sampled_from(THINGS)),
        )
        for n in range(draw(st.integers(1, 7)))
    ]
    cases = [on(f"C{n}", f"{7 + n:02d}:30", draw(st.integers(0, 1))) for n in range(draw(st.integers(1, 6)))]
    amounts = st.tuples(st.integers(0, 3), st.integers(0, 2))
    then = {(c.number, thing): draw(amounts) for c in cases for thing in THINGS}
    now = then | {key: draw(amounts) for key in draw(st.lists(st.sampled_from(sorted(then)), max_size=3))}
    before, after = ([want(c, f"{o}/{h}", t) for (c, t), (o, h) in one.items()] for one in (then, now))
    return lots, cases, before, after


def by_expiry(result: StockResult, cases: Iterable[Case]) -> Counter[tuple[str, date, Expiry]]:
    days = {case.number: case.day for case in cases}
    count: Counter[tuple[str, date, Expiry]] = Counter()
    for pick in result.picks:
        count[pick.item, days[pick.case], pick.expiry] += pick.open + pick.hold
    return count


def splits(picks: Iterable[Pick]) -> int:
    """Picks beyond one for each line."""
    picks = list(picks)
    return len(picks) - len({(p.case, p.item, p.person) for p in picks})


def by_case(result: StockResult) -> Counter[tuple[str, str, str]]:
    count: Counter[tuple[str, str, str]] = Counter()
    for pick in result.picks:
        count[pick.case, pick.item, "open"] += pick.open
        count[pick.case, pick.item, "hold"] += pick.hold
    return +count


@settings(max_examples=tries(300))
@given(evenings())
def test_that_the_stock_is_none_the_worse_for_what_is_printed(
    evening: tuple[list[Lot], list[Case], list[Need], list[Need]],
) -> None:
    lots, cases, then, now = evening
    printed = replan(lots, cases, then, ()).picks
    today = {case.number for case in cases if case.day == days_on(0)}
    in_hand = [pick for pick in printed if pick.case in today]
    usual, kept = replan(lots, cases, now, ()), replan(lots, cases, now, in_hand)

    assert kept.shortages == usual.shortages
    assert by_case(kept) == by_case(usual)
    assert by_expiry(kept, cases) == by_expiry(usual, cases)
    on_paper = splits(in_hand)
    assert (
        len([p for p in kept.picks if p.case in today]) <= len([p for p in usual.picks if p.case in today]) + on_paper
    )
    drawn = Counter({one.lot: 0 for one in lots})
    for pick in kept.picks:
        drawn[pick.lot] += pick.open + pick.hold
        day = next(c.day for c in cases if c.number == pick.case)
        assert not isinstance(pick.expiry, date) or pick.expiry >= day
    assert all(drawn[one.lot] <= one.quantity for one in lots)
    assert replan(lots, cases, then, in_hand).picks == printed
