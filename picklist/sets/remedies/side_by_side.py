"""Remedies of all conflicts, tray group by tray group: much work is done side by side, in processes of their own.

The groups are searched each for itself, so that it makes no difference to what is found how many do it, and who.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from queue import Empty, SimpleQueue
from typing import NamedTuple

from picklist.garbage import no_search_for_garbage
from picklist.grouping import grouped
from picklist.model.conflicts import Conflict
from picklist.own_process import EndedError, OwnProcess, answer_all, processes, worth_having
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.remedies.find import with_remedies
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.trial import Trials, WholePlan

WORTH_STARTING = 3_000  # of ``_Group.work``: some seconds; a process starts in one


class Sought(NamedTuple):
    """A conflict of the plan, and the figures that it was found by."""

    conflict: Conflict
    found: FoundConflict


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """The conflicts of a tray group, and how many uses it has."""

    sought: list[Sought]
    uses: int

    @property
    def work(self) -> int:
        """Roughly in proportion to the time that the search takes."""
        return len(self.sought) * self.uses**2


@dataclass(frozen=True, slots=True)
class _Shared:
    """What all groups are searched on."""

    planned: PlannedDay
    whole: WholePlan | None

    def groups(self, wanted: Iterable[Sought]) -> list[_Group]:
        """The conflicts by tray group, the group with the most work first."""
        by_group = grouped((self.planned.context.group_of[one.found.use.tray], one) for one in wanted)
        uses = self.planned.scenario.uses_in
        groups = [_Group(sought=sought, uses=len(uses(group))) for group, sought in by_group.items()]
        return sorted(groups, key=lambda group: -group.work)


def all_with_remedies(
    planned: PlannedDay,
    whole: WholePlan | None,
    wanted: Iterable[Sought],
    one_more: Callable[[], None] = lambda: None,
    workers: int = 0,
) -> list[Conflict]:
    """The conflicts with their remedies; ``one_more`` is called after each.

    ``workers`` 0 takes one process for each processor where there is much to do. What a process that was ended from
    outside has left is sought here.
    """
    shared = _Shared(planned, whole)
    groups = shared.groups(wanted)
    is_much = sum(group.work for group in groups) >= WORTH_STARTING
    workers = min(workers or worth_having(), len(groups)) if is_much else 1
    count, found = workers if workers > 1 else 0, []
    with processes(count, partial(_Seeker, pickle.dumps(shared) if count else b"")) as running:
        for conflict in _by_processes(running, groups) if running else _here(shared, groups):
            found.append(conflict)
            one_more()
        left = {one.conflict.id for group in groups for one in group.sought} - {one.id for one in found}
        for conflict in _here(shared, _only(groups, left)):
            found.append(conflict)
            one_more()
    return found


def _here(shared: _Shared, groups: Iterable[_Group]) -> Iterator[Conflict]:
    for group in groups:
        trials = Trials(shared.planned, shared.whole)
        for one in group.sought:
            yield with_remedies(trials, one.conflict, one.found)


def _only(groups: Iterable[_Group], left: set[str]) -> list[_Group]:
    """The groups in which a conflict is left, each with those alone."""
    of_each = [(group, [one for one in group.sought if one.conflict.id in left]) for group in groups]
    return [_Group(sought=sought, uses=group.uses) for group, sought in of_each if sought]


class _Seeker(OwnProcess):
    """A process that seeks the remedies of one group after the other."""

    def __init__(self, shared: bytes) -> None:
        super().__init__(__name__)
        self._shared = shared

    def seek(self, groups: SimpleQueue[_Group], found: SimpleQueue[Conflict | None]) -> None:
        """Seek until no group is left, or the process has ended; None says so."""
        try:
            with suppress(EndedError, OSError, Empty):
                self.ask(self._shared)
                while True:
                    for number, one in enumerate(groups.get_nowait().sought):
                        found.put(pickle.loads(self.ask(pickle.dumps((number == 0, one)))))
        finally:
            found.put(None)


def _by_processes(running: Sequence[_Seeker], groups: Iterable[_Group]) -> Iterator[Conflict]:
    """The conflicts as their remedies are found, until the processes have no more to do or have ended."""
    waiting: SimpleQueue[_Group] = SimpleQueue()
    found: SimpleQueue[Conflict | None] = SimpleQueue()
    for group in groups:
        waiting.put(group)
    pool = ThreadPoolExecutor(len(running))
    try:
        for one in running:
            pool.submit(one.seek, waiting, found)
        ended = 0
        while ended < len(running):
            conflict = found.get()
            if conflict is None:
                ended += 1
            else:
                yield conflict
    finally:
        pool.shutdown(wait=False)


def serve() -> None:
    """Seek the remedies of the conflicts that come in, until no more do; what they are sought on comes first."""
    with no_search_for_garbage():  # it takes a seventh of the time, and what a search leaves goes by itself
        answer_all(_Answers().answer)


class _Answers:
    """Answers one message after the other in a process of its own."""

    def __init__(self) -> None:
        self._shared: _Shared | None = None
        self._trials: Trials | None = None

    def answer(self, message: bytes) -> bytes:
        """What was made of a message: what all is searched on, or a conflict and whether its group is another one."""
        asked = pickle.loads(message)
        if isinstance(asked, _Shared):
            self._shared = asked
            return b"known"
        anew, one = asked
        assert self._shared
        if anew or self._trials is None:
            self._trials = Trials(self._shared.planned, self._shared.whole)
        return pickle.dumps(with_remedies(self._trials, one.conflict, one.found))
