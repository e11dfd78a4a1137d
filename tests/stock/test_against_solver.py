"""Served quantities against an independent integer program, and what must hold for any stock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import combinations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from picklist.model.catalogue import Item, Lot
from picklist.model.expiry import Expiry
from picklist.model.needs import Need
from picklist.model.schedule import Case
from picklist.stock import StockResult
from tests.patience import tries
from tests.stock.shelves import days_on, give, lot, on, want

DAYS = 3


@dataclass(frozen=True)
class Shop:
    """Lots, cases and what each case wants of one item."""

    lots: tuple[Lot, ...]
    cases: tuple[Case, ...]
    needs: tuple[Need, ...]
    keep_back: int
    last_day_counts: bool

    def give(self) -> StockResult:
        kept = Item(id="suture", name="Suture", keep_back=self.keep_back)
        return give(self.lots, self.cases, self.needs, items=[kept], expiry_day_counts=self.last_day_counts)

    def usable(self, one: Lot, day: date) -> bool:
        return not isinstance(one.expiry, date) or one.expiry > day or (self.last_day_counts and one.expiry == day)


def rank(expiry: Expiry) -> date:
    """When a lot's turn comes: on its last day, then what lasts for ever, then what nobody recorded."""
    if isinstance(expiry, date):
        return expiry
    return date(9998, 1, 1) if expiry else date(9999, 1, 1)


@st.composite
def shops(draw: st.DrawFn) -> Shop:
    ends: list[str | date] = ["never", "", *map(days_on, range(-1, DAYS + 1))]
    lots = tuple(
        lot(f"L{number}", draw(st.integers(0, 4)), draw(st.sampled_from(ends)))
        for number in range(draw(st.integers(0, 3)))
    )
    cases = tuple(
        on(f"C{number}", f"{8 + number:02d}:00", draw(st.integers(0, DAYS - 1)), priority=draw(st.integers(1, 2)))
        for number in range(draw(st.integers(1, 4)))
    )
    needs = tuple(want(one.number, f"{draw(st.integers(0, 3))}/{draw(st.integers(0, 2))}") for one in cases)
    return Shop(lots, cases, needs, draw(st.integers(0, 2)), draw(st.booleans()))


def served_by_program(shop: Shop) -> dict[tuple[str, str], int]:
    """The best served quantities by an integer program that knows nothing of lots in order.

    Classes come day by day, open before hold, greater priority, earlier start; each weighs more than
    all after it together. A day may only be served down to what is kept back of what is usable on it.
    """
    cases = {one.number: one for one in shop.cases}
    wanted = [(need.case, part) for need in shop.needs for part in ("open", "hold")]
    limits = [amount for need in shop.needs for amount in (need.open, need.hold)]
    rank = sorted(
        range(len(wanted)),
        key=lambda i: (
            cases[wanted[i][0]].day,
            wanted[i][1] != "open",
            -cases[wanted[i][0]].priority,
            cases[wanted[i][0]].start,
        ),
    )
    weight = {index: 4.0 ** (len(rank) - place) for place, index in enumerate(rank)}
    draws = [(lot_at, index) for lot_at in range(len(shop.lots)) for index in range(len(wanted))]
    size = len(draws) + DAYS  # the last ones say whether a day is served at all

    rows, lows, highs = [], [], []

    def limit(terms: dict[int, float], low: float, high: float) -> None:
        dense = np.zeros(size)
        for column, value in terms.items():
            dense[column] = value
        rows.append(dense)
        lows.append(low)
        highs.append(high)

    for lot_at, one in enumerate(shop.lots):
        limit({c: 1 for c, (at, _) in enumerate(draws) if at == lot_at}, 0, one.quantity)
    for index, most in enumerate(limits):
        limit({c: 1 for c, (_, of) in enumerate(draws) if of == index}, 0, most)
    for day_at in range(DAYS):
        day, big = days_on(day_at), 100
        fit = {at for at, one in enumerate(shop.lots) if shop.usable(one, day)}
        there = sum(shop.lots[at].quantity for at in fit)
        until = {c: 1.0 for c, (at, of) in enumerate(draws) if at in fit and cases[wanted[of][0]].day <= day}
        today = {c: 1.0 for c, (_, of) in enumerate(draws) if cases[wanted[of][0]].day == day}
        gate = len(draws) + day_at
        limit(today | {gate: -big}, -np.inf, 0)
        limit(until | {gate: big}, -np.inf, there - shop.keep_back + big)
    upper = np.full(size, np.inf)
    upper[len(draws) :] = 1
    for column, (at, of) in enumerate(draws):
        if not shop.usable(shop.lots[at], cases[wanted[of][0]].day):
            upper[column] = 0
    best = milp(
        c=np.array([-weight[of] for _, of in draws] + [0.0] * DAYS),
        constraints=LinearConstraint(np.array(rows), np.array(lows), np.array(highs)),
        integrality=np.ones(size),
        bounds=Bounds(0, upper),
        options={"mip_rel_gap": 0},
    )
    assert best.success
    served = dict.fromkeys(wanted, 0)
    for (_, of), quantity in zip(draws, best.x, strict=False):
        served[wanted[of]] += round(quantity)
    return served


def served(shop: Shop, result: StockResult) -> dict[tuple[str, str], int]:
    found = {(need.case, part): 0 for need in shop.needs for part in ("open", "hold")}
    for pick in result.picks:
        found[pick.case, "open"] += pick.open
        found[pick.case, "hold"] += pick.hold
    return found


@settings(max_examples=tries(150))
@given(shops())
def test_that_no_other_giving_serves_more(shop: Shop) -> None:
    assert served(shop, shop.give()) == served_by_program(shop)


@given(shops())
def test_that_served_and_lacking_make_up_what_was_wanted(shop: Shop) -> None:
    result = shop.give()
    total = served(shop, result)
    for shortage in result.shortages:
        for short in shortage.lacking:
            total[short.case, "open"] += short.open
            total[short.case, "hold"] += short.hold
    wanted = {(n.case, part): amount for n in shop.needs for part, amount in (("open", n.open), ("hold", n.hold))}
    assert total == wanted


@given(shops())
def test_that_no_lot_is_overdrawn_or_past_its_expiry(shop: Shop) -> None:
    days = {one.number: one.day for one in shop.cases}
    by_name = {one.lot: one for one in shop.lots}
    drawn = dict.fromkeys(by_name, 0)
    for pick in shop.give().picks:
        assert pick.open + pick.hold > 0
        assert shop.usable(by_name[pick.lot], days[pick.case])
        assert pick.expiry == by_name[pick.lot].expiry
        drawn[pick.lot] += pick.open + pick.hold
    assert all(drawn[name] <= one.quantity for name, one in by_name.items())


@given(shops())
def test_that_nothing_that_expires_sooner_is_left_behind(shop: Shop) -> None:
    days = {one.number: one.day for one in shop.cases}
    result = shop.give()
    left = {one.lot: one.quantity for one in shop.lots}
    for pick in result.picks:
        left[pick.lot] -= pick.open + pick.hold
    for pick in result.picks:
        sooner = [o for o in shop.lots if left[o.lot] and rank(o.expiry) < rank(pick.expiry)]
        assert not any(shop.usable(one, days[pick.case]) for one in sooner)


@given(shops())
def test_that_what_is_kept_back_stays_on_the_shelf(shop: Shop) -> None:
    days = {one.number: one.day for one in shop.cases}
    result = shop.give()
    for served_day in {days[pick.case] for pick in result.picks}:
        there = {one.lot: one.quantity for one in shop.lots if shop.usable(one, served_day)}
        for pick in result.picks:
            if pick.lot in there and days[pick.case] <= served_day:
                there[pick.lot] -= pick.open + pick.hold
        assert sum(there.values()) >= shop.keep_back


@given(st.lists(st.integers(1, 6), min_size=1, max_size=5), st.data())
def test_that_a_case_takes_from_as_few_lots_of_one_expiry_as_it_can(sizes: list[int], data: st.DataObject) -> None:
    asked = data.draw(st.integers(1, sum(sizes)))
    lots = [lot(f"L{number}", size, "2027-01-31") for number, size in enumerate(sizes)]
    result = give(lots, [on("C1")], [want("C1", f"{asked}/0")])
    fewest = next(
        count for count in range(1, len(sizes) + 1) if any(sum(c) >= asked for c in combinations(sizes, count))
    )
    assert len(result.picks) == fewest
