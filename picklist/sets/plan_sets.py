"""The sets of an evening planned: who gets which set, by when each must move, what does not fit and what helps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.model.conflicts import Cluster, Conflict, ConflictKind, conflicts_in
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse, Use
from picklist.sets.clusters import make_clusters
from picklist.sets.conflicts import find_conflicts
from picklist.sets.knock_on import Followers
from picklist.sets.remedies.evening import Evening
from picklist.sets.remedies.find import with_remedies
from picklist.sets.remedies.trial import Trials
from picklist.sets.serve_part import PartPlan, assignments_of, serve_part
from picklist.sets.situation import Scenario, Situation
from picklist.sets.uses import begun_cases


@dataclass(frozen=True, slots=True, kw_only=True)
class SetsPlan:
    """Every use with its set, every reuse with its deadlines, and the conflicts in clusters."""

    assignments: tuple[Assignment, ...]
    reuses: tuple[Reuse, ...]
    clusters: tuple[Cluster, ...]

    @property
    def conflicts(self) -> tuple[Conflict, ...]:
        """All conflicts, cluster by cluster."""
        return conflicts_in(self.clusters)


def plan_sets(
    site: Site,
    uses: Iterable[Use],
    now: datetime,
    *,
    held: Mapping[str, str] | None = None,
    printed: Mapping[str, str] | None = None,
    remedies: bool = True,
) -> SetsPlan:
    """Sets given to uses in the best way, with reuses, conflicts and (unless left out) their remedies.

    Uses are those of the horizon; ``now`` is the moment at which the sets' states hold. ``held``
    (use key -> set) are the sets on built carts, which stay there unless a conflict takes them off; ``printed`` those
    that lists in hand name, which stay where the allocation is none the worse for it.
    """
    evening = make_evening(site, uses, now, held, printed)
    plan = compose(evening)
    return add_remedies(evening, plan) if remedies else plan


def make_evening(
    site: Site,
    uses: Iterable[Use],
    now: datetime,
    held: Mapping[str, str] | None = None,
    printed: Mapping[str, str] | None = None,
) -> Evening:
    """The live cases with every part planned, ready for changes to be tried."""
    situation = Situation(site, now, held, printed)
    scenario = Scenario(uses=tuple(uses))
    plans = serve_all_parts(situation, scenario)
    cases = {case.number: case for case in live_cases(site)}
    return Evening(situation=situation, cases=cases, scenario=scenario, plans=plans)


def live_cases(site: Site) -> tuple[Case, ...]:
    """The cases that are planned or running."""
    return tuple(case for case in site.cases if case.is_live)


def serve_all_parts(situation: Situation, scenario: Scenario) -> dict[tuple[str, ...], PartPlan]:
    """Each part that has a use, planned."""
    wanted = {use.tray for use in scenario.uses}
    return {part: serve_part(situation, scenario, part) for part in situation.parts if not wanted.isdisjoint(part)}


def compose(evening: Evening) -> SetsPlan:
    """The parts' plans as one, in order of need.

    Nothing can be decided any more for a case that has begun: of its conflicts only those of the
    reserve are kept, which is what is left for others.
    """
    situation, plans = evening.situation, evening.plans
    followers = Followers(situation, plans.values(), evening.cases.values())
    needed: dict[str, datetime] = {}
    assignments: list[Assignment] = []
    conflicts: list[Conflict] = []
    for plan in plans.values():
        assignments += assignments_of(plan)
        conflicts += find_conflicts(situation, plan, followers)
    assignments.sort(key=lambda one: (one.use.needed, one.use.key))
    for assignment in assignments:
        needed.setdefault(assignment.use.case, assignment.use.needed)
    begun = begun_cases(situation.site, (one.use for one in assignments), situation.now)
    conflicts = [one for one in conflicts if one.kind is ConflictKind.RESERVE or one.waiter not in begun]
    conflicts.sort(key=lambda one: (needed[one.waiter], one.id))
    services = [service for plan in plans.values() for service in plan.services if service.reuse]
    services.sort(key=lambda one: (one.use.needed, one.use.key))
    reuses = tuple(service.reuse for service in services if service.reuse)
    return SetsPlan(assignments=tuple(assignments), reuses=reuses, clusters=make_clusters(conflicts, reuses))


def add_remedies(evening: Evening, plan: SetsPlan) -> SetsPlan:
    """The plan with remedies for each of its conflicts."""
    trials = Trials(evening)
    spotted = {one.id: one for part in evening.plans.values() for one in part.spotted}
    clusters = [
        replace(
            cluster,
            conflicts=tuple(with_remedies(trials, one, spotted[one.id]) for one in cluster.conflicts),
        )
        for cluster in plan.clusters
    ]
    return replace(plan, clusters=tuple(clusters))
