"""How far a cart is, why it changes, and what is in the way of comparing two plans, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from picklist.clock import SiteClock, full_day, short_day
from picklist.model.built import BuiltCart, CountFound, Line, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.known import CartReport, Known, Value
from picklist.problems import Problem, Where, to_fix

NAMED = 8  # things that a reason names before it counts the rest


def cart_state(facts: BuiltCart | None, clock: SiteClock | None = None, by: str = "") -> str:
    """How far a cart is, in words; trays it waits for with the time at which they are expected, given a clock."""
    signed = f" by {by}" if by else ""
    if facts is None:
        return "not started"
    if facts.is_not_begun:
        return "not built"
    if not facts.done:
        return f"started{signed}"
    waits = (f"{one.set_id} ({clock.stamp(one.expected)})" if clock else one.set_id for one in facts.to_come)
    return f"built{signed}, waits for {', '.join(waits)}" if facts.to_come else f"built{signed}"


def older_list(facts: BuiltCart | None, counts: int) -> str:
    """What is to be said of a cart that was built from a list which another one has replaced; empty of any other."""
    if facts is None or not facts.done or facts.revision >= counts:
        return ""
    return f"list {counts} is new, its changes are not reported as made"


def how_far(facts: BuiltCart | None, counts: int, clock: SiteClock | None = None) -> str:
    """How far a cart is, and whether a newer list than its own counts."""
    return "; ".join(filter(None, (cart_state(facts, clock), older_list(facts, counts))))


def reports_on(known: Known, clock: SiteClock) -> dict[str, CartReport]:
    """How far each cart is of which something was reported, by case."""
    counts = known.revisions
    return {
        case: CartReport(
            state=how_far(facts, counts.get(case, 0), clock),
            finished=facts.is_finished(counts.get(case, facts.revision)),
        )
        for case, facts in known.built.items()
    }


def report_line(fact: Line, report: BuiltCart) -> str:
    """One fact of a report."""
    match fact:
        case TakenSet():
            return f"set {fact.set_id} for tray {fact.tray}"
        case MissingThing():
            return f"{fact.quantity} of {fact.thing} missing"
        case StoodIn():
            return f"{fact.quantity} of {fact.stood_in} in place of {fact.thing}"
        case CountFound():
            lot = f" lot {fact.lot}" if fact.lot else ""
            place = f" in {fact.place}" if fact.place else ""
            return f"{fact.quantity} of {fact.item}{lot}{place} counted on the shelf"
        case TakenItem():
            lot = f" lot {fact.lot}" if fact.lot else ""
            lot += f" serial {fact.serial}" if fact.serial else ""
            how = "put on though not asked for" if fact in report.added else "scanned onto the cart"
            return f"{fact.quantity} of {fact.item}{lot} {how}"


def report_lines(report: BuiltCart) -> tuple[str, ...]:
    """Every fact of a report."""
    remark = [f"remark: {report.remark}"] if report.remark else []
    return (*(report_line(fact, report) for fact in report.lines), *remark)


def no_longer_wanted(names: Iterable[str]) -> str:
    """Things that leave a cart, as no card asks for them now."""
    return f"no longer on the list: {_some(names)}"


def now_wanted(names: Iterable[str]) -> str:
    """Things that come onto a cart."""
    return f"new on the list: {_some(names)}"


def now_to_be(name: str, part: str) -> str:
    """A thing that stays on its cart and is marked anew."""
    return f"{name} is now {'on hold' if part == 'hold' else part}"


def _some(names: Iterable[str]) -> str:
    """Each name once; of many the first few and how many more."""
    each = list(dict.fromkeys(names))
    return ", ".join(each[:NAMED]) + (f" and {len(each) - NAMED} more" if len(each) > NAMED else "")


def set_gone(set_id: str) -> str:
    """A set that the table Sets no longer has."""
    return f"{set_id} is no longer among the sets"


def set_recorded(set_id: str, state: str) -> str:
    """A set that its state makes unusable."""
    return f"{set_id} is now recorded as {state}"


def set_expires(set_id: str) -> str:
    """A set whose record ends too soon."""
    return f"{set_id}: its recorded sterility ends before the case"


def other_side(set_id: str, side: str, wanted: Sequence[str]) -> str:
    """A set of another side than the list wants now."""
    return f"the list now wants {' and '.join(wanted) or 'no side'}, and {set_id} is {side}"


def set_left(set_id: str) -> str:
    """A set that an earlier list asked off its cart, until it is ready again."""
    return f"{set_id} was not ready, and nobody reported that it is on the cart again"


def set_first(set_id: str, case: str) -> str:
    """A set that leaves its cart for an earlier case and comes back."""
    return f"{set_id} goes to {case} first and comes back"


def set_taken(set_id: str, case: str = "") -> str:
    """A set that leaves its cart for no reason in the plan: a fault worth reporting."""
    return f"{set_id} is given to {case}; the plan gives no reason" if case else f"{set_id}: the plan gives no reason"


def lot_expires(name: str, lot: str) -> str:
    """A lot that leaves its cart."""
    return f"{name} lot {lot} expires before the case"


def item_short(name: str) -> str:
    """An item that somebody else needs sooner."""
    return f"{name} is short and is given to an earlier need"


def not_instead(name: str, thing: str) -> str:
    """An item that leaves a cart where it stood in for another one."""
    return f"{name} is no longer needed in place of {thing}"


def other_lot(name: str, lots: Sequence[str], lot: str) -> str:
    """An item that is now picked from elsewhere."""
    return f"{name} is now planned from lot {', '.join(lots)} instead of {lot}"


def fewer(name: str) -> str:
    """An item of which the list asks for less."""
    return f"fewer on the list: {name}"


# Why a day's cases change nothing in stock and sets, by the name of the cases in ``DayChanges``.
NOT_COUNTED = {
    "counted_before": "Already counted",
    "untold": "Use not reported yet",
    "unbuilt": "Not counted, because the cart is not reported as built",
}


def cell_words(value: Value, clock: SiteClock) -> str:
    """What a cell of a table holds; its times are wall times."""
    if isinstance(value, datetime):
        return f"{short_day(value)} {clock.wall_text(value.time())}"
    if isinstance(value, date):
        return full_day(value)
    return "empty" if value in (None, "") else str(value)


# What keeps plans from being compared.


def unfit_answer(now: str, before: str, why: str, nearest: tuple[str, ...] = ()) -> Problem:
    """An answer that fits no question; it settles nothing, and no list is stopped for it."""
    return to_fix(
        "unfit answer",
        Where(file="answers"),
        f"the answer that {now} is {before or 'a new case'} {why}; it was ignored",
        value=f"{now}={before}",
        expected="a case of the new schedule, and a case of the lists in hand that no other answer names",
        nearest=nearest,
        cases=(now,),
    )


ONE_TO_TWO = "gives one old case to two new ones"
OTHER_QUESTION = "does not fit the open question"


def not_scheduled(now: str) -> str:
    """An answer about a case that the new schedule does not have."""
    return f"names {now}, which is not on the new schedule"


def no_list(before: str, now: str = "") -> str:
    """An answer about an old case without a list; ``now``: the new case goes on with its own."""
    return f"names {before}, of which there is no list" + (f", and {now} goes on with its own" if now else "")


def both_there(before: str, now: str) -> str:
    """An answer that parts two cases which are sure to be the same as before."""
    return f"parts two cases, as {before} and {now} are both still there"


def plan_not_read(day: date, reported: Iterable[str]) -> Problem:
    """The former plan of a day cannot be read: what to do about the carts."""
    carts = ", ".join(reported)
    check = f" Reported before: {carts}; check each against its new list and report it again." if carts else ""
    return to_fix(
        "kept plan not read",
        Where(file="the plan kept before"),
        f"the plan of {day} that was kept before is of an earlier version of picklist, or damaged, and "
        f"cannot be compared; all lists are printed anew.{check}",
        expected="all former lists of this day off their carts, and the new ones on",
    )


def no_row_for(day: str) -> str:
    """Why a plan is not compared with the schedule."""
    return f"the schedule in the folder no longer has a row for {day}"
