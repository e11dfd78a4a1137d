"""Say why a thing is on a case's list, or why it is not, or what a set goes through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.department import explain_set, run_department
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make import resolve_horizon
from picklist.plan.whereabouts import place_in_words
from picklist.problems import Problem
from picklist.resolve import resolve_case
from picklist.resolve.trace import explain_thing
from picklist.sets.plan_sets import plan_sets
from picklist.sets.uses import make_uses
from picklist.tables.nearest import Candidates
from picklist.tasks.crew import sets_on_built_carts
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
    stopping = [p for p in loaded.problems if case.number in p.cases]
    lines = explain_thing(resolve_case(loaded.site, case), thing)
    lines += tuple(f"the list is stopped: {p.sentence()} [{p.where}]" for p in stopping)
    return Answer(lines=lines, problems=loaded.problems, exit_code=0)


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
    held = sets_on_built_carts(folder, cases)
    sets = plan_sets(site, make_uses(site, needs, cases), loaded.now, held=held, remedies=False)
    run = run_department(site, sets.assignments, loaded.now)
    here = f"{wanted}: {place_in_words(site.sets[wanted], site)}"
    lines = explain_set(run, wanted, site.settings.site_clock)
    return Answer(lines=(here, *lines), problems=loaded.problems, exit_code=0)


def find_case(site: Site, number: str) -> Case:
    """The case of that number, whatever its letters' case. Raises WrongUse naming the nearest."""
    by_number = {case.number.casefold(): case for case in site.cases}
    found = by_number.get(number.strip().casefold())
    if found is None:
        close = Candidates(case.number for case in site.cases).nearest(number)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        raise WrongUse(f"the schedule has no case {number}{hint}")
    return found
