"""The planned cases, the scenario, and what an edit makes of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import partial

from picklist.clock import minutes_between, shift
from picklist.model.conflicts import ConflictKind, Edit, RemedyKind
from picklist.model.objections import Lack
from picklist.model.schedule import Case, Side
from picklist.model.uses import Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.case_uses import building_of
from picklist.sets.find_conflicts import SEVERITY
from picklist.sets.followers import shifted
from picklist.sets.planning_context import ExtraSet, Haste, PlanningContext, Scenario

TrayGroup = tuple[str, ...]
MADE_READY = " made ready"  # what the name of a set of the house gets that is completed or found


class CannotTryError(ValueError):
    """An edit names something that the plan does not have: what it lacks, and the names that say which."""

    def __init__(self, lack: Lack, *names: str) -> None:
        super().__init__(lack, *names)
        self.lack, self.names = lack, names


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDay:
    """Live cases by number, the scenario, and the plan of each tray group."""

    context: PlanningContext
    cases: Mapping[str, Case]
    scenario: Scenario
    plans: Mapping[TrayGroup, GroupPlan]
    memo: dict[tuple[datetime, int], tuple[datetime, datetime]] = field(default_factory=dict, compare=False, repr=False)
    shared: dict[str, dict[str, str]] = field(default_factory=dict, compare=False, repr=False)
    rooms: dict[tuple[str, date], list[Case]] = field(default_factory=dict, compare=False, repr=False)

    def with_cases(self, cases: Mapping[str, Case]) -> PlannedDay:
        """The same with other cases, and nothing remembered of these."""
        return replace(self, cases=cases, shared={}, rooms={})

    def case(self, number: str) -> Case:
        """A live case. Raises CannotTryError when there is none of that number."""
        if number not in self.cases:
            raise CannotTryError(Lack.CASE, number)
        return self.cases[number]

    def in_room(self, case: Case) -> list[Case]:
        """The cases of a case's room and day, in order of start."""
        if not self.rooms:
            for one in sorted(self.cases.values(), key=lambda one: (one.start, one.number)):
                self.rooms.setdefault((one.room, one.day), []).append(one)
        return self.rooms.get((case.room, case.day), [])

    def colleagues(self, number: str) -> dict[str, str]:
        """The cases that have a person in common with a case, each with the first of those persons by name."""
        if number not in self.shared:
            mine = people_of(self.cases[number])
            others = [(other.number, mine & people_of(other)) for other in self.cases.values()]
            self.shared[number] = {other: min(people) for other, people in others if people and other != number}
        return self.shared[number]

    def uses_of(self, number: str, tray: str = "") -> list[Use]:
        """The uses of a case, of one tray if it is named."""
        return [use for use in self.scenario.uses_of(number) if tray in ("", use.tray)]

    def service(self, use: Use) -> Service | None:
        """What serves a use in the plan."""
        plan = self.plans.get(self.context.group_of[use.tray])
        return next((one for one in plan.services if one.use.key == use.key), None) if plan else None

    def giver_of(self, use: Use) -> str:
        """The use (its key) after which a set serves a use, or comes free for it too late; empty where none does."""
        service = self.service(use)
        if service is not None:
            return service.after.key if service.after else ""
        plan = self.plans.get(self.context.group_of[use.tray])
        coming = next((one for unserved, one in plan.unserved if unserved.key == use.key), None) if plan else None
        return coming.after if coming else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """The cases and the scenario after edits, the cases that were touched and the tray groups to plan again."""

    cases: Mapping[str, Case]
    scenario: Scenario
    touched: tuple[str, ...]
    groups: frozenset[TrayGroup]


def apply_edits(planned: PlannedDay, edits: tuple[Edit, ...]) -> Edited:
    """Apply edits one after the other. Raises CannotTryError."""
    edited = Edited(cases=planned.cases, scenario=planned.scenario, touched=(), groups=frozenset())
    for edit in edits:
        edited = _APPLY[edit.kind](planned, edited, edit)
    return edited


def moved_case(case: Case, start: datetime | None, room: str) -> Case:
    """A case at another start or in another room."""
    return replace(case, start=start or case.start, room=room or case.room)


def swapped_starts(in_room: list[Case], first: str, second: str) -> dict[str, datetime]:
    """The new starts when two cases of one room exchange their places and the gaps between places stay."""
    order = [case.number for case in in_room]
    a, b = order.index(first), order.index(second)
    order[a], order[b] = order[b], order[a]
    by_number = {case.number: case for case in in_room}
    starts = {}
    moment = in_room[0].start
    for place, number in enumerate(order):
        starts[number] = moment
        if place + 1 < len(order):
            before, after = in_room[place], in_room[place + 1]
            gap = minutes_between(shift(before.start, before.minutes), after.start)
            moment = shift(moment, by_number[number].minutes + gap)
    return starts


def _move(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    case = _live(edited, edit.case)
    return _with_cases(planned, edited, [moved_case(case, edit.start, edit.room)])


def _swap(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    first, second = _live(edited, edit.case), _live(edited, edit.other_case)
    if (first.room, first.day) != (second.room, second.day) or first.number == second.number:
        raise CannotTryError(Lack.ONE_ROOM, first.number, second.number)
    now = planned.with_cases(edited.cases)
    starts = swapped_starts(now.in_room(first), first.number, second.number)
    changed = [replace(edited.cases[n], start=start) for n, start in starts.items() if edited.cases[n].start != start]
    return _with_cases(planned, edited, changed)


def _stand_in(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    uses = _wanted(edited, edit)
    only = (*edited.scenario.only, *((use.key, edit.stand_in) for use in uses))
    return _with_scenario(planned, edited, replace(edited.scenario, only=only), [edit.tray], edit.case)


def _faster(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    hastes = list(edited.scenario.hastes)
    trays = []
    for use in planned.uses_of(edit.case, edit.tray):
        service = planned.service(use)
        if service is not None and service.reuse is not None:
            source = service.after.key if service.after else service.one.id
            hastes.append(Haste(source=source, tray=service.one.tray, step=edit.step, minutes=edit.minutes))
            trays.append(service.one.tray)
    if not trays:
        raise CannotTryError(Lack.MADE_READY, edit.tray, edit.case)
    return _with_scenario(planned, edited, replace(edited.scenario, hastes=tuple(hastes)), trays, "")


def brought_for(planned: PlannedDay, scenario: Scenario, edit: Edit) -> Use | None:
    """The use for which one more set is brought to a case: of several the worst off, and the next for the next set.

    None where it is brought for no case in particular.
    """
    plan = planned.plans.get(planned.context.group_of[edit.tray])
    found = plan.conflicts_found if plan else ()
    worst = {one.use.key: SEVERITY[one.kind] for one in found if one.kind is not ConflictKind.RESERVE}
    uses = [use for use in scenario.uses_of(edit.case) if use.tray == edit.tray and edit.side in (None, use.side)]
    uses.sort(key=lambda use: -worst.get(use.key, 0))
    before = sum(one.tray == edit.tray and edit.side in (None, one.side) for one in scenario.extras)
    return uses[before % len(uses)] if uses else None


def size_wanted(planned: PlannedDay, use: Use) -> str:
    """The size that a set for a use must be of; empty where its tray does not come in sizes."""
    return use.size if any(one.size for one in planned.context.sets_of.get(use.tray, ())) else ""


def _bring(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    if edit.tray not in planned.context.site.trays:
        raise CannotTryError(Lack.TRAY, edit.tray)
    sample = brought_for(planned, edited.scenario, edit)
    extra = ExtraSet(
        id=f"extra {edit.tray} {len(edited.scenario.extras) + 1}",
        tray=edit.tray,
        ready=edit.start or planned.context.now,
        # One that is for no case in particular helps whoever it helps, on either side.
        side=sample.side if sample else edit.side or Side.BOTH,
        size=sample.size if sample else "",
        building=sample.building if sample else "",
    )
    return _with_extra(planned, edited, extra, sample)


def _with_extra(planned: PlannedDay, edited: Edited, extra: ExtraSet, use: Use | None) -> Edited:
    """With one more set, for a use if it is for any: one whose cart is due already gets it straight in the room."""
    scenario = replace(edited.scenario, extras=(*edited.scenario.extras, extra))
    if use is not None and use.needed < planned.context.now:
        late = replace(use, needed=max(use.needed, min(extra.ready, use.starts)))
        scenario = replace(scenario, uses=tuple(late if one.key == use.key else one for one in scenario.uses))
    return _with_scenario(planned, edited, scenario, [extra.tray], "")


def last_moment(planned: PlannedDay, needed: datetime, starts: datetime) -> datetime:
    """Until when something can still be changed for a case: until its cart is due, and if it is, until it starts."""
    return needed if needed >= planned.context.now else starts


def _complete(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    """A set that is recorded as incomplete, away or unknown stands ready for a case."""
    one = planned.context.site.sets.get(edit.set_id)
    if one is None:
        raise CannotTryError(Lack.SET, edit.set_id)
    if not planned.context.states[one.id].why_never:
        raise CannotTryError(Lack.NOT_COUNTED, one.id, one.state)
    case = _live(edited, edit.case)
    extra = ExtraSet(
        id=f"{one.id}{MADE_READY}",
        tray=one.tray,
        ready=edit.start or planned.context.now,
        side=one.side,
        size=one.size,
        building=building_of(planned.context.site, case.room),
        until=one.return_by,
    )
    group = planned.context.group_of[one.tray]
    lacking = (use for use in edited.scenario.uses_of(case.number) if use.tray in group and not planned.service(use))
    there = [each for each in edited.scenario.extras if each.id == extra.id]  # completed for another case as well
    others = tuple(each for each in edited.scenario.extras if each.id != extra.id)
    edited = replace(edited, scenario=replace(edited.scenario, extras=others))
    return _with_extra(planned, edited, min([*there, extra], key=lambda each: each.ready), next(lacking, None))


def _without(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    """A case does without a tray that it has on hold."""
    _live(edited, edit.case)
    gone = [use for use in edited.scenario.uses if (use.case, use.tray) == (edit.case, edit.tray) and use.on_hold]
    if not gone:
        raise CannotTryError(Lack.ON_HOLD, edit.case, edit.tray)
    return _with_scenario(planned, edited, _left(planned, edited, gone), [edit.tray], edit.case)


def _left(planned: PlannedDay, edited: Edited, gone: Sequence[Use]) -> Scenario:
    """What is left without some uses; what is on a built cart for one of them must be put back."""
    held, carts = planned.context.held, planned.context.site.sets
    off = ((held[use.key], use.case) for use in gone if held.get(use.key) in carts)
    kept = tuple(use for use in edited.scenario.uses if use not in gone)
    return replace(edited.scenario, uses=kept, off_carts=(*edited.scenario.off_carts, *off))


def _direct(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    """A tray goes straight into the room of its case, not onto its cart; its giver's is collected as the case ends."""
    uses = _wanted(edited, edit)
    late = [replace(use, needed=max(use.needed, min(edit.start or use.starts, use.starts))) for use in uses]
    given = {giver for use in uses if (giver := planned.giver_of(use))}
    at_once = [_collected_at_once(use) for use in edited.scenario.uses if use.key in given]
    return _with_uses(planned, edited, [*late, *at_once], edit)


def _collected_at_once(use: Use) -> Use:
    sooner = minutes_between(use.ends, use.leaves_room)
    return replace(use, leaves_room=use.ends, received=shift(use.received, -sooner))


def _accept(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    """A case gets its tray late, or takes it from the number kept ready."""
    uses = _wanted(edited, edit)
    if edit.start is None:
        accepted = (*edited.scenario.accepted, *(use.key for use in uses))
        return _with_scenario(planned, edited, replace(edited.scenario, accepted=accepted), [edit.tray], "")
    return _with_uses(planned, edited, [replace(use, needed=max(use.needed, edit.start)) for use in uses], edit)


def _wanted(edited: Edited, edit: Edit) -> list[Use]:
    """The uses of a tray by a case. Raises CannotTryError when there is none."""
    _live(edited, edit.case)
    uses = [use for use in edited.scenario.uses if (use.case, use.tray) == (edit.case, edit.tray)]
    if not uses:
        raise CannotTryError(Lack.NEED, edit.case, edit.tray)
    return uses


def _with_uses(planned: PlannedDay, edited: Edited, changed: list[Use], edit: Edit) -> Edited:
    """With some uses at other times, in the same order of uses."""
    by_key = {use.key: use for use in changed}
    uses = tuple(by_key.get(use.key, use) for use in edited.scenario.uses)
    trays = [use.tray for use in changed]
    return _with_scenario(planned, edited, replace(edited.scenario, uses=uses), trays, edit.case)


def _cancel(planned: PlannedDay, edited: Edited, edit: Edit) -> Edited:
    _live(edited, edit.case)
    gone = [use for use in edited.scenario.uses if use.case == edit.case]
    cases = {number: case for number, case in edited.cases.items() if number != edit.case}
    after = _with_scenario(planned, edited, _left(planned, edited, gone), [use.tray for use in gone], edit.case)
    return replace(after, cases=cases)


_APPLY: dict[RemedyKind, Callable[[PlannedDay, Edited, Edit], Edited]] = {
    RemedyKind.COMPLETE: _complete,
    RemedyKind.STAND_IN: _stand_in,
    RemedyKind.WITHOUT: _without,
    RemedyKind.DIRECT: _direct,
    RemedyKind.FASTER: _faster,
    RemedyKind.SHIFT: _move,
    RemedyKind.SWAP: _swap,
    RemedyKind.ROOM: _move,
    RemedyKind.BRING: _bring,
    RemedyKind.ACCEPT: _accept,
    RemedyKind.CANCEL: _cancel,
}


def people_of(case: Case) -> set[str]:
    """Surgeon and team of a case, by name as written."""
    return {name for name in (case.surgeon, *case.team) if name}


def _live(edited: Edited, number: str) -> Case:
    if number not in edited.cases:
        raise CannotTryError(Lack.CASE, number)
    return edited.cases[number]


def _with_cases(planned: PlannedDay, edited: Edited, changed: list[Case]) -> Edited:
    cases, scenario = dict(edited.cases), edited.scenario
    for case in changed:
        minutes = minutes_between(cases[case.number].start, case.start)
        building = building_of(planned.context.site, case.room)
        scenario = scenario.with_case(case.number, partial(shifted, minutes=minutes, building=building))
        cases[case.number] = case
    trays = [use.tray for case in changed for use in scenario.uses_of(case.number)]
    after = _with_scenario(planned, edited, scenario, trays, "")
    touched = (*edited.touched, *(case.number for case in changed if case.number not in edited.touched))
    return replace(after, cases=cases, touched=touched)


def _with_scenario(planned: PlannedDay, edited: Edited, scenario: Scenario, trays: list[str], touched: str) -> Edited:
    groups = edited.groups | {planned.context.group_of[tray] for tray in trays}
    names = (*edited.touched, touched) if touched and touched not in edited.touched else edited.touched
    return replace(edited, scenario=scenario, groups=groups, touched=names)
