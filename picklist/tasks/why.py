"""Say why a thing is on a case's list, or why it is not, or what a set goes through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.department import explain_set, run_department
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make import resolve_horizon
from picklist.problems import Problem, Severity
from picklist.resolve import resolve_case
from picklist.resolve.trace import explain_thing
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import SetsPlan, plan_sets
from picklist.sets.states import first_available
from picklist.sets.turnaround import Turnaround
from picklist.tables.nearest import Candidates
from picklist.tasks.crew import what_stands
from picklist.tasks.errors import WrongUse
from picklist.tasks.folder import load_folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Lines that explain, and the problems of the folder that they were read from."""

    lines: tuple[str, ...]
    problems: tuple[Problem, ...]
    exit_code: int


def why_thing(folder: Path, number: str, thing: str, now: datetime) -> Answer:
    """Why ``thing`` (an id, or words of its name) is or is not on the list of case ``number``.

    Raises WrongUse when the folder or the case does not exist, naming the nearest case.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Answer(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    case = find_case(loaded.site, number)
    lines = explain_thing(resolve_case(loaded.site, case), thing)
    lines += tuple(_said_of_case(p) for p in loaded.problems if case.number in p.cases)
    return Answer(lines=lines, problems=loaded.problems, exit_code=0)


def _said_of_case(problem: Problem) -> str:
    """A problem that names the case: only what stops its list is said to stop it."""
    head = {Severity.NOTICE: "notice", Severity.TO_MEND: "to fix"}.get(problem.severity, "the list is on hold")
    return f"{head}: {problem.sentence()} [{problem.where}]"


def why_set(folder: Path, set_id: str, now: datetime) -> Answer:
    """What a set goes through and waits for, step by step in the department's forward run.

    As the next build would have it: sets on carts that are built stay there. Raises WrongUse when the folder
    or the set does not exist, naming the nearest set.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Answer(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    site = loaded.site
    known = {one.casefold(): one for one in site.sets}
    wanted = known.get(set_id.strip().casefold())
    if wanted is None:
        close = Candidates(iter(site.sets)).nearest(set_id)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        raise WrongUse(f"there is no set {set_id}{hint}")
    cases, needs = resolve_horizon(site, loaded.problems, loaded.now)
    stands = what_stands(folder, site, cases)
    uses = make_uses(site, needs, cases)
    sets = plan_sets(site, uses, loaded.now, held=stands.fixed, printed=stands.printed, remedies=False)
    run = run_department(site, sets.assignments, loaded.now)
    lines = (*_where_now(site, wanted, loaded.now), *_off_the_shelf(site, wanted, sets))
    lines += explain_set(run, sets.reuses, wanted, site.settings.site_clock)
    return Answer(lines=lines, problems=loaded.problems, exit_code=0)


def _where_now(site: Site, set_id: str, now: datetime) -> tuple[str, ...]:
    one = site.sets[set_id]
    state = first_available(Turnaround(site), one, now)
    place = f", {one.place}" if one.place else ""
    return (f"{set_id}: {state.from_state}{place}",)


def _off_the_shelf(site: Site, set_id: str, sets: SetsPlan) -> tuple[str, ...]:
    """The case for which the set is taken as it stands; or that none has it."""
    clock = site.settings.site_clock
    given = [one for one in sets.assignments if one.set_id == set_id]
    if not given:
        return ("no case on the schedule gets it",)
    first = given[0].use
    return () if given[0].expected else (f"taken as it is for case {first.case}, by {clock.stamp(first.needed)}",)


def find_case(site: Site, number: str) -> Case:
    """The case of that number, whatever its letters' case. Raises WrongUse naming the nearest."""
    by_number = {case.number.casefold(): case for case in site.cases}
    found = by_number.get(number.strip().casefold())
    if found is None:
        close = Candidates(case.number for case in site.cases).nearest(number)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        raise WrongUse(f"the schedule has no case {number}{hint}")
    return found
