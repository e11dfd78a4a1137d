"""The best giving of sets as one integer program per evening, put another way than the program puts it.

A column says that a set serves a use. Two uses exclude each other on a set when it cannot be
back from the first for the second. What a set had directly before a use is never a column: it
follows from who has the set in between. All times come from the recount.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from picklist.model.uses import Use
from tests.sets.recount import (
    CLEAN,
    RUSH,
    UNOPENED,
    Back,
    Ledger,
    Served,
    Value,
    in_order_of_claim,
    never_wait,
    pools,
    standing,
    stands,
)
from tests.sets.walker import NEVER

Terms = dict[int, float]
Floats = NDArray[np.float64]


@dataclass
class Program:
    """Columns between 0 and an upper bound, rows of the form ``terms >= low``."""

    upper: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[tuple[Terms, float]] = field(default_factory=list)

    def column(self, upper: float = 1, *, whole: bool = False) -> int:
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.upper) - 1

    def at_least(self, terms: Mapping[int, float], low: float) -> None:
        self.rows.append((dict(terms), low))

    def least(self, goal: Mapping[int, float]) -> float:
        """The least that a goal can be."""
        costs = np.zeros(len(self.upper))
        for column, cost in goal.items():
            costs[column] = cost
        matrix = np.zeros((len(self.rows), len(self.upper)))
        for at, (terms, _) in enumerate(self.rows):
            for column, factor in terms.items():
                matrix[at, column] = factor
        lows = np.array([low for _, low in self.rows])
        found = self._solve(costs, matrix, lows, presolve=True)
        if found is None:
            found = self._solve(costs, matrix, lows, presolve=False)  # its presolve can stumble over held goals
        assert found is not None
        return found

    def _solve(self, costs: Floats, matrix: Floats, lows: Floats, *, presolve: bool) -> float | None:
        found = milp(
            costs,
            constraints=LinearConstraint(matrix, lb=lows),
            integrality=np.array(self.whole),
            bounds=Bounds(0, np.array(self.upper)),
            options={"mip_rel_gap": 0, "presolve": presolve},
        )
        return None if found.fun is None else float(found.fun)


class WholeProgram:
    """The program of one evening: its columns and its goals."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger, self.program = ledger, Program()
        self.uses = list(ledger.uses.values())
        self.gives: dict[tuple[str, str], int] = {}  # (use, set) to its column
        self.preferences: Terms = {}
        for use in self.uses:
            for one in ledger.site.sets.values():
                preference, back = ledger.preference(one, use), ledger.first(one, use)
                if preference is not None and back is not None and back.grade(ledger.need(use)) is not None:
                    column = self.program.column(whole=True)
                    self.gives[use.key, one.id] = column
                    self.preferences[column] = preference
        self.served = {use.key: self._once(use) for use in self.uses}
        self.pairs_to = {use.key: list(self._pairs_to(use)) for use in self.uses}
        self._exclude()

    def _once(self, use: Use) -> int:
        """The column that says whether a use is served: by one set at the most."""
        served = self.program.column()
        mine = {column: 1.0 for (key, _), column in self.gives.items() if key == use.key}
        self.program.at_least({**mine, served: -1}, 0)
        self.program.at_least(dict.fromkeys(mine, -1), -1)
        if not mine:
            self.program.upper[served] = 0
        return served

    def _pairs_to(self, taker: Use) -> Iterator[tuple[Use, str, Back]]:
        """Every use and set that could come before a use, with when the set would be back from it."""
        for giver in self._earlier(taker):
            for one in self.ledger.site.sets.values():
                if (giver.key, one.id) in self.gives and (taker.key, one.id) in self.gives:
                    yield giver, one.id, self.ledger.again(one, giver, taker) or Back(usual=NEVER, least=NEVER)

    def _firsts_to(self, taker: Use) -> Iterator[tuple[str, Back]]:
        """Every set that could come to a use as it stands."""
        for key, one in self.gives:
            first = self.ledger.first(self.ledger.site.sets[one], taker) if key == taker.key else None
            if first is not None:
                yield one, first

    def _exclude(self) -> None:
        for taker in self.uses:
            for giver, one, back in self.pairs_to[taker.key]:
                if back.grade(self.ledger.need(taker)) is None:
                    both = {self.gives[giver.key, one]: -1.0, self.gives[taker.key, one]: -1.0}
                    self.program.at_least(both, -1)

    def _between(self, giver: Use | None, taker: Use, one: str) -> list[int]:
        """The columns of the uses that could have the set before a use, and after the giver if there is one."""
        earlier = list(self._earlier(taker))
        keys = [use.key for use in earlier[earlier.index(giver) + 1 if giver else 0 :]]
        return [self.gives[key, one] for key in keys if (key, one) in self.gives]

    def _hold_up(self, column: int, worth: float, giver: Use | None, taker: Use, one: str) -> None:
        """Hold a column up to a worth when a set comes directly from a use (None: as it stands) to another."""
        terms = dict.fromkeys(self._between(giver, taker, one), worth)
        terms |= {column: 1.0, self.gives[taker.key, one]: -worth}
        if giver is not None:
            terms[self.gives[giver.key, one]] = -worth
        self.program.at_least(terms, -worth if giver else 0)

    def _ways_to(self, taker: Use) -> Iterator[tuple[Use | None, str, Back]]:
        for one, first in self._firsts_to(taker):
            yield None, one, first
        yield from self.pairs_to[taker.key]

    def groups(self, *, on_hold: bool) -> Terms:
        """Weights of the cases and trays that are served in full, of the uses that are on hold or of the others."""
        goal: Terms = {}
        mine = [use for use in self.uses if use.on_hold is on_hold]
        for case, tray in dict.fromkeys((use.case, use.tray) for use in mine):
            group = [use for use in mine if (use.case, use.tray) == (case, tray)]
            full = self.program.column(whole=True)
            for use in group:
                self.program.at_least({self.served[use.key]: 1, full: -1}, 0)
            goal[full] = -group[0].weight
        return goal

    def number(self, *, on_hold: bool) -> Terms:
        """How many uses are served."""
        return {self.served[use.key]: -1.0 for use in self.uses if use.on_hold is on_hold}

    def hanging(self) -> Terms:
        """The uses that get their set in a rush or unopened."""
        goal: Terms = {}
        for use in self.uses:
            column = self.program.column()
            goal[column] = 1
            for giver, one, back in self._ways_to(use):
                if back.grade(self.ledger.need(use)) in (RUSH, UNOPENED):
                    self._hold_up(column, 1, giver, use, one)
        return goal

    def _earlier(self, use: Use) -> Sequence[Use]:
        return self.uses[: self.uses.index(use)]

    def lateness(self) -> Terms:
        """Minutes late of the uses that go without."""
        return {column: late for use in self.uses for column, late in self._waits(use).items()}

    def close(self) -> Terms:
        """Minutes late by usual minutes of the uses that get their set in a rush or unopened."""
        goal: Terms = {}
        for use in self.uses:
            need, late = self.ledger.need(use), self.program.column(30 * 1440)
            goal[late] = 1
            for giver, one, back in self._ways_to(use):
                if back.grade(need) in (RUSH, UNOPENED):
                    self._hold_up(late, float(back.usual - need), giver, use, one)
        return goal

    def early(self) -> Terms:
        """Stand-ins, each weighed by the claim of its use."""
        claims = {use.key: rank for rank, use in enumerate(reversed(in_order_of_claim(self.ledger)), start=1)}
        return {column: claims[key] * self.preferences[column] for (key, _), column in self.gives.items()}

    def _waits(self, use: Use) -> Terms:
        """One column for each way in which a use that goes without can wait; one of them is taken."""
        ledger, ways = self.ledger, {self.program.column(): float(never_wait(self.ledger, use))}
        for one in ledger.site.sets.values():
            if ledger.preference(one, use) is None:
                continue
            givers: list[Use | None] = [
                each for each in self.uses if each is not use and (each.key, one.id) in self.gives
            ]
            for giver in [None, *givers]:
                back = ledger.again(one, giver, use) if giver else ledger.first(one, use)
                late = ledger.lateness(one, use, back)
                if late is not None:
                    way = self.program.column()
                    ways[way] = float(late)
                    if giver:
                        self.program.at_least({self.gives[giver.key, one.id]: 1, way: -1}, 0)
                    for other in self._taken_between(giver, use, one.id):
                        self.program.at_least({self.gives[other.key, one.id]: -1, way: -1}, -1)
        self.program.at_least({**dict.fromkeys(ways, 1.0), self.served[use.key]: 1}, 1)
        return ways

    def _taken_between(self, giver: Use | None, use: Use, one: str) -> Iterator[Use]:
        """The uses by whose need a set is no longer free for another use when it is back from a giver."""
        at = self.uses.index(giver) if giver else -1
        for other in self.uses[at + 1 :]:
            if other is not use and self.ledger.need(other) <= self.ledger.need(use) and (other.key, one) in self.gives:
                yield other

    def floors(self) -> Terms:
        """Sets missing to the kept-ready numbers, summed over the needs of the uses that the tray may serve."""
        goal: Terms = {}
        for moment in self.uses:
            for tray in pools(self.ledger, moment):
                floor = self.ledger.site.trays[tray].keep_ready
                if floor:
                    missing = self.program.column(100)
                    goal[missing] = 1
                    owned = [one for one in self.ledger.site.sets.values() if one.tray == tray]
                    owned = [one for one in owned if stands(self.ledger, one, moment)]
                    free = max(0, standing(self.ledger, moment, tray) - floor)
                    out = {self._out(one.id, moment): -1.0 for one in owned}
                    self.program.at_least({**out, missing: 1}, -free)
        return goal

    def _out(self, one: str, moment: Use) -> int:
        """The column that says that a set is with a use, or on its way back, at the need of another."""
        need, out = self.ledger.need(moment), self.program.column()
        taken = [use for use in self.uses if self.ledger.need(use) <= need and (use.key, one) in self.gives]
        for at, use in enumerate(taken):
            if self.ledger.home_again(self.ledger.site.sets[one], use) > need:
                later = [self.gives[other.key, one] for other in taken[at + 1 :]]
                self.program.at_least({out: 1, self.gives[use.key, one]: -1} | dict.fromkeys(later, 1.0), 0)
        return out

    def hold(self, goal: Terms, value: int) -> None:
        """From now on a goal is no worse than a value, but for the solver's own rounding."""
        self.program.at_least({column: -factor for column, factor in goal.items()}, -value - 0.001)

    def closeness(self, most: int) -> Terms:
        """``most`` less the smallest slack of the sets that come by usual minutes, at least 0."""
        close = self.program.column(most)
        for use in self.uses:
            need = self.ledger.need(use)
            for giver, one, back in self._ways_to(use):
                if back.grade(need) == CLEAN and not back.there and need - back.usual < most:
                    self._hold_up(close, float(most - (need - back.usual)), giver, use, one)
        return {close: 1}


Goal = Callable[[WholeProgram], Terms]
GOALS: tuple[Goal, ...] = (
    lambda whole: whole.groups(on_hold=False),
    lambda whole: whole.number(on_hold=False),
    lambda whole: whole.groups(on_hold=True),
    lambda whole: whole.number(on_hold=True),
    WholeProgram.hanging,
    lambda whole: dict.fromkeys((column for column, preference in whole.preferences.items() if preference), 1.0),
    lambda whole: whole.preferences,
    WholeProgram.lateness,
)
LOWER: tuple[Goal, ...] = (WholeProgram.early, WholeProgram.floors, WholeProgram.close)


def best_levels(ledger: Ledger, found: Sequence[int], served: Served) -> list[int]:
    """The best by each level as ``levels_of`` gives them, one after the other, down to the first that beats ``found``.

    A level that cannot be less anyway is not asked for. After the lateness it is settled who is served:
    a use without a set that could have one, with all that start before it as they are, beats ``found``.
    """
    whole, best = WholeProgram(ledger), list[int]()
    for make_goal, value in zip(GOALS, found, strict=False):
        _add_best(whole, make_goal(whole), value, best)
        if best[-1] != value:
            return best
    if len(found) <= len(GOALS):
        return best
    for use in in_order_of_claim(ledger):
        mine = {whole.served[use.key]: -1.0}
        if use.key not in served and round(whole.program.least(mine)):
            return best
        whole.hold(mine, -int(use.key in served))
    for make_goal, value in zip(LOWER, found[len(GOALS) :], strict=True):
        _add_best(whole, make_goal(whole), value, best)
        if best[-1] != value:
            return best
    return best


def _add_best(whole: WholeProgram, goal: Terms, value: int, best: list[int]) -> None:
    bound = sum(min(0, factor) * whole.program.upper[column] for column, factor in goal.items())
    best.append(value if value == bound else round(whole.program.least(goal)))
    whole.hold(goal, value)


def greatest_slack(ledger: Ledger, found: Sequence[int], most: int) -> int:
    """The greatest smallest slack, up to ``most``, of all plans that serve everyone and are worth ``found``."""
    whole = WholeProgram(ledger)
    for make_goal, value in zip((*GOALS, *LOWER), found, strict=True):
        whole.hold(make_goal(whole), value)
    return most - round(whole.program.least(whole.closeness(most)))


def levels_of(value: Value) -> list[int]:
    """A value as numbers that are the better the less they are, the gravest first."""
    return [
        *(-one for one in value.serving),
        *(value.hanging, value.stand_ins, value.preference, value.late),
        *(value.early, value.under, value.close),
    ]
