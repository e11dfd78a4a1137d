"""Running cases of whose trays nobody recorded which set they have."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from picklist.model.site import Site
from picklist.model.uses import Assignment
from picklist.problems import Problem, Severity


def find_unrecorded(site: Site, assignments: Iterable[Assignment]) -> Iterator[Problem]:
    """A notice for each tray of a running case that no set is recorded for, with what the plan takes it to have."""
    running = {case.number: case for case in site.cases if case.is_running}
    for one in assignments:
        case = running.get(one.use.case)
        if case is None:
            continue
        side = f", {one.use.side}" if one.use.side else ""
        wanted = f"{site.trays[one.use.tray].name}{side}"
        counts = f"{one.set_id} counts as the one it has" if one.set_id else "none is left that it could have"
        yield Problem(
            kind="set of a running case not recorded",
            severity=Severity.NOTICE,
            where=replace(case.where, column="status"),
            message=f"case {case.number} runs, but no set of {wanted} is recorded as in use in it; {counts}",
            expected="in Sets, the state 'in use' and this case under 'in case'",
            cases=(case.number,),
        )
