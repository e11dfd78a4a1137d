"""Search for single changes that help: each one that could is planned in full before it counts."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime
from itertools import combinations

from picklist.clock import shift
from picklist.model.conflicts import ConflictKind, Edit, RemedyKind
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Use
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.fitting import fits
from picklist.sets.planning_context import choices
from picklist.sets.remedies.hurries import steps_of
from picklist.sets.remedies.pairs import Pairs
from picklist.sets.remedies.planned_day import last_moment, swapped_starts
from picklist.sets.remedies.trial import TrialResult, Trials
from picklist.sets.savings import savings_of

ROOMS_PER_CASE = 2
LATE = frozenset({ConflictKind.SHORT, ConflictKind.RUSH, ConflictKind.CONDITIONAL})


class Search:
    """Looks for remedies of one conflict."""

    def __init__(self, trials: Trials, target: FoundConflict) -> None:
        self.trials = trials
        self.planned = trials.planned
        self.target = target
        self.group = trials.home(target)

    def singles(self) -> list[TrialResult]:
        """All single changes that help; of moves of one case, the least each way and into the nearest rooms."""
        found = [*self.completed(), *self.stand_ins(), *self.without(), *self.faster()]
        found += [*(self.handed_over() or self.accepted()), *self.swaps()]
        for case in self._in_part():
            if not self.trials.without_may_help(self.target, (case.number,)):
                continue
            here = self.trials.gone_may_help(self.target, frozenset({case.number}))
            found += self.shifts(case) if here else []
            found += self.other_rooms(case, everywhere=here)
        return [*found, *self.brought()]

    def pairs(self) -> Pairs:
        """The search for two moves together."""
        return Pairs(self.trials, self.target, self._in_part())

    def edits_of_the_tray(self) -> Iterator[Edit]:
        """What may be changed about the tray itself: a set completed or brought, another in its place, done without."""
        yield from self._complete_edits()
        yield from self._stand_in_edits()
        yield from self._without_edits()
        yield self._bring_edit()

    def stand_ins(self) -> list[TrialResult]:
        """Another tray that may stand in, for the case that waits or for one that has a set."""
        return [one for edit in self._stand_in_edits() if (one := self._helps(edit))]

    def _stand_in_edits(self) -> list[Edit]:
        edits = []
        for use in self._uses():
            service = self.planned.service(use)
            given = service.one.tray if service else ""
            for tray, rank in choices(self.planned.context.site, use):
                if rank and tray != given and use.starts > self.planned.context.now:
                    edits.append(Edit(kind=RemedyKind.STAND_IN, case=use.case, tray=use.tray, stand_in=tray))
        return list(dict.fromkeys(edits))

    def completed(self) -> list[TrialResult]:
        """Sets that are recorded as incomplete, away or unknown, each made ready or found by the need."""
        return [verdict for edit in self._complete_edits() for verdict in self._helps_uncounted(edit)]

    def _complete_edits(self) -> list[Edit]:
        use, context = self.target.use, self.planned.context
        wanted = {tray for tray, _ in choices(context.site, use)}
        found = []
        for one in sorted(context.site.sets.values(), key=lambda each: each.id):
            stuck = context.states[one.id].why_never and one.tray in wanted and not self._goes_back_before(one)
            if stuck and fits(context.site.trays.get(one.tray), one, use):
                found.append(
                    Edit(kind=RemedyKind.COMPLETE, case=use.case, tray=one.tray, start=self._by(), set_id=one.id)
                )
        return found

    def _goes_back_before(self, one: InstrumentSet) -> bool:
        """Whether a set is on loan and must have gone back before the case that waits is done with it."""
        context, use = self.planned.context, self.target.use
        home = context.states[one.id].home
        until = one.return_by
        return until is not None and context.turnaround.may_be_late(use, one.tray, home, until) < 0

    def without(self) -> list[TrialResult]:
        """A case does without the tray that it has on hold."""
        return [verdict for edit in self._without_edits() if (verdict := self._helps(edit))]

    def _without_edits(self) -> list[Edit]:
        held = dict.fromkeys((use.case, use.tray) for use in self._uses() if use.on_hold and use.starts > self._now())
        return [Edit(kind=RemedyKind.WITHOUT, case=case, tray=tray) for case, tray in held]

    def _now(self) -> datetime:
        return self.planned.context.now

    def _by(self) -> datetime:
        """By when a set from elsewhere should be there: the margin before the need, and not before now.

        Where the cart is due already, by wheels-in.
        """
        use, margin = self.target.use, self.planned.context.site.settings.margin
        last = last_moment(self.planned, use.needed, use.starts)
        return max(self._now(), shift(use.needed, -margin)) if last == use.needed else last

    def handed_over(self) -> list[TrialResult]:
        """The set goes straight to the room of the case that waits, there by wheels-in, not onto its cart."""
        use = self.target.use
        if self.target.kind not in LATE or use.starts <= self._now():
            return []
        return self._helps_uncounted(Edit(kind=RemedyKind.DIRECT, case=use.case, tray=use.tray, start=use.starts))

    def accepted(self) -> list[TrialResult]:
        """The case starts without its tray, which comes while it lasts; or fewer sets are kept ready for a while."""
        use = self.target.use
        if self.target.kind is ConflictKind.RESERVE:
            return self._helps_uncounted(Edit(kind=RemedyKind.ACCEPT, case=use.case, tray=use.tray))
        comes = shift(use.needed, self.target.minutes)
        if self.target.kind not in LATE or self.target.never or not use.starts < comes < use.ends:
            return []
        return self._helps_uncounted(Edit(kind=RemedyKind.ACCEPT, case=use.case, tray=use.tray, start=comes))

    def faster(self) -> list[TrialResult]:
        """The fewest steps with less waiting, for the set of the case that waits; where none help, for another set."""
        if self.target.kind is ConflictKind.SHORT:
            return []  # less waiting changes nothing where the least minutes are too many
        mine = self._faster_for(self.target.use)
        if mine:
            return mine
        others = [use for use in self._uses() if use.key != self.target.use.key]
        return [verdict for use in others for verdict in self._faster_for(use)]

    def shifts(self, case: Case) -> list[TrialResult]:
        """The least move of a case in its room, each way; the least comfortable one too where that is another."""
        found: dict[tuple[bool, bool], TrialResult] = {}
        building = self.trials.building(case.room)
        for start in self.trials.starts_of(case).nearest_first((case.room,)):
            later = start > case.start
            if (later, True) in found or not self.trials.moves_may_help(self.target, [(case, start, building)]):
                continue
            verdict = self._tried(Edit(kind=RemedyKind.SHIFT, case=case.number, start=start))
            if verdict is not None:
                found.setdefault((later, verdict.tight is None), verdict)
            if (True, True) in found and (False, True) in found:
                break
        return list(found.values())

    def other_rooms(self, case: Case, *, everywhere: bool = True) -> list[TrialResult]:
        """The least moves of a case into other rooms, or only into those of other buildings."""
        starts, building = self.trials.starts_of(case), self.trials.building(case.room)
        rooms = self.other_rooms_than(case.room)
        rooms = rooms if everywhere else tuple(room for room in rooms if self.trials.building(room) != building)
        found: dict[str, TrialResult] = {}
        for start in starts.nearest_first(rooms):
            free = [room for room in rooms if start in starts.allowed(room) and room not in found]
            for room in self._rooms_that_help(case, start, free)[: ROOMS_PER_CASE - len(found)]:
                verdict = self._tried(move(case, start, room))
                found |= {room: verdict} if verdict else {}
            if len(found) == ROOMS_PER_CASE:
                break
        return list(found.values())

    def swaps(self) -> list[TrialResult]:
        """Two cases of one room in each other's place."""
        found = []
        for edit, starts in self.swaps_of({use.case for use in self._uses()}):
            moves = [
                (case, start, self.trials.building(case.room))
                for number, start in starts.items()
                if start != (case := self.planned.cases[number]).start
            ]
            if self.trials.moves_may_help(self.target, moves):
                verdict = self._tried(edit)
                found += [verdict] if verdict else []
        return found

    def brought(self) -> list[TrialResult]:
        """One more set by the time the case that waits needs it, with the margin to spare."""
        return self._helps_uncounted(self._bring_edit())

    def _bring_edit(self) -> Edit:
        use = self.target.use
        return Edit(kind=RemedyKind.BRING, case=use.case, tray=use.tray, start=self._by(), side=use.side)

    def _helps_uncounted(self, edit: Edit) -> list[TrialResult]:
        verdict = self.trials.helps(self.target, (edit,), counted=False)
        return [verdict] if verdict else []

    def _helps(self, *edits: Edit) -> TrialResult | None:
        return self.trials.helps(self.target, edits) if self.trials.may_help(self.target, edits) else None

    def _tried(self, *edits: Edit) -> TrialResult | None:
        return self.trials.helps(self.target, edits)

    def _in_part(self) -> list[Case]:
        """The cases of the tray group that may move, the waiting case first."""
        numbers = dict.fromkeys(use.case for use in self._uses())
        cases = [self.planned.cases[number] for number in numbers if number in self.planned.cases]
        return sorted((case for case in cases if case.may_move), key=lambda case: case.number != self.target.use.case)

    def _uses(self) -> tuple[Use, ...]:
        return self.planned.scenario.uses_in(self.group)

    def other_rooms_than(self, room: str) -> tuple[str, ...]:
        """All rooms but one, by name."""
        rooms = {case.room for case in self.planned.cases.values()} | set(self.planned.context.site.rooms)
        return tuple(sorted(rooms - {room}))

    def _rooms_that_help(self, case: Case, start: datetime, rooms: list[str]) -> list[str]:
        """Those in which the move helps: as far as the sets go it is the same for all rooms of a building."""
        samples = {self.trials.building(room): room for room in reversed(rooms)}
        good = {
            building
            for building, room in samples.items()
            if self.trials.moves_may_help(self.target, [(case, start, building)])
            and self._tried(move(case, start, room))
        }
        return [room for room in rooms if self.trials.building(room) in good]

    def _faster_for(self, use: Use) -> list[TrialResult]:
        """The fewest named steps with less waiting, each by as few minutes as are enough."""
        service = self.planned.service(use)
        if service is None or service.reuse is None:
            return []
        savings = savings_of(steps_of(self.planned, service), service.reuse)
        full = [_hurry(use, saving.step, saving.minutes) for saving in savings]
        if not full or not self.trials.may_help(self.target, tuple(full)):
            return []
        found = [self._least(use, (edit,)) for edit in full if self._helps(edit)]
        most = len(full) if not found and self._helps(*full) else 1
        for size in range(2, most + 1):
            found = [self._least(use, edits) for edits in combinations(full, size) if self._helps(*edits)]
            if found:
                break
        return found

    def _least(self, use: Use, edits: tuple[Edit, ...]) -> TrialResult:
        """As few minutes as are enough, the last step first."""
        chosen = list(edits)
        for at in range(len(chosen) - 1, -1, -1):
            low, high = 0, chosen[at].minutes
            while low + 1 < high:
                middle = (low + high) // 2
                chosen[at] = _hurry(use, chosen[at].step, middle)
                low, high = (low, middle) if self._helps(*chosen) else (middle, high)
            chosen[at] = _hurry(use, chosen[at].step, high)
        verdict = self._helps(*chosen)
        if verdict is None:
            raise AssertionError("fewer minutes were accepted and then refused")
        return verdict

    def swaps_of(self, mine: Collection[str]) -> Iterator[tuple[Edit, dict[str, datetime]]]:
        """Every exchange in a room that gives one of these cases another start, with the new starts."""
        rooms = {(case.room, case.day): case for number, case in self.planned.cases.items() if number in mine}
        for case in rooms.values():
            in_room = self.planned.in_room(case)
            for first, second in combinations(sorted(one.number for one in in_room), 2):
                starts = swapped_starts(in_room, first, second)
                if any(starts[one.number] != one.start for one in in_room if one.number in mine):
                    yield Edit(kind=RemedyKind.SWAP, case=first, other_case=second), starts


def move(case: Case, start: datetime, room: str) -> Edit:
    """A case at another start, in its room or another one."""
    if room == case.room:
        return Edit(kind=RemedyKind.SHIFT, case=case.number, start=start)
    return Edit(kind=RemedyKind.ROOM, case=case.number, room=room, start=start)


def _hurry(use: Use, step: str, minutes: int) -> Edit:
    return Edit(kind=RemedyKind.FASTER, case=use.case, tray=use.tray, step=step, minutes=minutes)
