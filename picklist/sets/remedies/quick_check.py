"""Check quickly whether a change could help. It rules out most changes without planning them.

If every use has its set in time, then at no moment are more sets in use than there are. A change
that fails this cannot help; a change that passes is planned in full.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from picklist.model.conflicts import ConflictKind
from picklist.model.uses import Use
from picklist.sets.allocate_jobs import ask, known_job
from picklist.sets.allocation.terms import Copy, Job, Ready
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.planning_context import PlanningContext, Scenario
from picklist.sets.remedies.planned_day import TrayGroup

_NEVER = 1 << 60
_ANY = 1_000_000  # more sets than any pool has
FINE, TIGHT, UNOPENED, RUSHED, SHORT = range(5)
_LEVEL = {
    ConflictKind.TIGHT: TIGHT,
    ConflictKind.CONDITIONAL: UNOPENED,
    ConflictKind.RUSH: RUSHED,
    ConflictKind.SHORT: SHORT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BusySpan:
    """The minutes for which a use binds a set: from its need until the quickest of its possible sets is back.

    ``back``: at any pace or unopened, at usual pace or unopened, at usual pace.
    """

    key: str
    case: str
    need: int
    kinds: frozenset[str]
    on_hold: bool
    back: tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """How bad each use (by key) may still be, and how far under the reserve; a use that is not named must be fine.

    ``slack`` is the least that it may have where it is still as bad (negative: minutes late).
    ``lost`` are uses for which no set ever comes.
    """

    worst: Mapping[str, int]
    slack: Mapping[str, int]
    under: Mapping[str, int]
    lost: frozenset[str]

    def level(self, key: str, case: str, touched: Collection[str]) -> int:
        """How bad a use may still be; one of a case that was touched must have its set in time."""
        worst = self.worst.get(key, FINE)
        return min(worst, TIGHT) if case in touched and key not in self.lost else worst

    def with_accepted(self, accepted: Collection[str]) -> Allowed:
        """The same, when uses (by key) may take their set from the number kept ready."""
        return replace(self, under={**self.under, **dict.fromkeys(accepted, _ANY)}) if accepted else self


def allowed_after(before: Iterable[FoundConflict], target: FoundConflict | None) -> Allowed:
    """What may be left of a group's conflicts if none is worse and the target is gone, or only tight."""
    worst: dict[str, int] = {}
    slack: dict[str, int] = {}
    under: dict[str, int] = {}
    left = [one for one in before if target is None or one.id != target.id]
    for one in left:
        if one.kind is ConflictKind.RESERVE:
            under[one.use.key] = one.minutes
            continue
        worst[one.use.key] = _LEVEL[one.kind]
        if one.kind is not ConflictKind.SHORT:
            slack[one.use.key] = one.minutes if one.kind is ConflictKind.TIGHT else -one.minutes
    if target is not None and target.kind not in (ConflictKind.RESERVE, ConflictKind.TIGHT):
        worst[target.use.key] = TIGHT
    lost = frozenset(one.use.key for one in left if one.never)
    return Allowed(worst=worst, slack=slack, under=under, lost=lost)


_MOST_FAMILIES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Family:
    """Kinds that serve some uses alone, with the minutes at which their sets are there, by what is asked of them."""

    kinds: frozenset[str]
    standing: int
    arrivals: tuple[list[int], list[int], list[int]]

    def there(self, asked: int, minute: int) -> int:
        return self.standing + bisect_right(self.arrivals[asked], minute)


_Placed = tuple[BusySpan, int]  # with how bad it may be
_MOST_LOADS = 40  # kept at a time


def _with_levels(spans: Iterable[BusySpan], limits: Allowed, touched: Collection[str]) -> list[_Placed]:
    return [(span, limits.level(span.key, span.case, touched)) for span in spans]


def _served_alone(spans: Iterable[_Placed], kinds: frozenset[str]) -> list[_Placed]:
    """The spans that sets of these kinds alone may serve."""
    return [one for one in spans if one[0].kinds and one[0].kinds <= kinds]


class _SpareSets:
    """How many more sets of a family may be bound at the need of each span that counts, and when sets are bound.

    The spans given are those that the family serves alone. Counted are spans that may be as bad as ``level`` and no
    worse; with ``limits`` each span that may not go without, so that ``floor`` sets are left.
    """

    def __init__(
        self,
        found: list[_Placed],
        family: _Family,
        level: int,
        asked: int,
        spare: int = 0,
        *,
        floor: int = 0,
        limits: Allowed | None = None,
    ) -> None:
        self.family, self.level, self.asked, self.spare, self.floor = family, level, asked, spare, floor
        self.checked = level if limits is None else SHORT - 1
        bound, checked = self._of(found)
        self._begins, self._ends = sorted(begins for begins, _ in bound), sorted(ends for _, ends in bound)
        busy = [bisect_right(self._begins, span.need) - bisect_right(self._ends, span.need) for span in checked]
        left = sorted((span.need, self._most(span, limits) - bound) for span, bound in zip(checked, busy, strict=True))
        self._needs, self._left = [need for need, _ in left], [number for _, number in left]
        self.is_full = any(number < 0 for number in self._left)

    def takes(self, more: list[_Placed], limits: Allowed) -> bool:
        """Whether more spans may be bound as well."""
        bound, checked = self._of(more)
        for begins, ends in bound:
            for at in range(bisect_left(self._needs, begins), bisect_left(self._needs, ends)):
                if self._left[at] < 1 or (len(bound) > 1 and self._left[at] < _at(bound, self._needs[at])):
                    return False
        return all(self._busy(one.need) + _at(bound, one.need) <= self._most(one, limits) for one in checked)

    def _of(self, spans: list[_Placed]) -> tuple[list[tuple[int, int]], list[BusySpan]]:
        """When the spans that count bind a set, and at whose needs there must be enough."""
        bound = [(span.need, span.back[self.asked] + self.spare) for span, worst in spans if worst <= self.level]
        return bound, [span for span, worst in spans if worst <= self.checked]

    def _busy(self, minute: int) -> int:
        return bisect_right(self._begins, minute) - bisect_right(self._ends, minute)

    def _most(self, span: BusySpan, limits: Allowed | None) -> int:
        there = self.family.there(self.asked, span.need - self.spare)
        return max(0, there - self.floor) + limits.under.get(span.key, 0) if self.floor and limits else there


def _at(bound: Iterable[tuple[int, int]], minute: int) -> int:
    return sum(begins <= minute < ends for begins, ends in bound)


class _Load:
    """What spans leave to others."""

    def __init__(self, lines: list[_SpareSets], *, unsure: bool, impossible: bool) -> None:
        self._unsure, self._lines = unsure, lines
        self._families = {line.family.kinds for line in lines}
        self._impossible = impossible or any(line.is_full for line in lines if line.level != UNOPENED or not unsure)

    def takes(self, more: list[_Placed], limits: Allowed) -> bool:
        """Whether more spans may be there as well."""
        if self._impossible or any(worst < SHORT and not span.kinds for span, worst in more):
            return False
        unsure = self._unsure or any(span.on_hold for span, worst in more if worst > UNOPENED)
        concerned = {kinds: found for kinds in self._families if (found := _served_alone(more, kinds))}
        return all(
            line.takes(concerned[line.family.kinds], limits)
            for line in self._lines
            if line.family.kinds in concerned and (line.level != UNOPENED or not unsure)
        )


class QuickCheck:
    """The busy spans and sets of one tray group in a scenario."""

    def __init__(self, context: PlanningContext, scenario: Scenario, group: TrayGroup) -> None:
        self.context = context
        self.scenario = scenario
        asked = ask(context, scenario, group)
        question = asked.question
        self._sets = asked.sets
        self._margin = question.margin
        self._places = tuple(sorted({use.building for use in asked.uses.values()}))
        self._lasting = question.renewed
        self._owned = frozenset(self._in_the_end(copy.kind) for copy in question.copies)
        self.spans = {job.key: self._of_job(job, asked.uses[job.key]) for job in question.jobs}
        families = _joined({span.kinds for span in self.spans.values()} | {self._owned})
        found = (self._family(kinds, question.copies) for kinds in families)
        self._families = [family for family in found if family.standing < self._wanting(family.kinds)]
        pools = {tray: {kind for kind, named in question.pools.items() if named == tray} for tray in question.floors}
        self._loads: dict[tuple[int, frozenset[str]], tuple[Allowed, _Load]] = {}
        self._kept = [
            (self._family(frozenset(map(self._in_the_end, pools[tray])), question.copies), floor)
            for tray, floor in question.floors.items()
        ]

    def span(self, use: Use) -> BusySpan | None:
        """The busy span of a moved use; None when it goes to a building in which the group has no use yet."""
        if use.building not in self._places:
            return None
        return self._of_job(known_job(self.context, self.scenario, use, self._sets, self._places), use)

    def allows(self, spans: Collection[BusySpan], limits: Allowed, touched: Collection[str]) -> bool:
        """Whether the limits can be kept with these spans, the touched cases having their sets in time."""
        return self._load(_with_levels(spans, limits, touched), limits).takes([], limits)

    def allows_moved(self, moved: Collection[BusySpan], limits: Allowed, cases: frozenset[str]) -> bool:
        """As ``allows``, for the spans of the scenario with those of some cases at other times.

        What stays of the scenario is counted once for all times to which the cases may go.
        """
        key = (id(limits), cases)
        if key not in self._loads:
            if len(self._loads) == _MOST_LOADS:
                del self._loads[next(iter(self._loads))]
            rest = [span for span in self.spans.values() if span.case not in cases]
            self._loads[key] = limits, self._load(_with_levels(rest, limits, cases), limits)
        return self._loads[key][1].takes(_with_levels(moved, limits, cases), limits)

    def _load(self, found: list[_Placed], limits: Allowed) -> _Load:
        """What spans leave to be had, at each level of what they must have."""
        hurried = {haste.source for haste in self.scenario.hastes} & self.spans.keys()
        lines: list[_SpareSets] = []
        mine = [(family, _served_alone(found, family.kinds)) for family in self._families]
        for level in (TIGHT, FINE, RUSHED, UNOPENED):
            must = {span.key for span, worst in found if worst <= level}
            if level >= RUSHED or not hurried - must:
                spare = self._margin if level == FINE else 0
                asked = {RUSHED: 0, UNOPENED: 1}.get(level, 2)
                lines += [_SpareSets(spans, family, level, asked, spare) for family, spans in mine]
        kept = [] if self.scenario.hastes else self._kept
        lines += [
            _SpareSets(_served_alone(found, family.kinds), family, TIGHT, 2, floor=floor, limits=limits)
            for family, floor in kept
        ]
        # A set put back unopened may be there before the hurried one that it was: then this check says nothing.
        unsure = any(span.on_hold for span, worst in found if worst > UNOPENED)
        without = any(worst < SHORT and not span.kinds for span, worst in found)
        return _Load(lines, unsure=unsure, impossible=without)

    def _family(self, kinds: frozenset[str], copies: Iterable[Copy]) -> _Family:
        mine = [list(copy.first.values()) for copy in copies if copy.first and self._in_the_end(copy.kind) in kinds]
        coming = [readies for readies in mine if all(ready.waits for ready in readies)]
        arrivals = (
            sorted(min(ready.soonest for ready in readies) for readies in coming),
            sorted(min(_unrushed(ready) for ready in readies) for readies in coming),
            sorted(min(ready.usual for ready in readies) for readies in coming),
        )
        return _Family(kinds=kinds, standing=len(mine) - len(coming), arrivals=arrivals)

    def _wanting(self, kinds: frozenset[str]) -> int:
        """How many uses sets of these kinds alone may serve; where as many stand ready, there are always enough."""
        return sum(bool(span.kinds) and span.kinds <= kinds for span in self.spans.values())

    def _in_the_end(self, kind: str) -> str:
        """The kind that a kind's sets are once they have a new record: for this check they are the same."""
        return self._lasting.get(kind, kind)

    def _of_job(self, job: Job, use: Use) -> BusySpan:
        kinds = frozenset(self._in_the_end(option.kind) for option in job.options) & self._owned
        readies = [ready for places in job.back.values() for ready in places.values()]
        return BusySpan(
            key=job.key,
            case=use.case,
            need=job.need,
            kinds=kinds,
            on_hold=use.on_hold,
            back=(
                min((ready.soonest for ready in readies), default=_NEVER),
                min((_unrushed(ready) for ready in readies), default=_NEVER),
                min((ready.usual for ready in readies), default=_NEVER),
            ),
        )


def _joined(families: set[frozenset[str]]) -> list[frozenset[str]]:
    """The families, and those that hang together joined: what may be served by either has the sets of both."""
    found = {kinds for kinds in families if kinds}
    fresh = sorted(found, key=sorted)
    while fresh and len(found) < _MOST_FAMILIES:
        joined = {one | other for one in fresh for other in families if one & other} - found
        found |= joined
        fresh = sorted(joined, key=sorted)
    return sorted(found, key=lambda kinds: (len(kinds), sorted(kinds)))


def _unrushed(ready: Ready) -> int:
    return ready.usual if ready.unopened is None else min(ready.usual, ready.unopened)
