"""The order in which a station takes waiting sets: each rule gives a key, and the smallest goes first.

Of equal keys a set that can still be in time goes before one that could not be, even alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from picklist.department.run_terms import NEVER, DepartmentJob

EARLIEST_DEADLINE = "earliest deadline"

# (job, place of the step, minute of arrival) -> what sorts first
Rule = Callable[[DepartmentJob, int, int], int]


def by_deadline(job: DepartmentJob, place: int, arrival: int) -> int:  # noqa: ARG001 - one signature for all rules
    """The latest end of this very step (see ``jobs`` for sets that nothing waits for)."""
    deadline = job.steps[place].deadline
    return NEVER if deadline is None else deadline


def by_arrival(job: DepartmentJob, place: int, arrival: int) -> int:  # noqa: ARG001
    """First come, first served."""
    return arrival


def by_slack(job: DepartmentJob, place: int, arrival: int) -> int:
    """The latest start of this step, which orders sets by slack at any moment."""
    deadline = by_deadline(job, place, arrival)
    return deadline if deadline == NEVER else deadline - job.steps[place].minutes


def by_need(job: DepartmentJob, place: int, arrival: int) -> int:  # noqa: ARG001
    """When the next case's cart must be complete, however long the rest of the route takes."""
    return NEVER if job.due is None else job.due


RULES: Mapping[str, Rule] = {
    EARLIEST_DEADLINE: by_deadline,
    "first come": by_arrival,
    "least slack": by_slack,
    "earliest need": by_need,
}


def is_without_hope(job: DepartmentJob) -> bool:
    """Whether a set could not be in time even with the department to itself."""
    return job.due is not None and job.alone > job.due
