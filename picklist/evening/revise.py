"""One build of an evening against the state: what the plan must honour, and what it then changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import TypeVar

from picklist.clock import SiteClock
from picklist.evening.changes import ListInHand, PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.content import missing_sets
from picklist.evening.held_sets import CartsOfDay, CartStanding, printed_assignments, printed_picks, standing_carts
from picklist.evening.keep_counted import carts_counted, first_unsettled, sets_counted
from picklist.evening.keep_decisions import decisions, follow_cases, look_for_decisions
from picklist.evening.keep_facts import told_so_far
from picklist.evening.keep_plans import (
    carts_of_day,
    latest_revision,
    listed_starts,
    load_plan,
    newest_day,
    open_put_backs,
    save_plan,
    standing_questions,
)
from picklist.evening.match import DOUBTFUL, CaseMatch, match_cases, renumbered, score
from picklist.evening.reported_cart import ReportedCart
from picklist.grouping import grouped
from picklist.model.built import BuiltCart
from picklist.model.catalogue import Item, Lot
from picklist.model.known import MatchQuestion
from picklist.model.plan import Plan
from picklist.model.schedule import Case, CaseStatus
from picklist.model.site import Site
from picklist.plan import OnCarts
from picklist.stock.shelf import expiry_now
from picklist.store.state import StateFile
from picklist.store.state_errors import DamagedPlanError
from picklist.wording.say_carts import plan_not_read

L = TypeVar("L", ListInHand, ReportedCart)


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """The cases of a schedule that carts may be for, done ones too, and what of the schedule could not be read.

    ``named`` are the numbers of all cases that were read, ``days`` those of which there are any, ``unread`` the numbers
    of cases whose row has no day, room or start that can be read; ``nameless``: there are rows or files of which
    nobody knows the cases.
    """

    cases: tuple[Case, ...]
    named: frozenset[str] = frozenset()
    days: frozenset[date] = frozenset()
    unread: frozenset[str] = frozenset()
    nameless: bool = False

    @classmethod
    def of(cls, site: Site, cases: Sequence[Case]) -> Schedule:
        """These cases of a site's schedule, and those that are over: what else was read and is not cancelled."""
        known = {case.number for case in cases}
        others = (case for case in site.cases if case.number not in known and not case.is_cancelled)
        named = frozenset(case.number for case in site.cases)
        return cls(
            cases=(*cases, *(replace(case, status=CaseStatus.DONE) for case in others)),
            named=named,
            days=frozenset(case.day for case in site.cases),
            unread=site.unread.cases - named,
            nameless=site.unread.schedule,
        )

    def may_hold(self, number: str) -> bool:
        """Whether a case that is not among those read may be among those that were not."""
        return number in self.unread or (self.nameless and number not in self.named)


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """Where a build starts: the plan it replaces, how its cases match, and what is on carts.

    ``told`` marks the last report of the crew that was read (see ``told_so_far``).
    ``plans`` are those of the lists in hand, by revision. ``match.problems`` are answers that fit nothing.
    ``renumbered`` are new numbers of cases that no list of the day was for, by the old ones.
    """

    number: int
    replaces: int | None
    told: str
    old: Plan | None
    match: CaseMatch
    built: Mapping[str, BuiltCart]
    reported: Mapping[str, ReportedCart]
    in_hand: Mapping[str, ListInHand]
    plans: Mapping[int, Plan]
    standing: OnCarts
    renumbered: Mapping[str, str] = field(default_factory=dict)


def begin_revision(
    state: StateFile,
    day: date,
    schedule: Schedule,
    read_plan: Callable[[bytes], Plan],
    answers: Mapping[str, str] | None = None,
) -> Revision:
    """Read from the state what the next plan of a day must honour.

    ``read_plan`` makes a plan of its plan.json, ``answers`` settle questions (new case number -> old one, or
    empty for none). A former plan that cannot be read is a problem in ``match.problems``.
    """
    told = told_so_far(state)
    latest = latest_revision(state, day)
    old = plan_kept(state, day, read_plan)
    carts = carts_of_day(state, day)
    match = _match(standing_questions(state, day), day, schedule, _listed(old, carts.in_hand), answers)
    lost = (plan_not_read(day, carts.built),) if old is None and latest is not None else ()
    return Revision(
        number=(latest or 0) + 1,
        replaces=latest,
        told=told,
        old=old,
        match=replace(match, problems=(*match.problems, *lost)),
        built=carts.built,
        reported=carts.reported,
        in_hand=carts.in_hand,
        plans=_plans_in_hand(state, old, carts.in_hand, read_plan),
        standing=_standing(state, day, schedule, match, carts, old),
        renumbered=_renumbered(state, day, old, schedule, read_plan),
    )


def _renumbered(
    state: StateFile, day: date, old: Plan | None, schedule: Schedule, read_plan: Callable[[bytes], Plan]
) -> dict[str, str]:
    """The new numbers of cases on which something was decided before their day had lists, by the old ones."""
    decided = {said.case_day for said in decisions(state, day).values()} - ({day} if old else set())
    last = newest_day(state) if decided else None  # its plan has the cases of later days as they were called then
    known = old if last == day else plan_kept(state, last, read_plan) if last else None
    return renumbered(
        [case for case in known.cases if case.day in decided] if known else [],
        [case for case in schedule.cases if case.day in decided],
    )


def _listed(old: Plan | None, in_hand: Mapping[str, ListInHand]) -> list[Case]:
    """The cases of the former plan, then those whose rows could not be read when it was made.

    Where the plan itself cannot be read, those of all lists in hand.
    """
    planned = [cart.case for cart in old.carts] if old else []
    known = {case.number for case in planned}
    held = {key: one.case for key, one in sorted(in_hand.items()) if one.case and key not in known}
    return [*planned, *(case for key, case in held.items() if old is None or key in old.left_alone)]


def _standing(
    state: StateFile,
    day: date,
    schedule: Schedule,
    match: CaseMatch,
    carts: CartsOfDay,
    old: Plan | None = None,
) -> OnCarts:
    """What is on the carts and lists of one day; ``old`` has the sets of later days too."""
    counted, built, in_hand = carts_counted(state, day), carts.built, carts.in_hand
    of_day = [case for case in schedule.cases if case.day == day]
    over = {*match.over, *_over(_listed(None, in_hand), of_day)}
    running = {case.number for case in schedule.cases if case.is_running}
    stand = standing_carts(carts, match, running, over)
    wanted = {key: one for key, one in stand.items() if one.standing is CartStanding.WANTED}
    left = {key: one for key, one in stand.items() if one.standing is CartStanding.LEFT_ALONE}
    gone = [one for one in stand.values() if one.standing is CartStanding.TO_PUT_BACK]
    to_put_back = {one.set_id: one.case for one in open_put_backs(state, day, carts) if one.set_id}
    picks = {key: [pick for pick in one.picks if pick.case or key not in counted] for key, one in stand.items()}
    known = {**{one.case.number: one.case for one in in_hand.values() if one.case}, **{c.number: c for c in of_day}}
    settled = sets_counted(state, day)
    used = [(key, one) for key, one in stand.items() if one.standing is CartStanding.USED]
    return OnCarts(
        fixed={use: set_id for one in (wanted | left).values() for use, set_id in one.sets.items()},
        picks=tuple(pick for some in picks.values() for pick in some),
        coming_off=to_put_back | {set_id: one.number for one in gone for set_id in one.sets.values()},
        used={set_id: known[key] for key, one in used for set_id in one.opened if set_id not in settled},
        counted=frozenset(one.number for key, one in wanted.items() if key in counted),
        printed=printed_assignments(in_hand, match, old),
        printed_picks=printed_picks(in_hand, match),
        missed={
            set_id: one.number
            for key, one in wanted.items()
            if key in built and built[key].revision >= in_hand[key].revision
            for set_id in missing_sets(in_hand[key].content, built[key])
        },
        counts=tuple(count for key, one in built.items() if key not in counted for count in one.counts),
    )


def _match(
    standing: Sequence[MatchQuestion],
    day: date,
    schedule: Schedule,
    listed: Sequence[Case],
    answers: Mapping[str, str] | None,
) -> CaseMatch:
    todays = [c for c in schedule.cases if c.day == day]
    asked = {candidate.old_case for question in standing for candidate in question.candidates}
    lists = [case for case in listed if case.number not in asked]
    over = _over(lists, todays)
    moved = [number for number in _moved(lists, schedule.cases, day) if number not in (answers or {}).values()]
    before = [c for c in lists if c.number not in {*over, *moved}]
    now = [c for c in todays if c.status is not CaseStatus.DONE]
    match = match_cases(before, now, answers, standing)
    unread = tuple(number for number in match.cancelled if schedule.may_hold(number))
    gone = tuple(number for number in match.cancelled if number not in unread)
    return replace(match, over=over, cancelled=(*gone, *moved), unread=unread)


def _over(before: Sequence[Case], now: Sequence[Case]) -> tuple[str, ...]:
    """The cases that are done by the new schedule and were on the old one, under their number and alike."""
    done = {case.number: case for case in now if case.status is CaseStatus.DONE}
    return tuple(c.number for c in before if c.number in done and score(c, done[c.number]) >= DOUBTFUL)


def _moved(before: Sequence[Case], now: Sequence[Case], day: date) -> list[str]:
    """The cases that are on another day only now, under their number and alike: no like case of the day is one."""
    todays = {case.number for case in now if case.day == day}
    elsewhere = {case.number: case for case in now if case.is_live and case.number not in todays}
    return [c.number for c in before if c.number in elsewhere and score(c, elsewhere[c.number]) >= DOUBTFUL]


def standing_on_other_days(
    state: StateFile, schedule: Schedule, clock: SiteClock, now: datetime, day: date | None = None
) -> OnCarts:
    """What is on carts and lists of the days from today on, and of those before that may not be settled, but ``day``.

    A build of tomorrow must leave it there: it is on no shelf for tomorrow either.
    """
    found = OnCarts()
    live = {case.day for case in schedule.cases if case.is_live}
    for other in sorted({*live, *listed_starts(state, first_unsettled(state, clock.day(now)))} - {day}):
        carts = carts_of_day(state, other)
        listed = _listed(None, carts.in_hand)
        if other in schedule.days:
            match = _match(standing_questions(state, other), other, schedule, listed, None)
        else:
            match = _without_rows(listed, schedule, other, now)
        found = found.and_of(_standing(state, other, schedule, match, carts))
    return found


def _without_rows(listed: Sequence[Case], schedule: Schedule, day: date, now: datetime) -> CaseMatch:
    """What became of the cases of a day of which the schedule has no row: it may be that of other days only."""
    over = [case.number for case in listed if case.start <= now]
    moved = _moved([case for case in listed if case.start > now], schedule.cases, day)
    unread = [case.number for case in listed if case.number not in {*over, *moved}]
    return CaseMatch(over=tuple(over), cancelled=tuple(moved), unread=tuple(unread))


def _plans_in_hand(
    state: StateFile, old: Plan | None, in_hand: Mapping[str, ListInHand], read_plan: Callable[[bytes], Plan]
) -> dict[int, Plan]:
    """The plans of the lists in hand; those of the former plan itself need not be read again."""
    if old is None:  # no list is compared with anything then
        return {}
    numbers = sorted({held.revision for held in in_hand.values()})
    found = {n: old if n == old.revision else plan_kept(state, old.day, read_plan, n) for n in numbers}
    return {revision: plan for revision, plan in found.items() if plan is not None}


def plan_kept(
    state: StateFile, day: date, read_plan: Callable[[bytes], Plan], revision: int | None = None
) -> Plan | None:
    """A kept plan of a day, the newest unless a revision is named.

    None when there is none, or it is damaged or of a version of the program that this one cannot read.
    """
    try:
        stored = load_plan(state, day, revision)
        return read_plan(stored) if stored else None
    except (DamagedPlanError, ValueError):  # pydantic says with a ValueError that this is no plan
        return None


def what_changes(
    start: Revision, plan: Plan, items: Mapping[str, Item] | None = None, lots: Iterable[Lot] = ()
) -> PlanChange:
    """What the plan made from this start changes on each cart; ``items`` and ``lots`` are the site's now."""
    rows = grouped((one.item, one) for one in lots)
    change = compare_plans(
        start.old,
        plan,
        match=start.match,
        built=start.built,
        reported={key: _as_recorded(told, rows) for key, told in start.reported.items()},
        in_hand={key: _as_recorded(held, rows) for key, held in start.in_hand.items()},
        plans=start.plans,
        items=items,
    )
    return replace(change, renumbered=start.renumbered)


def _as_recorded(held: L, rows: Mapping[str, Sequence[Lot]]) -> L:
    """A list, or a cart built from one, whose lots expire when their rows say so now."""
    pieces = ((one, expiry_now(one.expiry, one.lot, rows.get(one.thing, ()))) for one in held.content)
    return replace(held, content=Counter({replace(one, expiry=day): held.content[one] for one, day in pieces}))


def finish_revision(
    state: StateFile, plan: Plan, plan_json: bytes, change: PlanChange, publish: Callable[[], None] | None = None
) -> None:
    """Keep the plan, its lists and what it shows of decisions; put the documents in their place. Raises StateError."""

    def look_and_publish() -> None:
        names = change.names_kept()
        follow_cases(state, plan.day, names, change.renumbered)
        in_doubt = (*change.match.asked_old, *change.match.unread)
        look_for_decisions(state, plan, [names.get(case, case) for case in in_doubt])
        if publish is not None:
            publish()

    save_plan(state, plan, plan_json, change, publish=look_and_publish)
