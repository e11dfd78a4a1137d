"""Random small evenings planned, then counted again and solved again by other means, from the sheets alone.

Each has a few cases in one or two buildings, sets on shelves, on loan, away, in use or out of
date, trays that stand in for each other, several sets for one case, trays on hold and
numbers to be kept ready.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from picklist.model.conflicts import BoundSet, Conflict, ConflictKind
from picklist.model.schedule import CaseStatus
from picklist.model.uses import Act, Pace, Reuse, Use
from picklist.sets.plan_sets import SetsPlan, plan_sets
from tests.patience import tries
from tests.sets.random_sites import Evening, random_evening
from tests.sets.recount import (
    CLEAN,
    RUSH,
    Back,
    Ledger,
    Served,
    Value,
    left_ready,
    lines_of,
    pools,
    soonest,
    under_floor,
    value_of,
)
from tests.sets.whole_program import best_levels, greatest_slack, levels_of

EVENINGS = range(tries(400, 60))
MOST = 600  # minutes of slack; what is more is not told apart
SMALL = 6  # uses: so many that every giving of sets can be tried


@dataclass(frozen=True, kw_only=True)
class Planned:
    """An evening with its plan, and the ledger in which it is counted again."""

    evening: Evening
    plan: SetsPlan
    ledger: Ledger
    served: Served

    @property
    def single(self) -> bool:
        """Whether each case wants one set, so that it is plain how late a set is that comes too late."""
        return len({use.case for use in self.evening.uses}) == len(self.evening.uses)

    @property
    def levels(self) -> list[int]:
        """What the plan is worth, level by level; minutes late and what comes after only where they are plain."""
        found = levels_of(self.value)
        return found if self.single else found[:7]

    @property
    def value(self) -> Value:
        return value_of(self.ledger, self.served)

    def before(self, use: Use) -> Use | None:
        """The use that has the set of a served use directly before it."""
        line = lines_of(self.ledger, self.served)[self.served[use.key]]
        at = line.index(use)
        return line[at - 1] if at else None

    def back(self, use: Use) -> Back:
        """When the set of a served use is there for it."""
        one, before = self.evening.site.sets[self.served[use.key]], self.before(use)
        found = self.ledger.again(one, before, use) if before else self.ledger.first(one, use)
        assert found is not None
        return found


@cache
def planned(seed: int) -> Planned:
    evening = random_evening(f"evening {seed}", cases=5, spare=int(seed % 4 == 3), several=seed % 2 == 0)
    plan = plan_sets(evening.site, evening.uses, evening.now, remedies=False)
    served = {one.use.key: one.set_id for one in plan.assignments if one.set_id}
    return Planned(evening=evening, plan=plan, ledger=Ledger(evening), served=served)


def test_that_the_evenings_have_of_everything() -> None:
    kinds = Counter(conflict.kind for seed in EVENINGS for conflict in planned(seed).plan.conflicts)
    assert all(kinds[kind] > tries(20, 1) for kind in ConflictKind if kind is not ConflictKind.QUEUE)
    evenings = [planned(seed) for seed in EVENINGS]
    assert sum(len(one.served) == len(one.evening.uses) for one in evenings) > tries(100, 12)
    assert sum(any(each.stand_in for each in one.plan.assignments) for one in evenings) > tries(40, 5)
    assert sum(any(use.copy > 1 for use in one.evening.uses) for one in evenings) > tries(100, 12)
    assert sum(len(one.evening.uses) <= SMALL for one in evenings) > tries(80, 10)


@pytest.mark.parametrize("seed", EVENINGS)
def test_no_giving_of_sets_is_better_than_the_plan_by_weight_service_rush_lateness_or_stand_ins(seed: int) -> None:
    one = planned(seed)
    assert best_levels(one.ledger, one.levels, one.served) == one.levels


@pytest.mark.parametrize("seed", EVENINGS)
def test_where_there_are_enough_sets_no_plan_leaves_more_to_the_closest_reuse(seed: int) -> None:
    one = planned(seed)
    if one.single and len(one.served) == len(one.evening.uses):
        smallest = one.value.smallest
        least = MOST if smallest is None else min(MOST, smallest)
        assert greatest_slack(one.ledger, one.levels, MOST) == least


@pytest.mark.parametrize("seed", EVENINGS)
def test_on_small_evenings_no_giving_of_sets_serves_more_of_all_that_there_are(seed: int) -> None:
    one = planned(seed)
    if len(one.evening.uses) <= SMALL:
        best = max(served_weight(one.ledger, served) for served in every_giving(one.ledger))
        assert served_weight(one.ledger, one.served) == best


def served_weight(ledger: Ledger, served: Served) -> tuple[int, ...]:
    """Weight and number of what is opened, then of what is on hold."""
    found = []
    for on_hold in (False, True):
        mine = [use for use in ledger.uses.values() if use.on_hold is on_hold]
        groups = {(use.case, use.tray): use.weight for use in mine}
        missing = {(use.case, use.tray) for use in mine if use.key not in served}
        weight = sum(weight for group, weight in groups.items() if group not in missing)
        found += [weight, sum(use.key in served for use in mine)]
    return tuple(found)


def every_giving(ledger: Ledger) -> Iterator[dict[str, str]]:
    """Every way to give sets to uses so that each is there in time, be it in a rush."""
    uses = list(ledger.uses.values())

    def go(at: int, last: dict[str, Use], served: dict[str, str]) -> Iterator[dict[str, str]]:
        if at == len(uses):
            yield served
            return
        use = uses[at]
        yield from go(at + 1, last, served)
        for one in ledger.site.sets.values():
            if ledger.preference(one, use) is None:
                continue
            back = ledger.again(one, last[one.id], use) if one.id in last else ledger.first(one, use)
            if back is not None and back.soonest <= ledger.need(use):
                yield from go(at + 1, last | {one.id: use}, served | {use.key: one.id})

    yield from go(0, {}, {})


@pytest.mark.parametrize("seed", EVENINGS)
def test_the_conflicts_are_those_that_the_recount_finds(seed: int) -> None:
    one = planned(seed)
    found = [(each.waiter, each.tray, each.kind.value, each.minutes) for each in one.plan.conflicts]
    again = list(recounted_conflicts(one))
    if not one.single:
        found, again = (
            [(case, tray, kind, 0 if kind == "short" else minutes) for case, tray, kind, minutes in each]
            for each in (found, again)
        )
    assert sorted(found) == sorted(again)


def recounted_conflicts(one: Planned) -> Iterator[tuple[str, str, str, int]]:
    """All conflicts but those of cases that have begun, for which nothing can be decided."""
    for conflict in all_conflicts(one):
        case = one.ledger.cases[conflict[0]]
        if conflict[2] == "reserve" or (case.status is not CaseStatus.RUNNING and case.start > one.evening.now):
            yield conflict


def all_conflicts(one: Planned) -> Iterator[tuple[str, str, str, int]]:
    for use in one.evening.uses:
        if use.key not in one.served:
            yield use.case, use.tray, "short", soonest(one.ledger, one.served, use)
            continue
        back, need = one.back(use), one.ledger.need(use)
        grade, slack = back.grade(need), need - back.usual
        given = one.evening.site.sets[one.served[use.key]].tray
        if grade != CLEAN:
            yield use.case, use.tray, "rush" if grade == RUSH else "conditional", -slack
        elif not back.there and slack < one.evening.site.settings.margin:
            yield use.case, use.tray, "tight", slack
        missing = under_floor(one.ledger, one.served, use, given) if given in pools(one.ledger, use) else 0
        if missing:
            floor = one.evening.site.trays[given].keep_ready
            yield use.case, given, "reserve", floor - left_ready(one.ledger, one.served, use, given)


@pytest.mark.parametrize("seed", EVENINGS)
def test_no_set_is_in_two_places_at_any_minute_and_each_is_there_when_it_is_needed(seed: int) -> None:
    one = planned(seed)
    ledger = one.ledger
    for set_id, line in lines_of(ledger, one.served).items():
        each = one.evening.site.sets[set_id]
        places = np.zeros(20 * 1440, dtype=np.int64)
        for use, following in pairwise([*line, None]):
            assert use is not None
            assert one.back(use).soonest <= ledger.need(use)
            places[ledger.need(use) : ledger.released(use.case, each.tray)] += 1
            if following is not None:
                back = one.back(following)
                on_hold = back.grade(ledger.need(following)) not in (CLEAN, RUSH)
                begins = back.unopened - 1 if on_hold else ledger.released(use.case, each.tray)
                places[begins : back.soonest] += 1
        assert places.max() <= 1


@pytest.mark.parametrize("seed", EVENINGS)
def test_each_reuse_says_the_minutes_of_the_walker(seed: int) -> None:
    one = planned(seed)
    for reuse in one.plan.reuses:
        use = one.ledger.uses[reuse.waiter_use]
        back = one.back(use)
        assert one.ledger.walker.minute(reuse.ready) == back.usual
        assert one.ledger.walker.minute(reuse.least_ready) == back.least
        assert reuse.slack == one.ledger.need(use) - back.usual
        if reuse.giver:
            check_last_minute(one, reuse, use)


def check_last_minute(one: Planned, reuse: Reuse, use: Use) -> None:
    """Out of the room at the deadline is in time, a minute later is not; the break-even leads to it."""
    each, ledger = one.evening.site.sets[reuse.set_id], one.ledger
    before = one.before(use)
    out = reuse.deadline_of(Act.OUT_OF_ROOM)
    assert out is not None
    if before is None:
        return  # a running case has it: counted in the ready times
    haul = ledger.released(before.case, each.tray) - ledger.walker.minute(before.leaves_room)
    for latest, pace in ((out.latest, Pace.USUAL), (out.last_resort, Pace.LEAST)):
        released = ledger.walker.minute(latest) + haul
        assert ledger.ready_at(each, before.case, use, released, pace) <= ledger.need(use)
        assert ledger.ready_at(each, before.case, use, released + 1, pace) > ledger.need(use)
    assert reuse.break_even == ledger.walker.minute(out.latest) - ledger.walker.minute(before.leaves_room)


@pytest.mark.parametrize("seed", EVENINGS)
def test_each_set_is_where_the_proof_says_until_the_time_that_it_says(seed: int) -> None:
    one = planned(seed)
    for conflict in one.plan.conflicts:
        if conflict.kind is ConflictKind.SHORT:
            check_proof(one, conflict)


def check_proof(one: Planned, conflict: Conflict) -> None:
    site, ledger, proof = one.evening.site, one.ledger, conflict.proof
    assert proof is not None
    use = next(each for each in one.evening.uses if each.key not in one.served and is_of(conflict, each))
    suitable = {each.id for each in site.sets.values() if ledger.preference(each, use) is not None}
    told = {bound.set_id: bound for bound in proof.sets}
    assert len(told) == len(proof.sets)
    assert suitable <= set(told)
    assert {each.id for each in site.sets.values() if each.tray == use.tray} <= set(told)
    instant = ledger.walker.minute(proof.instant)
    assert instant >= ledger.need(use)
    for set_id, bound in told.items():
        if set_id in suitable:
            check_bound(one, use, bound, instant)
        else:
            assert (bound.case, bound.until) == ("", None)
            assert bound.bound
    taken = {bound.case for bound in proof.sets if bound.case} | {use.case}
    assert set(proof.overlapping) == taken


def is_of(conflict: Conflict, use: Use) -> bool:
    copy = f"/{use.copy}" if use.copy > 1 else ""
    return conflict.id == f"{use.case}/{use.tray}{copy}"


def check_bound(one: Planned, use: Use, bound: BoundSet, instant: int) -> None:
    """The set is with the case said, on its way to being ready, or kept for a case that could not have it back."""
    ledger, each = one.ledger, one.evening.site.sets[bound.set_id]
    line = lines_of(ledger, one.served).get(each.id, [])
    if any(other.case == use.case for other in line):
        assert bound.case == use.case  # it has this one already, and wants another
        return
    taken = [other for other in line if ledger.need(other) <= instant]
    coming = [other for other in line if ledger.need(other) > instant]
    until = None if bound.until is None else ledger.walker.minute(bound.until)
    back = ledger.again(each, taken[-1], use) if taken else ledger.first(each, use)
    if back is None:
        return  # no way leads here, or none from where it is home
    if back.usual > instant:
        assert bound.case == (taken[-1].case if taken else each.in_case)
        assert until == back.usual
        return
    assert coming, f"{bound} is free for {use.key} and nobody else wants it"
    again = ledger.again(each, use, coming[0])
    assert bound.case == coming[0].case
    assert until == (again.usual if again else None)
    assert again is None or again.soonest > ledger.need(coming[0])
