"""Say why a thing is on a case's list, or why it is not, or what a set goes through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.clock import SiteClock
from picklist.department import run_department
from picklist.letters import one_named
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make import PlanRequest, make_plan, resolve_horizon
from picklist.problems import Problem, Severity
from picklist.resolve import resolve_case
from picklist.sets.case_uses import make_uses, stopped_cases
from picklist.sets.plan_sets import SetsPlan, mark_sets_to_put_back, plan_sets
from picklist.sets.states import first_available
from picklist.sets.turnaround import Turnaround
from picklist.tables.nearest import Candidates
from picklist.tasks.crew import what_stands
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import Loaded, load_folder
from picklist.wording import at_pace, open_and_hold, span, to_spare
from picklist.wording.say_conflicts import statement
from picklist.wording.say_department import explain_set
from picklist.wording.say_needs import explain_thing


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Lines that explain, and the problems of the folder that they were read from."""

    lines: tuple[str, ...]
    problems: tuple[Problem, ...]
    exit_code: int


def why_thing(folder: Path, number: str, thing: str, now: datetime) -> Explanation:
    """Why ``thing`` (an id, or words of its name) is or is not on the list of case ``number``.

    Raises WrongUse when the folder or the case does not exist, naming the nearest case.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Explanation(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    case = find_case(loaded.site, number)
    lines = explain_thing(resolve_case(loaded.site, case), thing)
    lines += tuple(_said_of_case(p) for p in loaded.problems if case.number in p.cases)
    return Explanation(lines=lines, problems=loaded.problems, exit_code=0)


def _said_of_case(problem: Problem) -> str:
    """A problem that names the case: only what stops its list is said to stop it."""
    head = {Severity.NOTICE: "notice", Severity.TO_FIX: "to fix"}.get(problem.severity, "the list is on hold")
    return f"{head}: {problem.sentence()} [{problem.where}]"


def why_alone(folder: Path, word: str, now: datetime) -> Explanation:
    """A set's way through the department, or what a case's cart lacks or waits for; a set goes before a case.

    Raises WrongUse when the folder does not exist, or neither a set nor a case is meant, naming the nearest.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Explanation(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    site, numbers = loaded.site, [case.number for case in loaded.site.cases]
    if one_named(word, site.sets) is not None:
        return why_set(folder, word, now)
    if one_named(word, numbers) is None:
        close = Candidates(iter([*site.sets, *numbers])).nearest(word)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        raise WrongUse(f"there is no case and no set {word}{hint}")
    return _why_case(loaded, site, find_case(site, word))


def _why_case(loaded: Loaded, site: Site, case: Case) -> Explanation:
    """Tray by tray as the next build would have it; then what is short, and what is wrong on the sheets."""
    stands = what_stands(loaded.folder, site, resolve_horizon(site, loaded.problems, loaded.now)[0])
    request = PlanRequest(
        day=case.day,
        now=loaded.now,
        on_carts=stands,
        with_chance=False,
        with_remedies=False,
    )
    plan = make_plan(site, loaded.problems, request)
    cart = next((one for one in plan.carts if one.case.number == case.number), None)
    clock = plan.settings.site_clock
    head = f"{case.number}: {case.room}, {clock.stamp(case.start)}, {span(case.minutes)}, {case.status.value}"
    body = _cart_lines(plan, cart) if cart else ("no cart is planned for it: it is cancelled, done or over",)
    said = tuple(_said_of_case(p) for p in loaded.problems if case.number in p.cases)
    return Explanation(lines=(head, *body, *said), problems=loaded.problems, exit_code=0)


def _cart_lines(plan: Plan, cart: Cart) -> tuple[str, ...]:
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
        where = f"{line.set_id}, {line.place_now or 'no place recorded'}"
    back = line.give_back
    spare = at_pace(to_spare(back.slack), back.pace) if back else ""
    return f"{name}: {where}" + (f"; needed next by {back.for_case}, {spare}" if back else "")


def why_set(folder: Path, set_id: str, now: datetime) -> Explanation:
    """What a set goes through and waits for, step by step in the department's forward run.

    As the next build would have it: sets on carts that are built stay there. Raises WrongUse when the folder
    or the set does not exist, naming the nearest set.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Explanation(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    site = loaded.site
    wanted = one_named(set_id, site.sets)
    if wanted is None:
        close = Candidates(iter(site.sets)).nearest(set_id)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        raise WrongUse(f"there is no set {set_id}{hint}")
    cases, needs = resolve_horizon(site, loaded.problems, loaded.now)
    stands = what_stands(folder, site, cases)
    uses, stopped = make_uses(site, needs, cases), stopped_cases(cases, needs)
    site = mark_sets_to_put_back(site, uses, stands.fixed, stands.coming_off, stopped)
    sets = plan_sets(site, uses, loaded.now, held=stands.fixed, stopped=stopped, printed=stands.printed, remedies=False)
    run = run_department(site, sets.assignments, loaded.now)
    lines = (*_where_now(site, wanted, loaded.now), *_off_the_shelf(site, wanted, sets))
    lines += explain_set(run, sets.reuses, wanted, site.settings.site_clock)
    return Explanation(lines=lines, problems=loaded.problems, exit_code=0)


def _where_now(site: Site, set_id: str, now: datetime) -> tuple[str, ...]:
    one = site.sets[set_id]
    state = first_available(Turnaround(site), one, now)
    place = f", {one.place}" if one.place else ""
    return (f"{set_id}: {state.from_state}{place}",)


def _off_the_shelf(site: Site, set_id: str, sets: SetsPlan) -> tuple[str, ...]:
    """The case for which the set is taken as it is now; or that none has it."""
    clock = site.settings.site_clock
    given = [one for one in sets.assignments if one.set_id == set_id]
    if not given:
        return ("no case on the schedule gets it",)
    first = given[0].use
    return () if given[0].expected else (f"taken as it is for case {first.case}, by {clock.stamp(first.needed)}",)


def find_case(site: Site, number: str) -> Case:
    """The case of that number, whatever its letters' case. Raises WrongUse naming the nearest."""
    by_number = {case.number: case for case in site.cases}
    found = one_named(number, by_number)
    if found is None:
        close = Candidates(iter(by_number)).nearest(number)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        raise WrongUse(f"the schedule has no case {number}{hint}")
    return by_number[found]
