"""One build of an evening against the state: what the plan must honour, and what it then changes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from picklist.evening.changes import ListInHand, PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.fixed import fixed_assignments, fixed_picks, printed_assignments, printed_picks
from picklist.evening.keep_counted import carts_counted
from picklist.evening.keep_decisions import decisions
from picklist.evening.keep_facts import built_carts, open_put_backs, told_so_far
from picklist.evening.keep_plans import StoredPlan, lists_in_hand, load_plan, save_plan, standing_questions
from picklist.evening.likeness import DOUBTFUL, score
from picklist.evening.match import match_cases
from picklist.evening.morning import Known
from picklist.evening.questions import CaseMatch
from picklist.model.built import BuiltCart
from picklist.model.catalogue import Item
from picklist.model.plan import Plan
from picklist.model.schedule import Case, CaseStatus
from picklist.model.supply import Pick
from picklist.store.state import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What stands on the carts and lists of some days.

    ``fixed`` (use key -> set) and ``picks`` are what stands on carts, ``counted`` the cases whose carts
    settling has taken off the table of lots; ``printed`` and
    ``printed_picks`` what the lists in hand name, to be kept where nothing is lost by it.
    """

    fixed: Mapping[str, str] = field(default_factory=dict)
    picks: tuple[Pick, ...] = ()
    counted: frozenset[str] = frozenset()
    printed: Mapping[str, str] = field(default_factory=dict)
    printed_picks: tuple[Pick, ...] = ()

    def and_of(self, other: Standing) -> Standing:
        """Both together; they are of different days, and ``self`` has the lists where ``other`` has only the plan."""
        return Standing(
            fixed={**self.fixed, **other.fixed},
            picks=(*self.picks, *other.picks),
            counted=self.counted | other.counted,
            printed={**other.printed, **self.printed},
            printed_picks=(*self.printed_picks, *other.printed_picks),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """Where a build starts: the plan it replaces, how its cases match, and what stands on carts.

    ``told`` marks the last report of the crew that was read (see ``told_so_far``).
    ``plans`` are those of the lists in hand, by revision. ``match.problems`` are answers that fit nothing.
    """

    number: int
    replaces: int | None
    told: int
    old: Plan | None
    match: CaseMatch
    built: Mapping[str, BuiltCart]
    in_hand: Mapping[str, ListInHand]
    plans: Mapping[int, Plan]
    standing: Standing


def begin_revision(
    state: State,
    day: date,
    cases: Sequence[Case],
    read_plan: Callable[[bytes], Plan],
    answers: Mapping[str, str] | None = None,
) -> Revision:
    """Read from the state what the next plan of a day must honour.

    ``cases`` are the cases on the new schedule, done ones too, ``read_plan`` makes a plan of its
    plan.json, ``answers`` settle questions (new case number -> old one, or empty for none).
    """
    told = told_so_far(state)
    stored: StoredPlan | None = load_plan(state, day)
    old = read_plan(stored.json) if stored else None
    built, in_hand = built_carts(state, day), lists_in_hand(state, day)
    match = _match(state, day, cases, old, answers)
    return Revision(
        number=stored.revision + 1 if stored else 1,
        replaces=stored.revision if stored else None,
        told=told,
        old=old,
        match=match,
        built=built,
        in_hand=in_hand,
        plans=_plans_in_hand(state, day, in_hand, read_plan),
        standing=_standing(built, in_hand, match, old, carts_counted(state, day)),
    )


def _standing(
    built: Mapping[str, BuiltCart],
    in_hand: Mapping[str, ListInHand],
    match: CaseMatch,
    old: Plan | None,
    counted: Collection[str],
) -> Standing:
    """Of one day; ``old`` has the sets of later days too, ``counted`` are carts as they are kept."""
    return Standing(
        fixed=fixed_assignments(built, in_hand, match),
        picks=fixed_picks(built, in_hand, match),
        counted=frozenset(number for key in counted if (number := match.new_number(key)) is not None),
        printed=printed_assignments(in_hand, match, old),
        printed_picks=printed_picks(in_hand, match),
    )


def _match(
    state: State, day: date, cases: Sequence[Case], old: Plan | None, answers: Mapping[str, str] | None
) -> CaseMatch:
    todays = [c for c in cases if c.day == day]
    lists = [cart.case for cart in old.carts] if old else []
    over = _over(lists, todays)
    before = [c for c in lists if c.number not in over]
    now = [c for c in todays if c.status is not CaseStatus.DONE]
    return replace(match_cases(before, now, answers, standing_questions(state, day)), over=over)


def _over(before: Sequence[Case], now: Sequence[Case]) -> tuple[str, ...]:
    """The cases that are done by the new schedule and were on the old one, under their number and alike."""
    done = {case.number: case for case in now if case.status is CaseStatus.DONE}
    return tuple(c.number for c in before if c.number in done and score(c, done[c.number]) >= DOUBTFUL)


def standing_on_other_days(
    state: State, cases: Sequence[Case], read_plan: Callable[[bytes], Plan], day: date | None = None
) -> Standing:
    """What stands on carts and lists of all days of the cases but ``day``.

    A build of tomorrow must leave it there: it is on no shelf for tomorrow either.
    """
    found = Standing()
    for other in sorted({case.day for case in cases} - {day}):
        stored = load_plan(state, other)
        if stored is not None:
            built, in_hand = built_carts(state, other), lists_in_hand(state, other)
            match = _match(state, other, cases, read_plan(stored.json), None)
            found = found.and_of(_standing(built, in_hand, match, None, carts_counted(state, other)))
    return found


def _plans_in_hand(
    state: State, day: date, in_hand: Mapping[str, ListInHand], read_plan: Callable[[bytes], Plan]
) -> dict[int, Plan]:
    stored = (load_plan(state, day, revision) for revision in sorted({held.revision for held in in_hand.values()}))
    return {one.revision: read_plan(one.json) for one in stored if one is not None}


def what_changes(start: Revision, plan: Plan, items: Mapping[str, Item] | None = None) -> PlanChange:
    """What the plan made from this start changes on each cart; ``items`` is the site's catalogue."""
    return compare_plans(
        start.old, plan, match=start.match, built=start.built, in_hand=start.in_hand, plans=start.plans, items=items
    )


def finish_revision(
    state: State, plan: Plan, plan_json: bytes, change: PlanChange, publish: Callable[[], None] | None = None
) -> None:
    """Keep the plan and its lists, and put the documents in their place. Raises StateError."""
    save_plan(state, plan, plan_json, change, publish=publish)


def what_is_known(state: State, day: date) -> Known:
    """What the state knows of a day beside its plan, for the page of the morning."""
    return Known(
        built=built_carts(state, day),
        revisions={key: held.revision for key, held in lists_in_hand(state, day).items()},
        decided=decisions(state, day),
        questions=standing_questions(state, day),
        put_backs=open_put_backs(state, day),
    )
