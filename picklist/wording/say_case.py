"""A case, its cart and a set of it, as ``why`` explains them without a question about one thing."""

from __future__ import annotations

from picklist.clock import SiteClock
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.schedule import Case
from picklist.problems import Problem, Severity
from picklist.wording.lists import open_and_hold
from picklist.wording.quantities import at_pace, span, to_spare
from picklist.wording.say_conflicts import statement
from picklist.wording.set_states import NO_PLACE

NO_CART = "no cart is planned for it: it is cancelled, done or over"
NOT_GIVEN = "no case on the schedule gets it"


def case_line(case: Case, clock: SiteClock) -> str:
    """Where and when a case is, how long it takes and how far it is."""
    return f"{case.number}: {case.room}, {clock.stamp(case.start)}, {span(case.minutes)}, {case.status.value}"


def cart_lines(plan: Plan, cart: Cart) -> tuple[str, ...]:
    """What the cart of a case has, lacks and waits for, tray by tray."""
    clock = plan.settings.site_clock
    lines = [
        f"{', '.join(cart.procedure_names)}; {cart.surgeon_name}; cart complete by {clock.stamp(cart.complete_by)}"
    ]
    lines += [_tray_line(line, clock) for line in cart.trays]
    short = [one for one in cart.goods if one.is_short]
    lines += [f"{one.need.name}: short, {open_and_hold(one.short_open, one.short_hold)}" for one in short]
    waiting = [one for one in plan.conflicts if one.waiter == cart.case.number]
    lines += [f"{one.kind.value}: {statement(one, clock)}" for one in waiting]
    return tuple(lines)


def _tray_line(line: TrayLine, clock: SiteClock) -> str:
    """``Thyroid: THY-01, ready Thu 26 Nov 13:45 at usual pace; needed next by C-4167, 14 h 35 min to spare``."""
    name = f"{line.name_with_side}{' on hold' if line.on_hold else ''}"
    if not line.set_id:
        where = "no set"
    elif line.in_hand:
        where = f"{line.set_id}, in use in this case"
    elif line.expected:
        where = f"{line.set_id}, ready {at_pace(clock.stamp(line.expected), line.pace)}"
    else:
        where = f"{line.set_id}, {line.place_now or NO_PLACE}"
    back = line.give_back
    spare = at_pace(to_spare(back.slack), back.pace) if back else ""
    return f"{name}: {where}" + (f"; needed next by {back.for_case}, {spare}" if back else "")


def said_of_case(problem: Problem) -> str:
    """A problem that names the case: only what stops its list is said to stop it."""
    head = {Severity.NOTICE: "notice", Severity.TO_FIX: "to fix"}.get(problem.severity, "the list is on hold")
    return f"{head}: {problem.sentence()} [{problem.where}]"


def taken_for(case: str, by: str) -> str:
    """A set that goes from its shelf to a case."""
    return f"taken as it is for case {case}, by {by}"
