"""A day for the department: an invented site written, read, resolved, and its sets given to uses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.scenario import NOW, Size, make_site, write_site
from picklist.inputs import read_site
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse
from picklist.resolve import resolve_cases
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import live_cases, plan_sets


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartmentDay:
    """Everything that the department is asked to do."""

    site: Site
    cases: tuple[Case, ...]
    assignments: tuple[Assignment, ...]
    reuses: tuple[Reuse, ...]
    now: datetime


def make_department_day(size: Size, seed: int = 1) -> DepartmentDay:
    """The sets of an invented site, as its plan gives them."""
    with TemporaryDirectory() as folder:
        write_site(Path(folder), make_site(size, seed))
        site, problems = read_site(Path(folder))
    assert site is not None, problems
    now = site.settings.site_clock.instant(NOW.date(), NOW.time())
    cases = live_cases(site)
    sets = plan_sets(site, make_uses(site, resolve_cases(site, cases), cases), now, remedies=False)
    return DepartmentDay(site=site, cases=cases, assignments=sets.assignments, reuses=sets.reuses, now=now)
