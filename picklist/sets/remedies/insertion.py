"""A quick look: whether moved uses fit between what the sets of the plan already serve.

When they do, with the margin on both sides, the change helps; when they do not, it may still
help by giving the sets out anew, which only planning the part again can tell.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from picklist.clock import shift
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Pace, Use
from picklist.sets.proof import suitable_sets
from picklist.sets.remedies.evening import Evening, Part
from picklist.sets.states import ready_for


class Insertion:
    """The plan's sets as lines in time, into which uses may be put."""

    def __init__(self, evening: Evening) -> None:
        self.evening = evening
        self.lines: dict[Part, dict[str, list[Use]]] = {}
        for part, plan in evening.plans.items():
            line: defaultdict[str, list[Use]] = defaultdict(list)
            for service in plan.services:
                line[service.one.id].append(service.use)
            self.lines[part] = dict(line)
        self._free: dict[tuple[Use, str, str, str], datetime | None] = {}

    def fits(self, uses: Iterable[Use], without: frozenset[str]) -> bool:
        """Whether all the uses find a set once the cases ``without`` have given up theirs."""
        added: defaultdict[str, list[Use]] = defaultdict(list)
        return all(self._put(use, without, added) for use in sorted(uses, key=lambda one: (one.needed, one.key)))

    def _put(self, use: Use, without: frozenset[str], added: defaultdict[str, list[Use]]) -> bool:
        part = self.evening.situation.part_of[use.tray]
        plan = self.evening.plans.get(part)
        if plan is None:
            return False
        for one in suitable_sets(self.evening.situation, plan, use):
            kept = [other for other in self.lines[part].get(one.id, ()) if other.case not in without]
            line = sorted([*kept, *added[one.id]], key=lambda other: other.needed)
            if self._fits_between(part, one, line, use):
                added[one.id].append(use)
                return True
        return False

    def _fits_between(self, part: Part, one: InstrumentSet, line: list[Use], use: Use) -> bool:
        margin = self.evening.situation.site.settings.margin
        before = [other for other in line if other.needed <= use.needed]
        after = [other for other in line if other.needed > use.needed]
        home = self.evening.plans[part].states[one.id].home
        if before:
            ready = self._free_after(before[-1], one.tray, home, use.building)
            if ready is None or shift(ready, margin) > use.needed:
                return False
        else:
            state = self.evening.plans[part].states[one.id]
            first = ready_for(self.evening.situation.turnaround, state, use)
            if first is None or (first > use.needed if state.on_shelf else shift(first, margin) > use.needed):
                return False
        if not after:
            return True
        back = self._free_after(use, one.tray, home, after[0].building)
        return back is not None and shift(back, margin) <= after[0].needed

    def _free_after(self, use: Use, tray: str, home: str, building: str) -> datetime | None:
        key = (use, tray, home, building)
        if key not in self._free:
            self._free[key] = self.evening.situation.turnaround.free_after(use, tray, Pace.USUAL, home, building)
        return self._free[key]
