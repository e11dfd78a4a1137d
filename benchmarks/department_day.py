"""A day for the department: an invented site read from its files, its uses, and a set for each, first come."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.scenario import NOW, Size, make_site, write_site
from picklist.clock import minutes_between
from picklist.inputs import read_site
from picklist.model.schedule import CaseStatus
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse, Use
from picklist.resolve import resolve_cases
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.states import Availability, first_available, is_in_date, ready_for
from picklist.sets.turnaround import Turnaround
from picklist.sets.uses import make_uses


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartmentDay:
    """Everything that the department is asked to do."""

    site: Site
    assignments: tuple[Assignment, ...]
    reuses: tuple[Reuse, ...]
    now: datetime


def make_department_day(size: Size, seed: int = 1) -> DepartmentDay:
    """Write, read and resolve an invented site, then give each use the set that is ready first."""
    with TemporaryDirectory() as folder:
        write_site(Path(folder), make_site(size, seed))
        site, problems = read_site(Path(folder))
    assert site is not None, problems
    now = site.settings.site_clock.instant(NOW.date(), NOW.time())
    live = [case for case in site.cases if case.status in (CaseStatus.PLANNED, CaseStatus.RUNNING)]
    uses = make_uses(site, resolve_cases(site, live), live)
    assignments, reuses = _give(Turnaround(site), uses, now)
    return DepartmentDay(site=site, assignments=assignments, reuses=reuses, now=now)


def _give(
    turnaround: Turnaround, uses: Sequence[Use], now: datetime
) -> tuple[tuple[Assignment, ...], tuple[Reuse, ...]]:
    states = {one.id: first_available(turnaround, one, now) for one in turnaround.site.sets.values()}
    by_tray: dict[str, list[str]] = defaultdict(list)
    for one in turnaround.site.sets.values():
        by_tray[one.tray].append(one.id)
    last: dict[str, Use] = {}
    given: list[Assignment] = []
    reuses: list[Reuse] = []
    for use in sorted(uses, key=lambda one: (one.needed, one.key)):
        found = [
            (when, set_id) for set_id in by_tray[use.tray] if (when := _ready(turnaround, states[set_id], last, use))
        ]
        when, set_id = min(found, default=(None, ""))
        late = max(0, minutes_between(use.needed, when)) if when else 0
        given.append(
            Assignment(
                use=use, set_id=set_id, tray_given=use.tray, stand_in=False, expected=when, slack=-late, late=late
            )
        )
        if set_id:
            reuse = _reuse(turnaround, states[set_id], last.get(set_id), use)
            reuses += [reuse] if reuse else []
            last[set_id] = use
    return tuple(given), tuple(reuses)


def _ready(turnaround: Turnaround, state: Availability, last: dict[str, Use], use: Use) -> datetime | None:
    before = last.get(state.set_id)
    if before is None:
        return ready_for(turnaround, state, use)
    return turnaround.free_after(before, state.tray, home=state.home, to=use.building)


def _reuse(turnaround: Turnaround, state: Availability, before: Use | None, use: Use) -> Reuse | None:
    one = turnaround.site.sets[state.set_id]
    if before is not None:
        return reuse_after(turnaround, one, before, use)
    return None if is_in_date(state, use) else reuse_from_state(turnaround, one, state, use)
