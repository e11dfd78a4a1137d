"""Rule out changes by the linear relaxation: no allocation, not even a fractional one, removes the conflict.

This is for groups with sets of several kinds, where the full allocation takes long and the quick
check says little. With one kind the quick check says as much.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from picklist.sets.allocation.network import Link, Network, make_network
from picklist.sets.allocation.quick import serve_all
from picklist.sets.allocation.solve import split
from picklist.sets.allocation.terms import AllocationQuestion, Grade
from picklist.sets.remedies.quick_check import FINE, RUSHED, SHORT, TIGHT, UNOPENED, Allowed

_GRADES = {Grade.RUSH: RUSHED, Grade.UNOPENED: UNOPENED}
_NEARLY = 1e-6


def has_several(question: AllocationQuestion) -> bool:
    """Whether a case wants several sets of one tray."""
    return len({job.group for job in question.jobs}) < len(question.jobs)


def cannot_help(question: AllocationQuestion, limits: Allowed, touched: Collection[str]) -> bool:
    """Whether no allocation can keep the limits with the touched cases having their sets in time."""
    return any(
        _fails(group, limits, touched) for group in split(question) if len(group.kinds()) > 1 or has_several(group)
    )


def _fails(question: AllocationQuestion, limits: Allowed, touched: Collection[str]) -> bool:
    if serve_all(question) is not None:
        return False
    network = make_network(question)
    return _misses(network, *_amiss(network, limits, touched))


def _misses(network: Network, amiss: Counter[int], must: int) -> bool:
    least = network.program.bound(amiss)
    return least is None or least > _NEARLY - must


def _amiss(network: Network, limits: Allowed, touched: Collection[str]) -> tuple[Counter[int], int]:
    """What must not happen as costs of one, the jobs that must be served as gains, and how many these are."""
    question = network.question
    level = {job.key: limits.level(job.key, job.case, touched) for job in question.jobs}
    costs: Counter[int] = Counter()
    for link in network.links:
        if _is_amiss(link, question.margin, level[link.job.key], limits):
            costs[link.column] += 1
    must = [job for job in question.jobs if level[job.key] < SHORT]
    for job in must:
        costs.subtract(network.serving(job))
    return costs, len(must)


def _is_amiss(link: Link, margin: int, allowed: int, limits: Allowed) -> bool:
    is_tight = link.slack is not None and link.slack < margin
    grade = _GRADES.get(link.grade, TIGHT if is_tight else FINE)
    if grade == FINE or link.slack is None:
        return False
    least = limits.slack.get(link.job.key)
    return grade > allowed or (grade == allowed and least is not None and link.slack < least)
