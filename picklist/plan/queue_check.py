"""See what a remedy does to the department's queue: none is shown that makes another set late there."""

from __future__ import annotations

from datetime import datetime

from picklist.department import late_by_queue
from picklist.model.department import DepartmentRun
from picklist.model.site import Site
from picklist.model.uses import Assignment
from picklist.sets.allocate_group import assignments_of
from picklist.sets.remedies.planned_day import Edited, PlannedDay
from picklist.sets.try_change import with_edits

MOST_RUNS = 150  # of a whole plan; what is tried after that is not said to make no new conflict


class QueueCheck:
    """Runs the department again for edits of a planned day, by the rule and the held loads of its own run."""

    def __init__(self, site: Site, planned: PlannedDay, run: DepartmentRun, now: datetime) -> None:
        self.site, self.planned, self.run, self.now = site, planned, run, now
        self.before = self._late(planned)
        self._known: dict[object, bool] = {}
        self._runs = 0

    def __call__(self, edited: Edited) -> bool | None:
        """Whether no set is late in the queue that was not, or later than it was; None where it was not run again."""
        key = (edited.scenario, tuple(sorted(edited.groups)))
        if key not in self._known:
            if self._runs == MOST_RUNS:
                return None
            self._runs += 1
            after = self._late(with_edits(self.planned, edited))
            self._known[key] = all(minutes <= self.before.get(one, 0) for one, minutes in after.items())
        return self._known[key]

    def _late(self, planned: PlannedDay) -> dict[tuple[str, str], int]:
        given: list[Assignment] = [one for plan in planned.plans.values() for one in assignments_of(plan)]
        given.sort(key=lambda one: (one.use.needed, one.use.key))
        return late_by_queue(self.site, given, self.now, self.run, planned.context.turnaround.calendar)
