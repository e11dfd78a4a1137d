"""What the current schedule makes of the carts of a plan that was made before."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from picklist.evening.changes import CartChangeKind, PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.keep_facts import put_back_of
from picklist.evening.revise import Schedule, begin_revision
from picklist.model.known import MatchQuestion, PutBack
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.store.state import StateFile
from picklist.wording.say_carts import cart_state, no_row_for


class Gone(StrEnum):
    """Why a cart of the plan is no longer one to deliver."""

    CANCELLED = "cancelled"
    OTHER_DAY = "moved to another day"
    NOT_THERE = "no longer on the schedule"
    RUNNING = "running"
    DONE = "done"


@dataclass(frozen=True, slots=True, kw_only=True)
class GoneCart:
    """A cart of the plan that is no longer one to deliver; ``state`` is how far it is, ``to`` the case's other day."""

    why: Gone
    case: Case
    state: str = ""
    to: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SinceBuilt:
    """What became of a plan's cases on the schedule since.

    ``moved`` are cases as planned and as they are now, ``added`` those without a list, ``unread`` those whose row
    cannot be read now, ``rows_unread`` such cases without a list, ``put_backs`` what follows from carts that are
    gone. ``not_seen`` says why the schedule could not be compared; then all else is empty.
    """

    gone: tuple[GoneCart, ...] = ()
    moved: tuple[tuple[Case, Case], ...] = ()
    added: tuple[Case, ...] = ()
    unread: tuple[str, ...] = ()
    rows_unread: tuple[str, ...] = ()
    questions: tuple[MatchQuestion, ...] = ()
    put_backs: tuple[PutBack, ...] = ()
    not_seen: str = ""

    @property
    def left_out(self) -> frozenset[str]:
        """The cases whose carts are not among those to deliver."""
        return frozenset((*(one.case.number for one in self.gone), *self.unread))

    def __bool__(self) -> bool:
        """Whether there is anything to say."""
        return bool(self.gone or self.moved or self.added or self.unread or self.rows_unread or self.not_seen)


NOTHING_SINCE = SinceBuilt()


def since_built(state: StateFile, plan: Plan, site: Site, read_plan: Callable[[bytes], Plan]) -> SinceBuilt:
    """Compare the newest plan of a day with the schedule of the site as it is now; nothing is written.

    A schedule without any row of the day is not compared: it may be that of other days only.
    """
    if plan.carts and all(case.day != plan.day for case in site.cases):
        day = site.settings.site_clock.day_text(plan.day)
        return SinceBuilt(not_seen=no_row_for(day))
    schedule = Schedule.of(site, site.cases)
    start = begin_revision(state, plan.day, schedule, read_plan)
    live = {case.number: case for case in site.cases if case.is_live}
    left = compare_plans(
        plan,
        replace(plan, carts=(), cases=tuple(live.values())),
        match=start.match,
        built=start.built,
        reported=start.reported,
        in_hand=start.in_hand,
        items=site.items,
    )
    planned = {case.number: case for case in left.old_cases}
    on_plan = {cart.case.number for cart in plan.carts}
    pairs = [(planned[old], live[new]) for old, new in start.match.same if old in on_plan and new in live]
    back = [new for old, new in start.match.same if old not in on_plan]  # their rows could not be read before
    waiting = [(was, now) for was, now in pairs if not now.is_running]
    running = [GoneCart(why=Gone.RUNNING, case=was) for was, now in pairs if now.is_running and not was.is_running]
    return SinceBuilt(
        gone=(*_gone(left, planned, site), *running),
        moved=tuple((was, now) for was, now in waiting if _slot(was) != _slot(now)),
        added=tuple(live[number] for number in (*start.match.added, *back) if not live[number].is_running),
        unread=start.match.unread,
        rows_unread=tuple(sorted(schedule.unread.difference(start.match.unread, _unplaced(plan)))),
        questions=start.match.questions,
        put_backs=tuple(_put_backs(left)),
    )


def _unplaced(plan: Plan) -> frozenset[str]:
    """The cases of which the plan itself says that their rows could not be read."""
    return frozenset(case for problem in plan.unplaced for case in problem.cases)


def _slot(case: Case) -> tuple[object, ...]:
    """What of a case makes its list another one, as far as the schedule says it."""
    return (case.number, case.room, case.start, case.surgeon, case.procedures, case.side, case.alerts)


def _gone(left: PlanChange, planned: Mapping[str, Case], site: Site) -> Iterator[GoneCart]:
    named = {case.number: case for case in site.cases if case.day == left.day}
    for one in left.carts:
        if one.kind not in (CartChangeKind.CANCELLED, CartChangeKind.OVER) or one.case not in planned:
            continue
        called_off = one.case in named and named[one.case].is_cancelled
        if one.kind is CartChangeKind.OVER:
            why = Gone.DONE
        elif one.moved_to:
            why = Gone.OTHER_DAY
        else:
            why = Gone.CANCELLED if called_off else Gone.NOT_THERE
        state = "" if why is Gone.DONE else one.state or cart_state(None)
        yield GoneCart(why=why, case=planned[one.case], state=state, to=one.moved_to)


def _put_backs(left: PlanChange) -> Iterator[PutBack]:
    """What comes off the carts that are gone and on which something stands; no build has asked for it yet."""
    for one in left.carts:
        if one.kind is CartChangeKind.CANCELLED and one.stands:
            for line in one.take_off:
                yield put_back_of(line, one.case, left.revision)
