"""Plan the sets: which case gets which set, by when each must move, what conflicts there are, and what helps."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from operator import itemgetter

from picklist.model.conflicts import Cluster, Conflict, ConflictKind, conflicts_in, each_conflict
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.uses import Assignment, Pace, Reuse, Use
from picklist.sets.allocate_group import GroupPlan, allocate_group, assignments_of
from picklist.sets.case_uses import case_times, started_cases
from picklist.sets.clusters import make_clusters
from picklist.sets.describe_conflicts import describe_conflicts
from picklist.sets.followers import Followers
from picklist.sets.planning_context import PlanningContext, Scenario
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.side_by_side import Sought, all_with_remedies
from picklist.sets.remedies.trial import WholePlan
from picklist.sets.turnaround import Turnaround


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
    stopped: Collection[str] = (),
    printed: Mapping[str, str] | None = None,
    remedies: bool = True,
) -> SetsPlan:
    """Allocate sets to uses in the best way, and find reuses, conflicts and (unless left out) remedies.

    Uses are those of the horizon; ``now`` is the moment at which the sets' states hold. ``held``
    (use key -> set) are the sets on built carts, which stay there unless a conflict takes them off, and in any case
    where the list of their case is ``stopped``; ``printed`` those that lists in hand name, which stay where the
    allocation is no worse for it.
    """
    planned = make_planned_day(site, uses, now, held, printed, stopped=stopped)
    plan = compose(planned)
    return replace(plan, clusters=add_remedies(planned, plan.clusters)) if remedies else plan


def make_planned_day(
    site: Site,
    uses: Iterable[Use],
    now: datetime,
    held: Mapping[str, str] | None = None,
    printed: Mapping[str, str] | None = None,
    *,
    stopped: Collection[str] = (),
    day: date | None = None,
) -> PlannedDay:
    """Plan every tray group of the live cases, ready for changes to be tried; ``day``: that of the sheets."""
    cases = {case.number: case for case in live_cases(site)}
    context = PlanningContext(
        _without_carts_left_alone(site, held or {}, cases.keys() - set(stopped)), now, held, printed, day
    )
    scenario = Scenario(uses=tuple(uses), accepted=tuple(use.key for use in uses if use.ends <= now))
    plans = allocate_all_groups(context, scenario)
    return PlannedDay(context=context, cases=cases, scenario=scenario, plans=plans)


def _without_carts_left_alone(site: Site, held: Mapping[str, str], cases: Iterable[str]) -> Site:
    """The site without the sets on carts of other cases than these: nobody may take them from there."""
    mine, case_of = set(cases), _cases_of(site, held)
    there = {set_id for key, set_id in held.items() if case_of[key] not in mine}
    return replace(site, sets={key: one for key, one in site.sets.items() if key not in there}) if there else site


def _cases_of(site: Site, keys: Iterable[str]) -> dict[str, str]:
    """The case of each use by its key; empty where no such case is known.

    Numbers of cases and ids of trays may hold slashes themselves: what leaves the id of a tray goes first.
    """
    known = {case.number for case in site.cases}
    found = {}
    for key in keys:
        parts = key.split("/")[:-1]  # the last one is the copy
        cuts = [("/".join(parts[:at]), "/".join(parts[at:])) for at in range(len(parts) - 1, 0, -1)]
        numbers = [(tray not in site.trays, number) for number, tray in cuts if number in known]
        found[key] = min(numbers, key=itemgetter(0))[1] if numbers else ""
    return found


def mark_sets_to_put_back(
    site: Site,
    uses: Iterable[Use],
    held: Mapping[str, str],
    coming_off: Mapping[str, str],
    stopped: Collection[str] = (),
) -> Site:
    """The site with each set marked that is on a cart which does not need it.

    ``coming_off`` (set -> case) are those on the carts of cancelled cases and all else that is to be put back;
    to them come sets on carts of planned cases that have no use of theirs. ``held`` and ``stopped`` as
    ``make_planned_day`` takes them: what is on a cart for a use stays there.
    """
    wanted = {use.key for use in uses}
    planned = {case.number for case in site.cases if case.is_live and not case.is_running} - set(stopped)
    case_of = _cases_of(site, held)
    idle = {set_id: case_of[key] for key, set_id in held.items() if case_of[key] in planned}
    stays = {set_id for key, set_id in held.items() if key in wanted or case_of[key] not in planned}
    off = {set_id: case for set_id, case in {**coming_off, **idle}.items() if set_id not in stays}
    marked = {key: replace(one, off_cart_of=off[key]) for key, one in site.sets.items() if key in off}
    return replace(site, sets={**site.sets, **marked}) if marked else site


def mark_used_sets(site: Site, used: Mapping[str, Case], now: datetime) -> Site:
    """The site with each set dirty that a done case had and whose row is of before that case (``used``: set -> case).

    A row on the shelf without the time of its record may be of after the case, but for the least minutes of its route.
    """
    if not used:
        return site
    turnaround = Turnaround(site)
    there = [(site.sets[set_id], case) for set_id, case in used.items() if set_id in site.sets]
    dirty = {
        one.id: replace(one, state=SetState.DIRTY)
        for one, case in there
        if one.state is SetState.ON_SHELF and _is_of_before(turnaround, one, case, now)
    }
    return replace(site, sets={**site.sets, **dirty}) if dirty else site


def _is_of_before(turnaround: Turnaround, one: InstrumentSet, case: Case, now: datetime) -> bool:
    if one.recorded_at is not None:
        return one.recorded_at <= case.start
    route = turnaround.timed_route(one.tray, Pace.LEAST)
    ready = route.ready(min(now, case_times(turnaround.site.settings, case).leaves_room)) if route else None
    return ready is None or ready > now


def live_cases(site: Site) -> tuple[Case, ...]:
    """The cases that are planned or running."""
    return tuple(case for case in site.cases if case.is_live)


def allocate_all_groups(context: PlanningContext, scenario: Scenario) -> dict[tuple[str, ...], GroupPlan]:
    """Plan each tray group that has a use."""
    wanted = {use.tray for use in scenario.uses}
    return {group: allocate_group(context, scenario, group) for group in context.groups if not wanted.isdisjoint(group)}


def compose(planned: PlannedDay, only_of: Collection[str] | None = None) -> SetsPlan:
    """Join the groups' plans into one, in order of need; with all conflicts, or only those of some cases.

    Nothing can be decided now for a case that has started. Of its conflicts only those about
    the reserve are kept: they say what is left for others.
    """
    context, plans = planned.context, planned.plans
    followers = Followers(context, plans.values(), planned.cases.values())
    needed: dict[str, datetime] = {}
    assignments: list[Assignment] = []
    conflicts: list[Conflict] = []
    for plan in plans.values():
        assignments += assignments_of(plan)
        conflicts += describe_conflicts(context, plan, followers, only_of)
    assignments.sort(key=lambda one: (one.use.needed, one.use.key))
    for assignment in assignments:
        needed.setdefault(assignment.use.case, assignment.use.needed)
    started = started_cases(context.site, (one.use for one in assignments), context.now)
    conflicts = [one for one in conflicts if one.kind is ConflictKind.RESERVE or one.waiter not in started]
    conflicts.sort(key=lambda one: (needed[one.waiter], one.id))
    services = [service for plan in plans.values() for service in plan.services if service.reuse]
    services.sort(key=lambda one: (one.use.needed, one.use.key))
    reuses = tuple(service.reuse for service in services if service.reuse)
    return SetsPlan(assignments=tuple(assignments), reuses=reuses, clusters=make_clusters(conflicts, reuses))


def add_remedies(
    planned: PlannedDay,
    clusters: Iterable[Cluster],
    whole: WholePlan | None = None,
    one_more: Callable[[], None] = lambda: None,
) -> tuple[Cluster, ...]:
    """Add remedies to each conflict about the allocation of sets, by trials on the planned day.

    ``whole`` judges what is shown; ``one_more`` is called after each conflict.
    """
    known = {one.id: one for group in planned.plans.values() for one in group.conflicts_found}
    wanted = [Sought(one, known[one.id]) for one in conflicts_in(clusters) if one.id in known]
    found = {one.id: one for one in all_with_remedies(planned, whole, wanted, one_more)}
    return each_conflict(clusters, lambda one: found.get(one.id, one))
