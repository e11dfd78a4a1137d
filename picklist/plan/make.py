"""Make the plan of a day: the whole pipeline in one place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Protocol

from picklist.checks.crew_checks import find_lent_sets, find_miscounts, find_missed_sets
from picklist.checks.set_state_checks import find_late_loans, find_unrecorded, find_used
from picklist.clock import shift
from picklist.department import (
    ChanceAfter,
    add_relief,
    draw_chances,
    queue_conflicts,
    run_department,
    say_queue_times,
)
from picklist.garbage import no_search_for_garbage
from picklist.model.built import CountFound
from picklist.model.conflicts import Cluster, ConflictKind, conflicts_in
from picklist.model.department import ChanceReport, DepartmentRun
from picklist.model.needs import CaseNeeds
from picklist.model.plan import PLAN_VERSION, Cart, Plan
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.supply import ItemShortage, Pick
from picklist.model.uses import Use
from picklist.plan.make_carts import CartMaker, EngineResults
from picklist.plan.queue_check import QueueCheck
from picklist.plan.queue_remedies import add_queue_remedies
from picklist.problems import Problem, Severity, join_problems
from picklist.resolve import gather_problems, resolve_cases
from picklist.sets.case_uses import case_times, make_uses, started_cases, stopped_cases
from picklist.sets.clusters import add_chances, add_queue_conflicts
from picklist.sets.plan_sets import (
    SetsPlan,
    add_remedies,
    compose,
    make_planned_day,
    mark_sets_to_put_back,
    mark_used_sets,
)
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.trial import Trials
from picklist.stock import StockResult, give_stock


class Progress(Protocol):
    """Is told what is being done and, where that is counted, how many are done of how many."""

    def __call__(self, doing: str, done: int = 0, of: int = 0) -> None:
        """Take the news."""


class Stage(StrEnum):
    """What ``make_plan`` is at."""

    CARDS = "Resolving cards"
    STOCK = "Giving out stock"
    SETS = "Giving out sets"
    DEPARTMENT = "Running the department"
    REMEDIES = "Looking for remedies"
    CHANCES = "Simulating days"


def _silent(doing: str, done: int = 0, of: int = 0) -> None:
    """Say nothing of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnCarts:
    """What is on the carts and lists of some days.

    ``fixed`` (use key -> set) and ``picks`` are what is on carts and with running cases; picks of no case are on no
    shelf and for nobody. ``coming_off`` (set -> case) is what is to be put back from other carts, ``used`` (set ->
    case) what done cases had, ``counted`` the cases whose lots settling has taken off their table; ``printed`` and
    ``printed_picks`` what the lists in hand name, to be kept where nothing is lost by it. ``missed`` (set -> case) is
    what crews reported missing, ``counts`` what they counted.
    """

    fixed: Mapping[str, str] = field(default_factory=dict)
    picks: tuple[Pick, ...] = ()
    coming_off: Mapping[str, str] = field(default_factory=dict)
    used: Mapping[str, Case] = field(default_factory=dict)
    counted: frozenset[str] = frozenset()
    printed: Mapping[str, str] = field(default_factory=dict)
    printed_picks: tuple[Pick, ...] = ()
    missed: Mapping[str, str] = field(default_factory=dict)
    counts: tuple[CountFound, ...] = ()

    def and_of(self, other: OnCarts) -> OnCarts:
        """Both together; they are of different days, and ``self`` has the lists where ``other`` has only the plan."""
        return OnCarts(
            fixed={**self.fixed, **other.fixed},
            picks=(*self.picks, *other.picks),
            coming_off={**self.coming_off, **other.coming_off},
            used={**self.used, **other.used},
            counted=self.counted | other.counted,
            printed={**other.printed, **self.printed},
            printed_picks=(*self.printed_picks, *other.printed_picks),
            missed={**self.missed, **other.missed},
            counts=(*self.counts, *other.counts),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What to plan: the day whose carts are built, as of ``now``, with what is ``on_carts`` and lists already.

    ``left_alone`` are cases whose carts stay as they are, though the schedule that could be read has them not;
    ``lists_from`` is that of the plan. ``only``: the cases of which carts and conflicts are asked for; None for all.
    Of the stock then how much each gets is right; which lots, and what is left of stand-ins, is not asked.
    """

    day: date
    now: datetime
    revision: int = 1
    replaces: int | None = None
    lists_from: int | None = None
    on_carts: OnCarts = OnCarts()
    left_alone: tuple[str, ...] = ()
    with_chance: bool = True
    with_remedies: bool = True
    only: frozenset[str] | None = None


def make_plan(
    site: Site,
    problems: tuple[Problem, ...],
    order: PlanRequest,
    progress: Progress = _silent,
    carts_known: Callable[[Plan], None] | None = None,
) -> Plan:
    """Make the plan of ``order.day`` from a site and the problems already found in it.

    ``carts_known`` is given the plan as soon as only its remedies and chances are missing: carts are made once.
    """
    problems, there = tuple(problem.for_paper() for problem in problems), order.on_carts
    with no_search_for_garbage():
        progress(Stage.CARDS)
        cases, needs = resolve_horizon(site, problems, order.now)
        progress(Stage.STOCK)
        stock = give_stock(
            site, _what_they_want(needs, order.only), cases, there.picks, there.printed_picks, there.counted
        )
        progress(Stage.SETS)
        as_recorded = site
        site, uses, stopped = what_cases_want(site, cases, needs, there, order.now)
        problems = (*problems, *find_used(as_recorded, site, there.used))
        planned = make_planned_day(site, uses, order.now, there.fixed, there.printed, stopped=stopped, day=order.day)
        sets = compose(planned, order.only)
        progress(Stage.DEPARTMENT)
        department = run_department(site, sets.assignments, order.now)
        clusters = add_queue(site, sets, order.now, department)
        plan = _Done(site, problems, order, cases, needs, stock, sets, department).plan(clusters)
    if carts_known:
        carts_known(plan)
    if order.with_remedies and clusters:
        clusters = _with_remedies(site, planned, clusters, order, department, progress)
    if _draws_chances(site, order):
        progress(Stage.CHANCES)
    chance = _draw(site, cases, sets, order, department)
    return replace(plan, clusters=add_chances(clusters, chance), chance=chance, remedies_sought=order.with_remedies)


@dataclass(frozen=True, slots=True)
class _Done:
    """What the engines found for the carts of a day."""

    site: Site
    problems: tuple[Problem, ...]
    order: PlanRequest
    cases: tuple[Case, ...]
    needs: tuple[CaseNeeds, ...]
    stock: StockResult
    sets: SetsPlan
    department: DepartmentRun

    def plan(self, clusters: tuple[Cluster, ...]) -> Plan:
        """The plan with these conflicts, without remedies and chances."""
        site, order, cases, sets = self.site, self.order, self.cases, self.sets
        case_of = {one.use.key: one.use.case for one in sets.assignments}
        given = EngineResults(
            needs=self.needs,
            picks=(*self.stock.picks, *_picks_in_rooms(order, cases)),
            shortages=self.stock.shortages,
            assignments=sets.assignments,
            reuses=sets.reuses,
            conflicts=conflicts_in(clusters),
            runs=self.department.by_wait(),
            on_carts={set_id: case_of[key] for key, set_id in order.on_carts.fixed.items() if key in case_of},
        )
        of_day = [case for case in cases if case.day == order.day and (order.only is None or case.number in order.only)]
        carts = _make_carts(site, given, self.problems, of_day)
        shortages = _shortages_of(self.stock, carts)
        return Plan(
            version=PLAN_VERSION,
            day=order.day,
            now=order.now,
            revision=order.revision,
            replaces=order.replaces,
            settings=site.settings,
            carts=carts,
            cases=cases,
            assignments=sets.assignments,
            reuses=sets.reuses,
            clusters=clusters,
            shortages=shortages,
            department=self.department,
            chance=None,
            sets=tuple(site.sets.values()),
            trays=tuple(site.trays.values()),
            items=tuple(site.items[item] for item in sorted(_items_on(carts, shortages) & set(site.items))),
            places=tuple(site.places.values()),
            staff=tuple(site.staff[person] for person in sorted(_people_at(cases) & set(site.staff))),
            remedies_sought=False,
            lists_from=order.lists_from,
            unplaced=(unplaced := _unplaced(self.problems, site)),
            left_alone=order.left_alone,
            uncounted=_uncounted(cases, self.needs, unplaced),
            problems=join_problems(
                (
                    *self.problems,
                    *gather_problems(self.needs),
                    *find_unrecorded(site, sets.assignments),
                    *find_late_loans(site, sets.assignments),
                    *find_missed_sets(site, order.on_carts.missed, order.on_carts.fixed.values()),
                    *find_miscounts(site, order.on_carts.counts, order.on_carts.picks),
                    *find_lent_sets(site, order.day, order.on_carts.fixed, sets.assignments),
                )
            ),
        )


def what_cases_want(
    site: Site, cases: Sequence[Case], needs: Sequence[CaseNeeds], there: OnCarts, now: datetime
) -> tuple[Site, tuple[Use, ...], tuple[str, ...]]:
    """The uses of sets, and the cases whose list is stopped.

    With them comes the site in which used sets, and those to put back, are marked.
    """
    on_carts = {*there.fixed.values()}  # what was put on a cart since is no longer as the case before left it
    used = {set_id: case for set_id, case in there.used.items() if set_id not in on_carts}
    site = mark_used_sets(site, used, now)
    uses, stopped = make_uses(site, needs, cases), stopped_cases(cases, needs)
    return mark_sets_to_put_back(site, uses, there.fixed, there.coming_off, stopped), uses, stopped


def resolve_horizon(
    site: Site, problems: Iterable[Problem], now: datetime
) -> tuple[tuple[Case, ...], tuple[CaseNeeds, ...]]:
    """The cases of the horizon, and the needs of those whose list no problem stops."""
    cases, stopped = horizon_cases(site, now), stopped_numbers(problems)
    return cases, resolve_cases(site, (case for case in cases if case.number not in stopped))


def _what_they_want(needs: tuple[CaseNeeds, ...], only: frozenset[str] | None) -> tuple[CaseNeeds, ...]:
    """The needs of all cases for what some of them want: the stock of each thing is given for itself."""
    if only is None:
        return needs
    things = {need.thing for one in needs if one.case in only for need in one.needs}
    return tuple(replace(one, needs=tuple(need for need in one.needs if need.thing in things)) for one in needs)


def stopped_numbers(problems: Iterable[Problem]) -> frozenset[str]:
    """The cases whose list a problem stops."""
    stops = (problem for problem in problems if problem.severity is Severity.STOPS_CASE)
    return frozenset(number for problem in stops for number in problem.cases)


def horizon_cases(site: Site, now: datetime) -> tuple[Case, ...]:
    """The live cases of the site's today and later, and those of an earlier day that still last, by start."""
    today = site.settings.site_clock.day(now)
    live = (case for case in site.cases if case.is_live)
    coming = (case for case in live if case.day >= today or _still_lasts(case, now, today))
    return tuple(sorted(coming, key=lambda case: (case.start, case.room, case.number)))


def _still_lasts(case: Case, now: datetime, today: date) -> bool:
    """Whether a case of an earlier day lasts until now. One recorded as running may be past its plan."""
    overruns = case.is_running and case.day == today - timedelta(days=1)
    return overruns or shift(case.start, case.minutes) > now


def add_queue(
    site: Site, sets: SetsPlan, now: datetime, department: DepartmentRun, *, relief: bool = True
) -> tuple[Cluster, ...]:
    """The clusters with conflicts that exist only because of queues, and with ``relief`` what would relieve them."""
    started = started_cases(site, (one.use for one in sets.assignments), now)
    waiting = [one for one in sets.reuses if one.waiter not in started]
    found = queue_conflicts(department, waiting, sets.assignments, site.settings.site_clock)
    relieved = add_relief(found, site, sets.assignments, now, department) if relief else found
    clusters = say_queue_times(sets.clusters, department, sets.reuses)
    return add_queue_conflicts(clusters, relieved, {one.use.case: one.use.needed for one in sets.assignments})


def _with_remedies(
    site: Site,
    planned: PlannedDay,
    clusters: tuple[Cluster, ...],
    order: PlanRequest,
    department: DepartmentRun,
    progress: Progress,
) -> tuple[Cluster, ...]:
    """The clusters with remedies, each judged with the department's run and with the chance that it leaves."""
    of, done = len(conflicts_in(clusters)), 0

    def one_more() -> None:
        nonlocal done
        done += 1
        progress(Stage.REMEDIES, done, of)

    progress(Stage.REMEDIES, done, of)
    chances = ChanceAfter(site, order.now, department) if _draws_chances(site, order) else None
    queued = (one for one in conflicts_in(clusters) if one.kind is ConflictKind.QUEUE)
    check = QueueCheck(site, planned, department, order.now, chances, queued)
    with_some = add_remedies(planned, clusters, check, one_more)
    return add_queue_remedies(Trials(planned, check), check, with_some, one_more)


def _draws_chances(site: Site, order: PlanRequest) -> bool:
    return order.with_chance and site.settings.draws > 0


def _draw(
    site: Site, cases: tuple[Case, ...], sets: SetsPlan, order: PlanRequest, department: DepartmentRun
) -> ChanceReport | None:
    if not _draws_chances(site, order):
        return None
    return draw_chances(
        site,
        cases,
        sets.assignments,
        sets.reuses,
        order.now,
        draws=site.settings.draws,
        seed=site.settings.seed,
        department=department,
    )


def _make_carts(site: Site, given: EngineResults, problems: tuple[Problem, ...], cases: list[Case]) -> tuple[Cart, ...]:
    complete_by = {case.number: case_times(site.settings, case).needed for case in cases}
    maker = CartMaker(site, given, problems, complete_by)
    return tuple(maker.make(case) for case in sorted(cases, key=lambda c: (c.start, c.room, c.number)))


def _unplaced(problems: tuple[Problem, ...], site: Site) -> tuple[Problem, ...]:
    """Problems that stop cases which could not be given a day, a room and a start; each case's first."""
    placed = {case.number for case in site.cases}
    found: dict[str, Problem] = {}
    for problem in problems:
        if problem.severity is Severity.STOPS_CASE:
            for number in problem.cases:
                if number not in placed:
                    found.setdefault(number, replace(problem, cases=(number,)))
    return tuple(found.values())


def _picks_in_rooms(order: PlanRequest, cases: Iterable[Case]) -> tuple[Pick, ...]:
    """What running cases took with them."""
    running = {case.number for case in cases if case.is_running}
    return tuple(pick for pick in order.on_carts.picks if pick.case in running)


def _uncounted(cases: Iterable[Case], needs: Iterable[CaseNeeds], unplaced: Iterable[Problem]) -> tuple[str, ...]:
    """The cases whose list is stopped, in the order of the schedule, then those that have no place on it."""
    return (*stopped_cases(cases, needs), *(number for problem in unplaced for number in problem.cases))


def _items_on(carts: tuple[Cart, ...], shortages: tuple[ItemShortage, ...]) -> set[str]:
    """What is on a cart, in its pack, or could stand in for what is short."""
    needed = {need.thing for cart in carts for need in cart.needs.needs}
    packed = {content.item for cart in carts for content in cart.needs.pack_contents}
    return needed | packed | {item for shortage in shortages for item, _ in shortage.stand_ins}


def _people_at(cases: Iterable[Case]) -> set[str]:
    return {person for case in cases for person in (case.surgeon, *case.team)}


def _shortages_of(stock: StockResult, carts: tuple[Cart, ...]) -> tuple[ItemShortage, ...]:
    """Those shortages that touch a case of the day, lacking only what its carts lack."""
    numbers = {cart.case.number for cart in carts}
    kept = (replace(s, lacking=tuple(c for c in s.lacking if c.case in numbers)) for s in stock.shortages)
    return tuple(shortage for shortage in kept if shortage.lacking)


def change_plan(
    site: Site, plan: Plan, cases: Sequence[Case], sets: SetsPlan, clusters: tuple[Cluster, ...], run: DepartmentRun
) -> Plan:
    """Make the plan again with cases at other starts or in other rooms and the sets allocated again.

    ``clusters`` are those of ``sets`` with what the department's ``run`` of them makes late. Needs and stock
    stay as they were. Chances and remedies are left out: each would take longer than a trial may. ``site`` is
    the one that ``plan`` was made from.
    """
    given = EngineResults(
        needs=tuple(cart.needs for cart in plan.carts),
        picks=tuple(pick for cart in plan.carts for line in cart.goods for pick in line.picks),
        shortages=plan.shortages,
        assignments=sets.assignments,
        reuses=sets.reuses,
        conflicts=conflicts_in(clusters),
        runs=run.by_wait(),
    )
    built = {cart.case.number for cart in plan.carts}
    moved = [case for case in cases if case.number in built]
    complete_by = {case.number: case_times(site.settings, case).needed for case in moved}
    stopping = tuple(problem for cart in plan.carts for problem in cart.stopped)
    maker = CartMaker(site, given, stopping, complete_by)
    return replace(
        plan,
        carts=tuple(maker.make(case) for case in sorted(moved, key=lambda c: (c.start, c.room, c.number))),
        cases=tuple(cases),
        assignments=sets.assignments,
        reuses=sets.reuses,
        clusters=clusters,
        remedies_sought=False,
        department=run,
        chance=None,
    )
