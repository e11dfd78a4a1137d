"""See what a remedy does to the whole plan: to the department's queue, and to the chance of failing."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from picklist.clock import shift
from picklist.department import ChanceAfter, late_by_queue
from picklist.model.conflicts import ChanceLeft, Conflict
from picklist.model.department import DepartmentRun
from picklist.model.site import Site
from picklist.model.uses import Assignment, Use
from picklist.sets.allocate_group import assignments_of
from picklist.sets.remedies.planned_day import Edited, PlannedDay
from picklist.sets.try_change import with_edits
from picklist.sets.turnaround import Turnaround

Waiting = tuple[str, str]  # a set and the case that waits for it


class QueueCheck:
    """Runs the department again for edits of a planned day, with the held loads of its own run.

    ``chances``: tells what chance of failing is left; None where none is drawn. ``queued``: the conflicts of its run.
    """

    def __init__(
        self,
        site: Site,
        planned: PlannedDay,
        run: DepartmentRun,
        now: datetime,
        chances: ChanceAfter | None = None,
        queued: Iterable[Conflict] = (),
    ) -> None:
        self.planned, self.run, self.now, self.chances, self.queued = planned, run, now, chances, tuple(queued)
        self.turnaround = Turnaround(site, planned.context.turnaround.calendar)
        self.before = self._late(planned)
        self._after: dict[object, dict[Waiting, int]] = {}

    def allows(self, edited: Edited) -> bool:
        """Whether no set is late in the queue that was not, or later than it was, and none of a case that changes."""
        return all(
            minutes <= max(0, 0 if one[1] in edited.touched else self.before.get(one, 0))
            for one, minutes in self.late_after(edited).items()
        )

    def leaves_late(self, edited: Edited, conflict: Conflict) -> bool:
        """Whether a set of the tray of a queue conflict is still late for the case that waits."""
        sets = {one.id for one in self.planned.context.sets_of.get(conflict.tray, ())}
        late = self.late_after(edited).items()
        return any(case == conflict.waiter and set_id in sets and minutes > 0 for (set_id, case), minutes in late)

    def removes(self, edited: Edited) -> tuple[Conflict, ...]:
        """The queue conflicts that go with edits."""
        return tuple(one for one in self.queued if not self.leaves_late(edited, one))

    def ready(self, edited: Edited, set_id: str, use: Use) -> datetime | None:
        """When a set is ready for a use in the queue after edits; None where the run says nothing of it."""
        late = self.late_after(edited).get((set_id, use.case))
        return None if late is None else shift(use.needed, late)

    def late_after(self, edited: Edited) -> dict[Waiting, int]:
        """The minutes by which sets are late in the queue after edits, negative: to spare."""
        key = _key(edited)
        if key not in self._after:
            self._after[key] = self._late(with_edits(self.planned, edited))
        return self._after[key]

    def chance_left(self, edited: Edited, use: str) -> ChanceLeft | None:
        """The chance of failing that edits leave to a use, by its key; None where nothing is left to chance."""
        return self.chances(with_edits(self.planned, edited), use) if self.chances else None

    def _late(self, planned: PlannedDay) -> dict[Waiting, int]:
        given: list[Assignment] = [one for plan in planned.plans.values() for one in assignments_of(plan)]
        given.sort(key=lambda one: (one.use.needed, one.use.key))
        return late_by_queue(self.turnaround, given, self.now, self.run)


def _key(edited: Edited) -> object:
    return edited.scenario, tuple(sorted(edited.groups))
