"""Say what a case's cart lacks or waits for, or what a set goes through: by the plan that the next build would make."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from picklist.letters import one_named
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from picklist.problems import did_you_mean
from picklist.sets.states import first_available
from picklist.sets.turnaround import Turnaround
from picklist.tables.nearest import Candidates
from picklist.tasks.beside_site import what_stands
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import Loaded, load_folder
from picklist.tasks.why_listed import Explanation, find_case
from picklist.wording.say_department import explain_set
from picklist.wording.say_why import NO_CART, NOT_GIVEN, cart_lines, case_line, said_of_case, taken_for


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
        hint = did_you_mean(close)
        raise WrongUse(f"there is no case and no set {word}{hint}")
    return _why_case(loaded, site, find_case(site, word))


def _why_case(loaded: Loaded, site: Site, case: Case) -> Explanation:
    """Tray by tray as the next build would have it; then what is short, and what is wrong on the sheets."""
    plan = _next_plan(loaded, site, case.day, case.number)
    cart = plan.cart(case.number)
    head = case_line(case, plan.settings.site_clock)
    body = cart_lines(plan, cart) if cart else (NO_CART,)
    said = tuple(said_of_case(p) for p in loaded.problems if case.number in p.cases)
    return Explanation(lines=(head, *body, *said), problems=loaded.problems, exit_code=0)


def _next_plan(loaded: Loaded, site: Site, day: date, *cases: str) -> Plan:
    """What the next build of a day would have, with the carts and conflicts of the cases named alone.

    Sets on carts that are built stay there. Raises WrongUse.
    """
    stands = what_stands(loaded.folder, site, loaded.now)
    request = PlanRequest(
        day=day,
        now=loaded.now,
        on_carts=stands,
        with_chance=False,
        with_remedies=False,
        only=frozenset(cases),
    )
    return make_plan(site, loaded.problems, request)


def why_set(folder: Path | str, set_id: str, now: datetime | str) -> Explanation:
    """What a set goes through and waits for, step by step in the department's forward run.

    Raises WrongUse when the folder or the set does not exist, naming the nearest set.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Explanation(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    site, clock = loaded.site, loaded.site.settings.site_clock
    wanted = one_named(set_id, site.sets)
    if wanted is None:
        close = Candidates(iter(site.sets)).nearest(set_id)
        hint = did_you_mean(close)
        raise WrongUse(f"there is no set {set_id}{hint}")
    plan = _next_plan(loaded, site, clock.day(loaded.now))
    planned = replace(site, sets={one.id: one for one in plan.sets})
    lines = (*_where_now(planned, wanted, loaded.now), *_off_the_shelf(plan, wanted))
    lines += explain_set(plan.department, plan.reuses, wanted, clock) if plan.department else ()
    return Explanation(lines=lines, problems=loaded.problems, exit_code=0)


def _where_now(site: Site, set_id: str, now: datetime) -> tuple[str, ...]:
    one = site.sets[set_id]
    state = first_available(Turnaround(site), one, now)
    place = f", {one.place}" if one.place else ""
    return (f"{set_id}: {state.from_state}{place}",)


def _off_the_shelf(plan: Plan, set_id: str) -> tuple[str, ...]:
    """The case for which the set is taken as it is now; or that none has it."""
    given = [one for one in plan.assignments if one.set_id == set_id]
    if not given:
        return (NOT_GIVEN,)
    first = given[0].use
    return () if given[0].expected else (taken_for(first.case, plan.settings.site_clock.stamp(first.needed)),)
