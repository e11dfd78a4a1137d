"""The problems of many cases as one list."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from picklist.model.needs import CaseNeeds
from picklist.problems import Problem, Where


def gather_problems(case_needs: Iterable[CaseNeeds]) -> tuple[Problem, ...]:
    """Every problem once, with all the cases that it touches; in the order of the cases."""
    found: dict[tuple[str, Where, str], Problem] = {}
    for needs in case_needs:
        for problem in (*needs.stopped, *needs.notices):
            key = (problem.kind, problem.where, problem.message)
            before = found.get(key)
            cases = tuple(dict.fromkeys((*before.cases, *problem.cases))) if before else problem.cases
            found[key] = replace(before or problem, cases=cases)
    return tuple(found.values())
