"""The search: every single change that can matter, then pairs; each is tried on the whole plan."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import combinations

from picklist.clock import minutes_between, shift
from picklist.model.conflicts import ConflictKind, Edit, RemedyKind
from picklist.model.schedule import Case
from picklist.model.uses import Use
from picklist.sets.remedies.evening import apply_edits, swapped_starts
from picklist.sets.remedies.moments import Moments
from picklist.sets.remedies.trial import Purse, Trials, Verdict
from picklist.sets.savings import savings_of, way_steps
from picklist.sets.situation import choices
from picklist.sets.spotted import Spotted

MOST_PAIRS = 400  # pairs tried for one conflict
_PAIR_MOVES = 24  # single moves from which pairs are made
_ENOUGH_PAIRS = 3
_STARTS_PER_CASE = 16
_ROOMS_PER_CASE = 2


class Search:
    """Looks for remedies of one conflict."""

    def __init__(self, trials: Trials, target: Spotted) -> None:
        self.trials = trials
        self.evening = trials.evening
        self.target = target
        self.part = self.evening.situation.part_of[target.use.tray]
        self.purse = Purse(trials.share)
        self.pair_purse = Purse(trials.share // 2)
        self._looked: dict[tuple[str, datetime, str], bool] = {}
        near = _cases_to_move(trials, target)
        self.cases = [case for case in near if trials.moving_may_help(target, case.number)]

    def singles(self) -> list[Verdict]:
        """All single changes that help; of moves of one case, the least in each direction and room."""
        found = [*self.stand_ins(), *self.faster(), *self.swaps()]
        for case in self.cases:
            found += self.shifts(case)
            found += self.other_rooms(case)
        return [*found, *self.brought()]

    def stand_ins(self) -> list[Verdict]:
        """Another tray that may stand in, for the case that waits or for one that has a set."""
        edits = []
        for use in self._uses():
            service = self.evening.service(use)
            given = service.one.tray if service else ""
            for tray, rank in choices(self.evening.situation.site, use):
                if rank and tray != given:
                    edits.append(Edit(kind=RemedyKind.STAND_IN, case=use.case, tray=use.tray, stand_in=tray))
        return [one for edit in edits if (one := self._helps(edit))]

    def faster(self) -> list[Verdict]:
        """The fewest named steps done faster, each by no more minutes than it takes."""
        service = self.evening.service(self.target.use)
        if service is None or service.reuse is None or self.target.kind is ConflictKind.RESERVE:
            return []
        state = self.evening.plans[self.part].states[service.one.id]
        steps = way_steps(self.evening.situation, service.one, state, service.reuse, self.target.use)
        full = [self._hurry(saving.step, saving.minutes) for saving in savings_of(steps, service.reuse)]
        for size in range(1, len(full) + 1):
            found = [self._least(edits) for edits in combinations(full, size) if self._helps(*edits)]
            if found:
                return found
        return []

    def shifts(self, case: Case) -> list[Verdict]:
        """The least move of a case in its room, each way; the least comfortable one too where that is another."""
        found: dict[tuple[bool, bool], Verdict] = {}
        for start in self._moments(case).starts((case.room,)):
            later = start > case.start
            if (later, True) in found or not self._worth(case, start, case.room):
                continue
            verdict = self._helps(Edit(kind=RemedyKind.SHIFT, case=case.number, start=start))
            if verdict is not None:
                found.setdefault((later, verdict.tight is None), verdict)
            if len(found) == 4:
                break
        return list(found.values())

    def other_rooms(self, case: Case) -> list[Verdict]:
        """The least moves of a case into other rooms."""
        moments = self._moments(case)
        rooms = [room for room in self._rooms() if room != case.room]
        found: dict[str, Verdict] = {}
        for start in moments.starts(tuple(rooms)):
            for room in rooms:
                if room in found or not moments.is_allowed(start, room) or not self._worth(case, start, room):
                    continue
                verdict = self._helps(Edit(kind=RemedyKind.ROOM, case=case.number, room=room, start=start))
                if verdict is not None:
                    found[room] = verdict
                if len(found) == _ROOMS_PER_CASE:
                    return list(found.values())
        return list(found.values())

    def swaps(self) -> list[Verdict]:
        """Two cases of one room in each other's place."""
        found = []
        for edit in self._swap_edits():
            verdict = self.trials.moves_help(self.target, (edit,), self.purse)
            if verdict is not None:
                found.append(verdict)
        return found

    def brought(self) -> list[Verdict]:
        """One more set by the time the case that waits needs it."""
        use = self.target.use
        verdict = self._helps(Edit(kind=RemedyKind.BRING, case=use.case, tray=use.tray, start=use.needed))
        return [verdict] if verdict else []

    def pairs(self) -> list[Verdict]:
        """Two moves together, least disturbance first, within a number of tries."""
        moves = sorted(self._moves(), key=lambda pair: (pair[0], pair[1].case, str(pair[1].start)))[:_PAIR_MOVES]
        ordered = sorted(combinations(moves, 2), key=lambda two: two[0][0] + two[1][0])
        found: list[Verdict] = []
        tried = 0
        for (_, one), (_, other) in ordered:
            if one.case == other.case or tried >= MOST_PAIRS or len(found) >= _ENOUGH_PAIRS:
                continue
            tried += 1
            verdict = self.trials.moves_help(self.target, (one, other), self.pair_purse)
            if verdict is not None:
                found.append(verdict)
        return found

    def _helps(self, *edits: Edit) -> Verdict | None:
        return self.trials.helps(self.target, edits)

    def _worth(self, case: Case, start: datetime, room: str) -> bool:
        """Whether a move helps as far as the sets go; the same for all rooms of a building."""
        known = self.evening.situation.site.rooms.get(room)
        building = known.building if known else ""
        key = (case.number, start, building)
        if key not in self._looked:
            self._looked[key] = self.trials.move_may_help(self.target, case, start, building, self.purse)
            if self._looked[key]:
                edit = Edit(kind=RemedyKind.ROOM, case=case.number, room=room, start=start)
                edited = apply_edits(self.evening, (edit,))
                self._looked[key] = self.trials.judge(self.target, (edit,), edited, self.purse) is not None
        return self._looked[key]

    def _uses(self) -> list[Use]:
        """The waiting use and those of the same trays at the same time."""
        cases = {case.number for case in self.cases}
        return [use for use in self.evening.scenario.uses if use.tray in self.part and use.case in cases]

    def _moments(self, case: Case) -> Moments:
        if case.number not in self.trials.moments:
            self.trials.moments[case.number] = Moments(self.evening, case)
        return self.trials.moments[case.number]

    def _rooms(self) -> list[str]:
        return sorted({case.room for case in self.evening.cases.values()} | set(self.evening.situation.site.rooms))

    def _hurry(self, step: str, minutes: int) -> Edit:
        use = self.target.use
        return Edit(kind=RemedyKind.FASTER, case=use.case, tray=use.tray, step=step, minutes=minutes)

    def _least(self, edits: tuple[Edit, ...]) -> Verdict:
        """As few minutes as suffice, the last step first."""
        chosen = list(edits)
        for at in range(len(chosen) - 1, -1, -1):
            low, high = 0, chosen[at].minutes
            while low + 1 < high:
                middle = (low + high) // 2
                chosen[at] = self._hurry(chosen[at].step, middle)
                low, high = (low, middle) if self._helps(*chosen) else (middle, high)
            chosen[at] = self._hurry(chosen[at].step, high)
        verdict = self._helps(*chosen)
        if verdict is None:
            raise AssertionError("fewer minutes were accepted and then refused")
        return verdict

    def _swap_edits(self) -> Iterator[Edit]:
        seen = set()
        for case in self.cases:
            for other in self.evening.in_room(case):
                pair = tuple(sorted((case.number, other.number)))
                if other.number != case.number and pair not in seen and case.may_move and other.may_move:
                    seen.add(pair)
                    yield Edit(kind=RemedyKind.SWAP, case=pair[0], other_case=pair[1])

    def _moves(self) -> Iterator[tuple[int, Edit]]:
        """Moves for pairs, allowed alone or not, with the minutes that they move."""
        for case in self._neighbours():
            for start in self._moments(case).near()[:_STARTS_PER_CASE]:
                moved = abs(minutes_between(case.start, start))
                yield moved, Edit(kind=RemedyKind.SHIFT, case=case.number, start=start)
        for edit in self._swap_edits():
            in_room = self.evening.in_room(self.evening.cases[edit.case])
            starts = swapped_starts(in_room, edit.case, edit.other_case)
            yield sum(abs(minutes_between(one.start, starts[one.number])) for one in in_room), edit

    def _neighbours(self) -> list[Case]:
        """The cases to move, and those before and after them in their rooms."""
        found = {case.number: case for case in self.cases}
        for case in self.cases:
            for other in self.evening.in_room(case):
                if other.may_move:
                    found.setdefault(other.number, other)
        return list(found.values())


def _cases_to_move(trials: Trials, target: Spotted) -> list[Case]:
    """The cases that have a set of the part while the waiting one would: only moving one of them can help."""
    evening, use = trials.evening, target.use
    part = evening.situation.part_of[use.tray]
    margin = evening.situation.site.settings.margin
    begins, ends = _span(trials, use, margin)
    found = {use.case: evening.cases.get(use.case)}
    for other in evening.scenario.uses:
        if other.tray in part and other.case not in found:
            first, last = _span(trials, other, margin)
            if first < ends and begins < last:
                found[other.case] = evening.cases.get(other.case)
    return [case for case in found.values() if case is not None and case.may_move]


def _span(trials: Trials, use: Use, margin: int) -> tuple[datetime, datetime]:
    """From a use's need until any set it may have is ready again, and the margin."""
    turnaround = trials.evening.situation.turnaround
    trays = [tray for tray, _ in choices(trials.evening.situation.site, use)]
    ends = [end for tray in trays if (end := turnaround.free_after(use, tray)) is not None]
    return use.needed, shift(max(ends, default=use.received), margin)
