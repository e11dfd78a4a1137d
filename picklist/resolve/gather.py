"""The problems of several cases as one list, each fault once."""

from __future__ import annotations

from collections.abc import Iterable

from picklist.model.needs import CaseNeeds
from picklist.problems import Problem, join_problems


def gather_problems(case_needs: Iterable[CaseNeeds]) -> tuple[Problem, ...]:
    """Every problem once, with all the cases that it touches; in the order of the cases."""
    return join_problems(problem for needs in case_needs for problem in (*needs.stopped, *needs.notices))
