"""Say why a thing is on a case's list, or why it is not: by the cards alone, without a plan and its engines."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.letters import one_named
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.problems import Problem, did_you_mean
from picklist.resolve import resolve_case
from picklist.tables.nearest import Candidates
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import load_folder
from picklist.wording.say_why import explain_thing, said_of_case


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Lines that explain, and the problems of the folder that they were read from."""

    lines: tuple[str, ...]
    problems: tuple[Problem, ...]
    exit_code: int


def why_thing(folder: Path | str, number: str, thing: str, now: datetime | str) -> Explanation:
    """Why ``thing`` (an id, or words of its name) is or is not on the list of case ``number``.

    Raises WrongUse when the folder or the case does not exist, naming the nearest case.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return Explanation(lines=(), problems=loaded.problems, exit_code=loaded.exit_code)
    case = find_case(loaded.site, number)
    lines = explain_thing(resolve_case(loaded.site, case), thing, loaded.site.trays)
    lines += tuple(said_of_case(p) for p in loaded.problems if case.number in p.cases)
    return Explanation(lines=lines, problems=loaded.problems, exit_code=0)


def find_case(site: Site, number: str) -> Case:
    """The case of that number, whatever its letters' case. Raises WrongUse naming the nearest."""
    by_number = {case.number: case for case in site.cases}
    found = one_named(number, by_number)
    if found is None:
        close = Candidates(iter(by_number)).nearest(number)
        hint = did_you_mean(close)
        raise WrongUse(f"the schedule has no case {number}{hint}")
    return by_number[found]
