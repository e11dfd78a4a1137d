"""Look for what removes a queue conflict: each change is judged by the department's run, as the conflict was found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import islice

from picklist.clock import minutes_between, shift
from picklist.model.conflicts import Cluster, Conflict, ConflictKind, Edit, Remedy, RemedyKind, each_conflict
from picklist.model.department import DepartmentRun
from picklist.model.schedule import Case
from picklist.plan.queue_check import QueueCheck
from picklist.sets.allocate_group import Service
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.remedies.cost import make_remedy
from picklist.sets.remedies.find import choose_shown, with_chance, with_queue
from picklist.sets.remedies.search import Search, move
from picklist.sets.remedies.trial import TrialResult, Trials
from picklist.wording.say_remedies import searched_words

MOST_RUNS = 60  # of the department, for one conflict
MOST_STARTS = 8  # of one case, each way
MOST_OTHERS = 4  # cases whose sets are in the same queue


def add_queue_remedies(
    trials: Trials, check: QueueCheck, clusters: Iterable[Cluster], one_more: Callable[[], None] = lambda: None
) -> tuple[Cluster, ...]:
    """Add to each queue conflict of the clusters what removes it, least disturbing first.

    ``one_more`` is called after each of them.
    """

    def sought(one: Conflict) -> Conflict:
        if one.kind is not ConflictKind.QUEUE:
            return one
        found = _with_remedies(trials, check, one)
        one_more()
        return found

    return each_conflict(clusters, sought)


def _with_remedies(trials: Trials, check: QueueCheck, conflict: Conflict) -> Conflict:
    planned = trials.planned
    service = next((one for one in _services(trials, conflict.waiter) if one.one.id == conflict.set_id), None)
    if service is None or service.use.starts <= planned.context.now:
        return conflict
    search = _QueueSearch(trials, check, conflict, service)
    made = [search.remedy(verdict) for verdict in search.found()]
    remedies = [one for one in made if one.until is None or one.until >= planned.context.now]
    shown = choose_shown(remedies)
    more = len(remedies) - len(shown)
    return replace(
        conflict,
        remedies=tuple(with_chance(trials, with_queue(trials, one), service.use.key) for one in shown),
        decide_by=max((one.until for one in shown if one.until is not None), default=conflict.decide_by),
        searched=search.searched(more),
    )


def _services(trials: Trials, case: str) -> Iterator[Service]:
    for plan in trials.planned.plans.values():
        yield from (one for one in plan.services if one.use.case == case)


class _QueueSearch:
    """The changes that may remove one queue conflict, and what becomes of it with each."""

    def __init__(self, trials: Trials, check: QueueCheck, conflict: Conflict, service: Service) -> None:
        self.trials, self.check, self.conflict, self.service = trials, check, conflict, service
        self.planned = trials.planned
        self.target = FoundConflict(kind=ConflictKind.QUEUE, use=service.use, minutes=conflict.minutes)
        self.search = Search(trials, self.target)
        self.runs = 0

    def found(self) -> list[TrialResult]:
        """All that was found: single changes to the tray, then to cases, the least of each case and way."""
        found = [verdict for edit in self._to_the_tray() if (verdict := self._removes(edit))]
        for case in self._cases():
            for later in (True, False):
                found += self._first(self._moves(case, later=later))
        swaps = (edit for edit, _ in self.search.swaps_of({self.conflict.waiter}))
        return [*found, *(verdict for edit in swaps if (verdict := self._removes(edit)))]

    def remedy(self, verdict: TrialResult) -> Remedy:
        """A change that helps as a remedy of this conflict."""
        made = make_remedy(self.trials, verdict, self.target)
        return replace(made, removes=(self.conflict.id, *made.removes))

    def searched(self, more: int) -> str:
        """What a reader must know about the search."""
        return searched_words(more, None, cut_short=self.runs >= MOST_RUNS)

    def _removes(self, edit: Edit) -> TrialResult | None:
        """The result where the set is in time in the queue, and nothing is new or worse there or in the plan."""
        verdict = self.trials.harms_nothing((edit,)) if self.runs < MOST_RUNS else None
        if verdict is None:
            return None
        self.runs += 1
        late = self.check.leaves_late(verdict.edited, self.conflict)
        return None if late or not self.check.allows(verdict.edited) else verdict

    def _first(self, edits: Iterable[Edit]) -> list[TrialResult]:
        return list(islice((verdict for edit in edits if (verdict := self._removes(edit))), 1))

    def _to_the_tray(self) -> Iterator[Edit]:
        yield from self.search.edits_of_the_tray()
        use, late = self.service.use, self.conflict.minutes
        comes = shift(use.needed, late)
        if comes <= use.starts:
            yield Edit(kind=RemedyKind.DIRECT, case=use.case, tray=use.tray, start=use.starts)
        elif comes < use.ends:
            yield Edit(kind=RemedyKind.ACCEPT, case=use.case, tray=use.tray, start=comes)

    def _cases(self) -> list[Case]:
        """The case that waits, the one that gives the set, and those whose sets stand before it in the queue."""
        numbers = [*self.conflict.cases, *_ahead(self.check.run, self.conflict)[:MOST_OTHERS]]
        cases = [self.planned.cases[number] for number in dict.fromkeys(numbers) if number in self.planned.cases]
        return [case for case in cases if case.may_move]

    def _moves(self, case: Case, *, later: bool) -> Iterator[Edit]:
        """The nearest starts in its room, then in others; the case that waits goes later by what it lacks at least.

        At its own start, before earlier ones, only into other buildings: in its own another room changes no way.
        """
        starts, others = self.trials.starts_of(case), self.search.other_rooms_than(case.room)
        least = self.conflict.minutes if case.number == self.conflict.waiter and later else 1
        far = (room for room in others if self.trials.building(room) != self.trials.building(case.room))
        free = (room for room in far if not later and case.start in starts.allowed(room))
        yield from (move(case, case.start, room) for room in islice(free, 2))
        for rooms in ((case.room,), others):
            near = (
                start
                for start in starts.nearest_first(rooms)
                if (start > case.start) is later and abs(minutes_between(case.start, start)) >= least
            )
            for start in islice(near, MOST_STARTS if rooms == (case.room,) else 2):
                room = next(room for room in rooms if start in starts.allowed(room))
                yield move(case, start, room)


def _ahead(run: DepartmentRun, conflict: Conflict) -> list[str]:
    """Cases that sent a set through the station to blame while the set in conflict waited there, the last one first."""
    mine = next((one for one in run.runs if (one.set_id, one.for_case) == (conflict.set_id, conflict.waiter)), None)
    if mine is None or not conflict.blame:
        return []
    here = [step for step in mine.steps if step.station == conflict.blame and step.queued > 0]
    found = [
        (step.begins, way.from_case)
        for way in run.runs
        for step in way.steps
        if way.from_case and way is not mine and step.station == conflict.blame
        if any(shift(one.begins, -one.queued) < step.ends and step.begins <= one.begins for one in here)
    ]
    return list(dict.fromkeys(case for _, case in sorted(found, reverse=True)))
