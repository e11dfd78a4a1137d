"""Say everything that is wrong in a site's folder."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from picklist.plan.make import horizon_cases
from picklist.problems import Problem
from picklist.resolve import gather_problems, resolve_cases
from picklist.tasks.folder import Loaded, load_folder


def check_folder(folder: Path, now: datetime) -> tuple[Loaded, tuple[Problem, ...]]:
    """The folder as read, and all its problems: of cells, of meaning, and of each live case's cards.

    Raises WrongUse when there is no such folder.
    """
    loaded = load_folder(folder, now)
    if loaded.site is None:
        return loaded, loaded.problems
    stopped = {number for problem in loaded.problems for number in problem.cases}
    cases = [case for case in horizon_cases(loaded.site, loaded.now) if case.number not in stopped]
    found = gather_problems(resolve_cases(loaded.site, cases))
    return loaded, tuple(dict.fromkeys((*loaded.problems, *found)))
