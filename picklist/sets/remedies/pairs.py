"""Search for two moves together where no single change helps: nearest first, up to a limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import combinations, islice

from picklist.clock import minutes_between, shift
from picklist.model.conflicts import Edit, RemedyKind
from picklist.model.schedule import Case
from picklist.sets.calendar import instant_of
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.remedies.other_rooms import closing, opening, wheels
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.starts import Starts, on_grid
from picklist.sets.remedies.trial import Move, TrialResult, Trials

MOST_LOOKED_AT = 400  # pairs for one conflict
_ENOUGH = 3
_STARTS_PER_CASE = 8
_WISHES_PER_CASE = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    """One move of a pair and the minutes by which it moves."""

    edit: Edit
    minutes: int
    move: Move


class Pairs:
    """Looks for two moves that remove a conflict together. ``looked_at`` counts the pairs."""

    def __init__(self, trials: Trials, target: FoundConflict, cases: Sequence[Case]) -> None:
        self.trials = trials
        self.planned = trials.planned
        self.target = target
        self.cases = cases
        self.looked_at = 0
        self._freed: dict[tuple[str, str], frozenset[datetime]] = {}

    def found(self) -> list[TrialResult]:
        """Pairs that help: a move with one that makes room for it, then two moves that each stand alone."""
        verdicts: list[TrialResult] = []
        for pair in self._in_turn():
            self.looked_at += 1
            if self._may_help(pair):
                verdict = self.trials.helps(self.target, tuple(one.edit for one in pair))
                verdicts += [verdict] if verdict else []
            if len(verdicts) == _ENOUGH or self.looked_at == MOST_LOOKED_AT:
                break
        return verdicts

    def _may_help(self, pair: tuple[_Candidate, _Candidate]) -> bool:
        if not self.trials.moves_may_help(self.target, [one.move for one in pair]):
            return False
        stay = all(self.trials.building(one.move[0].room) == one.move[2] for one in pair)
        return not stay or self.trials.gone_may_help(self.target, frozenset(one.edit.case for one in pair))

    def _in_turn(self) -> Iterator[tuple[_Candidate, _Candidate]]:
        yield from _nearest_first(self._with_room_made())
        yield from _nearest_first(self._both_alone())

    def _with_room_made(self) -> Iterator[tuple[_Candidate, _Candidate]]:
        """A case where only another is in its way, and that one elsewhere."""
        for case in self.cases:
            if self.trials.without_may_help(self.target, (case.number,)):
                for start in islice(self._wishes(case), _WISHES_PER_CASE):
                    yield from self._give_way(case, start)

    def _wishes(self, case: Case) -> Iterator[datetime]:
        """Starts in its room that would help but are not free, nearest first."""
        starts = self.trials.starts_of(case)
        lead = minutes_between(wheels(self.planned, case)[0], case.start)
        first, last = (
            shift(moment, lead)
            for moment in (opening(self.planned, case), shift(closing(self.planned, case), -case.minutes))
        )
        building = self.trials.building(case.room)
        for start in starts.by_distance(set(map(instant_of, on_grid(first, last))) - starts.allowed(case.room)):
            if self.trials.moves_may_help(self.target, [(case, start, building)]):
                yield start

    def _give_way(self, case: Case, start: datetime) -> Iterator[tuple[_Candidate, _Candidate]]:
        placed = replace(case, start=start)
        moved = self.planned.with_cases({**self.planned.cases, case.number: placed})
        for other in self._movable_in_room(case):
            if start in self._if_gone(case, other):
                for given in self._starts(moved, other):
                    yield self._candidate(case, start, case.room), self._candidate(other, *given)

    def _movable_in_room(self, case: Case) -> list[Case]:
        return [one for one in self.planned.in_room(case) if one.number != case.number and one.may_move]

    def _if_gone(self, case: Case, other: Case) -> frozenset[datetime]:
        """Where a case could start in its room if another one were not there."""
        key = (case.number, other.number)
        if key not in self._freed:
            cases = {number: one for number, one in self.planned.cases.items() if number != other.number}
            self._freed[key] = Starts(self.planned.with_cases(cases), case).allowed(case.room)
        return self._freed[key]

    def _starts(self, planned: PlannedDay, case: Case) -> Iterator[tuple[datetime, str]]:
        """Where a case may go: its own room, and the rooms that are listed."""
        starts = Starts(planned, case)
        yield from ((start, case.room) for start in starts.nearest_first((case.room,))[:_STARTS_PER_CASE])
        for room in sorted(set(self.planned.context.site.rooms) - {case.room}):
            start = starts.nearest(room)
            if start is not None:
                yield start, room

    def _both_alone(self) -> Iterator[tuple[_Candidate, _Candidate]]:
        """Two cases of the same trays, each at a start that is free."""
        for one, other in combinations(self.cases, 2):
            if self.trials.without_may_help(self.target, (one.number, other.number)):
                for start in self._free(one):
                    for beside in self._free(other):
                        yield self._candidate(one, start, one.room), self._candidate(other, beside, other.room)

    def _free(self, case: Case) -> list[datetime]:
        return self.trials.starts_of(case).nearest_first((case.room,))[:_STARTS_PER_CASE]

    def _candidate(self, case: Case, start: datetime, room: str) -> _Candidate:
        if room == case.room:
            edit = Edit(kind=RemedyKind.SHIFT, case=case.number, start=start)
        else:
            edit = Edit(kind=RemedyKind.ROOM, case=case.number, room=room, start=start)
        moved = abs(minutes_between(case.start, start))
        return _Candidate(edit=edit, minutes=moved, move=(case, start, self.trials.building(room)))


def _nearest_first(pairs: Iterator[tuple[_Candidate, _Candidate]]) -> list[tuple[_Candidate, _Candidate]]:
    return sorted(pairs, key=lambda pair: (pair[0].minutes + pair[1].minutes, [_key(one.edit) for one in pair]))


def _key(edit: Edit) -> tuple[str, str, str]:
    return edit.case, edit.room, str(edit.start)
