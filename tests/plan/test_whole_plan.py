"""The sample evening whole: every printed time and quantity agrees with every other."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, datetime
from itertools import pairwise

import pytest

from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.model.plan import Plan, SundryLine
from picklist.model.site import Site
from picklist.model.uses import Act, Pace
from picklist.sets.turnaround import Turnaround
from picklist.tasks.read_folder import load_folder
from tests.board.days import HOSPITAL, NOW, sample_day


@pytest.fixture(scope="module")
def evening() -> tuple[Site, Plan]:
    loaded = load_folder(HOSPITAL, NOW)
    assert loaded.site is not None
    return loaded.site, sample_day()


def lines(plan: Plan) -> list[SundryLine]:
    return [one for c in plan.carts for one in c.goods]


def test_the_giving_cart_says_the_minute_of_the_reuse(evening: tuple[Site, Plan]) -> None:
    _, plan = evening
    reuses = {(one.giver, one.set_id): one for one in plan.reuses if one.giver}
    seen = 0
    for cart in plan.carts:
        for line in cart.trays:
            reuse = reuses.get((cart.case.number, line.set_id))
            assert (line.give_back is None) == (reuse is None)
            if reuse is None or line.give_back is None:
                continue
            seen += 1
            received = reuse.deadline_of(Act.INTO_DECONTAMINATION)
            left = reuse.deadline_of(Act.OUT_OF_ROOM)
            assert left is not None
            assert line.give_back.leave_room_by == left.latest
            assert line.give_back.reach_decontamination_by == (received or left).latest
            assert line.give_back.for_case == reuse.waiter
    assert seen > 20


def test_each_deadline_is_the_last_minute_that_is_in_time(evening: tuple[Site, Plan]) -> None:
    site, plan = evening
    turnaround = Turnaround(site)
    checked = 0
    for reuse in plan.reuses:
        received = reuse.deadline_of(Act.INTO_DECONTAMINATION)
        timed_route = turnaround.timed_route(reuse.tray, Pace.USUAL)
        if received is None or not reuse.giver or timed_route is None:
            continue
        checked += 1
        ready = timed_route.ready(received.latest)
        assert ready is not None
        assert ready <= reuse.needed
        after = timed_route.ready(datetime.fromtimestamp(received.latest.timestamp() + 60, tz=received.latest.tzinfo))
        assert after is None or after > reuse.needed
    assert checked > 20


def test_no_set_is_given_twice_within_its_turnaround(evening: tuple[Site, Plan]) -> None:
    site, plan = evening
    turnaround = Turnaround(site)
    known = {c.set_id for c in plan.conflicts}
    by_set = defaultdict(list)
    for assignment in plan.assignments:
        if assignment.set_id:
            by_set[assignment.set_id].append(assignment.use)
    passed = 0
    for set_id, uses in by_set.items():
        uses.sort(key=lambda use: use.needed)
        for first, second in pairwise(uses):
            passed += 1
            free = turnaround.free_after(first, site.sets[set_id].tray, Pace.USUAL)
            assert free is not None
            assert free <= second.needed or set_id in known, f"{set_id} for {first.case} and {second.case}"
    assert passed > 20


def test_what_is_picked_and_what_is_short_is_what_is_wanted(evening: tuple[Site, Plan]) -> None:
    _, plan = evening
    short = 0
    for line in lines(plan):
        assert sum(p.open for p in line.picks) + line.short_open == line.need.open
        assert sum(p.hold for p in line.picks) + line.short_hold == line.need.hold
        short += line.short_open + line.short_hold
    told = sum(case.open + case.hold for shortage in plan.shortages for case in shortage.lacking)
    assert short == told > 0


def test_no_lot_is_overdrawn_or_past_its_expiry(evening: tuple[Site, Plan]) -> None:
    site, plan = evening
    there = {(lot.item, lot.lot, lot.place): lot.quantity for lot in site.lots}
    taken: Counter[tuple[str, str, str]] = Counter()
    for line in lines(plan):
        for pick in line.picks:
            taken[pick.item, pick.lot, pick.place] += pick.open + pick.hold
            assert isinstance(pick.expiry, date)  # the sample records every expiry
            assert pick.expiry >= plan.day
    assert all(quantity <= there[lot] for lot, quantity in taken.items())


def test_the_plan_comes_back_from_its_json_as_it_was(evening: tuple[Site, Plan]) -> None:
    _, plan = evening
    text = plan_to_json(plan)
    assert plan_to_json(plan_from_json(text)) == text
