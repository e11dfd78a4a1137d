"""Try an edit: plan the tray groups that it touches again, and see what becomes of every conflict."""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple, Protocol

from picklist.clock import minutes_between
from picklist.model.conflicts import ChanceLeft, Conflict, ConflictKind, Edit
from picklist.model.objections import Objection
from picklist.model.schedule import Case
from picklist.model.uses import Use
from picklist.sets.allocate_jobs import AskedGroup, ask
from picklist.sets.allocation.exact import StoppedError
from picklist.sets.allocation.solve import solve
from picklist.sets.allocation.terms import AllocationQuestion, Job
from picklist.sets.case_uses import building_of
from picklist.sets.find_conflicts import SEVERITY, FoundConflict, find_conflicts, is_gone, none_worse
from picklist.sets.followers import shifted
from picklist.sets.planning_context import PlanningContext, Scenario
from picklist.sets.remedies.other_rooms import why_not
from picklist.sets.remedies.planned_day import Edited, PlannedDay, TrayGroup, apply_edits
from picklist.sets.remedies.quick_check import Allowed, BusySpan, QuickCheck, allowed_after
from picklist.sets.remedies.relaxation import BestServed, LimitsJudge, ServedNetwork, has_several, may_lack
from picklist.sets.remedies.starts import Starts

# Work is counted, not timed, so that the same input always gives the same answer.
LOOK, PLANNING, PLANNING_SEVERAL = 1, 3, 20  # a check; a group planned again; one with several sets for a case
EVENING_WORK, LEAST_WORK, MOST_WORK = 80_000, 600, 2_000  # of a whole plan; of one conflict

_MOST_COLUMNS = 15_000  # of the networks that are kept

Move = tuple[Case, datetime, str]  # a case, its start, and the building of its room
Placed = tuple[tuple[str, datetime, str], ...]  # the same by the cases' numbers
Spans = dict[TrayGroup, tuple[BusySpan, ...] | None]  # None: only planning can tell


class WholePlan(Protocol):
    """What is judged beyond the allocation of sets, for the remedies that are shown."""

    def allows(self, edited: Edited) -> bool:
        """Whether edits make no set late in the department's queue, or later than it was there."""

    def removes(self, edited: Edited) -> tuple[Conflict, ...]:
        """The conflicts of the queue that go with edits."""

    def ready(self, edited: Edited, set_id: str, use: Use) -> datetime | None:
        """When a set is ready for a use in the department's queue after edits; None where that is not known."""

    def chance_left(self, edited: Edited, use: str) -> ChanceLeft | None:
        """The chance of failing that edits leave to a use, by its key."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialResult:
    """Edits that remove a conflict. ``tight`` is the slack that is left when it turns into a tight one.

    ``removes`` are all the conflicts that go, or turn tight, by their ids. ``choices``: other edits of which
    each would do as well as the one that is in ``edits``, itself among them.
    """

    edits: tuple[Edit, ...]
    edited: Edited
    tight: int | None
    removes: tuple[str, ...]
    choices: tuple[Edit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tried:
    """What edits make of the plan, and why rooms or people forbid it (None: they do not)."""

    edited: Edited
    why_not: Objection | None


class Trials:
    """Tries edits on a planned day and remembers each group's outcome, so that nothing is planned twice."""

    def __init__(self, planned: PlannedDay, whole: WholePlan | None = None) -> None:
        self.planned = planned
        self.whole = whole
        self.outcomes = Outcomes(planned.context)
        self.best_served = BestServed()
        self._networks: OrderedDict[int, list[ServedNetwork]] = OrderedDict()
        self._columns = 0  # of those networks
        self.before = {group: {one.id: one for one in plan.conflicts_found} for group, plan in planned.plans.items()}
        self.quick_checks = {group: QuickCheck(planned.context, planned.scenario, group) for group in planned.plans}
        number = max(1, sum(map(len, self.before.values())))
        self.share = min(MOST_WORK, max(LEAST_WORK, EVENING_WORK // number))
        self.uses: dict[str, list[Use]] = {}
        for use in planned.scenario.uses:
            self.uses.setdefault(use.case, []).append(use)
        self.starts: dict[str, Starts] = {}
        self._moved: dict[tuple[str, datetime, str], Spans] = {}
        self._limits: dict[tuple[TrayGroup, str], Allowed] = {}
        self._tried: dict[tuple[Edit, ...], _Tried] = {}
        self._stands: dict[tuple[TrayGroup, str, Placed], bool] = {}
        self._gone: dict[tuple[TrayGroup, str, frozenset[str]], bool] = {}
        self._ruled_out: set[tuple[int, str]] = set()
        self._helps_none: set[tuple[int, frozenset[str]]] = set()
        self._lacking: dict[int, list[Job]] = {}
        self._spent: Counter[str] = Counter()
        self.cut_short: set[str] = set()  # conflicts for which not all changes were tried

    def home(self, target: FoundConflict) -> TrayGroup:
        """The tray group of a conflict."""
        return self.planned.context.group_of[target.use.tray]

    def starts_of(self, case: Case) -> Starts:
        """Where a case alone may start."""
        if case.number not in self.starts:
            self.starts[case.number] = Starts(self.planned, case)
        return self.starts[case.number]

    def without_may_help(self, target: FoundConflict, cases: Collection[str]) -> bool:
        """Whether the target could go if the cases were not there: if not, no move of them can help."""
        home = self.home(target)
        left = [span for span in self.quick_checks[home].spans.values() if span.case not in cases]
        if target.use.case in cases:
            left = [span for span in left if span.key != target.use.key]
        return self.quick_checks[home].allows(left, self._limits_of(home, target), ())

    def gone_may_help(self, target: FoundConflict, cases: frozenset[str]) -> bool:
        """As ``without_may_help``, by the linear relaxation: if not, no move of the cases within the building can help.

        A moved case has its sets clean, so that each could as well pass from where it was before to where it goes next.
        That holds in one building and for records that do not end; a use that never gets a set is left to planning.
        """
        group, limits = self.home(target), self._limits_of(self.home(target), target)
        key = (group, target.id, cases)
        if key not in self._gone:
            uses = self.planned.scenario.uses_in(group)
            sure = len({use.building for use in uses}) == 1 and not any(
                use.key in limits.lost for use in uses if use.case in cases
            )
            left = tuple(use for use in uses if use.case not in cases)
            question = self.outcomes.question(replace(self.planned.scenario, uses=left), group)
            sure = sure and not question.renewed and not any(copy.exceptions for copy in question.copies)
            networks = self.best_served.networks(question) if sure else []
            self._gone[key] = not self.best_served.all_break(networks, limits)
        return self._gone[key]

    def moves_may_help(self, target: FoundConflict, moves: Sequence[Move]) -> bool:
        """Whether moves could remove the target and make nothing worse, as far as the quick check can say."""
        found = [self._spans_of(case, start, building) for case, start, building in moves]
        groups = {group for spans in found for group in spans}
        home = self.home(target)
        if home not in groups:
            return False
        moved = {group: [spans[group] for spans in found if group in spans] for group in groups}
        placed = tuple((case.number, start, building) for case, start, building in moves)
        if not all(self._may_stand(group, None, placed, moved[group]) for group in sorted(groups)):
            return False
        return self._may_stand(home, target, placed, moved[home])

    def may_help(self, target: FoundConflict, edits: tuple[Edit, ...]) -> bool:
        """As ``moves_may_help``, for edits of any kind."""
        edited = self.tried(edits).edited
        if self.home(target) not in edited.groups:
            return False
        scenario, context = edited.scenario, self.planned.context
        for group in edited.groups:
            if not scenario.uses_in(group):
                continue
            check = QuickCheck(context, scenario, group)
            if not check.allows(check.spans.values(), self._limits_of(group, target), edited.touched):
                return False
        return True

    def helps(self, target: FoundConflict, edits: tuple[Edit, ...], *, counted: bool = True) -> TrialResult | None:
        """The result when edits are allowed, remove the target and make no conflict new or worse, by planning in full.

        ``counted``: only within the work allowed for the target; ``cut_short`` records where it ran out.
        """
        tried = self.tried(edits)
        if tried.why_not or self.home(target) not in tried.edited.groups:
            return None
        home, edited = self.home(target), tried.edited
        tight, removed = None, set[str]()
        # The conflict's own group first: most edits fail there, and the others need not be planned.
        for group in sorted(edited.groups, key=lambda one: (one != home, one)):
            before = self.before.get(group, {})
            if not self.outcomes.knows(edited.scenario, group) and not self._is_worth(target, edited, group, counted):
                return None
            conflicts_found = self._after(target, edited, group, counted)
            if conflicts_found is None:
                return None
            after = {one.id: one for one in conflicts_found}
            removed |= {key for key, one in before.items() if is_gone(one, after.get(key))}
            left = after.pop(target.id, None)
            if not is_gone(target, left) or not none_worse(before, after.values()):
                return None
            if _still_wanting(edited, after.values()):
                return None
            tight = left.minutes if left is not None else tight
        return TrialResult(edits=edits, edited=edited, tight=tight, removes=tuple(sorted(removed)))

    def harms_nothing(self, edits: tuple[Edit, ...]) -> TrialResult | None:
        """The result when edits are allowed and make no conflict of the allocation new or worse."""
        tried = self.tried(edits)
        if tried.why_not:
            return None
        removed = set[str]()
        for group in sorted(tried.edited.groups):
            before = self.before.get(group, {})
            after = {one.id: one for one in self.outcomes.conflicts_found(tried.edited.scenario, group)}
            if not none_worse(before, after.values()) or _still_wanting(tried.edited, after.values()):
                return None
            removed |= {key for key, one in before.items() if is_gone(one, after.get(key))}
        return TrialResult(edits=edits, edited=tried.edited, tight=None, removes=tuple(sorted(removed)))

    def _is_worth(self, target: FoundConflict, edited: Edited, group: TrayGroup, counted: bool) -> bool:
        """Whether to plan a group again: it may help, and work is left for the target."""
        key = (self.outcomes.key(edited.scenario, group), target.id)
        if key in self._ruled_out or (key[0], frozenset(edited.touched)) in self._helps_none:
            return False
        if counted and self._spent[target.id] >= self.share:
            self.cut_short.add(target.id)
            return False
        if not may_lack(self._lacking.get(key[0], ()), self._limits_in(edited, group, target), edited.touched):
            return False
        self._spent[target.id] += LOOK if counted else 0
        return True

    def _after(
        self, target: FoundConflict, edited: Edited, group: TrayGroup, counted: bool
    ) -> tuple[FoundConflict, ...] | None:
        """The conflicts of a group after edits; None as soon as it is certain that they do not help."""
        number, known = self.outcomes.key(edited.scenario, group), self.outcomes.knows(edited.scenario, group)
        if known:
            return self.outcomes.conflicts_found(edited.scenario, group)
        networks, found = self._networks_of(edited, group), None
        judge = LimitsJudge(
            best_served=self.best_served,
            networks=networks,
            limits=self._limits_in(edited, group, target),
            at_all=self._limits_in(edited, group, None),
            touched=edited.touched,
        )
        if self.best_served.rule_out(networks, judge.limits, judge.touched):
            judge.refuses_all = self.best_served.rule_out(networks, judge.at_all, judge.touched)
        else:
            found = self.outcomes.conflicts_judged(edited.scenario, group, judge)
            self._lacking[number] = judge.lacking
        if judge.refuses_all:
            self._helps_none.add((number, frozenset(judge.touched)))
        if found is None:
            self._ruled_out.add((number, target.id))
        elif counted:
            several = has_several(self.outcomes.question(edited.scenario, group))
            self._spent[target.id] += PLANNING_SEVERAL if several else PLANNING
        return found

    def tried(self, edits: tuple[Edit, ...]) -> _Tried:
        """Edits applied, and whether rooms and people allow them."""
        if edits not in self._tried:
            edited = apply_edits(self.planned, edits)
            self._tried[edits] = _Tried(edited=edited, why_not=why_not(self.planned, edited))
        return self._tried[edits]

    def building(self, room: str) -> str:
        """The building of a room, empty when it is not listed."""
        return building_of(self.planned.context.site, room)

    def _limits_of(self, group: TrayGroup, target: FoundConflict | None) -> Allowed:
        """What may be left of a group's conflicts when the target is gone; without one, what may be left at all."""
        mine = target if target is not None and group == self.home(target) else None
        key = (group, mine.id if mine else "")
        if key not in self._limits:
            limits = allowed_after(self.before.get(group, {}).values(), mine)
            self._limits[key] = limits.with_accepted(self.planned.scenario.accepted)
        return self._limits[key]

    def _networks_of(self, edited: Edited, group: TrayGroup) -> list[ServedNetwork]:
        """The networks of a group after edits; those asked for last are kept, for other conflicts of the group."""
        number = self.outcomes.key(edited.scenario, group)
        if number not in self._networks:
            self._networks[number] = self.best_served.networks(self.outcomes.question(edited.scenario, group))
            self._columns += _columns(self._networks[number])
            while self._columns > _MOST_COLUMNS and len(self._networks) > 1:
                self._columns -= _columns(self._networks.popitem(last=False)[1])
        self._networks.move_to_end(number)
        return self._networks[number]

    def _limits_in(self, edited: Edited, group: TrayGroup, target: FoundConflict | None) -> Allowed:
        return self._limits_of(group, target).with_accepted(edited.scenario.accepted)

    def _spans_of(self, case: Case, start: datetime, building: str) -> Spans:
        """The busy spans of a moved case's uses, by tray group."""
        key = (case.number, start, building)
        if key not in self._moved:
            minutes = minutes_between(case.start, start)
            found: dict[TrayGroup, list[BusySpan | None]] = {}
            for use in self.uses.get(case.number, ()):
                group = self.planned.context.group_of[use.tray]
                found.setdefault(group, []).append(self.quick_checks[group].span(shifted(use, minutes, building)))
            known = {group: tuple(span for span in spans if span is not None) for group, spans in found.items()}
            self._moved[key] = {p: spans if len(spans) == len(found[p]) else None for p, spans in known.items()}
        return self._moved[key]

    def _may_stand(
        self, group: TrayGroup, target: FoundConflict | None, placed: Placed, moved: list[tuple[BusySpan, ...] | None]
    ) -> bool:
        """Whether moves need not make anything worse in a group, with the target gone; None: whatever they remove."""
        key = (group, target.id if target else "", placed)
        if key not in self._stands:
            limits, cases = self._limits_of(group, target), frozenset(number for number, _, _ in placed)
            spans = [span for some in moved for span in some or ()]
            sure = all(some is not None for some in moved)
            self._stands[key] = not sure or self.quick_checks[group].allows_moved(spans, limits, cases)
        return self._stands[key]


def _columns(networks: Iterable[ServedNetwork]) -> int:
    return sum(len(one.network.program.uppers) for one in networks)


def _still_wanting(edited: Edited, after: Iterable[FoundConflict]) -> bool:
    """Whether a moved case still lacks a set: no remedy, even if another case gains."""
    return any(
        one.use.case in edited.touched and not one.never and SEVERITY[one.kind] > SEVERITY[ConflictKind.RESERVE]
        for one in after
    )


class _Numbered(NamedTuple):
    """A scenario, and the number of a tray group in it."""

    scenario: Scenario
    number: int


class Outcomes:
    """Conflicts of tray groups, by a number for everything that they depend on."""

    def __init__(self, context: PlanningContext) -> None:
        self.context = context
        self.seen: dict[int, tuple[FoundConflict, ...]] = {}
        self._numbers: dict[tuple[object, ...], int] = {}
        self._of_scenarios: dict[tuple[int, TrayGroup], _Numbered] = {}
        self._asked: tuple[int, AskedGroup] | None = None

    def key(self, scenario: Scenario, group: TrayGroup) -> int:
        """A number for everything in a scenario that a group's plan depends on."""
        asked = (id(scenario), group)  # to compare whole scenarios takes long; kept with it, its id stays its own
        if asked not in self._of_scenarios:
            self._of_scenarios[asked] = _Numbered(scenario, self._number(scenario, group))
        return self._of_scenarios[asked].number

    def _number(self, scenario: Scenario, group: TrayGroup) -> int:
        uses = scenario.uses_in(group)
        keys = {use.key for use in uses} if scenario.only else set()
        content = (
            group,
            uses,
            tuple(extra for extra in scenario.extras if extra.tray in group),
            tuple(haste for haste in scenario.hastes if haste.tray in group),
            tuple(pair for pair in scenario.only if pair[0] in keys),
            tuple(use.key for use in uses if use.key in scenario.accepted),
            scenario.off_carts,
        )
        return self._numbers.setdefault(content, len(self._numbers))

    def knows(self, scenario: Scenario, group: TrayGroup) -> bool:
        """Whether the group's conflicts have been found already."""
        return self.key(scenario, group) in self.seen

    def question(self, scenario: Scenario, group: TrayGroup) -> AllocationQuestion:
        """The allocation question of the group."""
        return self._ask(scenario, group).question

    def _ask(self, scenario: Scenario, group: TrayGroup) -> AskedGroup:
        """The question with its uses; the last one is kept, since it is asked for several times."""
        number = self.key(scenario, group)
        if self._asked is None or self._asked[0] != number:
            self._asked = number, ask(self.context, scenario, group)
        return self._asked[1]

    def conflicts_found(self, scenario: Scenario, group: TrayGroup) -> tuple[FoundConflict, ...]:
        """The conflicts of the group."""
        found = self.conflicts_judged(scenario, group, None)
        if found is None:
            raise AssertionError("stopped without a judge")
        return found

    def conflicts_judged(
        self, scenario: Scenario, group: TrayGroup, judge: LimitsJudge | None
    ) -> tuple[FoundConflict, ...] | None:
        """The conflicts of the group; None as soon as a judge allows none of what they may be."""
        number = self.key(scenario, group)
        if number not in self.seen:
            asked = self._ask(scenario, group)
            try:
                answer = solve(asked.question, judge)
            except StoppedError:
                return None
            margin = self.context.site.settings.margin
            self.seen[number] = find_conflicts(asked.uses, answer, margin, scenario.accepted)
        return self.seen[number]
